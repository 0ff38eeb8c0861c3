//! Where test calls teach most: as text, and as a walk for a GPS unit.

use gpx::{Gpx, GpxVersion, Metadata, Route, Waypoint};

use perchline_heard::rehearsal::Rehearsal;
use perchline_plan::Plan;

use super::outputs::{OutboxSlot, OutputError};
use super::tables::made_with;
use super::{Provenance, ReportError, words};

/// What the walk is made from.
#[derive(Debug, Clone, Copy)]
pub struct RehearsalWalk<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Where to call, in the order of the walk.
    pub rehearsal: &'a Rehearsal,
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
    let RehearsalWalk { plan, rehearsal, provenance } = *content;
    let points: Vec<Waypoint> = (1..)
        .zip(&rehearsal.places)
        .map(|(number, place)| {
            let at = geo::Point::new(place.at.longitude().value(), place.at.latitude().value());
            let mut point = Waypoint::new(at);
            point.name = Some(format!("{number} {}", place.name));
            // What `debrief` reads; "; heard: yes" or no is added on the way.
            point.description =
                Some(format!("site: {}; channel: {}", rehearsal.site, rehearsal.channel));
            point
        })
        .collect();
    let mut route = Route::new();
    route.name = Some(format!("Test calls to {}", rehearsal.site));
    route.points.clone_from(&points);
    let document = Gpx {
        version: GpxVersion::Gpx11,
        creator: Some(format!("{} {}", provenance.program, provenance.version)),
        metadata: Some(Metadata {
            description: Some(made_with(plan, provenance)),
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

/// The places in words, in the order of the walk.
#[must_use]
pub fn rehearsal_text(rehearsal: &Rehearsal) -> String {
    let rival = match &rehearsal.rival {
        Some(rival) => format!(
            "{} leads {rival} by {:.1} points of contact, give or take {:.1}; after these calls {:.1}",
            rehearsal.site,
            rehearsal.lead * 100.0,
            rehearsal.sd_before * 100.0,
            rehearsal.sd_after * 100.0
        ),
        None => format!("{} is the only site", rehearsal.site),
    };
    let mut text = format!(
        "Where test calls to {} on channel {} teach most, in the order of a walk\n{rival}\n\n",
        rehearsal.site, rehearsal.channel
    );
    for (number, place) in (1..).zip(&rehearsal.places) {
        text += &format!(
            "{number:>3}. {}: {:.5}, {:.5}; works in {} spots ({} surroundings)\n",
            place.name,
            place.at.latitude().value(),
            place.at.longitude().value(),
            words::spots(place.probability),
            place.surroundings
        );
    }
    text + "\nWrite down for each: time, place, heard or not, and how well; \"perchline debrief\" reads it.\n\n"
}
