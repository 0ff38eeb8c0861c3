//! One page for the next plan, in Markdown, to be written on by hand.

use std::fmt::Write as _;

use crate::outputs::{OutboxSlot, OutputError};
use crate::words;
use perchline_heard::estimate::Verdict;
use perchline_heard::summary::groups;

use super::tables::verdict;
use super::{Debrief, DebriefContent};

/// Posts that are named at most under a heading.
const MOST: usize = 8;

/// Writes the sheet.
pub(crate) fn write_markdown(
    content: &DebriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(lessons(content).as_bytes())
}

fn lessons(content: &DebriefContent<'_>) -> String {
    let DebriefContent { plan, debrief, provenance } = *content;
    let mut text = format!(
        "# Lessons: {}\n\n{}\n\n",
        plain(&plan.event.name),
        plan.event.starts.strftime("%A %-d %B %Y")
    );
    let groups = groups(&debrief.compared, plan);
    let mut good = Vec::new();
    let mut bad = Vec::new();
    for group in &groups {
        if group.answered == 0 {
            continue;
        }
        let share = group.heard as f64 / group.answered as f64;
        let line = format!(
            "{}, {} on {}: good {} of {} times (predicted {} %)",
            plain(&group.place),
            words::way(group.direction),
            plain(&group.channel),
            group.heard,
            group.answered,
            words::hundredths(group.predicted)
        );
        if share >= 0.8 {
            good.push(line);
        } else if group.because.is_empty() {
            bad.push(line);
        } else {
            bad.push(format!("{line}. Perhaps: {}", plain(&group.because.join("; "))));
        }
    }
    list(&mut text, "What worked", &good, "Nothing was reported as good.");
    list(&mut text, "What did not", &bad, "Everything that was reported was good.");
    list(&mut text, "Changes for next time", &changes(debrief), "None that the reports call for.");
    let log = &debrief.log;
    // Writing to a String cannot fail.
    let _ = write!(
        text,
        "## Own notes\n\n- \n\n---\n\nFrom {} rows, {} of which count. Perchline {}, method {}, {}, plan {}.\n",
        log.rows,
        log.rows.saturating_sub(debrief.rejected.len()),
        provenance.version,
        provenance.method,
        provenance.made_at,
        plan.sha256
    );
    text
}

fn list(text: &mut String, title: &str, lines: &[String], none: &str) {
    let _ = write!(text, "## {title}\n\n");
    if lines.is_empty() {
        let _ = writeln!(text, "{none}");
    }
    for line in lines.iter().take(MOST) {
        let _ = writeln!(text, "- {line}");
    }
    if lines.len() > MOST {
        let _ = writeln!(text, "- and {} more, in debrief.txt", lines.len() - MOST);
    }
    text.push('\n');
}

fn changes(debrief: &Debrief) -> Vec<String> {
    let mut changes = Vec::new();
    for pack in &debrief.packs {
        if let (Some(share), Some(line)) = (pack.share, &pack.line) {
            changes.push(format!(
                "Pack \"{}\" of {} held {:.0} % of its capacity: in the plan, `{line}`",
                plain(&pack.pack),
                plain(&pack.station),
                share * 100.0
            ));
        }
    }
    if debrief.learned.validation.verdict == Verdict::Worth {
        changes.push(
            "Plan with what was learned: `[prediction] calibration = \"calibration.toml\"`"
                .to_owned(),
        );
    } else {
        changes.push(verdict(debrief));
    }
    let hip = debrief
        .compared
        .iter()
        .filter(|c| c.because.iter().any(|b| b.contains("on the hip")))
        .count();
    if hip > 0 {
        changes.push(format!(
            "{hip} contacts were missed with the radio on the hip: hold it at the head to speak and to listen"
        ));
    }
    if debrief.log.rows > 0 && debrief.rejected.len() * 5 > debrief.log.rows {
        changes.push(format!(
            "{} of {} rows of the log could not be used: hand out a form with the columns time, post, direction, heard, daq",
            debrief.rejected.len(),
            debrief.log.rows
        ));
    }
    changes
}

/// A text without anything that Markdown would take for its own.
fn plain(text: &str) -> String {
    let mut safe = String::new();
    for c in text.chars() {
        if "\\`*_{}[]<>#|!".contains(c) {
            safe.push('\\');
        }
        safe.push(if c.is_control() { ' ' } else { c });
    }
    safe
}
