//! The debrief as text.

use crate::screen::{Rows, Screen};
use crate::tables::{printed, table};
use crate::words;
use perchline_heard::estimate::{Bin, Verdict};
use perchline_heard::log::Rejected;
use perchline_heard::packs::PackUpdate;
use perchline_heard::summary::{Group, agreement, levels};
use perchline_plan::Plan;

use super::document::stretch;
use super::{Debrief, way};

/// Rejected rows of which each is listed.
const MOST_REJECTED: usize = 1000;

/// The debrief as tables.
#[must_use]
pub fn debrief_screen(plan: &Plan, debrief: &Debrief) -> Screen {
    let mut curves =
        curve("Of the spots predicted at so much, how many worked", &debrief.learned.curve.bins);
    if debrief.learned.calibration.is_some() {
        let title = "The same with the corrections below, which were made from these very reports";
        curves += &curve(title, &debrief.learned.corrected.bins);
    }
    let outliers = outliers(debrief) + &along(debrief, plan) + &fallback(debrief);
    Screen::new(rows(debrief))
        .and(by_post(&debrief.groups))
        .short_only(format!("Outliers: {}\n", gross(debrief)))
        .long_only("outliers, routes, how often it agreed", outliers + &together(debrief))
        .long_only("the curve", curves)
        .and(corrections(debrief))
        .and(packs(&debrief.packs))
        .long_only("rejected rows", rejected(&debrief.rejected))
}

/// How many rows count.
fn rows(debrief: &Debrief) -> String {
    let log = &debrief.log;
    let added = match log.missing_beacons {
        0 => String::new(),
        1 => "; 1 beacon that should have come between two that did counts as not heard".to_owned(),
        n => format!("; {n} beacons that should have come between two that did count as not heard"),
    };
    format!(
        "{} rows: {} accepted, {} rejected and listed at the end{added}\n\n",
        log.rows,
        log.rows - debrief.rejected.len().min(log.rows),
        debrief.rejected.len()
    )
}

fn by_post(groups: &[Group]) -> Screen {
    let head = [
        "Place",
        "Channel",
        "Direction",
        "Reports",
        "Good",
        "Predicted",
        "Level",
        "Worse",
        "Better",
    ];
    let mut out = table(head, &[3, 4, 5, 6, 7, 8]);
    for group in groups {
        out.add_row([
            group.place.clone(),
            group.channel.clone(),
            way(group).to_owned(),
            group.reports.to_string(),
            format!("{} of {}", group.heard, group.answered),
            format!("{} %", words::hundredths(group.predicted)),
            group.excess_db.map_or_else(String::new, |e| format!("{e:+.1}")),
            group.worse.to_string(),
            group.better.to_string(),
        ]);
    }
    let why: String = groups
        .iter()
        .filter(|g| !g.because.is_empty())
        .map(|g| format!(" {}, {}: {}\n", g.place, way(g), g.because.join("; ")))
        .collect();
    let why = if why.is_empty() { why } else { format!("What may explain the worse ones\n{why}") };
    let worse = groups.iter().map(|group| group.worse > 0);
    Screen::default()
        .rows(
            Rows::of("", out, "without a worse report")
                .failing(worse, "with worse reports")
                .called("places"),
        )
        .both("Good: heard, or of the plan's quality where a quality was reported.\n")
        .long_only("what may explain the worse ones", why)
        .both("\n")
}

/// Reports that nothing explains, each by itself.
fn outliers(debrief: &Debrief) -> String {
    let lines: String = debrief
        .learned
        .outliers
        .iter()
        .map(|o| format!(" {}:{}: {}\n", o.origin.file.display(), o.origin.line, o.text))
        .collect();
    let more = match debrief.learned.outlier_count - debrief.learned.outliers.len() {
        0 => String::new(),
        more => format!(" and {more} more, marked in debrief.json\n"),
    };
    format!("Outliers: {}\n{lines}{more}\n", gross(debrief))
}

/// How many reports are outliers, and what they weigh, in a sentence.
pub(super) fn gross(debrief: &Debrief) -> String {
    let learned = &debrief.learned;
    let count = match learned.outlier_count {
        0 => "no report is an outlier".to_owned(),
        1 => {
            "1 report is an outlier: nothing explains it, and it weighs next to nothing".to_owned()
        }
        many => format!(
            "{many} reports are outliers: nothing explains them, and they weigh next to nothing"
        ),
    };
    format!("{count}; {:.1} % of all are taken to be gross errors", learned.gross_share * 100.0)
}

/// Stretches of routes with misses.
fn along(debrief: &Debrief, plan: &Plan) -> String {
    if debrief.routes.is_empty() {
        return String::new();
    }
    let lines: String = debrief
        .routes
        .iter()
        .map(|miss| {
            format!(
                " {}: {} of {} reports not good on {} (predicted good: {} %)\n",
                stretch(miss, plan.units),
                miss.missed,
                miss.answered,
                miss.channel,
                words::hundredths(miss.predicted)
            )
        })
        .collect();
    format!("Along the routes\n{lines}\n")
}

/// How channels without a relay were used.
fn fallback(debrief: &Debrief) -> String {
    let line = |channel: &perchline_heard::summary::FallbackUse| match channel.predicted {
        Some(predicted) => format!(
            " {}: good {} of {} times (predicted {} %)\n",
            channel.channel,
            channel.heard,
            channel.answered,
            words::hundredths(predicted)
        ),
        None => format!(" {}: nobody said; whether it works is not known\n", channel.channel),
    };
    let lines: String = debrief.fallback.iter().map(line).collect();
    if lines.is_empty() { lines } else { format!("Without the relay\n{lines}\n") }
}

