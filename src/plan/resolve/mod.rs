//! From what was typed to what is meant, with every check on the way.
//!
//! Nothing stops at the first problem: each part is checked as far as it can
//! be, and the problems are collected.

mod channel;
mod check;
mod choose;
mod contact;
mod crew;
mod event;
mod group;
mod names;
mod place;
mod power;
mod prediction;
mod radio;
mod search;
mod spread;
mod station;
mod surroundings;
mod tables;
mod tracker;

use std::path::Path;

use super::locate::Document;
use super::{Plan, Problem};

pub(super) use check::{Check, Entry, quoted};
pub(super) use names::LONGEST as LONGEST_NAME;

/// Checks the whole plan.
///
/// # Errors
/// Every problem found.
pub(super) fn resolve(
    file: &Path,
    document: &Document<'_>,
    methods: &[&str],
    sha256: String,
) -> Result<Plan, Vec<Problem>> {
    let mut check = Check::new(file, document);
    check.top_level();
    let event = check.event();
    let units = check.units();
    let terrain = check.terrain();
    let buildings = check.buildings();
    let land_cover = check.land_cover();
    let water = check.water();
    let place_names = check.place_names();
    let prediction = check.prediction(methods);
    let map = check.map();
    check.names();
    let radios = check.radios();
    let channels = check.channels(&radios);
    let contacts = check.contacts();
    let posts = check.posts(&radios, event.as_ref());
    let areas = check.areas();
    let routes = check.routes();
    let sites = check.sites(event.as_ref());
    let trackers = check.trackers(&radios, &channels);
    let choose = check.choose(&channels, &radios);
    let masts = check.mast_inputs();
    let search = check.search_inputs();
    let power = check.power_inputs(event.as_ref(), &channels, &trackers, &sites);
    let groups = check.groups(&channels);
    let fallback = check.fallback(&channels);
    check.people(&groups, power.as_ref());
    check.users(&posts, &channels, &groups, fallback.as_ref());
    check.spread();
    check.texts();
    let (problems, remarks, vector_files) = check.finish();
    let plan = || {
        Some(Plan {
            file: file.to_owned(),
            text: document.source().to_owned(),
            sha256,
            vector_files,
            event: event?,
            units: units?,
            terrain: terrain?,
            buildings: buildings?,
            land_cover: land_cover?,
            water: water?,
            place_names: place_names?,
            prediction: prediction?,
            map: map?,
            // An entry is only ever missing together with a problem.
            radios: radios.into_iter().flatten().collect(),
            channels: channels.into_iter().flatten().collect(),
            contacts: contacts.into_iter().flatten().collect(),
            posts: posts.into_iter().flatten().collect(),
            groups: groups.into_iter().flatten().collect(),
            fallback: fallback?,
            areas: areas.into_iter().flatten().collect(),
            routes: routes.into_iter().flatten().collect(),
            sites: sites.into_iter().flatten().collect(),
            trackers: trackers.into_iter().flatten().collect(),
            choose: choose?,
            masts: masts?,
            search: search?,
            power: power?,
            remarks,
        })
    };
    if problems.is_empty() { plan().ok_or(problems) } else { Err(problems) }
}

/// What `read` makes of something that may be left out: nothing together with a
/// problem, else that, if it was stated.
fn if_stated<T, V>(typed: Option<&T>, read: impl FnOnce(&T) -> Option<V>) -> Option<Option<V>> {
    typed.map_or(Some(None), |typed| read(typed).map(Some))
}
