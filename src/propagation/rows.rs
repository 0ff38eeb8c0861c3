//! A wave that grazes over rows of houses on its way to a street among them.

use super::two_ray::TwoRay;
use super::{Path, Profile};
use perchline_units::{Db, Megahertz, Metres};

/// Rows of houses of one height between a high end and a low one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rows {
    /// Height of their roofs above the ground.
    pub roofs: Metres,
    /// From one row to the next, above 0 m.
    pub spacing: Metres,
}

/// The ends of a way over rows, as far as the rows ask.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OverRows {
    /// Ground distance, above 0 m.
    pub distance: Metres,
    /// The other antenna over the ground at the low end.
    pub high: Metres,
    /// The low antenna over its ground.
    pub low: Metres,
}

impl Rows {
    /// What rows between two antennas take beyond free space by themselves in dB: the
    /// settled field of Walfisch and Bertoni, -20 log 2.35 (a sqrt(b / wavelength))^0.9
    /// for the angle a at which the wave comes down on roofs a distance b apart
    /// (ITU-R P.1411, over rooftops, Q_M for an antenna above them, from memory). No
    /// more than what a wave level with the roofs loses over as many rows as there
    /// are, 20 log of their number.
    #[must_use]
    pub fn loss(&self, frequency: Megahertz, way: OverRows) -> Db {
        let rows = (way.distance.value() / self.spacing.value()).max(1.0);
        let angle = (way.high - self.roofs).value().max(0.0) / way.distance.value();
        let root = (self.spacing.value() / frequency.wavelength().value()).sqrt();
        let field = 2.35 * (angle * root).powf(0.9);
        Db::new(-20.0 * field.max(1.0 / rows).min(1.0).log10())
    }

    /// By how much they are worse than even ground without them, which the methods
    /// count; 0 dB or more (ours).
    #[must_use]
    pub fn beyond_ground(&self, path: &Path<'_>, way: OverRows) -> Db {
        let even = TwoRay {
            frequency: path.frequency(),
            transmitter: way.high.max(way.low),
            receiver: way.low,
            ground: path.ground(),
            polarization: path.polarization(),
        };
        (self.loss(path.frequency(), way) - even.excess(way.distance)).max(Db::new(0.0))
    }
}

impl OverRows {
    /// The ends of a path, the low one at its end or, where `from_low`, at its start.
    #[must_use]
    pub fn of(path: &Path<'_>, from_low: bool) -> Self {
        let ground = |profile: &Profile| {
            let heights = profile.heights();
            let end = if from_low { heights.first() } else { heights.last() };
            Metres::new(end.copied().unwrap_or_default())
        };
        let (high, low) = if from_low {
            (path.receiver_altitude(), path.transmitter_height())
        } else {
            (path.transmitter_altitude(), path.receiver_height())
        };
        Self { distance: path.length(), high: high - ground(path.profile()), low }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn town() -> Rows {
        Rows { roofs: Metres::new(15.0), spacing: Metres::new(54.0) }
    }

    fn way(distance: f64, high: f64) -> OverRows {
        let [distance, high, low] = [distance, high, 1.5].map(Metres::new);
        OverRows { distance, high, low }
    }

    /// By hand at 446 MHz, wavelength 0.6722 m, sqrt(54 / 0.6722) = 8.963: from 18 m at
    /// 1 km 2.35 (0.003 x 8.963)^0.9 = 0.0907, 20.85 dB; level with the roofs 18.52
    /// rows, 25.35 dB; from a hill 300 m over the roofs nothing.
    #[test]
    fn the_settled_field_comes_to_a_hand_calculation() {
        let loss = |distance, high| town().loss(Megahertz::new(446.0), way(distance, high)).value();
        assert_abs_diff_eq!(loss(1000.0, 18.0), 20.85, epsilon = 0.02);
        assert_abs_diff_eq!(loss(1000.0, 15.0), 25.35, epsilon = 0.01);
        assert_abs_diff_eq!(loss(1000.0, 2.0), 25.35, epsilon = 0.01);
        assert_abs_diff_eq!(loss(1000.0, 315.0), 0.0);
        assert_abs_diff_eq!(loss(40.0, 15.0), 0.0);
    }

    /// What even ground takes is not taken twice, and ends are found from either side.
    #[test]
    fn only_what_is_beyond_even_ground_counts() {
        let ground = Profile::new(vec![0.0, 1000.0], vec![40.0, 20.0]).unwrap();
        let [mast, hand, f] = [18.0, 1.5, 446.0];
        let path = Path::new(&ground, Metres::new(mast), Metres::new(hand), Megahertz::new(f));
        let over = OverRows::of(&path, false);
        assert_eq!(over, OverRows { distance: Metres::new(1000.0), ..way(1000.0, 38.0) });
        let back = ground.reversed();
        let back = Path::new(&back, Metres::new(hand), Metres::new(mast), Megahertz::new(f));
        assert_eq!(OverRows::of(&back, true), over);
        let low = way(1000.0, 18.0);
        let beyond = town().beyond_ground(&path, low).value();
        let alone = town().loss(path.frequency(), low).value();
        assert!(beyond > 5.0 && beyond < alone, "{beyond} {alone}");
        // By hand, 3 km on 2 m from a mast of 2 m: 55.6 rows, 34.9 dB; even ground takes
        // 40 log 3000 - 20 log (2 x 1.5) - 85.3 = 44.3 dB, less what antennas that low gain.
        let low = path.with_frequency(Megahertz::new(146.0));
        assert_eq!(town().beyond_ground(&low, way(3000.0, 2.0)).value(), 0.0);
    }
}
