//! Quantities: a number with its unit, inside the range that makes sense.

use std::ops::RangeInclusive;

use super::{Check, Entry};
use crate::typed::Quantity;
use perchline_units::{DIPOLE_GAIN, Db, Dbi, Dbm, Megahertz, Metres, parse_quantity};

/// Metres in one statute mile (exact by definition).
const METRES_PER_MILE: f64 = 1609.344;

/// Units of a length, with metres in one of each.
pub(super) const LENGTHS: &[(&str, f64)] = &[("m", 1.0), ("ft", perchline_units::METRES_PER_FOOT)];

/// Units of a longer distance.
pub(super) const DISTANCES: &[(&str, f64)] = &[
    ("m", 1.0),
    ("km", 1000.0),
    ("ft", perchline_units::METRES_PER_FOOT),
    ("mi", METRES_PER_MILE),
];

impl Check<'_> {
    /// A number and the index of its unit.
    pub(super) fn number(
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

    /// A number in one unit, inside a range.
    pub(super) fn ranged(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
        unit: &str,
        range: RangeInclusive<f64>,
    ) -> Option<f64> {
        let (value, _) = self.number(entry, field, typed, &[unit])?;
        if range.contains(&value) {
            return Some(value);
        }
        let text = format!(
            "{value} {unit} is out of range; {} to {} {unit} is allowed",
            range.start(),
            range.end()
        );
        self.problem(entry, field, text);
        None
    }

    /// A ratio in dB.
    pub(super) fn decibels(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
        range: RangeInclusive<f64>,
    ) -> Option<Db> {
        self.ranged(entry, field, typed, "dB", range).map(Db::new)
    }

    /// A length, and whether it was typed in metres.
    pub(super) fn length(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
        units: &[(&str, f64)],
    ) -> Option<(Metres, bool)> {
        let names: Vec<&str> = units.iter().map(|(name, _)| *name).collect();
        let (value, unit) = self.number(entry, field, typed, &names)?;
        let factor = units.get(unit).map_or(1.0, |(_, factor)| *factor);
        Some((Metres::new(value * factor), unit == 0))
    }

    /// A length inside a range of metres.
    pub(super) fn length_in(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
        units: &[(&str, f64)],
        range: RangeInclusive<f64>,
    ) -> Option<Metres> {
        let (length, _) = self.length(entry, field, typed, units)?;
        if range.contains(&length.value()) {
            return Some(length);
        }
        let text = format!(
            "{} is out of range; {} to {} m is allowed",
            as_typed(typed),
            range.start(),
            range.end()
        );
        self.problem(entry, field, text);
        None
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

    /// An antenna's gain.
    pub(super) fn gain(&mut self, entry: &Entry, field: &str, typed: &Quantity) -> Option<Dbi> {
        let (value, unit) = self.number(entry, field, typed, &["dBi", "dBd"])?;
        let gain = Dbi::new(if unit == 0 { value } else { value + DIPOLE_GAIN.value() });
        if (-30.0..=25.0).contains(&gain.value()) {
            return Some(gain);
        }
        let text = format!("{} is out of range; -30 to 25 dBi is allowed", as_typed(typed));
        self.problem(entry, field, text);
        None
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

    /// A radio frequency.
    pub(super) fn frequency(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<Megahertz> {
        let units = ["MHz", "kHz", "GHz"];
        let (value, unit) = self.number(entry, field, typed, &units)?;
        let factor = match unit {
            0 => 1.0,
            1 => 1e-3,
            _ => 1e3,
        };
        let frequency = value * factor;
        if (25.0..=6000.0).contains(&frequency) {
            return Some(Megahertz::new(frequency));
        }
        let text = format!(
            "{} is out of range; the methods here hold from 25 to 6000 MHz",
            as_typed(typed)
        );
        self.problem(entry, field, text);
        None
    }

    /// A bare number that has no unit, inside a range.
    pub(super) fn plain(
        &mut self,
        entry: &Entry,
        field: &str,
        value: f64,
        range: RangeInclusive<f64>,
    ) -> Option<f64> {
        if range.contains(&value) {
            return Some(value);
        }
        let text =
            format!("{value} is out of range; {} to {} is allowed", range.start(), range.end());
        self.problem(entry, field, text);
        None
    }
}

/// What was typed, in quotes.
pub(super) fn as_typed(typed: &Quantity) -> String {
    let (Quantity::Text(text) | Quantity::Bare(text)) = typed;
    super::check::quoted(text)
}
