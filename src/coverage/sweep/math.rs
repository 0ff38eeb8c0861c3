//! Elementary functions on rows of `f32`, written so that the compiler can
//! put them on vector units, and the same to the bit on all of them: no fused
//! multiply-add, no table, no library call that differs between machines.

use std::f32::consts::LN_2;

/// log2 of a positive normal number, to 3e-7 absolute.
#[inline(always)]
pub(super) fn log2(x: f32) -> f32 {
    let bits = x.to_bits() as i32;
    // Exponent and mantissa, the mantissa within [sqrt(1/2), sqrt(2)).
    let exponent = (bits - 0x3f35_04f3) >> 23;
    let mantissa = f32::from_bits((bits - (exponent << 23)) as u32);
    let f = (mantissa - 1.0) / (mantissa + 1.0);
    let f2 = f * f;
    let series = 1.0 + f2 * (1.0 / 3.0 + f2 * (1.0 / 5.0 + f2 * (1.0 / 7.0 + f2 * (1.0 / 9.0))));
    exponent as f32 + f * series * (2.0 / LN_2)
}

/// 2 to the power x for x from -126 to 126, to 3e-7 relative; beyond them the
/// value at the limit.
#[inline(always)]
pub(super) fn exp2(x: f32) -> f32 {
    let x = if x > -126.0 { x } else { -126.0 };
    let x = if x < 126.0 { x } else { 126.0 };
    // Adding 1.5 x 2^23 leaves the nearest whole number in the low bits.
    const SHIFT: f32 = 12_582_912.0;
    let shifted = x + SHIFT;
    let whole = shifted - SHIFT;
    let r = (x - whole) * LN_2;
    let series = 1.0
        + r * (1.0
            + r * (1.0 / 2.0
                + r * (1.0 / 6.0 + r * (1.0 / 24.0 + r * (1.0 / 120.0 + r * (1.0 / 720.0))))));
    let power = (shifted.to_bits() as i32).wrapping_sub(SHIFT.to_bits() as i32);
    f32::from_bits(((series.to_bits() as i32).wrapping_add(power << 23)) as u32)
}

/// 20 log10 of a positive number, in dB.
#[inline(always)]
pub(super) fn decibels(ratio: f32) -> f32 {
    // 20 log10(2)
    6.020_6 * log2(ratio)
}

/// `a` where `t` is 0, `b` where it is 1. Equal ends are kept exactly, so an
/// infinite value on both sides stays what it is.
#[inline(always)]
pub(super) fn blend(a: f32, b: f32, t: f32) -> f32 {
    if a == b { a } else { a + (b - a) * t }
}

/// The larger one, as one instruction; `b` where either is not a number.
#[inline(always)]
pub(super) fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

/// 2^23: adding it to a number from 0 to 2^22 leaves the nearest whole number
/// in the low bits.
const WHOLE: f32 = 8_388_608.0;

/// The whole part of a number from 0 to 2^22, as number and as index.
#[inline(always)]
pub(super) fn floor(x: f32) -> (f32, u32) {
    let nearest = (x + WHOLE) - WHOLE;
    let whole = if nearest > x { nearest - 1.0 } else { nearest };
    (whole, index(whole))
}

/// A whole number from 0 to 2^22 as an index.
#[inline(always)]
pub(super) fn index(whole: f32) -> u32 {
    (whole + WHOLE).to_bits() & 0x007f_ffff
}

/// The next whole number from a number from 0 to 2^22 upwards.
#[inline(always)]
pub(super) fn ceil(x: f32) -> f32 {
    let nearest = (x + WHOLE) - WHOLE;
    if nearest < x { nearest + 1.0 } else { nearest }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn log2_and_exp2_agree_with_the_library() {
        for i in -600..600 {
            let x = i as f32 * 0.1873;
            let exact = f64::from(x).exp2();
            assert!((f64::from(exp2(x)) / exact - 1.0).abs() < 4e-7, "exp2({x})");
            let y = exact as f32;
            assert!((f64::from(log2(y)) - f64::from(y).log2()).abs() < 6e-6, "log2({y})");
        }
        for i in 1..2000 {
            let y = i as f32 * 0.001;
            assert!((f64::from(log2(y)) - f64::from(y).log2()).abs() < 6e-7, "log2({y})");
        }
    }
}
