//! `perchline trackers`: what digipeaters hear of trackers along their routes.

use serde::Serialize;

use crate::plan::{Channel, Site};
use crate::report::tables::{made_with, remark_lines};
use crate::report::tracker_tables::tracker_text;
use crate::report::words::{CAUTIONS, caveats};
use crate::siting::trackers::{TrackerStudy, tracker_study};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{Document, to_json};
use super::session::Session;
use super::{print, written};

#[derive(Serialize)]
struct Trackers<'a> {
    event: &'a str,
    caveats: &'a [&'a str],
    channels: &'a [TrackerStudy],
}

pub(super) fn run(args: &PlanArgs, sites: &[String]) -> Result<(), Failure> {
    let session = Session::open(args)?;
    let plan = &session.plan;
    let mut chosen: Vec<&Site> = Vec::new();
    for name in sites {
        let site = session.site(name)?;
        if chosen.iter().any(|known| known.name == site.name) {
            return Err(Failure::Input(format!(
                "--site \"{name}\" is given twice; one digipeater stands on a site"
            )));
        }
        chosen.push(site);
    }
    if plan.trackers.is_empty() {
        return Err(Failure::Input(format!(
            "{}: the plan has no trackers: add a [[tracker]] with name, route, every and pace or speed",
            plan.file.display()
        )));
    }
    let used = |channel: &Channel| {
        plan.trackers
            .iter()
            .any(|t| plan.channels.get(t.channel).is_some_and(|c| c.name == channel.name))
    };
    let studies = plan
        .channels
        .iter()
        .filter(|channel| used(channel))
        .map(|channel| {
            tracker_study(
                plan,
                &session.terrain,
                &session.propagator,
                channel,
                &chosen,
                &session.stop,
            )
        })
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        result: Trackers {
            event: &plan.event.name,
            caveats: caveats(plan.is_covered()),
            channels: &studies,
        },
    };
    let json = to_json(&document)?;
    let mut text = made_with(plan, &session.provenance) + "\n";
    for study in &studies {
        text += &format!("{}\n", tracker_text(&plan.event.name, study, plan.units));
    }
    text += &remark_lines(&session.remarks);
    for line in caveats(plan.is_covered()).iter().chain(CAUTIONS) {
        text += &format!("{line}\n");
    }
    let mut delivered = Vec::new();
    if let Some(out) = &args.out {
        let mut outbox = session.outbox(out)?;
        outbox.put("trackers.json", json.as_bytes()).map_err(Failure::output)?;
        outbox.put("trackers.txt", text.as_bytes()).map_err(Failure::output)?;
        delivered = outbox.deliver().map_err(Failure::output)?;
    }
    if args.json { print(&json) } else { print(&format!("{text}{}", written(&delivered))) }
}
