//! What a ridge seems to give a link that lower ground would not.
//!
//! A single ridge between two low antennas throws more into its shadow than the
//! curve of the earth, or level ground, would leave there: obstacle gain (common
//! practice, no source). It hangs on one sharp crest, and a few metres beside
//! the path it may be gone, so a link that lives on it is told.

use super::delta_bullington::best_fit;
use super::{Path, PathLoss, Profile};
use perchline_units::Db;

/// The ground with nothing above its general lie: above the straight line that
/// fits it best (ITU-R P.526-15 section 4.5.3). Its ends stay. `None` where
/// nothing stands above that line.
fn without_ridges(profile: &Profile) -> Option<Profile> {
    let (first, last) = best_fit(profile);
    let base = profile.heights().first()?;
    let end = profile.len().checked_sub(1)?;
    let length = profile.length().value();
    let points = profile.distances().iter().zip(profile.heights()).enumerate();
    let heights: Vec<f64> = points
        .map(|(index, (distance, height))| {
            let lie = base + first + (last - first) * distance / length;
            if index == 0 || index == end { *height } else { height.min(lie) }
        })
        .collect();
    if heights == profile.heights() {
        return None;
    }
    let lower = Profile::new(profile.distances().to_vec(), heights).ok()?;
    let lower = if profile.cover().is_empty() {
        lower
    } else {
        lower.with_cover(profile.cover().to_vec()).ok()?
    };
    Some(lower.with_sea(profile.sea().to_vec()).with_roofs(profile.roofs()))
}

/// By how much the loss that `method` adds to free space over `path` is less than
/// over the same path without its ridges, dB; `None` where no ridge stands there, or
/// where it takes something, as one would expect.
#[must_use]
pub fn obstacle_gain(method: &dyn PathLoss, path: &Path<'_>) -> Option<Db> {
    let lower = without_ridges(path.profile())?;
    let loss = |path: &Path<'_>| method.diffraction(path, &mut |_| ());
    let gain = loss(&path.over(&lower)) - loss(path);
    (gain > Db::new(0.0)).then_some(gain)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{METHODS, delta_bullington::DeltaBullington, single_edge::SingleEdge};
    use approx::assert_abs_diff_eq;
    use perchline_units::{Megahertz, Metres};

    /// A plain of 5 km with one sharp crest 2 km from the mast.
    fn plain(top: f64) -> Profile {
        let distances: Vec<f64> = (0..=500).map(|i| f64::from(i) * 10.0).collect();
        let heights = distances.iter().map(|d| if *d == 2000.0 { top } else { 5.0 }).collect();
        Profile::new(distances, heights).unwrap()
    }

    fn gain(method: &dyn PathLoss, profile: &Profile) -> Option<f64> {
        let (mast, person) = (Metres::new(20.0), Metres::new(1.5));
        let path = Path::new(profile, mast, person, Megahertz::new(146.0));
        obstacle_gain(method, &path).map(Db::value)
    }

    #[test]
    fn a_crest_gives_what_level_ground_would_take_more() {
        let (bare, crest) = (plain(5.0), plain(60.0));
        let loss = |profile: &Profile| {
            let path =
                Path::new(profile, Metres::new(20.0), Metres::new(1.5), Megahertz::new(146.0));
            DeltaBullington.diffraction(&path, &mut |_| ()).value()
        };
        let found = gain(&DeltaBullington, &crest).unwrap();
        // The fitted line is not quite the plain.
        assert_abs_diff_eq!(found, loss(&bare) - loss(&crest), epsilon = 0.5);
        assert!(found > 2.0, "{found} dB");
    }

    /// Behind a crest a knife edge has loss, and over the plain without it none: the
    /// crest takes and gives nothing.
    #[test]
    fn a_crest_that_takes_gives_nothing() {
        assert_eq!(gain(&SingleEdge, &plain(60.0)), None);
    }

    #[test]
    fn where_nothing_stands_nothing_is_given() {
        let level = Profile::new(vec![0.0, 2500.0, 5000.0], vec![5.0; 3]).unwrap();
        let slope = Profile::new(vec![0.0, 2500.0, 5000.0], vec![5.0, 55.0, 105.0]).unwrap();
        for method in METHODS {
            assert_eq!(gain(*method, &level), None, "{}", method.name());
            assert_eq!(gain(*method, &slope), None, "{}", method.name());
        }
    }

    #[test]
    fn what_stands_on_the_ground_stays() {
        let bare = plain(60.0);
        let cover: Vec<f64> = (0..bare.len()).map(|i| if i == 300 { 9.0 } else { 0.0 }).collect();
        let houses = bare.clone().with_cover(cover.clone()).unwrap();
        let lower = without_ridges(&houses).unwrap();
        assert_eq!(lower.cover(), cover);
        assert!(lower.heights().iter().all(|height| *height < 10.0));
        assert_eq!(lower.heights().first(), bare.heights().first());
    }
}
