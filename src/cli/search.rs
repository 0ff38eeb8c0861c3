//! `perchline search`: spots that nobody listed.

use perchline_assessment::Holds;
use perchline_plan::Plan;
use perchline_report::answers;
use perchline_report::cautions::{Output, said};
use perchline_report::documents::FoundSpots;
use perchline_report::map::spots::SpotMap;
use perchline_report::outputs::{SPOTS as FILES, put_all};
use perchline_report::screen::Screen;
use perchline_report::spot_tables::{site_lines, spot_screen};
use perchline_report::tables::{heading, remark_lines};
use perchline_report::words::{caveats, closing};
use perchline_siting::demand::points_sampled;
use perchline_units::{METRES_PER_FOOT, Metres, Position, parse_quantity};

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, tell};
use super::session::{Session, named};

pub(super) fn run(
    args: &PlanArgs,
    channel: Option<&str>,
    inside: Option<&str>,
    mast: Option<&str>,
) -> Result<(), Failure> {
    let change = |plan: &mut Plan| {
        if let Some(text) = mast {
            plan.search.mast = mast_of(text)?;
        }
        if let Some(name) = inside {
            let area = named(plan, &plan.areas, name, "area", |a| &a.name)?;
            plan.search.inside = Some(area.outline.clone());
        }
        Ok(corners(plan))
    };
    let session = Session::open_with(args, &[], |plan| Holds::maps(1).site(plan), change)?;
    let plan = &session.plan;
    let channel = session.station_channel(channel)?;
    let grid = session.map_grid()?;
    let progress = session.begin(
        "what each place would serve",
        points_sampled(plan, Some(plan.search.samples), false),
        "the best of them",
    );
    let found = session
        .spots(channel, &grid, &|| progress.inc(1), &session.stop)
        .map_err(|e| Failure::Input(format!("{}: {e}", plan.file.display())))?;
    let document = Document {
        provenance: &session.provenance,
        remarks: &session.remarks,
        cautions: said(plan, Output::Search),
        result: FoundSpots {
            event: &plan.event.name,
            caveats: caveats(plan.houses()).to_vec(),
            search: &found,
            site_lines: found.spots.iter().map(|spot| site_lines(plan, spot)).collect(),
        },
    };
    let text = Screen::new(answers::spots(&found))
        .and(heading(&session))
        .both("\n")
        .and(spot_screen(plan, &found))
        .both("\n")
        .long_only("notes", remark_lines(session.further_remarks()))
        .and(closing(plan, Output::Search));
    tell(
        &session,
        args,
        "spots",
        Told { document: &document, text: &text, by: By::Prediction },
        |outbox| {
            let relief = session.relief()?;
            let map = SpotMap {
                plan,
                terrain: &session.terrain,
                relief: &relief,
                search: &found,
                provenance: &session.provenance,
            };
            put_all(outbox, &FILES, "", &map).map_err(Failure::output)
        },
    )
}

/// The height typed after `--mast`.
fn mast_of(text: &str) -> Result<Metres, Failure> {
    let (value, unit) = parse_quantity(text, &["m", "ft"])
        .map_err(|e| Failure::Input(format!("--mast {text}: {e}")))?;
    let metres = if unit == 0 { value } else { value * METRES_PER_FOOT };
    if (0.5..=60.0).contains(&metres) {
        Ok(Metres::new(metres))
    } else {
        Err(Failure::Input(format!("--mast {text}: 0.5 to 60 m is allowed")))
    }
}

/// Corners of the ground to search, which the terrain must cover too.
fn corners(plan: &Plan) -> Vec<Position> {
    plan.search
        .inside
        .iter()
        .flat_map(|area| area.exterior().points())
        .filter_map(|point| Position::from_point(point).ok())
        .collect()
}
