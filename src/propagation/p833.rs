//! Loss in woodland, ITU-R P.833.

use std::ops::RangeInclusive;

use super::Path;
use super::line::{antenna_line, covered_ground};
use super::range::{OutOfRange, within};
use perchline_units::{Db, Megahertz, Metres};

/// Specific attenuation in mixed woodland in leaf, dB/m by MHz, from the
/// measurements quoted in P.833 section 2.1 (from memory).
const MEASURED: [(f64, f64); 5] =
    [(105.9, 0.04), (466.475, 0.12), (949.0, 0.17), (1852.2, 0.30), (2117.5, 0.34)];

/// Specific attenuation in dB/m at a frequency in MHz: straight lines between
/// the measurements on logarithmic axes, the first and last of them prolonged.
fn specific_attenuation(frequency: f64) -> f64 {
    let last = MEASURED.len() - 2;
    MEASURED
        .windows(2)
        .enumerate()
        .find_map(|(index, pair)| match *pair {
            [(f0, g0), (f1, g1)] if frequency <= f1 || index == last => {
                Some(g0 * (frequency / f0).powf((g1 / g0).ln() / (f1 / f0).ln()))
            }
            _ => None,
        })
        .unwrap_or_default()
}

/// The loss in dB that woodland adds where one antenna stands in it and the
/// path runs through `depth` of it: Am (1 - exp(-depth gamma / Am)) with
/// Am = 1.37 f^0.42 dB, f in MHz (P.833 section 2.1, equations (1) and (2),
/// from memory; the pair of constants fits woodland 12 to 16 m high).
///
/// `frequency` is from 30 to 3000 MHz, though what was measured begins at 106
/// and ends at 2118 MHz: between 30 and 106 MHz the figure is prolonged by us.
/// `depth` is 0 or more. Above the trees the wave goes over them: the loss is
/// then that of the path model with the trees as cover, never both.
///
/// # Errors
/// [`OutOfRange`] for the first value out of these ranges.
///
/// ```
/// use perchline_propagation::p833::woodland_loss;
/// use perchline_units::{Megahertz, Metres};
///
/// let hundred_metres = woodland_loss(Megahertz::new(446.0), Metres::new(100.0))?;
/// assert!((hundred_metres.value() - 8.5).abs() < 0.1);
/// # Ok::<(), perchline_propagation::OutOfRange>(())
/// ```
pub fn woodland_loss(frequency: Megahertz, depth: Metres) -> Result<Db, OutOfRange> {
    let leaves = Leaves::at(frequency)?;
    within("woodland: depth", depth.value(), 0.0..=f64::INFINITY, "m")?;
    Ok(leaves.loss(depth))
}

/// What leaves do to a wave of one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Leaves {
    most: f64,
    attenuation: f64,
}

impl Leaves {
    /// The frequencies in MHz for which there are numbers.
    pub const FREQUENCIES: RangeInclusive<f64> = 30.0..=3000.0;

    /// Leaves at a frequency from 30 to 3000 MHz, as [`woodland_loss`] has them.
    ///
    /// # Errors
    /// [`OutOfRange`] beyond these frequencies.
    pub fn at(frequency: Megahertz) -> Result<Self, OutOfRange> {
        let f = within("woodland: frequency", frequency.value(), Self::FREQUENCIES, "MHz")?;
        Ok(Self { most: 1.37 * f.powf(0.42), attenuation: specific_attenuation(f) })
    }

    /// The most that any depth of them takes: Am of P.833 section 2.1.
    #[must_use]
    pub fn most(self) -> Db {
        Db::new(self.most)
    }

    /// Specific attenuation of a shallow wood in dB/m.
    #[must_use]
    pub fn attenuation(self) -> f64 {
        self.attenuation
    }

    /// The loss in a depth of 0 or more.
    #[must_use]
    pub fn loss(self, depth: Metres) -> Db {
        let share = (-depth.value() * self.attenuation / self.most).exp();
        Db::new(self.most * (1.0 - share))
    }
}

