//! `perchline trackers`: what digipeaters hear of trackers along their routes.

use std::sync::Arc;

use perchline_assessment::Holds;
use perchline_plan::{Channel, Site};
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::documents::{KeptOff, Trackers};
use perchline_report::layers::Layers;
use perchline_report::map::trackers::{TrackerMap, in_words};
use perchline_report::outbox::file_stems;
use perchline_report::outputs::{TRACKERS, put_all};
use perchline_report::screen::Screen;
use perchline_report::tables::{heading, remark_lines};
use perchline_report::tracker_tables::tracker_screen;
use perchline_report::words::{caveats, closing};

use perchline_siting::RankError;
use perchline_siting::trackers::TrackerStudy;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::Session;

pub(super) fn run(args: &PlanArgs, sites: &[String]) -> Result<(), Failure> {
    let session = Session::open(args, |plan| Holds::maps(0).site(plan))?;
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
    session.begin("what is heard along the routes", 0, "");
    let wrong = |e: RankError| Failure::Input(format!("{}: {e}", plan.file.display()));
    let on_it = |channel: &&Channel| plan.trackers_on(channel).next().is_some();
    let channels: Vec<&Channel> = plan.channels.iter().filter(on_it).collect();
    let studies = channels
        .iter()
        .map(|channel| session.trackers(channel, &chosen, &session.stop))
        .collect::<Result<Vec<_>, _>>()
        .map_err(wrong)?;
    let studies: Vec<&TrackerStudy> = studies.iter().map(Arc::as_ref).collect();
    let mut kept_off = Vec::new();
    for channel in &channels {
        for site in &chosen {
            kept_off.extend(KeptOff::of(&session, channel, site).map_err(wrong)?);
        }
    }
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Trackers),
        result: Trackers {
            event: &plan.event.name,
            caveats: caveats(plan.houses()),
            kept_off: &kept_off,
            channels: &studies,
            pictures: studies.iter().map(|study| in_words(study, &kept_off, plan.units)).collect(),
        },
    };
    let mut text = Screen::new(answers::tracked(&studies, &kept_off, plan.units))
        .and(heading(&session))
        .both("\n");
    for study in &studies {
        text = text.and(tracker_screen(&plan.event.name, study, plan.units)).both("\n");
    }
    let text = text
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Trackers));
    tell(
        &session,
        args,
        "trackers",
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let (relief, grid) = (session.relief()?, session.map_grid()?);
            let layers = Layers { plan, terrain: &session.terrain, relief: &relief, grid: &grid };
            let provenance = &session.provenance;
            let stems = file_stems(studies.iter().map(|study| study.channel.as_str()));
            for (study, stem) in studies.iter().zip(&stems) {
                let map = TrackerMap { layers, study, kept_off: &kept_off, provenance };
                put_all(outbox, &TRACKERS, stem, &map).map_err(Failure::output)?;
            }
            Ok(())
        },
    )
}
