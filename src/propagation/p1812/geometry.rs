//! Horizons, angles and effective heights of a path (P.1812 attachment 1),
//! over the bare ground and the median effective earth: the same at any
//! frequency.

use crate::Path;
use crate::line::{antenna_line, between_ends, raised_ground};
use perchline_units::{Metres, Milliradians};

/// Horizons, angles and heights of a path. Altitudes are over sea level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Geometry {
    /// Altitude of the transmitting antenna, hts.
    pub transmitter_altitude: Metres,
    /// Altitude of the receiving antenna, hrs.
    pub receiver_altitude: Metres,
    /// Whether no ground rises over the line between the antennas.
    pub clear: bool,
    /// Distance from the transmitter to its horizon, or to the worst point of
    /// a clear path, dlt of equation (78).
    pub transmitter_horizon: Metres,
    /// The same from the receiver, dlr of equation (81a).
    pub receiver_horizon: Metres,
    /// Elevation of the transmitter's horizon, or of the receiver where the
    /// path is clear, equations (76) to (78).
    pub transmitter_elevation: Milliradians,
    /// The same at the receiver, equations (79) to (81).
    pub receiver_elevation: Milliradians,
    /// Angle between both rays where they meet, equation (82).
    pub path_angle: Milliradians,
    /// Altitude at the transmitter of the straight line that fits the ground
    /// best, hst of equation (85).
    pub smooth_start: Metres,
    /// The same at the receiver, hsr of equation (86).
    pub smooth_end: Metres,
    /// The former, not above the ground there, hst of equation (90a).
    pub low_smooth_start: Metres,
    /// The same at the receiver, hsr of equation (90b).
    pub low_smooth_end: Metres,
    /// Height of the transmitting antenna over that, hte of equation (92a).
    pub ducting_transmitter: Metres,
    /// The same of the receiving antenna, hre of equation (92b).
    pub ducting_receiver: Metres,
    /// The highest ground between the horizons over that line, hm of equation (93).
    pub roughness: Metres,
}