/// The uppermost crowns, in metres, which count by the part that lies above the
/// wave: our choice, so that the loss does not jump where a line comes down to
/// the tree-tops.
const CROWNS: f64 = 2.0;

/// How much of a path runs through the woods of its profile: below their tops.
///
/// The path is the straight line between the antennas where nothing but trees
/// is in the way; elsewhere the two lines from the antennas up to their
/// horizons, the trees away, and on to where they meet. Woods on a crest that
/// a wave just clears are counted so, woods in a valley that it passes high
/// over are not. Each point between the ends stands for half the way to its
/// neighbours.
#[must_use]
pub fn grazed_depth(path: &Path<'_>) -> Metres {
    let path = path.through_woods();
    let (line, woods) = (antenna_line(&path), path.profile().woods());
    let Some(horizons) = line.horizons(covered_ground(&path)) else {
        return Metres::new(0.0);
    };
    let (up, back) = (horizons.from_start.max(line.slope()), horizons.from_end.max(-line.slope()));
    let distances = path.profile().distances();
    let depth = covered_ground(&path)
        .enumerate()
        .filter_map(|(inner, foot)| {
            let trees = woods.get(inner + 1).copied().filter(|trees| *trees > 0.0)?;
            let rise = line.start.height + up * foot.distance;
            let fall = line.end.height + back * (line.end.distance - foot.distance);
            let above = foot.height + trees - rise.min(fall);
            let width = (distances.get(inner + 2)? - distances.get(inner)?) / 2.0;
            Some(width * (above / CROWNS).clamp(0.0, 1.0))
        })
        .sum();
    Metres::new(depth)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn loss(frequency: f64, depth: f64) -> f64 {
        woodland_loss(Megahertz::new(frequency), Metres::new(depth)).unwrap().value()
    }

    /// P.833 section 2.1 quotes, with the specific attenuations, how much the
    /// loss comes to at most: 9.4, 18.0, 26.5, 29.0 and 34.1 dB (from memory).
    /// Its power law fits those to about 2.5 dB.
    #[test]
    fn the_most_that_woods_take_fits_what_was_measured() {
        for ((frequency, gamma), most) in MEASURED.into_iter().zip([9.4, 18.0, 26.5, 29.0, 34.1]) {
            assert_abs_diff_eq!(loss(frequency, 1e6), most, epsilon = 4.0);
            // A shallow wood takes its specific attenuation.
            assert_abs_diff_eq!(loss(frequency, 0.01), gamma * 0.01, epsilon = 1e-5);
        }
    }

    /// By hand: from 30 m down to 2 m over 2000 m the line is at 9 m 500 m from
    /// the end, and at 7 m 357 m from it; between, half of it counts on average.
    #[test]
    fn the_line_is_in_the_woods_only_below_their_tops() {
        use crate::{EffectiveEarth, Profile};
        let distances: Vec<f64> = (0..=200).map(|i| f64::from(i) * 10.0).collect();
        let ground = Profile::new(distances, vec![50.0; 201]).unwrap();
        let antennas = (Metres::new(30.0), Metres::new(2.0));
        let flat = EffectiveEarth::from_radius(Metres::new(1e12));
        let depth = |ground: &Profile, trees: f64| {
            let cover = vec![trees; 201];
            let wood = ground.clone().with_cover(cover.clone()).unwrap().with_woods(cover).unwrap();
            let path = Path::new(&wood, antennas.0, antennas.1, Megahertz::new(147.0));
            grazed_depth(&path.with_earth(flat)).value()
        };
        assert_abs_diff_eq!(depth(&ground, 9.0), 428.6, epsilon = 6.0);
        assert_abs_diff_eq!(depth(&ground, 40.0), 1990.0, epsilon = 1e-6);
        assert_eq!(depth(&ground, 1.0), 0.0);
        let bare = Path::new(&ground, antennas.0, antennas.1, Megahertz::new(147.0));
        assert_eq!(grazed_depth(&bare).value(), 0.0);
        // A hill in the wood that blocks the line, from 1500 to 1690 m: the 20
        // points on its flat top count, and behind it the line falls by 38 m in
        // 310 m: four points in full and, at 58.1 m, 0.43 of a fifth.
        let mut heights = vec![50.0; 201];
        heights.iter_mut().skip(150).take(20).for_each(|h| *h = 90.0);
        let hill = Profile::new(ground.distances().to_vec(), heights).unwrap();
        assert_abs_diff_eq!(depth(&hill, 9.0), 244.3, epsilon = 1.0);
        // Houses are no wood, and a wood behind them counts above them alone.
        let houses = ground.with_cover(vec![9.0; 201]).unwrap();
        let path = Path::new(&houses, antennas.0, antennas.1, Megahertz::new(147.0));
        assert_eq!(grazed_depth(&path).value(), 0.0);
    }

    #[test]
    fn loss_grows_with_depth_and_frequency() {
        for pair in [30.0, 60.0, 106.0, 146.0, 446.0, 1290.0, 2118.0, 3000.0].windows(2) {
            assert!(loss(pair[0], 200.0) < loss(pair[1], 200.0), "{pair:?}");
        }
        assert_eq!(loss(146.0, 0.0), 0.0);
        assert!(loss(146.0, 50.0) < loss(146.0, 51.0));
        assert!(woodland_loss(Megahertz::new(10.0), Metres::new(1.0)).is_err());
        assert!(woodland_loss(Megahertz::new(146.0), Metres::new(-1.0)).is_err());
    }

    /// Halfway between two measurements on logarithmic axes both axes have
    /// their geometric mean: 0.0693 dB/m at 222.3 MHz, 0.319 at 1980.4 MHz; and
    /// Am = 1.37 x 100^0.42 = 9.478 dB.
    #[test]
    fn leaves_lie_on_straight_lines_between_the_measurements() {
        let at = |frequency: f64| Leaves::at(Megahertz::new(frequency)).unwrap();
        for pair in MEASURED.windows(2) {
            let ((f0, g0), (f1, g1)) = (pair[0], pair[1]);
            let between = at((f0 * f1).sqrt()).attenuation();
            assert_abs_diff_eq!(between, (g0 * g1).sqrt(), epsilon = 1e-12);
            assert_abs_diff_eq!(at(f0).attenuation(), g0, epsilon = 1e-12);
            assert_abs_diff_eq!(at(f1).attenuation(), g1, epsilon = 1e-12);
        }
        assert_abs_diff_eq!(at(100.0).most().value(), 9.478, epsilon = 1e-3);
        // The first line prolonged: (60 / 105.9)^0.7409 of 0.04.
        assert_abs_diff_eq!(at(60.0).attenuation(), 0.026_26, epsilon = 1e-4);
    }

    /// One wooded point, which stands for (150 - 100) / 2 m; and a low wood half
    /// way up to a hill that the wave climbs over, which passes high above it.
    #[test]
    fn a_wood_counts_where_it_stands_and_where_the_wave_is_low() {
        use crate::{EffectiveEarth, Profile};
        let depth = |wooded: usize, trees: f64| {
            let distances = vec![0.0, 100.0, 110.0, 150.0, 600.0, 1000.0, 2000.0];
            let mut heights = vec![50.0; 7];
            heights[5] = 150.0;
            let mut woods = vec![0.0; 7];
            woods[wooded] = trees;
            let ground = Profile::new(distances, heights)
                .and_then(|ground| ground.with_cover(woods.clone()))
                .and_then(|ground| ground.with_woods(woods))
                .unwrap();
            let mast = Metres::new(2.0);
            let path = Path::new(&ground, mast, mast, Megahertz::new(147.0))
                .with_earth(EffectiveEarth::from_radius(Metres::new(f64::INFINITY)));
            grazed_depth(&path).value()
        };
        assert_abs_diff_eq!(depth(2, 30.0), 25.0, epsilon = 1e-9);
        assert_eq!(depth(4, 5.0), 0.0);
    }
}