fn together(debrief: &Debrief) -> String {
    let counts = agreement(&debrief.compared);
    let mut text: String =
        counts.iter().map(|(kind, n)| format!("{n:>5} {}\n", kind.words())).collect();
    if let Some(levels) = levels(&debrief.compared) {
        text += &format!(
            "levels, outliers left out: {} of them, {:+.1} against the prediction on average (95 %: {:+.1} to {:+.1}), spread {:.1} ({:.1} to {:.1})\n",
            levels.reports,
            levels.bias.value,
            levels.bias.low,
            levels.bias.high,
            levels.spread.value,
            levels.spread.low,
            levels.spread.high
        );
    }
    if debrief.learned.dead > 0 {
        text += &format!(
            "{} reports came when the station's battery should have been dead; nothing is learned from them\n",
            debrief.learned.dead
        );
    }
    text + "\n"
}

fn curve(title: &str, bins: &[Bin]) -> String {
    let head = ["Predicted", "Reports", "Worked", "95 % from", "to"];
    let mut out = table(head, &[1, 2, 3, 4]);
    for bin in bins {
        out.add_row([
            format!("{:.0} to {:.0} %", bin.from * 100.0, bin.to * 100.0),
            bin.reports.to_string(),
            format!("{:.0} %", bin.share * 100.0),
            format!("{:.0} %", bin.low * 100.0),
            format!("{:.0} %", bin.high * 100.0),
        ]);
    }
    format!("{title}\n{}\n\n", printed(&out))
}

fn corrections(debrief: &Debrief) -> Screen {
    let learned = &debrief.learned;
    let head = ["Correction", "Value", "95 % from", "to", "Published", "Reports"];
    let mut out = table(head, &[1, 2, 3, 4, 5]);
    for one in learned.corrections() {
        out.add_row([
            one.what.clone(),
            format!("{:+.1}", one.value_db),
            format!("{:+.1}", one.low_db),
            format!("{:+.1}", one.high_db),
            format!("{:.1}", one.published_db),
            one.reports.to_string(),
        ]);
    }
    Screen::default()
        .rows(Rows::of("", out, "corrections"))
        .both(format!("{}\n\n", verdict(debrief)))
}

/// Whether the corrections are worth it, in a sentence.
#[must_use]
pub fn verdict(debrief: &Debrief) -> String {
    let validation = &debrief.learned.validation;
    match validation.verdict {
        Verdict::TooFew { have, want } => format!(
            "Too few reports to change anything: {have} where it takes {want}. The published values stay; the corrections above show where they point."
        ),
        Verdict::NoGain => format!(
            "The corrections do not clearly predict better. Tried on reports that they were not made from, they gain {:.3} a report in log-probability, give or take {:.3}. The published values stay.",
            validation.gain, validation.gain_sd
        ),
        Verdict::Worth => format!(
            "The corrections predict better. Tried on reports that they were not made from, they gain {:.3} a report in log-probability, give or take {:.3}. They are in calibration.toml, for --calibration of the other verbs.",
            validation.gain, validation.gain_sd
        ),
    }
}

/// What a pack held of its capacity, in words.
pub(super) fn pack_held(pack: &PackUpdate) -> String {
    match pack.share {
        Some(share) => match pack.interval.filter(|(low, high)| high - low >= 0.01) {
            Some((low, high)) => {
                format!("{:.0} % ({:.0} to {:.0} %)", share * 100.0, low * 100.0, high * 100.0)
            }
            None => format!("{:.0} %", share * 100.0),
        },
        None => "no capacity explains it".to_owned(),
    }
}

fn packs(packs: &[PackUpdate]) -> Screen {
    if packs.is_empty() {
        return Screen::default();
    }
    let head = ["Station", "Pack", "Predicted", "Reported", "Capacity", "It held", "For the plan"];
    let mut out = table(head, &[4, 5]);
    for pack in packs {
        let share = pack_held(pack);
        out.add_row([
            pack.station.clone(),
            pack.pack.clone(),
            pack.predicted_death.as_ref().map_or("lasts".to_owned(), |at| format!("dead at {at}")),
            pack.reported.join(", "),
            format!("{:.2} Ah", pack.capacity_ah.value()),
            share,
            pack.line.clone().unwrap_or_default(),
        ]);
    }
    let advice: String = packs
        .iter()
        .filter_map(|pack| Some(format!(" {}: {}\n", pack.station, pack.advice.as_ref()?)))
        .collect();
    Screen::default()
        .rows(Rows::of("Batteries\n", out, "packs"))
        .long_only("advice on packs", advice)
        .both("\n")
}

fn rejected(rejected: &[Rejected]) -> String {
    if rejected.is_empty() {
        return String::new();
    }
    let lines: String = rejected
        .iter()
        .take(MOST_REJECTED)
        .map(|r| {
            format!(" {}:{}: {}\n   {}\n", r.origin.file.display(), r.origin.line, r.reason, r.text)
        })
        .collect();
    let more = match rejected.len().saturating_sub(MOST_REJECTED) {
        0 => String::new(),
        more => format!(" and {more} more, in debrief.json\n"),
    };
    format!("Rejected rows\n{lines}{more}\n")
}
