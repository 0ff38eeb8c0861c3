//! Quantities that need more than a range: their number, a length of a place,
//! a transmitter's output and a receiver's sensitivity.

use super::{Check, Entry};
use crate::typed::{LENGTHS, Quantity};
use perchline_units::{Dbm, Metres, parse_quantity};

impl Check<'_> {
    /// A number and the index of its unit.
    pub(crate) fn number(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
        units: &[&str],
    ) -> Option<(f64, usize)> {
        let text = match typed {
            Quantity::Text(text) => text,
            Quantity::Bare(number) => {
                let example = units.first().copied().unwrap_or_default();
                let number = match number.parse::<f64>() {
                    // A share typed as one: 0.95 is meant as 95 %.
                    Ok(share) if example == "%" && share > 0.0 && share <= 1.0 => {
                        (share * 100.0).to_string()
                    }
                    _ => number.clone(),
                };
                let text = format!(
                    "{number} is a bare number, and no unit is ever guessed; write it in quotes \
                     with one of {}, such as \"{number} {example}\"",
                    units.join(", "),
                );
                self.problem(entry, field, text);
                return None;
            }
        };
        match parse_quantity(text, units) {
            Ok(read) => Some(read),
            Err(error) => {
                self.problem(entry, field, error.to_string());
                None
            }
        }
    }

    /// A length, and whether it was typed in metres.
    pub(super) fn length(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<(Metres, bool)> {
        let names: Vec<&str> = LENGTHS.iter().map(|(name, _)| *name).collect();
        let (value, unit) = self.number(entry, field, typed, &names)?;
        let (_, convert) = LENGTHS.get(unit)?;
        Some((Metres::new(convert(value)), unit == 0))
    }

    /// A transmitter's output.
    pub(super) fn power(&mut self, entry: &Entry, field: &str, typed: &Quantity) -> Option<Dbm> {
        let (value, unit) = self.number(entry, field, typed, &["W", "dBm"])?;
        if unit == 0 && value <= 0.0 {
            let text = format!("{value} W is no power to transmit with; it must be above zero");
            self.problem(entry, field, text);
            return None;
        }
        let power = if unit == 0 { Dbm::from_watts(value) } else { Dbm::new(value) };
        let watts = power.watts();
        if !(-30.0..=70.0).contains(&power.value()) {
            let text = format!(
                "{} is out of range; -30 dBm (1 microwatt) to 70 dBm (10 kW) is allowed",
                as_typed(typed)
            );
            self.problem(entry, field, text);
            return None;
        }
        if watts > 200.0 {
            let text = format!("{watts:.0} W is a lot for a relay or a hand-held; is it right?");
            self.remark(entry, field, text);
        } else if watts < 0.01 {
            let text = format!("{:.3} mW is very little; is it right?", watts * 1e3);
            self.remark(entry, field, text);
        }
        Some(power)
    }

    /// A receiver's level for 12 dB SINAD, across 50 ohm.
    pub(super) fn sensitivity(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<Dbm> {
        let (value, unit) = self.number(entry, field, typed, &["uV", "dBm"])?;
        if unit == 0 && value <= 0.0 {
            let text =
                format!("{value} uV is no level; it must be above zero, such as \"0.25 uV\"");
            self.problem(entry, field, text);
            return None;
        }
        let level = if unit == 0 { Dbm::from_microvolts(value) } else { Dbm::new(value) };
        if (-140.0..=-80.0).contains(&level.value()) {
            return Some(level);
        }
        let text = format!(
            "{} is {level:.1}; -140 to -80 dBm (0.02 to 22 uV) is allowed, and most receivers have \
             about -119 dBm (0.25 uV)",
            as_typed(typed)
        );
        self.problem(entry, field, text);
        None
    }
}

/// What was typed, in quotes.
pub(crate) fn as_typed(typed: &Quantity) -> String {
    let (Quantity::Text(text) | Quantity::Bare(text)) = typed;
    super::check::quoted(text)
}
