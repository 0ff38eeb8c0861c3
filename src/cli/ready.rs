//! `perchline ready`: whether to go, the evening before.

use perchline_assessment::Holds;
use perchline_report::brief::Paper;
use perchline_report::cautions::Caution;
use perchline_report::documents::Readied;
use perchline_report::outputs::{READY, put_all};
use perchline_report::ready::to_mind;
use perchline_report::ready::{Ready, ReadyContent, ready_screen};
use perchline_report::route_strip::Routes;
use perchline_report::words::caveats;

use super::args::{HandPapers, PlanArgs};
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::{Session, relay_channel};

pub(super) fn run(
    args: &PlanArgs,
    site: Option<&str>,
    channel: Option<&str>,
    paper: &[HandPapers],
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| {
        let channels = plan.channels.iter().filter(|channel| channel.has_station()).count();
        let simplex = plan.channels.len() - channels;
        // The relay's ranking is there without its map and with it.
        Holds::maps(1).rankings(plan, channels + 1).nets(plan, simplex).site(plan)
    })?;
    let plan = &session.plan;
    let channel = relay_channel(&session, channel, "a verdict")?;
    let asked = site.map(|site| session.site(site)).transpose()?;
    let grid = session.map_grid()?;
    let progress = session.begin("the map", grid.rows(), "the verdict");
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let readiness = session
        .readiness(&inputs, channel, asked)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    // The map that the verdict is of, which is kept.
    let (_, stood) = session
        .judged_on(&inputs, channel, asked)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let routes = stood
        .parts()
        .map(|(score, coverage)| Routes::of(&session, &channel.name, score, coverage.reliability));
    let ready = Ready::of(plan, &readiness);
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: to_mind(plan, &readiness).into_iter().map(Caution::as_said).collect(),
        result: Readied {
            event: &plan.event.name,
            said: &ready,
            readiness: &readiness,
            caveats: caveats(plan.houses()),
        },
    };
    let papers: Vec<Paper> = match paper {
        [] => vec![Paper::in_the_hand(plan.units)],
        asked => asked.iter().flat_map(|paper| paper.sizes()).copied().collect(),
    };
    let content = ReadyContent {
        ready: &ready,
        timeline: &readiness.timeline,
        routes,
        papers: &papers,
        provenance: &session.provenance,
    };
    let text = ready_screen(&content);
    tell(
        &session,
        args,
        "ready",
        Told { document: &document, text: &text, by: By::Said },
        |outbox| put_all(outbox, &READY, "", &content).map_err(Failure::output),
    )
}
