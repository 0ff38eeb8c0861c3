//! Who carries what up to a station, person by person.

use serde::Serialize;

use crate::cautions::{Caution, Output, cautions};
use crate::place_words::both;
use perchline_power::kit::StationKit;

use super::{BriefInputs, plain};

/// What goes up to a station, by the people who carry it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Carrying {
    /// The station.
    pub station: String,
    /// How much goes up in how many trips, or that it is not to be carried.
    pub sum: String,
    /// What each carries; nobody where it is not to be carried.
    pub people: Vec<Carrier>,
    /// What can hurt whoever does it.
    pub care: Vec<&'static str>,
}

/// What one person carries.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Carrier {
    /// Their number, from 1.
    pub person: u32,
    /// Trip after trip.
    pub trips: Vec<String>,
}

/// What goes up to each station.
pub(super) fn carrying(inputs: &BriefInputs<'_>) -> Vec<Carrying> {
    let told = cautions(inputs.plan, Output::Crew);
    let about = [Caution::Load, Caution::Climb, Caution::Ice];
    let care: Vec<&'static str> =
        about.into_iter().filter(|c| told.contains(c)).map(Caution::text).collect();
    inputs
        .kits
        .iter()
        .filter(|kit| !kit.lines.is_empty())
        .map(|kit| Carrying {
            station: plain(&kit.station),
            sum: sum(kit),
            people: people(kit),
            care: care.clone(),
        })
        .collect()
}

/// How much goes up in how many trips.
pub(super) fn sum(kit: &StationKit) -> String {
    let trips = if kit.can_be_carried() {
        let trips = if kit.trips == 1 { "trip" } else { "trips" };
        format!("{} {trips} for {} people", kit.trips, kit.carriers)
    } else {
        format!("NOT TO BE CARRIED by {} people (perchline power tells why)", kit.carriers)
    };
    format!("{} in all, {trips}.", both(kit.weight_kg))
}

fn people(kit: &StationKit) -> Vec<Carrier> {
    if !kit.can_be_carried() {
        return Vec::new();
    }
    let trips = |person: u32| -> Vec<String> {
        let own = kit.loads.iter().filter(|load| load.carriers.contains(&person));
        own.map(|load| {
            let others = load.carriers.iter().filter(|other| **other != person);
            let with: String = others.map(|other| format!(", with person {other}")).collect();
            let what = plain(&load.what.join(" + "));
            format!("Trip {}{with}: {what} ({})", load.trip, both(load.weight_kg))
        })
        .collect()
    };
    let carriers = (1..=kit.carriers).map(|person| Carrier { person, trips: trips(person) });
    carriers.filter(|carrier| !carrier.trips.is_empty()).collect()
}
