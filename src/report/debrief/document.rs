//! The document of a debrief: everything it says, once, in words. The page and the
//! sheets lay it out.

use serde::Serialize;

use crate::brief::{Entry, Section, plain};
use crate::words;
use perchline_heard::log::Origin;
use perchline_heard::routes::RouteMiss;
use perchline_heard::summary::{FallbackUse, Group, agreement, levels};
use perchline_plan::{Plan, UnitSystem};
use perchline_units::METRES_PER_MILE;

use super::changes::{Change, changes};
use super::tables::{pack_held, verdict};
use super::{Debrief, Provenance, way};

/// Rejected rows that the document lists; the tables and the JSON have all.
const MOST_REJECTED: usize = 20;

/// Outliers that the document lists.
const MOST_OUTLIERS: usize = 50;

/// A group counts as good from this share of its reports on (common practice, no
/// source).
const GOOD: f64 = 0.8;

/// Everything that the document says, in words.
#[derive(Debug, Clone, Serialize)]
pub struct DebriefDocument {
    /// The event's name.
    pub event: String,
    /// The organiser.
    pub agency: Option<String>,
    /// The day, in words.
    pub date: String,
    /// What it comes to, in a sentence or two.
    pub headline: String,
    /// What the plan lacks that every prediction suffers from.
    pub missing: Option<&'static str>,
    /// What was found, part by part.
    pub sections: Vec<Section>,
    /// Changes for the next plan.
    pub changes: Vec<Change>,
    /// What a reader must know of any prediction.
    pub caveats: Vec<String>,
    /// What it was made with, in a few lines.
    pub made: Vec<String>,
}

impl DebriefDocument {
    /// The document on what was found.
    #[must_use]
    pub fn of(plan: &Plan, debrief: &Debrief, provenance: &Provenance) -> Self {
        let event = &plan.event;
        Self {
            event: plain(&event.name),
            agency: event.agency.as_deref().map(plain),
            date: event.starts.strftime("%A %-d %B %Y").to_string(),
            headline: headline(debrief),
            missing: words::heading(plan.houses()),
            sections: vec![
                section(
                    "What did not work",
                    bad(debrief),
                    "Everything that was reported was good.",
                ),
                section(
                    "Outliers",
                    outliers(debrief),
                    "None: the prediction, the corrections or chance explain every report.",
                ),
                section(
                    "Along the routes",
                    routes(debrief, plan),
                    "No report from along a route was bad. Reports from posts stand above.",
                ),
                section(
                    "Batteries",
                    batteries(debrief),
                    "Nothing was reported of batteries: whether they hold as planned is not known. Read the resting voltage at tear-down and give the list with --batteries.",
                ),
                section(
                    "Without the relay",
                    fallback(debrief),
                    "The plan has no channel from radio to radio.",
                ),
                section("What worked", good(debrief), "Nothing was reported as good."),
                section("What was learnt", learnt(debrief), ""),
                section("Rejected rows", rejected(debrief), "None."),
            ],
            changes: changes(debrief, plan),
            caveats: words::foot(plan.houses()).iter().map(|c| (*c).to_owned()).collect(),
            made: vec![plain(&provenance.line())],
        }
    }
}

fn section(title: &str, entries: Vec<Entry>, none: &str) -> Section {
    let entries = if entries.is_empty() { vec![Entry::new("", none)] } else { entries };
    Section { title: title.to_owned(), entries }
}

/// What it comes to: the poor side first.
fn headline(debrief: &Debrief) -> String {
    let answered: Vec<_> = debrief.compared.iter().filter(|c| c.heard.is_some()).collect();
    let bad = answered.iter().filter(|c| c.heard == Some(false)).count();
    let expected: f64 = answered.iter().map(|c| 1.0 - c.predicted_heard).sum();
    let outliers = match debrief.learned.outlier_count {
        0 => String::new(),
        1 => " 1 report is an outlier that nothing explains.".to_owned(),
        many => format!(" {many} reports are outliers that nothing explains."),
    };
    format!(
        "{bad} of {} reports were not good; the prediction expected {expected:.0}.{outliers}",
        answered.len()
    )
}

/// One group in words.
pub(super) fn group_line(group: &Group) -> (String, String) {
    let head = format!("{}, {} on {}", group.place, way(group), group.channel);
    let body = format!(
        "good {} of {} times (predicted {} %)",
        group.heard,
        group.answered,
        words::hundredths(group.predicted)
    );
    (head, body)
}

fn is_good(group: &Group) -> bool {
    group.heard as f64 >= GOOD * group.answered as f64
}

/// Groups that answered their question, good or not.
pub(super) fn groups(debrief: &Debrief, good: bool) -> impl Iterator<Item = &Group> {
    debrief.groups.iter().filter(move |g| g.answered > 0 && is_good(g) == good)
}

fn good(debrief: &Debrief) -> Vec<Entry> {
    let line = |group| {
        let (head, body) = group_line(group);
        Entry::new(head, format!("{body}. {}", outliers_among(group)))
    };
    groups(debrief, true).map(line).collect()
}

/// What did not work, the worst against its prediction first.
fn bad(debrief: &Debrief) -> Vec<Entry> {
    let short = |g: &Group| g.heard as f64 / g.answered.max(1) as f64 - g.predicted;
    let mut bad: Vec<&Group> = groups(debrief, false).collect();
    bad.sort_by(|a, b| short(a).total_cmp(&short(b)));
    let line = |group: &&Group| {
        let (head, body) = group_line(group);
        Entry::new(head, format!("{body}. {}", perhaps(group)))
    };
    bad.iter().map(line).collect()
}

