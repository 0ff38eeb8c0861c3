//! Line of sight, Fresnel-zone clearance and take-off angles.

use super::Path;
use super::line::{Bulge, antenna_line, covered_ground};
use perchline_units::{Degrees, Metres};

/// How the straight line between the antennas passes over the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clearance {
    /// Whether no point of the ground, with the bulge of the earth, reaches the line.
    pub line_of_sight: bool,
    /// Clearance at the worst point over the first Fresnel radius there; negative if blocked.
    /// The worst point is that with the least ratio.
    pub worst_ratio: f64,
    /// Distance of the worst point from the transmitter.
    pub worst_distance: Metres,
    /// Height of the line over the ground there, in metres, the bulge taken off.
    pub worst_clearance: Metres,
    /// The first point from the transmitter that blocks the line: distance, height above sea level.
    pub first_obstruction: Option<(Metres, Metres)>,
}

/// Angles at which the wave leaves and arrives, above the horizontal (negative: below).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeOff {
    /// At the transmitter: towards the receiver, or towards its horizon where that is higher.
    pub at_transmitter: Degrees,
    /// At the receiver likewise.
    pub at_receiver: Degrees,
}

/// Clearance of a path; `None` when the profile has no point between its ends.
///
/// The ground carries the bulge of the effective earth, and the first Fresnel
/// radius is sqrt(lambda d1 d2 / d) (ITU-R P.526-15 section 2.1).
#[must_use]
pub fn clearance(path: &Path<'_>) -> Option<Clearance> {
    let line = antenna_line(path);
    let wavelength = path.frequency().wavelength().value();
    let worst = line.dominant(covered_ground(path), wavelength)?;
    let below = -line.excess(worst.point);
    let bulge = Bulge::of(path);
    let blocking = covered_ground(path).find(|point| line.excess(*point) >= 0.0).map(|point| {
        let height = point.height - bulge.at(point.distance);
        (Metres::new(point.distance), Metres::new(height))
    });
    Some(Clearance {
        line_of_sight: blocking.is_none(),
        worst_ratio: below / line.fresnel_radius(worst.point.distance, wavelength),
        worst_distance: Metres::new(worst.point.distance),
        worst_clearance: Metres::new(below),
        first_obstruction: blocking,
    })
}

/// Whether the straight line clears the ground, the bulge of the effective
/// earth included; the fast form of [`clearance`].
#[must_use]
pub fn line_of_sight(path: &Path<'_>) -> bool {
    let line = antenna_line(path);
    covered_ground(path).all(|point| line.excess(point) < 0.0)
}

