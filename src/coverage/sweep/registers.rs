//! Numbers side by side in a vector register, and elementary functions of them
//! that are the same to the bit on every instruction set: no fused
//! multiply-add, no reciprocal estimate, no library call.

use std::ops::{Add, Div, Mul, Neg, Sub};

use pulp::Simd;

/// Cells that are computed at a time, one a lane.
pub(super) const LANES: usize = 16;

/// One number a lane, in memory.
pub(super) type Lanes = [f32; LANES];

/// The number of each lane.
pub(super) const LANE_NUMBERS: Lanes = {
    let mut count = [0.0; LANES];
    let mut l = 0;
    while l < LANES {
        count[l] = l as f32;
        l += 1;
    }
    count
};

/// 2 to the power of the number of each lane.
const POWERS_OF_TWO: Lanes = {
    let mut weights = [1.0; LANES];
    let mut l = 1;
    while l < LANES {
        weights[l] = 2.0 * weights[l - 1];
        l += 1;
    }
    weights
};

/// As many numbers as one register of the instruction set holds.
#[derive(Clone, Copy)]
pub(super) struct Register<S: Simd> {
    simd: S,
    v: S::f32s,
}

/// Yes or no for each number of a [`Register`].
#[derive(Clone, Copy)]
pub(super) struct Mask<S: Simd> {
    simd: S,
    m: S::m32s,
}

/// The lanes that one register holds, of every [`Lanes`].
#[derive(Clone, Copy)]
pub(super) struct Part<S: Simd> {
    pub simd: S,
    pub part: usize,
}

impl<S: Simd> Part<S> {
    /// This part of some lanes.
    #[inline(always)]
    pub(super) fn load(self, lanes: &Lanes) -> Register<S> {
        Register::load(self.simd, lanes, self.part)
    }

    /// This part of the lanes that begin so far into a table.
    #[inline(always)]
    pub(super) fn slice(self, table: &[f32], from: usize) -> Register<S> {
        let start = from + self.part * S::F32_LANES;
        let rest = table.get(start..).unwrap_or_default();
        match S::as_simd_f32s(rest).0.first() {
            Some(v) => Register { simd: self.simd, v: *v },
            None => Register::splat(self.simd, 0.0),
        }
    }
}

// Closures can't be told to be inlined, and one that is not would be compiled
// without the instruction set: what works on registers is a function.

/// Registers that [`LANES`] numbers take.
pub(super) const fn parts<S: Simd>() -> usize {
    LANES / S::F32_LANES
}

/// All lanes, as bits.
pub(super) const ALL_LANES: u32 = u32::MAX;

/// The parts that hold some of these lanes.
#[inline(always)]
pub(super) fn parts_of<S: Simd>(lanes: u32) -> impl Iterator<Item = usize> {
    let first = if S::F32_LANES < 32 { (1 << S::F32_LANES) - 1 } else { ALL_LANES };
    (0..parts::<S>()).filter(move |part| lanes & first << (part * S::F32_LANES) != 0)
}

impl<S: Simd> Register<S> {
    /// The same number in every lane.
    #[inline(always)]
    pub(super) fn splat(simd: S, value: f32) -> Self {
        Self { simd, v: simd.splat_f32s(value) }
    }

    /// Zero in every lane, whatever stands there.
    #[inline(always)]
    pub(super) fn zero(self) -> Self {
        Self::splat(self.simd, 0.0)
    }

    /// The instruction set.
    #[inline(always)]
    pub(super) fn simd(self) -> S {
        self.simd
    }

    /// A part of some lanes.
    #[inline(always)]
    pub(super) fn load(simd: S, lanes: &Lanes, part: usize) -> Self {
        match S::as_simd_f32s(lanes).0.get(part) {
            Some(v) => Self { simd, v: *v },
            None => Self::splat(simd, 0.0),
        }
    }

    /// Puts the numbers into a part of some lanes.
    #[inline(always)]
    pub(super) fn store(self, lanes: &mut Lanes, part: usize) {
        if let Some(slot) = S::as_mut_simd_f32s(lanes).0.get_mut(part) {
            *slot = self.v;
        }
    }

    #[inline(always)]
    pub(super) fn sqrt(self) -> Self {
        Self { v: self.simd.sqrt_f32s(self.v), ..self }
    }

    #[inline(always)]
    pub(super) fn abs(self) -> Self {
        Self { v: self.simd.abs_f32s(self.v), ..self }
    }

    #[inline(always)]
    pub(super) fn max(self, other: Self) -> Self {
        Self { v: self.simd.max_f32s(self.v, other.v), ..self }
    }

    #[inline(always)]
    pub(super) fn min(self, other: Self) -> Self {
        Self { v: self.simd.min_f32s(self.v, other.v), ..self }
    }

    /// Not below a limit.
    #[inline(always)]
    pub(super) fn at_least(self, limit: f32) -> Self {
        self.max(Self::splat(self.simd, limit))
    }

    /// Not above a limit.
    #[inline(always)]
    pub(super) fn at_most(self, limit: f32) -> Self {
        self.min(Self::splat(self.simd, limit))
    }

