//! Gain of an antenna towards an elevation angle.

use perchline_plan::{Antenna, Pattern};
use perchline_units::{Db, Dbi, Degrees};

/// No real antenna, on a roof full of metal or on a body, has a deeper null
/// than this below its peak (common practice, no source).
const DEEPEST_NULL: Db = Db::new(-25.0);

/// Side-lobe factor k of ITU-R F.1336 for typical antennas between 400 MHz and
/// 3 GHz, recommends 2.2 (from memory); used here down to 30 MHz.
const SIDE_LOBE_FACTOR: f64 = 0.7;

/// Gain of `antenna` towards `elevation`, degrees above the horizon (negative
/// below), -90 to 90.
///
/// A dipole follows cos(pi/2 sin e) / cos e, the pattern of a thin half-wave
/// dipole. A collinear follows the reference pattern of an omnidirectional
/// antenna in ITU-R F.1336, recommends 2.1 and 2.2, whose beam width comes from
/// the gain: 107.6 x 10^(-0.1 G) degrees (from memory).
#[must_use]
pub fn gain_towards(antenna: &Antenna, elevation: Degrees) -> Dbi {
    let relative = match antenna.pattern {
        Pattern::Isotropic => 0.0,
        Pattern::Dipole => dipole(elevation),
        Pattern::Collinear => collinear(antenna.gain, elevation),
    };
    Dbi::new(antenna.gain.value() + relative.max(DEEPEST_NULL.value()))
}

/// Dipole pattern in dB below its peak.
fn dipole(elevation: Degrees) -> f64 {
    let angle = elevation.value().to_radians();
    let across = angle.cos();
    if across.abs() < 1e-9 {
        return f64::NEG_INFINITY;
    }
    20.0 * ((std::f64::consts::FRAC_PI_2 * angle.sin()).cos() / across).abs().log10()
}

/// Collinear pattern in dB below its peak.
fn collinear(gain: Dbi, elevation: Degrees) -> f64 {
    let beam = 107.6 * 10f64.powf(-0.1 * gain.value());
    let lobes = 10.0 * (SIDE_LOBE_FACTOR + 1.0).log10();
    let shoulder = beam * (1.0 - lobes / 12.0).sqrt();
    let off = elevation.value().abs();
    if off < shoulder {
        -12.0 * (off / beam).powi(2)
    } else if off < beam {
        -12.0 + lobes
    } else {
        -12.0 + 10.0 * ((off / beam).powf(-1.5) + SIDE_LOBE_FACTOR).log10()
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    fn towards(pattern: Pattern, gain: f64, elevation: f64) -> f64 {
        gain_towards(&Antenna { gain: Dbi::new(gain), pattern }, Degrees::new(elevation)).value()
    }

    /// Source: the half-wave dipole's half-power beam is 78 degrees wide
    /// (any antenna handbook, e.g. Kraus, Antennas, section 6).
    #[test]
    fn a_dipole_is_3_db_down_at_39_degrees() {
        assert_abs_diff_eq!(towards(Pattern::Dipole, 2.15, 0.0), 2.15);
        assert_abs_diff_eq!(towards(Pattern::Dipole, 2.15, 39.0), 2.15 - 3.0, epsilon = 0.05);
        assert_abs_diff_eq!(towards(Pattern::Dipole, 2.15, -39.0), 2.15 - 3.0, epsilon = 0.05);
        assert_abs_diff_eq!(towards(Pattern::Dipole, 2.15, 90.0), 2.15 - 25.0);
    }

    /// Source: ITU-R F.1336 (from memory): 12 dB (theta / theta_3)^2 with
    /// theta_3 the half-power width, so half of it off the axis costs 3 dB.
    #[test]
    fn a_collinear_is_3_db_down_at_half_its_beam() {
        let beam = 107.6 * 10f64.powf(-0.6);
        assert_abs_diff_eq!(towards(Pattern::Collinear, 6.0, beam / 2.0), 3.0, epsilon = 1e-9);
        assert!(towards(Pattern::Collinear, 6.0, 60.0) < -2.0);
        assert_abs_diff_eq!(
            towards(Pattern::Collinear, 6.0, 60.0),
            towards(Pattern::Collinear, 6.0, -60.0)
        );
    }

    #[test]
    fn no_pattern_gains_beyond_its_peak() {
        for elevation in -90..=90 {
            for pattern in [Pattern::Isotropic, Pattern::Dipole, Pattern::Collinear] {
                assert!(towards(pattern, 5.0, f64::from(elevation)) <= 5.0 + 1e-9);
            }
        }
    }

    /// Source: ITU-R F.1336, recommends 2.2 (from memory), by hand for 6 dBi and
    /// k = 0.7: theta_3 = 107.6 x 10^-0.6 = 27.03 degrees, theta_4 = theta_3
    /// sqrt(1 - log(1.7) / 1.2) = 24.29 degrees; -12 (theta / theta_3)^2 up to
    /// theta_4, -12 + 10 log(1.7) = -9.70 up to theta_3, then
    /// -12 + 10 log((theta / theta_3)^-1.5 + 0.7).
    #[test]
    fn a_collinear_follows_each_piece_of_its_pattern() {
        for (elevation, relative) in [
            (0.0, 0.0),
            (20.0, -6.571),
            (24.2, -9.621),
            (24.5, -9.696),
            (26.9, -9.696),
            (27.2, -9.720),
            (40.0, -11.012),
            (60.0, -11.990),
            (90.0, -12.631),
        ] {
            let found = towards(Pattern::Collinear, 6.0, elevation) - 6.0;
            assert_abs_diff_eq!(found, relative, epsilon = 2e-3);
        }
    }

    /// cos(90 degrees x sin e) / cos e at 30 and 60 degrees, by hand: 0.8165
    /// and 0.4178.
    #[test]
    fn a_dipole_follows_its_pattern_between_its_axis_and_its_null() {
        let found = |e: f64| towards(Pattern::Dipole, 2.15, e) - 2.15;
        assert_abs_diff_eq!(found(30.0), 20.0 * 0.8165f64.log10(), epsilon = 1e-3);
        assert_abs_diff_eq!(found(60.0), 20.0 * 0.4178f64.log10(), epsilon = 2e-3);
        assert_eq!(found(89.9), -25.0);
    }

    #[test]
    fn an_isotropic_antenna_gains_the_same_everywhere() {
        for elevation in [-90.0, -10.0, 0.0, 45.0, 90.0] {
            assert_eq!(towards(Pattern::Isotropic, 3.0, elevation), 3.0);
        }
    }
}
