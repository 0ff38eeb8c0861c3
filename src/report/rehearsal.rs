//! Where test calls teach most: as text, and as a walk for a GPS unit; the walk on a map
//! is in `map/walk.rs`, what each call would teach in `call_plot.rs`.

use gpx::{Gpx, GpxVersion, Metadata, Route, Waypoint};

use perchline_heard::rehearsal::{MINUTES_A_PLACE, Rehearsal, TestPlace};
use perchline_heard::walk::Leg;
use perchline_plan::{Plan, UnitSystem};
use perchline_units::Position;

use super::cautions::{Caution, Output};
use super::map::{MapContent, walk};
use super::outputs::{OutboxSlot, OutputError};
use super::screen::{Rows, Screen};
use super::tables::made_with;
use super::{Provenance, ReportError, axis, words};

/// What the walk is made from.
#[derive(Debug, Clone, Copy)]
pub struct RehearsalWalk<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Where to call, in the order of the walk.
    pub rehearsal: &'a Rehearsal,
    /// The map of the site that is called.
    pub map: &'a MapContent<'a>,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Writes the places as waypoints and as a route (GPX 1.1).
pub(super) fn write_gpx(
    content: &RehearsalWalk<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(&gpx(content)?)
}

fn gpx(content: &RehearsalWalk<'_>) -> Result<Vec<u8>, ReportError> {
    let RehearsalWalk { plan, rehearsal, provenance, .. } = *content;
    let points: Vec<Waypoint> = (1..)
        .zip(&rehearsal.places)
        .map(|(number, place)| {
            let mut point = Waypoint::new(place.at.point());
            point.name = Some(format!("{number} {}", place.name));
            // What `debrief` reads; "; heard: yes" or no is added on the way.
            point.description =
                Some(format!("site: {}; channel: {}", rehearsal.site, rehearsal.channel));
            point
        })
        .collect();
    let mut route = Route::new();
    route.name = Some(format!("Test calls to {}", rehearsal.site));
    route.points = on_the_way(rehearsal, &points);
    let document = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("{} {}", provenance.program, provenance.version)),
        metadata: Some(Metadata {
            description: Some(format!(
                "{} {}\n{}",
                Caution::Walking.text(),
                Caution::Emergency.text(),
                made_with(plan, provenance)
            )),
            ..Metadata::default()
        }),
        waypoints: points,
        routes: vec![route],
        ..Gpx::default()
    };
    let mut bytes = Vec::new();
    gpx::write(&document, &mut bytes)
        .map_err(|e| ReportError::Exchange { format: "GPX", reason: e.to_string() })?;
    Ok(bytes)
}

/// The points of the route: the start, the places, the corners between, and the start
/// again; the places alone where no start is known.
fn on_the_way(rehearsal: &Rehearsal, places: &[Waypoint]) -> Vec<Waypoint> {
    if rehearsal.legs.is_empty() {
        return places.to_vec();
    }
    let named = |at: Position, name: &str| {
        let mut point = Waypoint::new(at.point());
        point.name = Some(name.to_owned());
        point
    };
    let mut points = Vec::new();
    if let Some((leg, start)) =
        rehearsal.legs.first().and_then(|leg| Some((leg, leg.over.first()?)))
    {
        points.push(named(*start, &leg.from));
    }
    let mut places = places.iter();
    for leg in &rehearsal.legs {
        let Some((end, corners)) = leg.over.split_last() else { continue };
        points.extend(corners.iter().skip(1).map(|at| Waypoint::new(at.point())));
        points.push(places.next().cloned().unwrap_or_else(|| named(*end, &leg.to)));
    }
    points
}

/// A leg in a line: "420 m, bearing 047°, climbs 6 m, 8 min".
pub(super) fn leg_line(leg: &Leg, units: UnitSystem) -> String {
    if leg.distance_m.value() < 1.0 {
        return "at the start".to_owned();
    }
    let corners = match leg.over.len().saturating_sub(2) {
        0 => "",
        _ => " at first, then by the corners",
    };
    let climb = if leg.climb_m.value() >= 1.0 {
        format!(", climbs {}", units.height(leg.climb_m))
    } else {
        String::new()
    };
    format!(
        "{}, bearing {:03.0}°{corners}{climb}, {} min",
        units.distance(leg.distance_m),
        leg.bearing_deg.value().rem_euclid(360.0),
        leg.minutes
    )
}

/// How long all of it is.
pub(super) fn total(rehearsal: &Rehearsal, units: UnitSystem) -> String {
    let (hours, minutes) = (rehearsal.minutes / 60, rehearsal.minutes % 60);
    format!(
        "In all: {}, {hours} h {minutes:02} min with {MINUTES_A_PLACE} min at each place",
        units.distance(rehearsal.distance_m)
    )
}