impl Geometry {
    /// The geometry where the [`best_fit`](crate::delta_bullington::best_fit)
    /// of the ground is known.
    pub(super) fn of(path: &Path<'_>, (start, end): (f64, f64)) -> Self {
        let (hts, hrs) = (path.transmitter_altitude().value(), path.receiver_altitude().value());
        let length = path.length().value();
        let radius = path.earth().radius().value();
        // Slopes over the local horizontal: of the other end, of the ground.
        let to_receiver = (hrs - hts) / length - length / (2.0 * radius);
        let to_transmitter = (hts - hrs) / length - length / (2.0 * radius);
        let mut up = (f64::NEG_INFINITY, 0.0);
        let mut back = (f64::NEG_INFINITY, 0.0);
        for (distance, height) in between_ends(path) {
            let slope = (height - hts) / distance - distance / (2.0 * radius);
            // Of several points the nearest is the horizon, from both ends.
            if slope > up.0 {
                up = (slope, distance);
            }
            let left = length - distance;
            let slope = (height - hrs) / left - left / (2.0 * radius);
            if slope >= back.0 {
                back = (slope, left);
            }
        }
        let clear = up.0 <= to_receiver;
        if clear {
            let worst = antenna_line(path)
                .worst(raised_ground(path))
                .map_or(length / 2.0, |worst| worst.distance);
            up = (to_receiver, worst);
            back = (to_transmitter, length - worst);
        }
        let milliradians = |slope: f64| 1e3 * slope.atan();
        let (theta_t, theta_r) = (milliradians(up.0), milliradians(back.0));

        let heights = path.profile().heights();
        let ground_start = heights.first().copied().unwrap_or_default();
        let ground_end = heights.last().copied().unwrap_or_default();
        let (start, end) = (start + ground_start, end + ground_start);
        let (low_start, low_end) = (start.min(ground_start), end.min(ground_end));
        let slope = (low_end - low_start) / length;
        let roughness = between_ends(path)
            .filter(|&(distance, _)| distance >= up.1 && length - distance >= back.1)
            .map(|(distance, height)| height - (low_start + slope * distance))
            .reduce(f64::max);
        Self {
            transmitter_altitude: Metres::new(hts),
            receiver_altitude: Metres::new(hrs),
            clear,
            transmitter_horizon: Metres::new(up.1),
            receiver_horizon: Metres::new(back.1),
            transmitter_elevation: Milliradians::new(theta_t),
            receiver_elevation: Milliradians::new(theta_r),
            path_angle: Milliradians::new(1e3 * length / radius + theta_t + theta_r),
            smooth_start: Metres::new(start),
            smooth_end: Metres::new(end),
            low_smooth_start: Metres::new(low_start),
            low_smooth_end: Metres::new(low_end),
            ducting_transmitter: Metres::new(hts.max(ground_start) - low_start),
            ducting_receiver: Metres::new(hrs.max(ground_end) - low_end),
            roughness: Metres::new(roughness.unwrap_or_default()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{EffectiveEarth, Profile};
    use perchline_units::Megahertz;

    /// Over an earth without bulge, antennas on the ground at its ends.
    fn of(points: &[(f64, f64)]) -> Geometry {
        with_receiver_at(0.0, points)
    }

    fn with_receiver_at(mast: f64, points: &[(f64, f64)]) -> Geometry {
        let (distance, height) = points.iter().copied().unzip();
        let ground = Profile::new(distance, height).unwrap();
        let none = Metres::new(0.0);
        let path = Path::new(&ground, none, Metres::new(mast), Megahertz::new(446.0))
            .with_earth(EffectiveEarth::from_radius(Metres::new(f64::INFINITY)));
        Geometry::of(&path, crate::delta_bullington::best_fit(&ground))
    }

    /// Two pairs of points, each on one ray: the nearer of a pair is the horizon.
    #[test]
    fn of_points_on_one_ray_the_nearest_is_the_horizon() {
        let found = of(&[
            (0.0, 0.0),
            (1000.0, 128.0),
            (2000.0, 256.0),
            (6000.0, 256.0),
            (7000.0, 128.0),
            (8000.0, 0.0),
        ]);
        assert!(!found.clear);
        assert_eq!(found.transmitter_horizon, Metres::new(1000.0));
        assert_eq!(found.receiver_horizon, Metres::new(1000.0));
        let angle = 1e3 * 0.128f64.atan();
        assert_eq!(found.transmitter_elevation, Milliradians::new(angle));
        assert_eq!(found.receiver_elevation, Milliradians::new(angle));
        assert_eq!(found.path_angle, Milliradians::new(2.0 * angle));
    }

    /// Level ground that the line runs along does not rise over it.
    #[test]
    fn ground_along_the_line_leaves_the_path_clear() {
        let found = of(&[(0.0, 5.0), (1000.0, 5.0), (3000.0, 5.0), (4000.0, 5.0)]);
        assert!(found.clear);
        let nothing = Milliradians::new(0.0);
        assert_eq!((found.transmitter_elevation, found.path_angle), (nothing, nothing));
        assert_eq!(found.roughness, Metres::new(0.0));
        // Without ground between, the middle stands for the worst point.
        let bare = of(&[(0.0, 5.0), (4000.0, 5.0)]);
        assert_eq!(bare.transmitter_horizon, Metres::new(2000.0));
        assert_eq!(bare.receiver_horizon, Metres::new(2000.0));
    }

    /// Equation (93) by hand: level ground but for 30 m and 40 m at the horizons
    /// and 35 m between them. The line of best fit rises over the ends, so that
    /// it is held down to them: the roughness is the highest point itself, horizons
    /// included.
    #[test]
    fn roughness_is_the_highest_ground_from_horizon_to_horizon() {
        let mut points: Vec<_> = (0..=80).map(|i| (f64::from(i) * 100.0, 0.0)).collect();
        points[20].1 = 30.0;
        points[40].1 = 35.0;
        points[60].1 = 40.0;
        let found = of(&points);
        assert_eq!(found.transmitter_horizon, Metres::new(2000.0));
        assert_eq!(found.receiver_horizon, Metres::new(2000.0));
        let level = Metres::new(0.0);
        assert!(found.smooth_start > level && found.smooth_end > level);
        assert_eq!((found.low_smooth_start, found.low_smooth_end), (level, level));
        assert_eq!(found.roughness, Metres::new(40.0));
    }

    /// A mast of 50 m looks down over 46 m of ground 500 m off to its horizon of
    /// 40 m, 2 km off: what lies before the horizon is no roughness.
    #[test]
    fn ground_before_a_horizon_is_no_roughness() {
        let mut points: Vec<_> = (0..=80).map(|i| (f64::from(i) * 100.0, 0.0)).collect();
        points[60].1 = 40.0;
        points[75].1 = 46.0;
        let found = with_receiver_at(50.0, &points);
        assert!(!found.clear);
        assert_eq!(found.receiver_horizon, Metres::new(2000.0));
        assert_eq!(found.transmitter_horizon, Metres::new(6000.0));
        let (start, end) = (found.low_smooth_start, found.low_smooth_end);
        let smooth = start.value() * 0.25 + end.value() * 0.75;
        assert!((found.roughness.value() - (40.0 - smooth)).abs() < 1e-9, "{found:?}");
    }
}