    #[inline(always)]
    pub(super) fn above(self, other: Self) -> Mask<S> {
        Mask { simd: self.simd, m: self.simd.greater_than_f32s(self.v, other.v) }
    }

    #[inline(always)]
    pub(super) fn exceeds(self, limit: f32) -> Mask<S> {
        self.above(Self::splat(self.simd, limit))
    }

    /// The smallest of the numbers.
    #[inline(always)]
    pub(super) fn smallest(self) -> f32 {
        self.simd.reduce_min_f32s(self.v)
    }

    /// The largest of the numbers.
    #[inline(always)]
    pub(super) fn largest(self) -> f32 {
        self.simd.reduce_max_f32s(self.v)
    }

    #[inline(always)]
    fn bits(self) -> S::u32s {
        self.simd.transmute_u32s_f32s(self.v)
    }

    #[inline(always)]
    fn of_bits(simd: S, bits: S::u32s) -> Self {
        Self { simd, v: simd.transmute_f32s_u32s(bits) }
    }

    /// The whole part of numbers from 0 to 2^22.
    #[inline(always)]
    pub(super) fn floor(self) -> Self {
        let nearest = (self + WHOLE) - WHOLE;
        nearest.above(self).select(nearest - 1.0, nearest)
    }

    /// The next whole number from numbers from 0 to 2^22 upwards.
    #[inline(always)]
    pub(super) fn ceil(self) -> Self {
        let nearest = (self + WHOLE) - WHOLE;
        self.above(nearest).select(nearest + 1.0, nearest)
    }

    /// The whole number next to numbers from 0 to 2^22.
    #[inline(always)]
    pub(super) fn nearest(self) -> Self {
        (self + WHOLE) - WHOLE
    }

    /// log2 of positive normal numbers, to 6e-7 near 1 and to rounding elsewhere.
    #[inline(always)]
    pub(super) fn log2(self) -> Self {
        let simd = self.simd;
        let splat = |bits: u32| simd.splat_u32s(bits);
        // Split so that the mantissa lies within [sqrt(1/2), sqrt(2)).
        let raised = simd.add_u32s(self.bits(), splat(0x3f80_0000 - 0x3f35_04f3));
        let exponent = simd.wrapping_dyn_shr_u32s(raised, splat(23));
        let power = simd.wrapping_dyn_shl_u32s(exponent, splat(23));
        let mantissa = simd.add_u32s(simd.sub_u32s(self.bits(), power), splat(0x3f80_0000));
        let mantissa = Self::of_bits(simd, mantissa);
        // The exponent as a number: the low bits of 2^23.
        let exponent = Self::of_bits(simd, simd.or_u32s(exponent, splat(WHOLE.to_bits())));
        let f = (mantissa - 1.0) / (mantissa + 1.0);
        let f2 = f * f;
        let series = f2 * (1.0 / 9.0) + (1.0 / 7.0);
        let series = (((series * f2 + 0.2) * f2) + (1.0 / 3.0)) * f2 + 1.0;
        (exponent - (WHOLE + 127.0)) + f * series * (2.0 / std::f32::consts::LN_2)
    }

    /// 2 to the power of numbers from -126 to 126, to 4e-7 relative; beyond
    /// them the value at the limit.
    #[inline(always)]
    pub(super) fn exp2(self) -> Self {
        /// 1.5 x 2^23: adding it leaves the nearest whole number in the low bits.
        const SHIFT: f32 = 12_582_912.0;
        let simd = self.simd;
        let x = self.at_least(-126.0).at_most(126.0);
        let shifted = x + SHIFT;
        let r = (x - (shifted - SHIFT)) * std::f32::consts::LN_2;
        let series = (r * (1.0 / 720.0) + (1.0 / 120.0)) * r + (1.0 / 24.0);
        let series = (((series * r + (1.0 / 6.0)) * r + 0.5) * r + 1.0) * r + 1.0;
        let power = simd.sub_u32s(shifted.bits(), simd.splat_u32s(SHIFT.to_bits()));
        let power = simd.wrapping_dyn_shl_u32s(power, simd.splat_u32s(23));
        Self::of_bits(simd, simd.add_u32s(series.bits(), power))
    }

    /// 20 log10 of positive numbers, dB.
    #[inline(always)]
    pub(super) fn decibels(self) -> Self {
        self.log2() * DECIBELS
    }
}

/// 20 log10(2).
pub(super) const DECIBELS: f32 = 6.020_6;

/// 2^23: adding it to a number from 0 to 2^22 leaves the nearest whole number
/// in the low bits.
const WHOLE: f32 = 8_388_608.0;

/// A whole number from 0 to 2^22 as an index.
#[inline(always)]
pub(super) fn index(whole: f32) -> u32 {
    (whole + WHOLE).to_bits() & 0x007f_ffff
}

