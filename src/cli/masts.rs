//! `perchline masts`: how much mast each site needs.

use std::sync::Arc;

use perchline_assessment::Holds;
use perchline_plan::Site;
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::documents::Masts;
use perchline_report::mast_plot::MastPlot;
use perchline_report::mast_tables::{feed_line_rule, knee_rule, mast_screen};
use perchline_report::outputs::{MASTS, put_all};
use perchline_report::screen::Screen;
use perchline_report::tables::{heading, remark_lines};
use perchline_report::words::{caveats, closing};

use perchline_siting::masts::{MapShares, MastStudy};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::Session;

pub(super) fn run(
    args: &PlanArgs,
    site: Option<&str>,
    channel: Option<&str>,
) -> Result<(), Failure> {
    let session = Session::open(args, |plan| Holds::maps(1).site(plan))?;
    let plan = &session.plan;
    let sites: Vec<&Site> = match site {
        Some(name) => vec![session.site(name)?],
        None => plan.sites.iter().collect(),
    };
    let channel = session.station_channel(channel)?;
    let grid = session.map_grid()?;
    // The screen has no room for every height, and only there the map is told.
    let (map, rows) = if args.tells_everything() {
        (MapShares::Counted, grid.rows() * sites.len())
    } else {
        (MapShares::LeftOut, 0)
    };
    let progress = session.begin("sites by height of the antenna", rows, "the plot");
    let row_done = || progress.inc(1);
    let inputs = session.rank_inputs(&grid, &row_done);
    let studies = sites
        .iter()
        .map(|site| session.masts(&inputs, channel, site, map))
        .collect::<Result<Vec<_>, _>>()
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let studies: Vec<&MastStudy> = studies.iter().map(Arc::as_ref).collect();
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Masts),
        result: Masts {
            event: &plan.event.name,
            channel: &channel.name,
            knee_rule: knee_rule(plan.units),
            feed_line: feed_line_rule(plan),
            caveats: caveats(plan.houses()),
            sites: &studies,
        },
    };
    let text = Screen::new(answers::masts(&studies, plan.units))
        .and(heading(&session))
        .both("\n")
        .and(mast_screen(plan, &channel.name, &studies))
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Masts));
    tell(
        &session,
        args,
        "masts",
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let plot = MastPlot {
                plan,
                channel: &channel.name,
                studies: &studies,
                provenance: &session.provenance,
            };
            put_all(outbox, &MASTS, "", &plot).map_err(Failure::output)
        },
    )
}
