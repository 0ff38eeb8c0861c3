//! Loss in woodland, ITU-R P.833.

use super::Path;
use super::line::{antenna_line, raised_ground};
use super::range::{OutOfRange, within};
use crate::units::{Db, Megahertz, Metres};

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
/// use perchline::propagation::p833::woodland_loss;
/// use perchline::units::{Megahertz, Metres};
///
/// let hundred_metres = woodland_loss(Megahertz::new(446.0), Metres::new(100.0))?;
/// assert!((hundred_metres.value() - 8.5).abs() < 0.1);
/// # Ok::<(), perchline::propagation::OutOfRange>(())
/// ```
pub fn woodland_loss(frequency: Megahertz, depth: Metres) -> Result<Db, OutOfRange> {
    let f = within("woodland: frequency", frequency.value(), 30.0..=3000.0, "MHz")?;
    let depth = within("woodland: depth", depth.value(), 0.0..=f64::INFINITY, "m")?;
    let most = 1.37 * f.powf(0.42);
    Ok(Db::new(most * (1.0 - (-depth * specific_attenuation(f) / most).exp())))
}

/// How much of the straight line between the antennas runs through woods:
/// above the ground and no higher than their tops.
///
/// `woods` is the height of trees above the ground at each point of the
/// path's profile, in metres, 0 where there are none; points that it lacks
/// have none. Each point between the ends stands for half the way to its
/// neighbours. Where the ground itself blocks the line the wave goes another
/// way, and nothing is counted.
#[must_use]
pub fn grazed_depth(path: &Path<'_>, woods: &[f64]) -> Metres {
    let line = antenna_line(path);
    let distances = path.profile().distances();
    let depth = raised_ground(path)
        .enumerate()
        .filter(|(inner, ground)| {
            let trees = woods.get(inner + 1).copied().unwrap_or(0.0);
            let above = line.height_at(ground.distance) - ground.height;
            trees > 0.0 && above >= 0.0 && above <= trees
        })
        .filter_map(|(inner, _)| Some((distances.get(inner + 2)? - distances.get(inner)?) / 2.0))
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

    /// By hand: from 30 m down to 2 m over 2000 m the line is at 9 m, 500 m from the end.
    #[test]
    fn the_line_is_in_the_woods_only_below_their_tops() {
        use crate::propagation::{EffectiveEarth, Profile};
        let distances: Vec<f64> = (0..=200).map(|i| f64::from(i) * 10.0).collect();
        let ground = Profile::new(distances, vec![50.0; 201]).unwrap();
        let flat = EffectiveEarth::from_radius(Metres::new(1e12));
        let path = Path::new(&ground, Metres::new(30.0), Metres::new(2.0), Megahertz::new(147.0))
            .with_earth(flat);
        let depth = |woods: &[f64]| grazed_depth(&path, woods).value();
        assert_abs_diff_eq!(depth(&[9.0; 201]), 500.0, epsilon = 10.0);
        assert_abs_diff_eq!(depth(&[40.0; 201]), 1990.0, epsilon = 1e-6);
        assert_eq!(depth(&[1.0; 201]), 0.0);
        assert_eq!(depth(&[]), 0.0);
        // A hill in the wood that blocks the line: nothing runs through its trees.
        let mut heights = vec![50.0; 201];
        heights.iter_mut().skip(150).take(20).for_each(|h| *h = 90.0);
        let hill = Profile::new(ground.distances().to_vec(), heights).unwrap();
        let path = Path::new(&hill, Metres::new(30.0), Metres::new(2.0), Megahertz::new(147.0))
            .with_earth(flat);
        assert_abs_diff_eq!(grazed_depth(&path, &[9.0; 201]).value(), 300.0, epsilon = 10.0);
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
}