/// Linear interpolation: `a` where `t` is 0, `b` where it is 1. Equal ends are
/// kept exactly, so an infinite value on both sides stays what it is.
#[inline(always)]
pub(super) fn interpolate<S: Simd>(a: Register<S>, b: Register<S>, t: Register<S>) -> Register<S> {
    let differ = a.above(b).or(b.above(a));
    differ.select(a + (b - a) * t, a)
}

impl<S: Simd> Mask<S> {
    /// The one where the mask is set, the other elsewhere.
    #[inline(always)]
    pub(super) fn select(self, yes: Register<S>, no: Register<S>) -> Register<S> {
        Register { simd: self.simd, v: self.simd.select_f32s(self.m, yes.v, no.v) }
    }

    #[inline(always)]
    pub(super) fn or(self, other: Self) -> Self {
        Self { m: self.simd.or_m32s(self.m, other.m), ..self }
    }

    /// The mask of a part as bits, one a lane.
    #[inline(always)]
    pub(super) fn bits(self, part: usize) -> u32 {
        let weights = Register::load(self.simd, &POWERS_OF_TWO, part);
        let chosen = self.select(weights, weights.zero());
        // A sum of 16 different powers of two is exact.
        self.simd.reduce_sum_f32s(chosen.v) as u32
    }
}

macro_rules! operator {
    ($trait:ident, $name:ident, $call:ident) => {
        impl<S: Simd> $trait for Register<S> {
            type Output = Self;
            #[inline(always)]
            fn $name(self, other: Self) -> Self {
                Self { v: self.simd.$call(self.v, other.v), ..self }
            }
        }
        impl<S: Simd> $trait<f32> for Register<S> {
            type Output = Self;
            #[inline(always)]
            fn $name(self, other: f32) -> Self {
                self.$name(Self::splat(self.simd, other))
            }
        }
    };
}

operator!(Add, add, add_f32s);
operator!(Sub, sub, sub_f32s);
operator!(Mul, mul, mul_f32s);
operator!(Div, div, div_f32s);

impl<S: Simd> Neg for Register<S> {
    type Output = Self;
    #[inline(always)]
    fn neg(self) -> Self {
        Self::splat(self.simd, 0.0) - self
    }
}

/// The smaller number.
#[inline(always)]
pub(super) fn smaller(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// The larger number.
#[inline(always)]
pub(super) fn larger(a: f32, b: f32) -> f32 {
    if a > b { a } else { b }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::{Arch, NullaryFnOnce, Scalar, WithSimd};

    struct Both<'a>(&'a [f32], bool);

    impl WithSimd for Both<'_> {
        type Output = Vec<f32>;
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) -> Vec<f32> {
            let mut out = Vec::new();
            for chunk in self.0.chunks_exact(LANES) {
                let mut row = [0f32; LANES];
                row.copy_from_slice(chunk);
                let mut result = [0f32; LANES];
                for part in 0..parts::<S>() {
                    let x = Register::load(simd, &row, part);
                    (if self.1 { x.log2() } else { x.exp2() }).store(&mut result, part);
                }
                out.extend_from_slice(&result);
            }
            out
        }
    }

    #[test]
    fn log2_and_exp2_agree_with_the_library_and_between_instruction_sets() {
        let exponents: Vec<f32> = (0..1280).map(|i| (i as f32 - 640.0) * 0.1873).collect();
        let numbers: Vec<f32> = exponents.iter().map(|x| x.exp2()).collect();
        let near: Vec<f32> = (1..1281).map(|i| i as f32 * 0.001).collect();
        for (input, log) in [(&exponents, false), (&numbers, true), (&near, true)] {
            let exact: fn(f64) -> f64 = if log { f64::log2 } else { f64::exp2 };
            let fast = Arch::new().dispatch(Both(input, log));
            let plain = Scalar.vectorize(Both(input, log));
            assert_eq!(fast, plain, "to the bit");
            for (x, got) in input.iter().zip(fast) {
                let want = exact(f64::from(*x));
                let off = (f64::from(got) - want).abs();
                let limit = if log { 6e-7 * (1.0 + want.abs()) } else { 4e-7 * want };
                assert!(off <= limit, "{x}: {got} {want}");
            }
        }
    }

    #[test]
    fn whole_numbers_are_found_below_above_and_next() {
        struct Wholes;
        impl NullaryFnOnce for Wholes {
            type Output = ();
            fn call(self) {
                for (x, below, above, next) in [
                    (0.0, 0.0, 0.0, 0.0),
                    (2.4, 2.0, 3.0, 2.0),
                    (7.6, 7.0, 8.0, 8.0),
                    (9.0, 9.0, 9.0, 9.0),
                ] {
                    let lane = Register::splat(Scalar, x);
                    let value = |lane: Register<Scalar>| {
                        let mut row = [0f32; LANES];
                        lane.store(&mut row, 0);
                        row[0]
                    };
                    assert_eq!(value(lane.floor()), below);
                    assert_eq!(value(lane.ceil()), above);
                    assert_eq!(value(lane.nearest()), next);
                    assert_eq!(index(value(lane.floor())), below as u32);
                }
            }
        }
        Arch::new().dispatch(Wholes);
    }
}
