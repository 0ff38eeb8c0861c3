//! Loss behind one knife edge: the approximation J(nu) that the methods use,
//! and the exact Fresnel-integral form that it stands for.

use std::f64::consts::{FRAC_PI_2, PI};

use perchline_units::Db;

/// The parameter below which J(nu) is taken as zero (P.526-15 section 4.1).
pub const LEAST_NU: f64 = -0.78;

/// The approximation J(nu) of ITU-R P.526-15 section 4.1, equation (31):
/// 6.9 + 20 log(sqrt((nu - 0.1)^2 + 1) + nu - 0.1) dB, and 0 dB from -0.78 down.
///
/// ```
/// # use perchline_propagation::knife_edge::loss;
/// assert!((loss(0.0).value() - 6.03).abs() < 0.01);
/// assert_eq!(loss(-1.0).value(), 0.0);
/// ```
#[must_use]
pub fn loss(nu: f64) -> Db {
    if nu <= LEAST_NU {
        return Db::new(0.0);
    }
    let shifted = nu - 0.1;
    Db::new(6.9 + 20.0 * (shifted.hypot(1.0) + shifted).log10())
}

/// The exact loss behind an infinitely thin half-plane, P.526-15 section 4.1
/// equation (30): -20 log(sqrt((1 - C - S)^2 + (C - S)^2) / 2) dB. Slightly
/// negative (a gain) in places where the edge lies below the line.
///
/// Evaluated as |erfc(zeta)| / 2 with zeta = (1 - i) sqrt(pi) nu / 2, which is
/// the same quantity (DLMF 7.5.8) without the cancellation behind a high edge.
#[must_use]
pub fn exact_loss(nu: f64) -> Db {
    let field = if nu >= SERIES_LIMIT {
        scaled_erfc(nu).magnitude() / 2.0
    } else {
        let (c, s) = fresnel_integrals(nu);
        (1.0 - c - s).hypot(c - s) / 2.0
    };
    Db::new(-20.0 * field.log10())
}

/// Argument up to which the power series is used; beyond it the continued fraction.
const SERIES_LIMIT: f64 = 1.6;

/// The Fresnel integrals (C, S) of x: of cos and sin of pi t^2 / 2 from 0 to x.
/// Both are dimensionless and odd in x.
///
/// Power series (DLMF 7.6.4 and 7.6.6) for small arguments, the continued
/// fraction of the complementary error function (DLMF 7.9.1) for large ones.
#[must_use]
pub fn fresnel_integrals(x: f64) -> (f64, f64) {
    let size = x.abs();
    let (c, s) = if size < SERIES_LIMIT { series(size) } else { far(size) };
    (c.copysign(x), s.copysign(x))
}

/// The integrals by their power series, term by term until nothing changes.
fn series(x: f64) -> (f64, f64) {
    let phase = FRAC_PI_2 * x * x;
    // term = i^n phase^n / n! * x, integrated term by term: even n go to C, odd to S.
    let (mut c, mut s) = (0.0, 0.0);
    let mut term = x;
    for n in 0..60 {
        let order = f64::from(n);
        let part = term / (2.0 * order + 1.0);
        match n % 4 {
            0 => c += part,
            1 => s += part,
            2 => c -= part,
            _ => s -= part,
        }
        if part < 1e-18 * x {
            break;
        }
        term *= phase / (order + 1.0);
    }
    (c, s)
}

/// The integrals from C + iS = (1 + i) / 2 * (1 - erfc(zeta)).
fn far(x: f64) -> (f64, f64) {
    let (sin, cos) = (FRAC_PI_2 * x * x).sin_cos();
    let erfc = scaled_erfc(x).times(Complex { re: cos, im: sin });
    let rest = Complex { re: 1.0 - erfc.re, im: -erfc.im };
    let whole = rest.times(Complex { re: 0.5, im: 0.5 });
    (whole.re, whole.im)
}

