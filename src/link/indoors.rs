//! Posts and roofs where buildings stand: loss into a building, and what a
//! person should know.

use perchline_plan::{Indoors, Plan, Post, Remark, Roof, Site};
use perchline_propagation::p2109::{Building, entry_loss};
use perchline_terrain::Terrain;
use perchline_units::{Db, Degrees, Megahertz, Metres, Percent};

use super::terminal::street;

/// The lowest frequency for which P.2109 is given; below, its value there is used.
const LOWEST: Megahertz = Megahertz::new(80.0);

/// A roof that differs from its footprint's height by more is told of.
const ROOF_DIFFERENCE: Metres = Metres::new(3.0);

/// The budget's line for a radio inside a building: the median loss of
/// ITU-R P.2109 for a path that comes in level.
pub(super) fn entry(building: Indoors, frequency: Megahertz) -> (String, Db) {
    let loss = not_exceeded(building, frequency, Percent::new(50.0));
    (format!("into the building, {} (P.2109)", building.word()), loss)
}

/// Standard deviation of that loss over buildings of the kind and places in
/// them: half of what lies between the shares of buildings at one deviation of
/// a normal distribution to either side of the median.
pub(super) fn entry_deviation(building: Indoors, frequency: Megahertz) -> Db {
    let [low, high] =
        [15.87, 84.13].map(|share| not_exceeded(building, frequency, Percent::new(share)));
    (high - low) / 2.0
}

/// Loss into a building that is not exceeded in this share of them.
fn not_exceeded(building: Indoors, frequency: Megahertz, share: Percent) -> Db {
    let kind = match building {
        Indoors::Traditional => Building::Traditional,
        Indoors::Efficient => Building::ThermallyEfficient,
    };
    let level = Degrees::new(0.0);
    // The plan's frequencies end at 6 GHz, the Recommendation's at 100 GHz.
    entry_loss(kind, frequency.max(LOWEST), level, share).unwrap_or(Db::new(0.0))
}

/// What footprints say about the plan's posts and sites that a person should know.
#[must_use]
pub fn building_remarks(plan: &Plan, terrain: &Terrain) -> Vec<Remark> {
    let posts = plan.posts.iter().filter_map(|post| {
        let about = format!("post \"{}\"", post.name);
        of_post(plan, post, terrain).map(|text| Remark { about, text })
    });
    let sites = plan.sites.iter().filter_map(|site| {
        let about = format!("site \"{}\": roof", site.name);
        of_site(site, terrain).map(|text| Remark { about, text })
    });
    posts.chain(sites).collect()
}

fn of_post(plan: &Plan, post: &Post, terrain: &Terrain) -> Option<String> {
    let Some(building) = terrain.building(post.at) else {
        let told = post.indoors.is_some() && plan.buildings.is_some();
        return told.then(|| {
            "it is indoors, but no footprint holds it; the loss into a building counts all the same"
                .to_owned()
        });
    };
    let within = format!("it lies in the footprint of {} ({:.1})", building.id, building.height);
    let Some(beside) = street(post, terrain) else {
        return Some(format!(
            "{within}, and there is no street within 200 m of it; its paths begin inside the building: give it a place outside"
        ));
    };
    let away = post.at.distance(beside);
    Some(match post.indoors {
        Some(kind) => format!(
            "{within}; its paths end on the street, {away:.0} from it, and the loss into a {} building is added",
            kind.word()
        ),
        None if post.street => format!("{within}; street level beside it, {away:.0} away, is used"),
        None => format!(
            "{within}: is it indoors or on the street? Street level beside it, {away:.0} away, is assumed; add indoors = \"traditional\" or \"efficient\" (metallized glass, foil in the walls), or street = true"
        ),
    })
}

fn of_site(site: &Site, terrain: &Terrain) -> Option<String> {
    let building = terrain.building(site.at);
    let stated = match site.roof {
        Roof::OfBuilding => {
            let building = building?;
            return Some(format!(
                "the mast stands on the roof of {}, {:.1} above the ground",
                building.id, building.height
            ));
        }
        Roof::AboveGround(height) => height,
        Roof::AboveSea(height) => height - terrain.ground(site.at).ok()?,
    };
    let Some(building) = building else {
        let high = stated > ROOF_DIFFERENCE && terrain.has_buildings();
        return high.then(|| {
            format!(
                "no footprint holds the site, so nothing stands below its roof of {stated:.1}; near the roof's foot the map is too good"
            )
        });
    };
    let apart = (stated - building.height).value().abs();
    (apart > ROOF_DIFFERENCE.value()).then(|| {
        format!(
            "the plan's roof is {stated:.1} above the ground, the footprint of {} says {:.1}: which is right? The mast stands as the plan says, on a building as high as the footprint says",
            building.id, building.height
        )
    })
}
