//! The number in a quantity, and lengths whose range is not their own.

use super::{Check, Entry};
use crate::typed::{LENGTHS, Quantity};
use perchline_units::{Metres, parse_quantity};

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
}

/// What was typed, in quotes.
pub(crate) fn as_typed(typed: &Quantity) -> String {
    let (Quantity::Text(text) | Quantity::Bare(text)) = typed;
    super::check::quoted(text)
}
