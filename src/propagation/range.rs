//! A value out of the range for which a model is given.

use std::ops::RangeInclusive;

/// A value that is out of its range.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
#[error("{quantity}: {value} {unit}; allowed are {least} to {most} {unit}")]
pub struct OutOfRange {
    /// What the value is of.
    pub quantity: &'static str,
    /// The value.
    pub value: f64,
    /// The least value allowed.
    pub least: f64,
    /// The largest value allowed.
    pub most: f64,
    /// The unit of all three.
    pub unit: &'static str,
}

/// The value, if it is in its range.
pub(super) fn within(
    quantity: &'static str,
    value: f64,
    range: RangeInclusive<f64>,
    unit: &'static str,
) -> Result<f64, OutOfRange> {
    if range.contains(&value) {
        Ok(value)
    } else {
        Err(OutOfRange { quantity, value, least: *range.start(), most: *range.end(), unit })
    }
}
