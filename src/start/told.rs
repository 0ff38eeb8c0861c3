//! What is told of a plan that was made.

use perchline_terrain::MissingTiles;
use serde::Serialize;

use super::PLAN_FILE;
use super::ground::Ground;
use super::places::Origin;
use super::text::Draft;

/// What a plan holds and what it lacks.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Told {
    /// The plan's file.
    pub plan: String,
    /// What the event is called in it.
    pub event: String,
    /// How many posts it has; 0 where the only one is a placeholder.
    pub posts: usize,
    /// How many routes.
    pub routes: usize,
    /// How many areas.
    pub areas: usize,
    /// How many sites that were given.
    pub sites: usize,
    /// How many heights of the terrain it has in their place, which nobody has seen.
    pub suggested_sites: usize,
    /// IANA name of the time zone.
    pub time_zone: String,
    /// The units of the report, as a plan has them.
    pub units: &'static str,
    /// The elevation that it names.
    pub elevation: Elevation,
    /// What only a person can set.
    pub to_set: Vec<String>,
    /// What a person should know of how the files were read.
    pub notes: Vec<String>,
}

/// The elevation of a plan.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Elevation {
    /// The files that were read for the plan's place.
    pub files: Vec<String>,
    /// Names of tiles of which something is missing, in the sets that anybody may
    /// use, each square's together.
    pub missing: Option<String>,
}

impl Told {
    pub(super) fn of(
        draft: &Draft<'_>,
        ground: Option<&Ground>,
        missing: Option<&MissingTiles>,
    ) -> Self {
        let places = draft.places;
        let count = |wanted: fn(&Origin) -> bool| {
            places.sites.iter().filter(|site| wanted(&site.origin)).count()
        };
        let remarks = ground.into_iter().flat_map(Ground::remarks);
        let remarks = remarks.map(|remark| format!("{}: {}", remark.about, remark.text));
        Self {
            plan: draft.asked.folder.join(PLAN_FILE).display().to_string(),
            event: draft.event_name(),
            posts: if places.placeholder_posts { 0 } else { places.posts.len() },
            routes: places.routes.len(),
            areas: places.areas.len(),
            sites: count(|origin| matches!(origin, Origin::Given)),
            suggested_sites: count(|origin| matches!(origin, Origin::Suggested(_))),
            time_zone: draft.region.zone_name.clone(),
            units: draft.region.units.word(),
            elevation: Elevation {
                files: ground
                    .map(|ground| ground.files().iter().map(|f| f.display().to_string()).collect())
                    .unwrap_or_default(),
                missing: missing.map(ToString::to_string),
            },
            to_set: to_set(draft),
            notes: places.notes.iter().cloned().chain(remarks).collect(),
        }
    }
}

/// What only a person can set, what decides most first.
fn to_set(draft: &Draft<'_>) -> Vec<String> {
    let places = draft.places;
    let mut list = Vec::new();
    if draft.elevation.is_none() {
        list.push("elevation of the place".to_owned());
    }
    list.push(
        "the frequencies, which are placeholders: those that your coordinator gives you".to_owned(),
    );
    if !draft.times.given {
        list.push("the times, which are placeholders: tomorrow evening".to_owned());
    }
    if places.placeholder_posts {
        list.push("the posts: a placeholder stands in the middle".to_owned());
    } else if places.net_control().is_none() {
        list.push("which post is net control, and which must not be missed".to_owned());
    }
    list.push(match places.sites.first().map(|site| site.origin) {
        Some(Origin::Given) => "how high the roofs of the sites are".to_owned(),
        Some(Origin::Suggested(_)) => format!(
            "the sites: {} heights are suggested from the terrain alone, not seen; ask who owns them",
            places.sites.len()
        ),
        Some(Origin::Placeholder) | None => {
            "the sites: a placeholder stands in the middle".to_owned()
        }
    });
    list.push(match draft.built {
        true => {
            "what stands around the radios: roofs and trees seem to be in the elevation".to_owned()
        }
        false => "what stands around the radios: \"suburb\" is taken".to_owned(),
    });
    if draft.asked.name.is_none() {
        list.push("the name of the event".to_owned());
    }
    list
}
