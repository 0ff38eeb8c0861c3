//! The screen: 80 columns, the verdict first, what made it last.

use jiff::ZonedDateTime;
use perchline_assessment::{Bar, BarKind, Timeline};

use super::{Line, ReadyContent};
use crate::cautions::in_brief;
use crate::power_tables::{POOR_CASE, clock};
use crate::screen::{Rows, Screen};
use crate::text_lines::{COLUMNS, padded, wrapped};
use crate::time_axis::TimeAxis;

/// Letters for the names of bars.
const NAMES: usize = 14;
/// Letters for the hours.
const HOURS: usize = 48;

/// All of it as text, lines of 80 letters at most.
#[must_use]
pub fn ready_screen(content: &ReadyContent<'_>) -> Screen {
    let ReadyContent { ready, timeline, provenance, .. } = *content;
    let title = paragraph(&format!("{}, {}: {}", ready.event, ready.date, ready.headline), 0)
        + &ready.without.as_ref().map_or_else(String::new, |line| paragraph(line, 2))
        + &ready.missing.map_or_else(String::new, |line| paragraph(line, 2));
    let listed = |title: &str, lines: &[String], name| {
        Rows::lines(format!("\n{title}\n"), lines.iter().map(item).collect(), name)
    };
    let made = paragraph(&made(provenance), 0);
    let must: Vec<String> = ready.must.iter().chain(&ready.places).cloned().collect();
    Screen::new(title)
        .rows(
            Rows::lines("", reasons(&ready.reasons), "")
                .failing(ready.reasons.iter().map(|_| true), "conditions"),
        )
        .rows(listed("Must-have posts", &must, "lines").called("must-have posts").at_least(1))
        .rows(
            findings("Works in part only", &ready.fails, "places")
                .called("where it works in part only"),
        )
        .rows(listed("If the relay dies", &ready.fallback, "lines").called("without the relay"))
        .both("\nOn the air, poor case (= runs, x dies, . should run, c change packs, - hours)\n")
        .both(bars(timeline))
        .rows(
            listed("Not known", &ready.unknowns, "that are not known").called("what is not known"),
        )
        .rows(findings("Also", &ready.told, "findings"))
        .rows(listed("Then, what gains most first", &ready.next, "steps").called("what to do next"))
        .short_only(format!("\n{}", in_brief(&ready.cautions)))
        .long_only("", format!("\nTake care\n{}", ready.care.iter().map(item).collect::<String>()))
        .both(format!("{POOR_CASE} [verb]: it tells more.\n"))
        .short_made(made.clone())
        .long_only("", made)
}

/// What stands against going, with the cheapest fix of each.
fn reasons(reasons: &[Line]) -> Vec<String> {
    let mut stopped = false;
    let line = |(number, line): (usize, &Line)| {
        let also = if stopped && !line.stops { "If that is solved, also:\n" } else { "" };
        stopped = line.stops;
        let fix = line.fix.as_deref().unwrap_or("No fix was found in the plan.");
        also.to_owned()
            + &paragraph(&format!("{number:>2}. {} [{}]", line.says, line.verb), 4)
            + &paragraph(&format!("    -> {fix}"), 7)
    };
    (1..).zip(reasons).map(line).collect()
}

/// What made it, in a line.
pub(super) fn made(provenance: &crate::Provenance) -> String {
    format!("{}, method {}.", provenance.made_from_plan(), provenance.method)
}

fn paragraph(text: &str, indent: usize) -> String {
    // The blanks before a number are no letters of the text.
    let lead = text.chars().take_while(|c| *c == ' ').count();
    let lines = wrapped(text, COLUMNS - lead, indent.saturating_sub(lead));
    let lead = " ".repeat(lead);
    lines.iter().map(|line| format!("{lead}{line}\n")).collect()
}

fn item(line: &String) -> String {
    paragraph(&format!("  - {line}"), 4)
}

fn findings(title: &str, lines: &[Line], name: &'static str) -> Rows {
    let line = |line: &Line| {
        let fix = line.fix.as_ref().map_or_else(String::new, |fix| format!(" {fix}"));
        paragraph(&format!("  - {}{fix} [{}]", line.says, line.verb), 4)
    };
    Rows::lines(format!("\n{title}\n"), lines.iter().map(line).collect(), name)
}

fn bars(timeline: &Timeline) -> String {
    let place = |at: &ZonedDateTime| column(timeline, at);
    let mut scale = vec![' '; HOURS + 4];
    for (at, hour) in axis(timeline).hours() {
        for (step, digit) in hour.chars().enumerate() {
            if let Some(cell) = scale.get_mut(place(&at) + step) {
                *cell = digit;
            }
        }
    }
    let scale: String = scale.into_iter().collect();
    let mut text = format!("{:NAMES$} {}\n", "", scale.trim_end());
    for bar in &timeline.bars {
        let mut cells = vec![' '; HOURS + 1];
        let fill = |cells: &mut Vec<char>, from: usize, to: usize, with: char| {
            cells.iter_mut().take(to).skip(from).for_each(|cell| *cell = with);
        };
        let (from, to) = (place(&bar.from), place(&bar.to));
        let mark = if bar.kind == BarKind::Station { '=' } else { '-' };
        fill(&mut cells, from, to, mark);
        if let Some(dies) = &bar.poor_until {
            let dies = place(dies);
            fill(&mut cells, dies, to, '.');
            fill(&mut cells, dies, dies + 1, 'x');
        }
        for change in &bar.changes {
            let at = place(change);
            fill(&mut cells, at, at + 1, 'c');
        }
        let cells: String = cells.into_iter().collect();
        let line = format!("{} {cells}{}", padded(&bar.name, NAMES), end(timeline, bar));
        text += &format!("{}\n", line.trim_end());
    }
    text
}

/// What stands behind a bar.
pub(super) fn end(timeline: &Timeline, bar: &Bar) -> String {
    let at = |at: &ZonedDateTime| clock(at, &timeline.from);
    match (bar.kind, &bar.poor_until, bar.left_in_poor_case) {
        (BarKind::Station, Some(dies), _) => match bar.changes.first() {
            Some(change) => format!("change by {}", at(change)),
            None => format!("dies {}", at(dies)),
        },
        (BarKind::Station, None, Some(left)) => format!("{} left", crate::words::percent(left)),
        (BarKind::Station | BarKind::Event, ..) => format!("{} to {}", at(&bar.from), at(&bar.to)),
        (BarKind::Roof, ..) => match (bar.from > timeline.from, bar.to < timeline.to) {
            (false, false) => "open throughout".to_owned(),
            (true, false) => format!("open from {}", at(&bar.from)),
            (false, true) => format!("open until {}", at(&bar.to)),
            (true, true) => format!("open {} to {}", at(&bar.from), at(&bar.to)),
        },
    }
}

/// The hours of a timeline.
pub(super) const fn axis(timeline: &Timeline) -> TimeAxis<'_> {
    TimeAxis::new(&timeline.from, &timeline.to)
}

fn column(timeline: &Timeline, at: &ZonedDateTime) -> usize {
    // Between 0 and the number of columns.
    (axis(timeline).part(at) * HOURS as f64).round() as usize
}