/// What may explain the misses of a group, and how many nothing explains.
pub(super) fn perhaps(group: &Group) -> String {
    let because = match group.because.as_slice() {
        [] => String::new(),
        because => format!("Perhaps: {}. ", because.join("; ")),
    };
    format!("{because}{}", outliers_among(group)).trim().to_owned()
}

fn outliers_among(group: &Group) -> String {
    match group.outliers {
        0 => String::new(),
        1 => "1 of them is an outlier.".to_owned(),
        many => format!("{many} of them are outliers."),
    }
}

fn outliers(debrief: &Debrief) -> Vec<Entry> {
    let entry = |outlier: &perchline_heard::learn::Outlier| {
        Entry::new(row(&outlier.origin), format!("{}.", outlier.text))
    };
    let learned = &debrief.learned;
    let mut entries: Vec<Entry> = learned.outliers.iter().take(MOST_OUTLIERS).map(entry).collect();
    let more = learned.outlier_count - entries.len();
    if more > 0 {
        entries.push(Entry::new(format!("{more} more"), "in debrief.txt and debrief.json."));
    }
    entries
}

fn routes(debrief: &Debrief, plan: &Plan) -> Vec<Entry> {
    let entry = |miss: &RouteMiss| {
        Entry::new(
            stretch(miss, plan.units),
            format!(
                "{} of {} reports not good on {} (predicted good: {} %).",
                miss.missed,
                miss.answered,
                miss.channel,
                words::hundredths(miss.predicted)
            ),
        )
    };
    debrief.routes.iter().map(entry).collect()
}

/// A stretch of a route by its marks: "Half marathon, 7.1 to 7.9 km, near Aid 4".
pub(super) fn stretch(miss: &RouteMiss, units: UnitSystem) -> String {
    let (unit, length) = match units {
        UnitSystem::Metric => ("km", 1000.0),
        UnitSystem::Us => ("mi", METRES_PER_MILE),
    };
    let [from, to] = [miss.from_m, miss.to_m].map(|at| format!("{:.1}", at.value() / length));
    let span = if from == to { from } else { format!("{from} to {to}") };
    let near = miss.near.as_ref().map_or_else(String::new, |post| format!(", near {post}"));
    format!("{}, {span} {unit}{near}", miss.route)
}

fn batteries(debrief: &Debrief) -> Vec<Entry> {
    let mut entries: Vec<Entry> = debrief
        .packs
        .iter()
        .map(|pack| {
            let predicted = match &pack.predicted_death {
                Some(at) => format!("predicted dead at {at}"),
                None => "predicted to reach the end".to_owned(),
            };
            let advice = pack.advice.as_ref().map_or_else(String::new, |a| format!(" {a}."));
            Entry::new(
                format!("{}, {}", pack.station, pack.pack),
                format!(
                    "{predicted}; reported {}. Of its {:.2} Ah it held {}.{advice}",
                    pack.reported.join(", "),
                    pack.capacity_ah.value(),
                    pack_held(pack)
                ),
            )
        })
        .collect();
    if debrief.learned.dead > 0 {
        entries.push(Entry::new(
            "Reports after a battery should have been dead",
            format!("{}; nothing is learnt from them.", debrief.learned.dead),
        ));
    }
    entries
}

fn fallback(debrief: &Debrief) -> Vec<Entry> {
    let entry = |channel: &FallbackUse| {
        let body = match channel.predicted {
            Some(predicted) => format!(
                "good {} of {} times (predicted {} %), {} reports.",
                channel.heard,
                channel.answered,
                words::hundredths(predicted),
                channel.reports
            ),
            None if channel.reports > 0 => {
                format!("{} reports, none of which says whether it was good.", channel.reports)
            }
            None => "no report: whether it works is not known.".to_owned(),
        };
        Entry::new(&channel.channel, body)
    };
    debrief.fallback.iter().map(entry).collect()
}

fn learnt(debrief: &Debrief) -> Vec<Entry> {
    let mut entries: Vec<Entry> = agreement(&debrief.compared)
        .into_iter()
        .map(|(kind, count)| Entry::new(format!("{count} reports"), kind.words()))
        .collect();
    if let Some(levels) = levels(&debrief.compared) {
        entries.push(Entry::new(
            format!("{} levels", levels.reports),
            format!(
                "{:+.1} against the prediction on average (95 %: {:+.1} to {:+.1}), outliers left out.",
                levels.bias.value, levels.bias.low, levels.bias.high
            ),
        ));
    }
    let corrections = debrief.learned.corrections();
    entries.extend(corrections.iter().map(|one| {
        Entry::new(
            &one.what,
            format!(
                "{:+.1} (95 %: {:+.1} to {:+.1}; published {:.1}; {} reports).",
                one.value_db, one.low_db, one.high_db, one.published_db, one.reports
            ),
        )
    }));
    let gross = super::tables::gross(debrief);
    entries.push(Entry::new("Gross errors", format!("{gross}.")));
    entries.push(Entry::new("Whether to use the corrections", verdict(debrief)));
    entries
}

/// A row of a log by its file and line.
fn row(origin: &Origin) -> String {
    let name = origin.file.file_name().map(|name| name.to_string_lossy().into_owned());
    format!("{}, line {}", name.unwrap_or_default(), origin.line)
}

fn rejected(debrief: &Debrief) -> Vec<Entry> {
    let mut entries: Vec<Entry> = debrief
        .rejected
        .iter()
        .take(MOST_REJECTED)
        .map(|rejected| Entry::new(row(&rejected.origin), format!("{}.", rejected.reason)))
        .collect();
    let more = debrief.rejected.len().saturating_sub(MOST_REJECTED);
    if more > 0 {
        entries.push(Entry::new(format!("{more} more"), "in debrief.txt and debrief.json."));
    }
    entries
}
