//! From nothing to a plan: the text of a first plan, out of whatever a person has
//! in hand, and what is still missing in it.
//!
//! What can be found out is found out: the time zone and the units from the place,
//! the grid that maps of it carry, hills for a relay from the terrain. What cannot
//! be is written as a placeholder, and every placeholder is told.

mod error;
mod found;
mod ground;
mod places;
mod region;
mod text;
mod told;

use std::path::{Path, PathBuf};

use jiff::civil::DateTime;
use jiff::{Timestamp, ToSpan};
use perchline_plan::UnitSystem;
use perchline_terrain::{Extent, MissingTiles};
use perchline_units::{Degrees, Metres, Position};

pub use error::StartError;
pub use found::{Found, found_in};
pub use ground::elevation_in;
pub use places::{MOST_BYTES, MOST_POSTS};
pub use region::{on_the_ground, short_mast};
pub use told::{Elevation, Told};

use ground::Ground;
use places::Places;
use region::Region;
use text::Draft;

/// What the plan's file is called.
pub const PLAN_FILE: &str = "plan.toml";

/// What the file of its routes and areas is called.
pub const SHAPES_FILE: &str = "shapes.geojson";

/// How far around a place the event is taken to reach where nothing says it: common
/// practice, no source.
pub const USUAL_RADIUS: Metres = Metres::new(2000.0);

/// How a relay keeps its transmitter out of its receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RelayKind {
    /// One antenna behind a duplexer.
    #[default]
    Duplexer,
    /// Two antennas some way apart.
    TwoAntennas,
}

/// What a plan is made from.
#[derive(Debug, Clone)]
pub struct Asked<'a> {
    /// The folder that the plan will stand in; paths in it count from there.
    pub folder: &'a Path,
    /// The middle of the event.
    pub centre: Option<Position>,
    /// How far it reaches around that, above 0.
    pub radius: Option<Metres>,
    /// A vector file of routes, posts and areas.
    pub places: Option<&'a Path>,
    /// An elevation file or a folder of them.
    pub elevation: Option<&'a Path>,
    /// What the event is called.
    pub name: Option<&'a str>,
    /// Local time of its start.
    pub starts: Option<DateTime>,
    /// Local time of its end.
    pub ends: Option<DateTime>,
    /// The relay at hand.
    pub relay: RelayKind,
    /// Units of the report, in place of those that the region uses.
    pub units: Option<UnitSystem>,
    /// The time by which "tomorrow" is meant.
    pub now: Timestamp,
}

