//! The field that is being read, of which problems are told.

use super::Part;
use crate::resolve::{Check, Entry};
use crate::typed::Quantity;
use perchline_units::parse_quantity;

/// A field that is being read.
pub(crate) struct FieldCheck<'c, 'p> {
    check: &'c mut Check<'p>,
    entry: &'c Entry,
    field: &'c str,
}

impl<'c, 'p> FieldCheck<'c, 'p> {
    /// `field` has the names of the tables in the entry that hold it in front.
    pub(crate) const fn new(check: &'c mut Check<'p>, entry: &'c Entry, field: &'c str) -> Self {
        Self { check, entry, field }
    }

    /// Notes a problem of it.
    pub(crate) fn problem(&mut self, text: impl Into<String>) {
        self.check.problem(self.entry, self.field, text);
    }

    /// Checks that it is a name.
    pub(crate) fn name(&mut self, name: &str) {
        self.check.name(self.entry, self.field, name);
    }

    /// One of a few words.
    pub(crate) fn word<T: Copy>(&mut self, typed: &str, words: &[(&str, T)]) -> Option<T> {
        self.check.word(self.entry, self.field, typed, words)
    }

    /// The table that it holds.
    pub(crate) fn part<T: Part>(&mut self, typed: T) -> Option<T::Part> {
        typed.part(self.check, self.entry, &format!("{}.", self.field))
    }

    /// A number and the index of its unit.
    pub(crate) fn number(&mut self, typed: &Quantity, units: &[&str]) -> Option<(f64, usize)> {
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
                self.problem(text);
                return None;
            }
        };
        parse_quantity(text, units).map_err(|error| self.problem(error.to_string())).ok()
    }
}