/// exp(zeta^2) erfc(zeta) at zeta = (1 - i) sqrt(pi) x / 2, for x not near zero,
/// by DLMF 7.9.1 from its hundredth level up.
fn scaled_erfc(x: f64) -> Complex {
    let part = PI.sqrt() / 2.0 * x;
    let zeta = Complex { re: part, im: -part };
    let mut level = zeta;
    for k in (1..=100).rev() {
        let next = level.inverse().scaled(f64::from(k) / 2.0);
        level = Complex { re: zeta.re + next.re, im: zeta.im + next.im };
    }
    level.inverse().scaled(1.0 / PI.sqrt())
}

/// As much complex arithmetic as the continued fraction needs.
#[derive(Debug, Clone, Copy)]
struct Complex {
    re: f64,
    im: f64,
}

impl Complex {
    fn magnitude(self) -> f64 {
        self.re.hypot(self.im)
    }

    fn times(self, other: Self) -> Self {
        Self {
            re: self.re * other.re - self.im * other.im,
            im: self.re * other.im + self.im * other.re,
        }
    }

    fn scaled(self, factor: f64) -> Self {
        Self { re: self.re * factor, im: self.im * factor }
    }

    fn inverse(self) -> Self {
        let square = self.re * self.re + self.im * self.im;
        Self { re: self.re / square, im: -self.im / square }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn an_edge_that_grazes_the_line_halves_the_field() {
        assert_abs_diff_eq!(exact_loss(0.0).value(), 20.0 * 2f64.log10(), epsilon = 1e-12);
        assert_abs_diff_eq!(loss(0.0).value(), 6.02, epsilon = 0.02);
    }

    #[test]
    fn the_integrals_are_odd_and_meet_their_tabulated_values() {
        // Abramowitz and Stegun, table 7.7: C(1), S(1), C(2), S(2).
        for (x, c, s) in [(1.0, 0.779_893_4, 0.438_259_1), (2.0, 0.488_253_4, 0.343_415_7)] {
            let (got_c, got_s) = fresnel_integrals(x);
            assert_abs_diff_eq!(got_c, c, epsilon = 1e-7);
            assert_abs_diff_eq!(got_s, s, epsilon = 1e-7);
            assert_eq!(fresnel_integrals(-x), (-got_c, -got_s));
        }
    }

    #[test]
    fn both_evaluations_meet_where_they_change_over() {
        let (near, far) = (series(SERIES_LIMIT), far(SERIES_LIMIT));
        assert_abs_diff_eq!(near.0, far.0, epsilon = 1e-12);
        assert_abs_diff_eq!(near.1, far.1, epsilon = 1e-12);
    }

    #[test]
    fn j_grows_with_nu_and_joins_zero_without_a_step() {
        let mut last = 0.0;
        for step in -77..2000 {
            let here = loss(f64::from(step) / 100.0).value();
            assert!(here > last, "J falls at {step}");
            last = here;
        }
        assert!(loss(LEAST_NU + 1e-9).value() < 0.01);
    }

    /// J(nu) by hand at the ends of the range of a pocket calculator: 6.9 +
    /// 20 log(sqrt(0.9^2 + 1) + 0.9) = 13.93 dB at 1, 6.9 + 20 log(sqrt(1.9^2 +
    /// 1) + 1.9) = 19.04 dB at 2.
    #[test]
    fn j_comes_to_hand_calculations() {
        assert_abs_diff_eq!(loss(1.0).value(), 13.93, epsilon = 0.01);
        assert_abs_diff_eq!(loss(2.0).value(), 19.04, epsilon = 0.01);
        assert_eq!(loss(LEAST_NU).value(), 0.0);
    }

    /// Far behind an edge the field falls as 1 / (sqrt(2) pi nu) (P.526-15
    /// section 4.1, equation (31) for large nu: 13 + 20 log nu).
    #[test]
    fn far_behind_an_edge_the_loss_grows_by_20_db_a_decade() {
        for nu in [30.0, 100.0, 1e4] {
            let by_hand = 20.0 * (std::f64::consts::SQRT_2 * PI * nu).log10();
            assert_abs_diff_eq!(exact_loss(nu).value(), by_hand, epsilon = 1e-3);
        }
    }
}
