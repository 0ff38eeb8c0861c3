//! How diffraction, ducts and scatter come together (P.1812 section 4.6).

use super::{Anomaly, Diffraction, LineOfSight};
use crate::Path;
use perchline_units::Db;

/// The steps by which the mechanisms are combined; losses in dB.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Combination {
    /// How far the path is clear, from 1 to 0 where it is blocked; Fj of equation (57).
    pub clear: f64,
    /// How far the path is short, from 1 to 0; Fk of equation (58).
    pub short: f64,
    /// Median loss with diffraction, Lbd50 of equation (42).
    pub median_with_diffraction: Db,
    /// Loss with diffraction for the share of time, Lbd of equation (43).
    pub with_diffraction: Db,
    /// The least that a clear line and diffraction over the sea come to,
    /// Lminb0p of equation (59).
    pub least: Db,
    /// The least that a clear line and ducts come to, Lminbap of equation (60).
    pub least_ducting: Db,
    /// Diffraction, and ducts where they carry more, Lbda of equation (61).
    pub diffraction_or_duct: Db,
    /// The same with the clear line, Lbam of equation (62).
    pub without_scatter: Db,
    /// With scatter: the median loss for the share of time, Lbc of equation (63).
    pub result: Db,
}

impl Combination {
    pub(super) fn of(
        path: &Path<'_>,
        path_angle: f64,
        anomaly: &Anomaly,
        line_of_sight: &LineOfSight,
        diffraction: &Diffraction,
        (ducting, scatter): (Db, Db),
    ) -> Self {
        let clear = 0.5 - 0.5 * (3.0 * 0.8 * (path_angle - 0.3) / 0.3).tanh();
        let d = path.length().kilometres();
        let short = 0.5 - 0.5 * (3.0 * 0.5 * (d - 20.0) / 20.0).tanh();

        let median_with_diffraction = line_of_sight.free_space + diffraction.median.result;
        let with_diffraction = line_of_sight.loss + diffraction.result;

        let over_land = diffraction.result * (1.0 - path.climate().sea_share);
        let least = if anomaly.asked < anomaly.time.value() {
            line_of_sight.loss + over_land
        } else {
            let anomalous = line_of_sight.anomalous + over_land;
            median_with_diffraction + (anomalous - median_with_diffraction) * anomaly.lean
        };
        let least_ducting = smooth_maximum(ducting.value(), line_of_sight.loss.value());
        let diffraction_or_duct = if least_ducting > with_diffraction {
            with_diffraction
        } else {
            least_ducting + (with_diffraction - least_ducting) * short
        };
        let without_scatter = diffraction_or_duct + (least - diffraction_or_duct) * clear;
        Self {
            clear,
            short,
            median_with_diffraction,
            with_diffraction,
            least,
            least_ducting,
            diffraction_or_duct,
            without_scatter,
            result: together(scatter, without_scatter),
        }
    }
}

/// 2.5 ln(exp(a / 2.5) + exp(b / 2.5)), free of overflow.
fn smooth_maximum(a: f64, b: f64) -> Db {
    let (high, low) = if a >= b { (a, b) } else { (b, a) };
    Db::new(high + 2.5 * ((low - high) / 2.5).exp().ln_1p())
}

/// -5 log(10^(-0.2 a) + 10^(-0.2 b)), free of underflow.
fn together(a: Db, b: Db) -> Db {
    let (low, high) = if a <= b { (a, b) } else { (b, a) };
    let ratio = 10f64.powf(-0.2 * (high - low).value());
    low - Db::new(5.0 * ratio.ln_1p() / std::f64::consts::LN_10)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn two_alike_differ_from_one_by_a_known_step() {
        assert_abs_diff_eq!(
            smooth_maximum(100.0, 100.0).value(),
            100.0 + 2.5 * 2f64.ln(),
            epsilon = 1e-9
        );
        let both = together(Db::new(100.0), Db::new(100.0)).value();
        assert_abs_diff_eq!(both, 100.0 - 5.0 * 2f64.log10(), epsilon = 1e-9);
        // Where the plain forms would overflow, the larger or the smaller is left.
        assert_eq!(smooth_maximum(1e5, 10.0), Db::new(1e5));
        assert_eq!(together(Db::new(1e5), Db::new(10.0)), Db::new(10.0));
    }

    /// By hand: 100 + 2.5 ln(1 + 1/e) for two that are 2.5 dB apart, 95 - 5 log 1.1
    /// for two that are 5 dB apart, whichever comes first.
    #[test]
    fn two_unlike_come_to_a_hand_calculation() {
        for (a, b) in [(100.0, 97.5), (97.5, 100.0)] {
            assert_abs_diff_eq!(smooth_maximum(a, b).value(), 100.783_154, epsilon = 1e-6);
        }
        for (a, b) in [(100.0, 95.0), (95.0, 100.0)] {
            let both = together(Db::new(a), Db::new(b)).value();
            assert_abs_diff_eq!(both, 94.793_037, epsilon = 1e-6);
        }
    }
}
