//! From geometry to decibels.

use std::f32::consts::LN_2;

use pulp::Simd;

use super::lane::Lane;

/// What one frequency fixes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave {
    /// 2 / lambda, 1/m.
    pub twice_per_length: f32,
    /// Free-space loss at 1 m, dB.
    pub at_one_metre: f32,
}

impl Wave {
    /// The wave of this length in metres.
    pub(super) fn new(wavelength: f64) -> Self {
        Self {
            twice_per_length: (2.0 / wavelength) as f32,
            at_one_metre: (20.0 * (4.0 * std::f64::consts::PI / wavelength).log10()) as f32,
        }
    }
}

/// J(nu) of P.526-15 equation (31).
#[inline(always)]
pub(super) fn knife_edge<S: Simd>(nu: Lane<S>) -> Lane<S> {
    let shifted = nu - 0.1;
    let root = (shifted * shifted + 1.0).sqrt();
    let loss = (root + shifted.at_least(-4.0)).decibels() + 6.9;
    nu.exceeds(-0.78).choose(loss, nu.nothing())
}

/// Bullington's correction of a knife edge's loss by distance in metres.
#[inline(always)]
pub(super) fn corrected<S: Simd>(knife: Lane<S>, distance: Lane<S>) -> Lane<S> {
    let fade = (knife * (-1.0 / (6.0 * LN_2))).exp2();
    knife + (-fade + 1.0) * (distance * 2e-5 + 10.0)
}