/// By how much the site leads, and how much surer that is after the calls.
pub(super) fn lead(rehearsal: &Rehearsal) -> String {
    match &rehearsal.rival {
        Some(rival) => format!(
            "{} leads {rival} by {:.1} points of weighted coverage, give or take {:.1}; these calls should bring that down to {:.1}",
            rehearsal.site,
            rehearsal.lead * 100.0,
            rehearsal.sd_before * 100.0,
            rehearsal.sd_after * 100.0
        ),
        None => format!("{} is the only site", rehearsal.site),
    }
}

/// What is expected of a call: the margin, and how far it may well be off.
pub(super) fn expected(place: &TestPlace) -> String {
    let margin = format!("{:+.1}", place.margin_db.value() + 0.0);
    format!("{} dB, give or take {:.1}", axis::minus(&margin), place.spread_db.value())
}

/// By how many points a call, and no other, narrows the doubt of the lead.
pub(super) fn narrows(rehearsal: &Rehearsal, place: &TestPlace) -> f64 {
    ((rehearsal.sd_before - place.sd_after) * 100.0).max(0.0)
}

/// What a place would teach, in a line.
fn teaches(rehearsal: &Rehearsal, place: &TestPlace) -> String {
    format!(
        "Margin {}; alone it narrows the doubt of the lead by {} points",
        expected(place),
        two_digits(narrows(rehearsal, place))
    )
}

/// Points with two digits that say something; of a call that teaches next to nothing, so.
pub(super) fn two_digits(points: f64) -> String {
    match points {
        1.0.. => format!("{points:.1}"),
        0.1.. => format!("{points:.2}"),
        0.01.. => format!("{points:.3}"),
        _ => "under 0.01".to_owned(),
    }
}

/// The places in words, in the order of the walk, with its legs.
#[must_use]
pub fn rehearsal_screen(plan: &Plan, rehearsal: &Rehearsal) -> Screen {
    let units = plan.units;
    let rival = lead(rehearsal);
    let head = format!(
        "Where test calls to {} on channel {} teach most, in the order of a walk\n{rival}\n\n",
        rehearsal.site, rehearsal.channel
    );
    let mut text = format!(" * {}\n", walk::water(rehearsal.water_known));
    if !rehearsal.not_on_foot.is_empty() {
        text += &format!(
            " * No way over land leads to {}, where radio has to work: test from there by other means.\n",
            rehearsal.not_on_foot.join(", ")
        );
    }
    if !rehearsal.not_in_time.is_empty() {
        text += &format!(
            " * Too far for the time, where radio has to work: {}. Go there by other means, or give more --hours.\n",
            rehearsal.not_in_time.join(", ")
        );
    }
    text += &format!(
        " * Somebody answers from {}, with the antenna as planned: without it a call tells nothing.\n",
        rehearsal.site
    );
    if rehearsal.places.len() < rehearsal.asked_for {
        text += &format!(
            " * {} of {} places: no more with an open outcome are near enough for the time; --hours gives more.\n",
            rehearsal.places.len(),
            rehearsal.asked_for
        );
    }
    let care = std::mem::take(&mut text);
    let ask = "\nAt each place call from five spots some steps apart. Write down for each: the time, whether they heard you and how well (DAQ 1 to 5), whether you heard them and how well.\n\n";
    if let Some(start) = &rehearsal.start {
        text += &format!("  0. Start: {start}\n");
    }
    let mut legs = rehearsal.legs.iter();
    for (number, place) in (1..).zip(&rehearsal.places) {
        if let Some(leg) = legs.next() {
            text += &format!("     {}\n", leg_line(leg, units));
        }
        text += &format!(
            "{number:>3}. {}\n     {}.\n     {}\n",
            place_line(place),
            teaches(rehearsal, place),
            place.ask
        );
    }
    if let Some(leg) = legs.next() {
        text += &format!("     {}\n     Back at {}\n", leg_line(leg, units), leg.to);
        text += &format!("\n{}\n", total(rehearsal, units));
    }
    let places = (1..).zip(&rehearsal.places);
    let short = places.map(|(number, place)| format!("{number:>3}. {}\n", place_line(place)));
    Screen::new(head)
        .cautions(plan, Output::Rehearse)
        .both(care)
        .both(ask)
        .short_rows(Rows::lines("", short.collect(), "places"))
        .long_only("what to ask at each place, and the legs between them", text)
        .both("\n\"perchline debrief\" reads a list with the columns time, post or position, direction, carry, heard, daq.\n\n")
}

/// A place with what is known of it.
fn place_line(place: &TestPlace) -> String {
    let must = if place.must { ", a post that has to work" } else { "" };
    let inside = if place.indoors { ", inside" } else { "" };
    format!(
        "{}{must}{inside}: {:.5}, {:.5}; predicted to work in {} spots (environment {})",
        place.name,
        place.at.latitude().value(),
        place.at.longitude().value(),
        words::spots(place.probability),
        place.environment
    )
}
