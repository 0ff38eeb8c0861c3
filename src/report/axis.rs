//! Round numbers along an axis.

/// Multiples of a round step from `low` to `high`, about `wanted` of them.
/// Steps are 1, 2 or 5 times a power of ten.
pub fn ticks(low: f64, high: f64, wanted: usize) -> Vec<f64> {
    let span = high - low;
    if !(span.is_finite() && span > 0.0) {
        return Vec::new();
    }
    multiples(low, high, round_step(span / wanted.max(1) as f64))
}

/// The round number, 1, 2 or 5 times a power of ten, that is next to `step` from above.
pub fn round_step(step: f64) -> f64 {
    let power = 10f64.powf(step.log10().floor());
    [1.0, 2.0, 5.0, 10.0]
        .iter()
        .map(|m| m * power)
        .find(|s| *s >= step * (1.0 - 1e-9))
        .unwrap_or(10.0 * power)
}

/// The greatest round number, 1, 2 or 5 times a power of ten, that is no more than `limit`.
pub fn round_down(limit: f64) -> f64 {
    let power = 10f64.powf(limit.log10().floor());
    [5.0, 2.0, 1.0].iter().map(|m| m * power).find(|s| *s <= limit * (1.0 + 1e-9)).unwrap_or(power)
}

/// Every multiple of `step` from `low` to `high`.
pub fn multiples(low: f64, high: f64, step: f64) -> Vec<f64> {
    let first = (low / step - 1e-9).ceil();
    let last = (high / step + 1e-9).floor();
    if !(first.is_finite() && last.is_finite()) || last - first > 1e4 {
        return Vec::new();
    }
    // Counted in whole steps so that no rounding adds up; the range is checked above.
    (0..=(last - first).max(-1.0) as i64).map(|n| (first + n as f64) * step).collect()
}

/// A tick's number with as many decimals as its step needs.
pub fn label(value: f64, step: f64) -> String {
    let decimals = (-step.log10() - 1e-9).ceil().clamp(0.0, 6.0) as usize;
    minus(&format!("{value:.decimals$}"))
}

/// A printed number with a minus as long as a plus; what rounds to nothing has none.
pub fn minus(number: &str) -> String {
    match number.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => number.to_owned(),
    }
}

/// Steps of latitude and longitude that people read easily, in degrees.
const ANGLE_STEPS: [f64; 20] = [
    0.1 / 3600.0,
    0.2 / 3600.0,
    0.5 / 3600.0,
    1.0 / 3600.0,
    2.0 / 3600.0,
    5.0 / 3600.0,
    10.0 / 3600.0,
    15.0 / 3600.0,
    30.0 / 3600.0,
    1.0 / 60.0,
    2.0 / 60.0,
    5.0 / 60.0,
    10.0 / 60.0,
    30.0 / 60.0,
    1.0,
    2.0,
    5.0,
    10.0,
    30.0,
    90.0,
];

/// The least easy step of an angle that cuts `span` degrees into no more than `most` parts.
pub fn angle_step(span: f64, most: usize) -> f64 {
    ANGLE_STEPS.iter().copied().find(|s| span / s <= most as f64).unwrap_or(90.0)
}

/// An angle in degrees, minutes and seconds as far as its step needs them.
pub fn angle(value: f64, step: f64, positive: char, negative: char) -> String {
    // Tenths of a second hold every step exactly.
    let tenths = (value.abs() * 36_000.0).round();
    let side = if value < 0.0 { negative } else { positive };
    let degrees = (tenths / 36_000.0).floor();
    let minutes = ((tenths - degrees * 36_000.0) / 600.0).floor();
    let seconds = (tenths - degrees * 36_000.0 - minutes * 600.0) / 10.0;
    if step >= 1.0 {
        format!("{degrees:.0}° {side}")
    } else if step >= 1.0 / 60.0 - 1e-12 {
        format!("{degrees:.0}° {minutes:02.0}′ {side}")
    } else if step >= 1.0 / 3600.0 - 1e-12 {
        format!("{degrees:.0}° {minutes:02.0}′ {seconds:02.0}″ {side}")
    } else {
        format!("{degrees:.0}° {minutes:02.0}′ {seconds:04.1}″ {side}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_within_the_axis() {
        assert_eq!(ticks(3.0, 47.0, 5), vec![10.0, 20.0, 30.0, 40.0]);
        assert_eq!(ticks(-0.2, 0.2, 4), vec![-0.2, -0.1, 0.0, 0.1, 0.2]);
        assert!(ticks(5.0, 5.0, 4).is_empty() && ticks(0.0, f64::NAN, 4).is_empty());
        approx::assert_relative_eq!(round_down(4_999.0), 2_000.0);
        approx::assert_relative_eq!(round_step(0.021), 0.05);
    }

    #[test]
    fn nothing_has_no_sign() {
        assert_eq!(label(-0.0, 1.0), "0");
        assert_eq!(label(-0.04, 0.1), "0.0");
        assert_eq!(label(-0.06, 0.1), "−0.1");
        assert_eq!(minus("-12.0"), "−12.0");
    }

    #[test]
    fn angles_carry_no_sixty() {
        assert_eq!(angle(42.0 + 59.999_999_9 / 60.0, 1.0 / 60.0, 'N', 'S'), "43° 00′ N");
        assert_eq!(angle(-31.5, 30.0 / 3600.0, 'E', 'W'), "31° 30′ 00″ W");
        assert_eq!(angle(7.0, 1.0, 'N', 'S'), "7° N");
    }

    #[test]
    fn angle_steps_never_crowd_the_frame() {
        for span in [5e-5, 0.003, 0.09, 0.4, 7.0, 120.0] {
            let step = angle_step(span, 6);
            assert!(span / step <= 6.0 && span / step > 1.5, "{span} by {step}");
        }
    }
}
