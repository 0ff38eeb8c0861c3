//! `perchline rehearse`: where test calls before the event teach most.

use perchline_assessment::Holds;
use perchline_heard::rehearsal::{Most, Task};
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::map::MapContent;
use perchline_report::outputs::{REHEARSAL, put_all};
use perchline_report::rehearsal::{RehearsalWalk, rehearsal_screen};
use perchline_report::screen::Screen;
use perchline_report::tables::{heading, remark_lines};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::Session;

pub(super) fn run(args: &PlanArgs, channel: Option<&str>, most: Most) -> Result<(), Failure> {
    let session = Session::open(args, |plan| Holds::maps(1).site(plan))?;
    let plan = &session.plan;
    let channel = session.station_channel(channel)?;
    let grid = session.map_grid()?;
    let task = Task {
        plan,
        terrain: &session.terrain,
        propagator: &session.propagator,
        demand: session.demand(),
        grid: &grid,
        stop: &session.stop,
    };
    session.begin("where a call would teach most", 0, "the walk");
    let rehearsal = task
        .plan(channel, most)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Rehearse),
        result: &rehearsal,
    };
    let text = Screen::new(answers::walk(&rehearsal, plan.units))
        .and(heading(&session))
        .both("\n")
        .and(rehearsal_screen(plan, &rehearsal))
        .long_only("notes", remark_lines(session.further_remarks()));
    tell(
        &session,
        args,
        "rehearsal",
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let relief = session.relief()?;
            let inputs = session.rank_inputs(&grid, &|| ());
            let found = session
                .site_map(&inputs, channel, session.site(&rehearsal.site)?)
                .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
            let map =
                MapContent::of(&session, &relief, &channel.name, &found.score, &found.coverage);
            let provenance = &session.provenance;
            let walk = RehearsalWalk { plan, rehearsal: &rehearsal, map: &map, provenance };
            put_all(outbox, &REHEARSAL, "", &walk).map_err(Failure::output)
        },
    )
}
