//! Whether to go: one screen, one sheet of paper with the routes behind it, and JSON of
//! the same.
//!
//! [`Ready::of`] says everything once, in words; the text and the sheet lay it
//! out.

mod sheet;
mod text;
mod words;

use serde::Serialize;

use perchline_assessment::{Finding, Gravity, Matter, Readiness, Timeline, Verdict};
use perchline_plan::{Plan, UnitSystem};

use super::Provenance;
use super::brief::Paper;
use super::cautions::Caution;
use super::outputs::{OutboxSlot, OutputError};
use super::route_strip::{self, Routes};
use super::words as trade;

pub(super) use sheet::{write_a3, write_a4, write_letter, write_tabloid};
pub use text::ready_screen;
pub use words::to_mind;

/// What the files of it are made from.
#[derive(Clone, Copy)]
pub struct ReadyContent<'a> {
    /// What is said.
    pub ready: &'a Ready,
    /// When what runs.
    pub timeline: &'a Timeline,
    /// The routes with the relay on the site that is judged; nothing where the plan has no
    /// site.
    pub routes: Option<Routes<'a>>,
    /// The papers that are wanted.
    pub papers: &'a [Paper],
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Writes the routes from end to end, if there are any.
pub(super) fn write_routes(
    content: &ReadyContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    match &content.routes {
        Some(routes) => route_strip::write_png(routes, slot),
        None => Ok(()),
    }
}

/// Everything that is said of it, in words.
#[derive(Debug, Clone, Serialize)]
pub struct Ready {
    /// The event.
    pub event: String,
    /// The day.
    pub date: String,
    /// Whether to go.
    pub verdict: Verdict,
    /// The same in a sentence.
    pub headline: String,
    /// The posts that the relay does not serve, whatever the verdict; nothing where it
    /// serves all.
    pub without: Option<String>,
    /// What the plan lacks that every number suffers from.
    pub missing: Option<&'static str>,
    /// Why not, or what has to be done first.
    pub reasons: Vec<Line>,
    /// Where the relay and the digipeaters stand.
    pub places: Vec<String>,
    /// Must-have posts.
    pub must: Vec<String>,
    /// Posts, areas and routes on which nothing hangs and that do not work all over.
    pub fails: Vec<Line>,
    /// What else has to be known.
    pub told: Vec<Line>,
    /// Who still hears whom without the relay.
    pub fallback: Vec<String>,
    /// What is not known.
    pub unknowns: Vec<String>,
    /// What to do after that, what gains most first.
    pub next: Vec<String>,
    /// What can hurt somebody who does it.
    pub care: Vec<String>,
    /// The same, of which a screen keeps some.
    #[serde(skip)]
    pub(super) cautions: Vec<Caution>,
}

/// Something that was found, the fix, and where more is told.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Line {
    /// What was found, with its number.
    pub says: String,
    /// The cheapest fix.
    pub fix: Option<String>,
    /// The verb that tells more.
    pub verb: &'static str,
    /// Whether no fix was found for something that stands against going.
    pub stops: bool,
}

/// What the words need of the plan.
#[derive(Debug, Clone, Copy)]
struct Speech<'a> {
    units: UnitSystem,
    plan: &'a Plan,
}

impl Ready {
    /// What is to be said of a plan's readiness.
    #[must_use]
    pub fn of(plan: &Plan, readiness: &Readiness) -> Self {
        let speech = Speech { units: plan.units, plan };
        let lines = |gravity: Gravity| readiness.of(gravity).map(|finding| speech.line(finding));
        let reasons: Vec<Line> = lines(Gravity::Stops).chain(lines(Gravity::Condition)).collect();
        // What the fallback lacks is told with it.
        let told = readiness
            .of(Gravity::Told)
            .filter(|finding| !matches!(finding.matter, Matter::CutOff { .. }));
        let is_place = |finding: &&Finding| {
            matches!(
                finding.matter,
                Matter::Post { .. } | Matter::Area { .. } | Matter::Route { .. }
            )
        };
        let (fails, told): (Vec<&Finding>, Vec<&Finding>) = told.partition(is_place);
        let spoken = |findings: Vec<&Finding>| -> Vec<Line> {
            findings.into_iter().map(|finding| speech.line(finding)).collect()
        };
        let cautions = words::to_mind(plan, readiness);
        Self {
            event: plan.event.name.clone(),
            date: plan.event.starts.strftime("%A %-d %B %Y").to_string(),
            verdict: readiness.verdict,
            headline: words::headline(readiness, &reasons),
            without: words::without(readiness),
            missing: trade::lacking(plan.houses()),
            reasons,
            places: readiness.places.iter().map(|place| speech.place(place)).collect(),
            must: speech.must(readiness),
            fails: spoken(fails),
            told: spoken(told),
            fallback: speech.fallback(readiness.fallback.as_ref()),
            unknowns: readiness.unknowns.iter().map(|u| speech.unknown(u)).collect(),
            // What meets a condition stands with it.
            next: readiness
                .next
                .iter()
                .filter(|step| step.conditions == 0)
                .map(|step| speech.step(step))
                .collect(),
            care: cautions.iter().map(|caution| caution.said()).collect(),
            cautions,
        }
    }
}
