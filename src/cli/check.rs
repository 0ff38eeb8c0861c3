//! `perchline check`: has the plan problems, and what does it stand on.

use perchline_assessment::{Holds, Need, power_lacks};
use perchline_plan::{Plan, Remark};
use perchline_report::documents::Checked;
use perchline_report::screen::Screen;
use perchline_report::tables::{missing, plan_summary};
use perchline_report::words::SURROUNDINGS;

use super::args::PlanArgs;
use super::failure::Failure;
use super::files::{By, Document, Told, hand_out};
use super::session::Session;

/// What comes after a check.
fn to_do(args: &PlanArgs, plan: &Plan, remarks: &[Remark]) -> String {
    let verb = if plan.sites.is_empty() { "search" } else { "rank" };
    let notes = if remarks.is_empty() { "" } else { "read the notes, then " };
    format!("To do: {notes}perchline {verb} {}\n\n", args.plan.display())
}

/// What the plan lacks of what stands around its radios, and how it says it.
fn surroundings(plan: &Plan) -> String {
    match missing(plan).trim_end() {
        "" => String::new(),
        lacks => format!("note: {} {SURROUNDINGS}\n", lacks.trim_end_matches('.')),
    }
}

pub(super) fn run(args: &PlanArgs) -> Result<(), Failure> {
    let session = Session::open(args, |_| 1)?;
    let plan = &session.plan;
    let remarks: Vec<Remark> = session.remarks.iter().cloned().chain(power_lacks(plan)).collect();
    // This verb finds nothing of sites and posts; those that it is asked for do.
    let need = Need { results: Holds::most(plan).results(), ..session.need };
    let document = Document {
        provenance: &session.provenance,
        remarks: &remarks,
        // It sends nobody anywhere.
        cautions: Vec::new(),
        result: Checked::of(plan, session.terrain.grid(), &need),
    };
    let grid = session.terrain.grid();
    let (width, height) = grid.cell_size().map_err(Failure::input)?;
    let heights = session.terrain.height_range().map_or_else(String::new, |(low, high)| {
        format!("{} to {} above sea", plan.units.height(low), plan.units.height(high))
    });
    let text = format!(
        "No problem found in the plan; nothing was walked.\n{}{}terrain: {} x {} cells of {:.1} x {:.1}, heights {heights}\nmemory: about {:.1} GB at the most while one map is made{}\n{}",
        to_do(args, plan, &remarks),
        plan_summary(plan),
        grid.columns(),
        grid.rows(),
        width,
        height,
        need.total() / 1e9,
        match need.results / 1e9 {
            small if small < 0.05 => String::new(),
            large => format!(
                ", {large:.1} GB of it for what is found of {} sites and {} posts",
                plan.sites.len(),
                plan.posts.len()
            ),
        },
        surroundings(plan),
    );
    let text = Screen::new(text).remarks(&remarks);
    hand_out(&session, args, Told { document: &document, text: &text, by: By::Said }, |outbox| {
        outbox.put_json("check.json", &session.timed(&document)).map_err(Failure::output)
    })
}
