//! One page for the next plan, in Markdown, to be written on by hand.

use std::fmt::Write as _;

use crate::outputs::{OutboxSlot, OutputError};

use super::document::{group_line, groups, perhaps};
use super::{Change, DebriefContent};

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
    let DebriefContent { plan, debrief, provenance, .. } = *content;
    let mut text = format!(
        "# Lessons: {}\n\n{}\n\n",
        plain(&plan.event.name),
        plan.event.starts.strftime("%A %-d %B %Y")
    );
    let line = |group| {
        let (head, body) = group_line(group);
        format!("{}: {body}", plain(&head))
    };
    let good: Vec<String> = groups(debrief, true).map(line).collect();
    let bad: Vec<String> = groups(debrief, false)
        .map(|group| match perhaps(group) {
            perhaps if perhaps.is_empty() => line(group),
            perhaps => format!("{}. {}", line(group), plain(&perhaps)),
        })
        .collect();
    let outliers: Vec<String> =
        debrief.learned.outliers.iter().map(|outlier| plain(&outlier.text)).collect();
    let changes: Vec<String> = content.document.changes.iter().map(change).collect();
    list(&mut text, "What worked", &good, "Nothing was reported as good.");
    list(&mut text, "What did not", &bad, "Everything that was reported was good.");
    list(&mut text, "What nothing explains", &outliers, "No report is an outlier.");
    list(&mut text, "Changes for next time", &changes, "None that the reports call for.");
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

/// A change with its lines.
fn change(change: &Change) -> String {
    let mut text = plain(&change.why);
    if change.lines.is_empty() {
        return text;
    }
    text += ":\n";
    for line in change.text().lines() {
        let _ = write!(text, "\n      {}", line.replace(char::is_control, " "));
    }
    text + "\n"
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