/// A plan that was made, not written yet.
#[derive(Debug)]
pub struct Begun {
    /// The files, each with the name that it has in the folder: the plan first.
    pub files: Vec<(&'static str, Vec<u8>)>,
    /// What it holds and what it lacks.
    pub told: Told,
}

/// Makes the text of a plan out of what there is. Nothing is written.
///
/// # Errors
/// [`StartError`] when nothing says where the event is, a file cannot be used, or
/// what was given does not fit together.
pub fn begin(asked: &Asked<'_>) -> Result<Begun, StartError> {
    let given = asked.places.map(Places::read).transpose()?;
    let mut places = given.unwrap_or_default();
    if let (Some(centre), Some(radius)) = (asked.centre, asked.radius) {
        places.keep_within(centre, radius);
    }
    let nowhere = || StartError::Nowhere { elevation: asked.elevation.map(Path::to_owned) };
    let (middle, reach) = match (asked.centre.or(places.middle()), asked.elevation) {
        (Some(middle), _) => (middle, None),
        (None, Some(elevation)) => {
            let (middle, reach) = ground::middle_of_file(elevation)?.ok_or_else(nowhere)?;
            (middle, Some(reach))
        }
        (None, None) => return Err(nowhere()),
    };
    places.settle(asked, middle, reach)?;
    let region = Region::of(middle, asked.units)?;
    let times = Times::of(asked, &region)?;
    let extent = Extent::around(places.positions(), MARGIN).ok_or_else(nowhere)?;
    let ground = match asked.elevation {
        Some(elevation) => Some(Ground::open(elevation, extent, &places)?),
        None => None,
    };
    let missing = match &ground {
        Some(ground) => ground.missing().cloned(),
        None => Some(MissingTiles::of(extent)),
    };
    let suggested = ground.as_ref().map_or_else(Vec::new, |ground| ground.heights_near(&places));
    places.take_suggested(&suggested, middle);
    let draft = Draft {
        asked,
        places: &places,
        region: &region,
        times: &times,
        elevation: asked.elevation.map(|file| from_folder(asked.folder, file)),
        cell: ground.as_ref().and_then(|ground| ground.cell),
        map_cell: ground.as_ref().and_then(|ground| ground.map_cell),
        built: ground.as_ref().is_some_and(Ground::is_built),
    };
    let mut files = vec![(PLAN_FILE, draft.text().into_bytes())];
    files.extend(places.shapes().map(|shapes| (SHAPES_FILE, shapes)));
    let told = Told::of(&draft, ground.as_ref(), missing.as_ref());
    Ok(Begun { files, told })
}

/// The border of terrain that a plan takes around its places where it does not say:
/// the default of `[map] margin`.
const MARGIN: Metres = Metres::new(500.0);

/// When the event is.
struct Times {
    starts: DateTime,
    ends: DateTime,
    tear_down: DateTime,
    /// Whether a person gave the start.
    given: bool,
}

impl Times {
    /// Those that were given; otherwise tomorrow evening, three hours of it.
    fn of(asked: &Asked<'_>, region: &Region) -> Result<Self, StartError> {
        let wrong = |e: jiff::Error| StartError::Time { reason: e.to_string() };
        let tomorrow = || {
            let today = asked.now.to_zoned_datetime(region.zone.clone()).date();
            today.checked_add(1.day()).map(|day| day.at(18, 0, 0, 0))
        };
        let starts = match (asked.starts, asked.ends) {
            (Some(starts), _) => starts,
            (None, Some(ends)) => ends.checked_sub(3.hours()).map_err(wrong)?,
            (None, None) => tomorrow().map_err(wrong)?,
        };
        let ends = match asked.ends {
            Some(ends) => ends,
            None => starts.checked_add(3.hours()).map_err(wrong)?,
        };
        if ends <= starts {
            let reason = format!("the event ends at {ends} but starts at {starts}");
            return Err(StartError::Time { reason });
        }
        let tear_down = ends.checked_add(1.hour()).map_err(wrong)?;
        Ok(Self { starts, ends, tear_down, given: asked.starts.is_some() })
    }
}

/// How a plan in `folder` names a file: from the folder where both have a folder in
/// common, else by its whole path.
fn from_folder(folder: &Path, file: &Path) -> String {
    let (folder, whole) = (real(folder), real(file));
    let common = folder.components().zip(whole.components()).take_while(|(a, b)| a == b).count();
    let up = folder.components().count() - common;
    let slash = if file.is_dir() { "/" } else { "" };
    // The root alone is nothing in common.
    let path = if common > 1 {
        let down = whole.components().skip(common);
        std::iter::repeat_n("..".as_ref(), up)
            .chain(down.map(|part| part.as_os_str()))
            .collect::<PathBuf>()
    } else {
        whole
    };
    let text = path.to_string_lossy();
    if text.is_empty() { "./".to_owned() } else { format!("{text}{slash}") }
}

/// A path without links, as far as it is there.
fn real(path: &Path) -> PathBuf {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_owned());
    let there = path.ancestors().find_map(|part| Some((part, part.canonicalize().ok()?)));
    match there {
        Some((part, real)) => match path.strip_prefix(part) {
            // Joining nothing would add a slash.
            Ok(rest) if rest.as_os_str().is_empty() => real,
            Ok(rest) => real.join(rest),
            Err(_) => path.clone(),
        },
        None => path,
    }
}

/// A circle around a place, as the corners of a polygon.
fn circle(middle: Position, radius: Metres) -> Vec<Position> {
    const CORNERS: u32 = 16;
    (0..CORNERS)
        .map(|n| {
            middle.destination(Degrees::new(f64::from(n) * 360.0 / f64::from(CORNERS)), radius)
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn files_are_named_from_the_folder_of_the_plan() {
        let place = tempfile::tempdir().unwrap();
        let at = |name: &str| place.path().join(name);
        std::fs::create_dir_all(at("event/terrain")).unwrap();
        std::fs::write(at("hills.tif"), "").unwrap();
        std::fs::write(at("event/own.tif"), "").unwrap();
        assert_eq!(from_folder(&at("event"), &at("event/own.tif")), "own.tif");
        assert_eq!(from_folder(&at("event"), &at("hills.tif")), "../hills.tif");
        assert_eq!(from_folder(&at("event"), &at("event/terrain")), "terrain/");
        // A folder that is not there yet, and one in it.
        assert_eq!(from_folder(&at("new/inner"), &at("hills.tif")), "../../hills.tif");
        assert_eq!(from_folder(&at("event"), &at("event")), "./");
        let other = from_folder(Path::new("/proc"), &at("hills.tif"));
        assert!(Path::new(&other).is_absolute(), "{other}");
    }

    #[test]
    fn a_circle_lies_where_it_is_asked_for() {
        let middle = Position::new(Degrees::new(47.0), Degrees::new(-34.9)).unwrap();
        let corners = circle(middle, Metres::new(3000.0));
        assert!(corners.iter().all(|at| (at.distance(middle).value() - 3000.0).abs() < 0.01));
        assert!(corners.len() > 10);
    }
}
