//! How often the air bends rays much more than it does at the median
//! (P.1812 section 3.4 and attachment 3).

use crate::Path;
use perchline_units::{Metres, Percent};

/// How common anomalous propagation is on a path, and what the share of time
/// makes of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Anomaly {
    /// The longest stretch over land, dtm.
    pub longest_land: Metres,
    /// The longest inland stretch, dlm.
    pub longest_inland: Metres,
    /// Share of time with anomalous refraction near the ground, b0 of equation (5).
    pub time: Percent,
    /// How far the share of time leans from the median, 0, to the anomalous
    /// state, 1; Fi of equation (40).
    pub lean: f64,
    /// The share of time that is asked for.
    pub(super) asked: f64,
    /// How far the path counts as inland, tau of equation (3a), 0 to 1.
    pub(super) inland: f64,
}

impl Anomaly {
    pub(super) fn of(path: &Path<'_>) -> Self {
        let climate = path.climate();
        let length = path.length();
        let longest_land = climate.longest_land.unwrap_or(length).min(length);
        let longest_inland = climate.longest_inland.unwrap_or(length).min(length);
        let tau = 1.0 - (-4.12e-4 * longest_inland.kilometres().powf(2.41)).exp();
        let latitude = climate.latitude.value().abs();
        let land = longest_land.kilometres();
        let mu1 = (10f64.powf(-land / (16.0 - 6.6 * tau)) + 10f64.powf(-(2.48 + 1.77 * tau)))
            .powf(0.2)
            .min(1.0);
        let (at_latitude, exponent) = if latitude <= 70.0 {
            (10f64.powf(-0.015 * latitude + 1.67), -0.935 + 0.0176 * latitude)
        } else {
            (4.17, 0.3)
        };
        let mu4 = mu1.powf(exponent);
        let b0 = at_latitude * mu1 * mu4;
        let p = climate.time.value();
        let lean = if p <= b0 { 1.0 } else { normal(p / 100.0) / normal(b0 / 100.0) };
        Self { longest_land, longest_inland, time: Percent::new(b0), lean, asked: p, inland: tau }
    }
}

/// The point that a standard normal deviate exceeds with this probability,
/// 1e-6 to 0.999999, as the Recommendation approximates it (attachment 2,
/// equations (97) to (99); good to 0.00054).
pub(super) fn normal(probability: f64) -> f64 {
    if probability > 0.5 {
        return -normal(1.0 - probability);
    }
    let t = (-2.0 * probability.max(1e-6).ln()).sqrt();
    let above = (0.010_328 * t + 0.802_853) * t + 2.515_516_698;
    let below = ((0.001_308 * t + 0.189_269) * t + 1.432_788) * t + 1.0;
    t - above / below
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use statrs::distribution::{ContinuousCDF, Normal};

    #[test]
    fn the_approximation_is_as_good_as_the_recommendation_says() {
        let exact = Normal::standard();
        for step in 1..1000 {
            let p = f64::from(step) / 1000.0;
            assert_abs_diff_eq!(normal(p), exact.inverse_cdf(1.0 - p), epsilon = 5.4e-4);
        }
    }
}
