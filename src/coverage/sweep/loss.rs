//! Losses of knife edges and Bullington's construction, dB.

use std::f32::consts::LN_2;

use pulp::Simd;

use super::registers::Register;

/// What follows from one frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wave {
    /// 2 / lambda, 1/m.
    pub two_over_wavelength: f32,
    /// Free-space loss at 1 m, dB.
    pub free_space_at_1_m: f32,
}

impl Wave {
    /// The wave of this length in metres.
    pub(super) fn new(wavelength: f64) -> Self {
        Self {
            two_over_wavelength: (2.0 / wavelength) as f32,
            free_space_at_1_m: (20.0 * (4.0 * std::f64::consts::PI / wavelength).log10()) as f32,
        }
    }
}

/// Loss of a single knife edge, J(nu) of P.526-15 equation (31), dB.
#[inline(always)]
pub(super) fn knife_edge<S: Simd>(nu: Register<S>) -> Register<S> {
    let shifted = nu - 0.1;
    let root = (shifted * shifted + 1.0).sqrt();
    let loss = (root + shifted.at_least(-4.0)).decibels() + 6.9;
    nu.exceeds(-0.78).select(loss, nu.zero())
}

/// Loss of Bullington's construction, dB, by that of its knife edge, dB, and
/// the distance, metres.
#[inline(always)]
pub(super) fn bullington<S: Simd>(knife: Register<S>, distance: Register<S>) -> Register<S> {
    let fade = (knife * (-1.0 / (6.0 * LN_2))).exp2();
    knife + (-fade + 1.0) * (distance * 2e-5 + 10.0)
}
