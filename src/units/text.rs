//! Reading a quantity as a person types it: a number and its unit.

/// Why a quantity could not be read.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum QuantityError {
    /// There is no number in front.
    #[error("\"{found}\" does not start with a number; write for example \"{example}\"")]
    NotANumber {
        /// The text as typed.
        found: String,
        /// A value that would be read.
        example: String,
    },
    /// The number has no unit behind it, and none is ever guessed.
    #[error("\"{found}\" has no unit; write one of: {allowed}")]
    NoUnit {
        /// The text as typed.
        found: String,
        /// The units that may follow.
        allowed: String,
    },
    /// The unit is not one of those that the field takes.
    #[error("\"{unit}\" is not a unit for this field; write one of: {allowed}")]
    UnknownUnit {
        /// The unit as typed.
        unit: String,
        /// The units that may follow.
        allowed: String,
    },
}

/// Splits `text` into a finite number and one of `units`.
///
/// Letter case of the unit counts only where two units differ by case alone,
/// the micro sign may be typed `u`, and a space between number and unit is
/// optional. The returned index points into `units`.
///
/// # Errors
/// [`QuantityError`] when there is no number, no unit, or an unknown unit.
pub fn parse_quantity(text: &str, units: &[&str]) -> Result<(f64, usize), QuantityError> {
    let typed = text.trim();
    let allowed = || units.join(", ");
    let split = typed
        .char_indices()
        .find(|&(at, c)| !is_number_char(typed, at, c))
        .map_or(typed.len(), |(at, _)| at);
    let (number, unit) = typed.split_at(split);
    let value = number.trim().parse::<f64>().ok().filter(|v| v.is_finite()).ok_or_else(|| {
        QuantityError::NotANumber {
            found: text.to_owned(),
            example: format!("3 {}", units.first().copied().unwrap_or_default()),
        }
    })?;
    let unit = unit.trim().replace(['µ', 'μ'], "u");
    if unit.is_empty() {
        return Err(QuantityError::NoUnit { found: text.to_owned(), allowed: allowed() });
    }
    units
        .iter()
        .position(|u| *u == unit)
        .or_else(|| units.iter().position(|u| u.eq_ignore_ascii_case(&unit)))
        .map(|index| (value, index))
        .ok_or_else(|| QuantityError::UnknownUnit { unit: unit.clone(), allowed: allowed() })
}

/// Whether the character at `at` still belongs to the leading number: digits,
/// sign, point, and an exponent `e` that is followed by a digit or a sign.
fn is_number_char(text: &str, at: usize, c: char) -> bool {
    match c {
        '0'..='9' | '.' | '+' | '-' => true,
        'e' | 'E' => text.get(at + 1..).is_some_and(|rest| {
            rest.starts_with(|n: char| n.is_ascii_digit() || n == '-' || n == '+')
        }),
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn number_and_unit_are_told_apart() {
        assert_eq!(parse_quantity("5 W", &["W", "dBm"]), Ok((5.0, 0)));
        assert_eq!(parse_quantity("-116dBm", &["uV", "dBm"]), Ok((-116.0, 1)));
        assert_eq!(parse_quantity("0.25 µV", &["uV", "dBm"]), Ok((0.25, 0)));
        assert_eq!(parse_quantity("1e-1 w", &["W", "dBm"]), Ok((0.1, 0)));
    }

    #[test]
    fn a_missing_or_foreign_unit_is_refused() {
        assert!(matches!(parse_quantity("5", &["m", "ft"]), Err(QuantityError::NoUnit { .. })));
        assert!(matches!(
            parse_quantity("5 dB", &["m", "ft"]),
            Err(QuantityError::UnknownUnit { .. })
        ));
        assert!(matches!(parse_quantity("NaN m", &["m"]), Err(QuantityError::NotANumber { .. })));
        assert!(matches!(parse_quantity("1e999 m", &["m"]), Err(QuantityError::NotANumber { .. })));
    }
}
