//! The normal distribution function and its kin, exact in the tails.
//!
//! All rest on erfcx(x) = exp(x²) erfc(x), which neither overflows nor
//! vanishes where erfc does (S. G. Johnson's Faddeeva package, ported in the
//! crate `errorfunctions`).

use std::f64::consts::{FRAC_1_SQRT_2, PI};

use errorfunctions::RealErrorFunctions;

/// sqrt(2 / pi)
const SQRT_2_OVER_PI: f64 = 0.797_884_560_802_865_4;

/// Phi(z), the share of a standard normal below `z`.
#[must_use]
pub(super) fn cdf(z: f64) -> f64 {
    0.5 * RealErrorFunctions::erfc(-z * FRAC_1_SQRT_2)
}

/// ln Phi(z); finite for every finite `z` whose square is.
#[must_use]
pub(super) fn log_cdf(z: f64) -> f64 {
    if z < 0.0 {
        (0.5 * (-z * FRAC_1_SQRT_2).erfcx()).ln() - 0.5 * z * z
    } else {
        (-0.5 * RealErrorFunctions::erfc(z * FRAC_1_SQRT_2)).ln_1p()
    }
}

/// phi(z) / Phi(z), the inverse of Mills' ratio of the lower tail: about -z
/// far below zero.
#[must_use]
pub(super) fn inverse_mills(z: f64) -> f64 {
    if z < 0.0 {
        SQRT_2_OVER_PI / (-z * FRAC_1_SQRT_2).erfcx()
    } else {
        (-0.5 * z * z).exp() / (2.0 * PI).sqrt() / cdf(z)
    }
}

/// What there is to know of a standard normal between two bounds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Between {
    /// ln D, D = Phi(high) - Phi(low).
    pub log_share: f64,
    /// phi(low) / D; 0 without a lower bound.
    pub at_low: f64,
    /// phi(high) / D; 0 without an upper bound.
    pub at_high: f64,
}

/// The share between `low` and `high`, low < high, either of them infinite.
#[must_use]
pub(super) fn between(low: f64, high: f64) -> Between {
    if low + high > 0.0 {
        // Mirrored, so that what is subtracted is never nearly 1.
        let mirrored = below(-high, -low);
        Between { at_low: mirrored.at_high, at_high: mirrored.at_low, ..mirrored }
    } else {
        below(low, high)
    }
}

/// The same for bounds whose middle is not above zero.
fn below(low: f64, high: f64) -> Between {
    if high == f64::INFINITY {
        // Only the unbounded line has its middle at zero.
        return Between { log_share: 0.0, at_low: 0.0, at_high: 0.0 };
    }
    let at_high = inverse_mills(high);
    if low == f64::NEG_INFINITY {
        return Between { log_share: log_cdf(high), at_low: 0.0, at_high };
    }
    // phi(low) / phi(high), from a difference that is taken before squaring.
    let densities = (0.5 * (high - low) * (high + low)).exp();
    // Phi(low) / Phi(high).
    let shares = densities * at_high / inverse_mills(low);
    let rest = 1.0 - shares;
    let at_high = at_high / rest;
    Between { log_share: log_cdf(high) + (-shares).ln_1p(), at_low: densities * at_high, at_high }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::print_stdout, reason = "figures are printed")]

    use super::*;

    #[derive(serde::Deserialize)]
    struct Row {
        low: f64,
        high: f64,
        log_share: f64,
        at_low: f64,
        at_high: f64,
    }

    /// Source: mpmath at 400 digits, `tests/reference/make_normal_tails.py`.
    #[test]
    fn shares_and_densities_are_mpmaths_far_out_too() {
        let file = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/reference/normal_tails.csv");
        let mut rows = 0;
        let mut worst = 0.0f64;
        for row in csv::Reader::from_path(file).unwrap().deserialize() {
            let row: Row = row.unwrap();
            let found = between(row.low, row.high);
            // A narrow share is a difference of numbers that are almost equal.
            let width = (row.high - row.low).min(1.0);
            for (found, right) in [
                (found.log_share, row.log_share),
                (found.at_low, row.at_low),
                (found.at_high, row.at_high),
            ] {
                let off = (found - right).abs() / right.abs().max(1e-3) * width;
                worst = worst.max(off);
                assert!(off < 3e-14, "{} {}: {found} and {right}", row.low, row.high);
            }
            rows += 1;
        }
        assert_eq!(rows, 76);
        println!("\nfigure normal_tails_worst {worst:.1e} of 1");
    }

    #[test]
    fn nothing_is_infinite_however_far_out() {
        for z in [-1e6, -1e3, 0.0, 1e3, 1e6] {
            for found in [cdf(z), log_cdf(z), inverse_mills(z)] {
                assert!(found.is_finite(), "{z}: {found}");
            }
            let narrow = between(z, z + 0.01);
            assert!(narrow.log_share.is_finite() && narrow.at_low.is_finite(), "{z}: {narrow:?}");
        }
        assert_eq!(between(f64::NEG_INFINITY, f64::INFINITY).log_share, 0.0);
    }
}