/// Take-off angles of a path in degrees over the horizontal of each end, over
/// the effective earth.
#[must_use]
pub fn take_off(path: &Path<'_>) -> TakeOff {
    let line = antenna_line(path);
    let (mut up, mut back) = (line.slope(), -line.slope());
    if let Some(horizons) = line.horizons(covered_ground(path)) {
        up = up.max(horizons.from_start);
        back = back.max(horizons.from_end);
    }
    let tilt = Bulge::of(path).end_slope();
    let angle = |slope: f64| Degrees::new((slope - tilt).atan().to_degrees());
    TakeOff { at_transmitter: angle(up), at_receiver: angle(back) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{EffectiveEarth, Profile};
    use approx::assert_abs_diff_eq;
    use perchline_units::{Megahertz, SPEED_OF_LIGHT};

    const FLAT_EARTH: EffectiveEarth = EffectiveEarth::from_radius(Metres::new(1e15));
    /// The frequency of a wave of 1 m.
    const ONE_METRE: Megahertz = Megahertz::new(SPEED_OF_LIGHT / 1e6);

    fn path<'a>(profile: &'a Profile, transmitter: f64, receiver: f64) -> Path<'a> {
        Path::new(profile, Metres::new(transmitter), Metres::new(receiver), ONE_METRE)
    }

    #[test]
    fn a_mast_between_two_others_is_measured_against_its_fresnel_radius() {
        // At the middle of 4 km at 1 m: radius sqrt(1 * 2000 * 2000 / 4000) = 31.62 m.
        let profile =
            Profile::new(vec![0.0, 1000.0, 2000.0, 4000.0], vec![0.0, 5.0, 20.0, 0.0]).unwrap();
        let clear = clearance(&path(&profile, 30.0, 30.0).with_earth(FLAT_EARTH)).unwrap();
        assert!(clear.line_of_sight && clear.first_obstruction.is_none());
        assert_abs_diff_eq!(clear.worst_ratio, 10.0 / 1000f64.sqrt(), epsilon = 1e-6);
        assert_eq!(clear.worst_distance, Metres::new(2000.0));
        assert_abs_diff_eq!(clear.worst_clearance.value(), 10.0, epsilon = 1e-6);

        let low = path(&profile, 4.0, 4.0).with_earth(FLAT_EARTH);
        let blocked = clearance(&low).unwrap();
        assert!(!blocked.line_of_sight && !line_of_sight(&low));
        assert!(blocked.worst_ratio < 0.0);
        let first = Some((Metres::new(1000.0), Metres::new(5.0)));
        assert_eq!(blocked.first_obstruction, first);
    }

    #[test]
    fn ground_that_just_touches_the_line_blocks_it() {
        let level = [0.0, 8.0, 0.0];
        let profile = Profile::new(vec![0.0, 500.0, 1000.0], level.to_vec()).unwrap();
        let touching = path(&profile, 8.0, 8.0)
            .with_earth(EffectiveEarth::from_radius(Metres::new(f64::INFINITY)));
        assert!(!line_of_sight(&touching));
        let found = clearance(&touching).unwrap();
        assert_eq!((found.line_of_sight, found.worst_ratio), (false, 0.0));
        let first = Some((Metres::new(500.0), Metres::new(8.0)));
        assert_eq!(found.first_obstruction, first);
    }

    #[test]
    fn the_bulge_of_the_earth_blocks_a_long_path_over_the_sea() {
        // Horizon distance of two antennas of height h: 2 sqrt(2 a h); 10 m over
        // 4/3 earth reach 2 * 13.03 km.
        for (kilometres, seen) in [(26.0, true), (26.3, false)] {
            let distance: Vec<f64> = (0..=1000).map(|i| f64::from(i) * kilometres).collect();
            let profile = Profile::new(distance, vec![0.0; 1001]).unwrap();
            assert_eq!(line_of_sight(&path(&profile, 10.0, 10.0)), seen, "{kilometres} km");
        }
    }

    #[test]
    fn without_ground_between_there_is_no_clearance_but_a_line_of_sight() {
        let profile = Profile::new(vec![0.0, 10.0], vec![0.0, 0.0]).unwrap();
        assert_eq!(clearance(&path(&profile, 1.0, 1.0)), None);
        assert!(line_of_sight(&path(&profile, 1.0, 1.0)));
    }

    #[test]
    fn take_off_is_direct_where_clear_and_to_the_horizon_where_blocked() {
        let profile = Profile::new(vec![0.0, 1000.0, 2000.0], vec![0.0, 100.0, 0.0]).unwrap();
        let over = take_off(&path(&profile, 0.0, 0.0).with_earth(FLAT_EARTH));
        assert_abs_diff_eq!(
            over.at_transmitter.value(),
            0.1f64.atan().to_degrees(),
            epsilon = 1e-6
        );
        let direct = take_off(&path(&profile, 300.0, 200.0).with_earth(FLAT_EARTH));
        let dip = 0.05f64.atan().to_degrees();
        assert_abs_diff_eq!(direct.at_transmitter.value(), -dip, epsilon = 1e-6);
        assert_abs_diff_eq!(direct.at_receiver.value(), dip, epsilon = 1e-6);
    }

    #[test]
    fn over_a_curved_earth_level_antennas_look_down_at_each_other() {
        // Each sees the other d / 2a below its own horizontal.
        let profile = Profile::new(vec![0.0, 5e3, 1e4], vec![0.0; 3]).unwrap();
        let angles = take_off(&path(&profile, 500.0, 500.0));
        let dip = (-1e4f64 / (2.0 * 6_371_000.0 * 4.0 / 3.0)).atan().to_degrees();
        assert_abs_diff_eq!(angles.at_transmitter.value(), dip, epsilon = 1e-9);
        assert_abs_diff_eq!(angles.at_receiver.value(), dip, epsilon = 1e-9);
    }
}
