//! `perchline rehearse`: where test calls before the event teach most.

use crate::heard::rehearsal::{Rehearsal, Task};
use crate::report::exchange_route::rehearsal_gpx;
use crate::report::tables::{made_with, remark_lines};
use crate::report::words;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{Document, tell, to_json};
use super::session::Session;

pub(super) fn run(args: &PlanArgs, channel: Option<&str>, calls: usize) -> Result<(), Failure> {
    let session = Session::open(args)?;
    let plan = &session.plan;
    let channel = session.station_channel(channel)?;
    let grid = session.map_grid()?;
    let task = Task {
        plan,
        terrain: &session.terrain,
        propagator: &session.propagator,
        grid: &grid,
        stop: &session.stop,
    };
    let rehearsal = task
        .plan(channel, calls)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let json = to_json(&Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        result: &rehearsal,
    })?;
    let text = format!(
        "{}\n{}{}",
        made_with(plan, &session.provenance),
        words_of(&rehearsal),
        remark_lines(&session.remarks)
    );
    tell(&session, args, "rehearsal", (&json, &text), |outbox| {
        let gpx = rehearsal_gpx(&rehearsal, &session.provenance).map_err(Failure::output)?;
        outbox.put("rehearsal.gpx", &gpx).map_err(Failure::output)
    })
}

fn words_of(rehearsal: &Rehearsal) -> String {
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
