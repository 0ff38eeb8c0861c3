//! From geometry to decibels, on rows of `f32`.

use std::f32::consts::LN_2;

use super::math::{decibels, exp2, larger};

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

    /// Free-space loss over the square of a distance in metres (P.525-4
    /// equation (4), from 1 m up).
    #[inline(always)]
    pub(super) fn free_space(&self, square: f32) -> f32 {
        self.at_one_metre + 0.5 * decibels(larger(square, 1.0))
    }
}

/// J(nu) of P.526-15 equation (31).
#[inline(always)]
pub(super) fn knife_edge(nu: f32) -> f32 {
    let shifted = nu - 0.1;
    let loss = 6.9 + decibels((shifted * shifted + 1.0).sqrt() + larger(shifted, -4.0));
    if nu > -0.78 { loss } else { 0.0 }
}

/// Bullington's correction of a knife edge's loss by distance in metres.
#[inline(always)]
pub(super) fn corrected(knife: f32, distance: f32) -> f32 {
    let fade = exp2(knife * (-1.0 / (6.0 * LN_2)));
    knife + (1.0 - fade) * (10.0 + 2e-5 * distance)
}
