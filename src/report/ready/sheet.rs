//! One sheet: the verdict to be read from the door, what has to be done, the evening as
//! a bar, then the rest in two columns. Behind it the routes from end to end.

use jiff::ZonedDateTime;
use perchline_assessment::{BarKind, Timeline, Verdict};

use super::text::{axis, end, made};
use super::{Line, Ready, ReadyContent};
use crate::brief::Paper;
use crate::brief::sheets::flow::{self, Piece};
use crate::brief::sheets::pdf::{self, About};
use crate::brief::sheets::{SMALLEST, blank, rule};
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use crate::power_tables::POOR_CASE;
use crate::route_strip::on_paper;
use crate::svg_page::{Align, Frame, Lettering, Pen, ReadableSheet, Role, Sheet};
use crate::typeface::wrapped;

/// Sizes that are tried for the reasons: 10.6 points and less.
const REASONS: [f64; 5] = [30.0, 27.0, 24.5, 22.0, 20.0];
/// The same for the rest.
const REST: [f64; 8] = [29.0, 27.0, 25.0, 23.0, 21.5, 20.0, 18.5, 17.0];
/// Free width between columns.
const GUTTER: f64 = 40.0;
/// Share of the sheet's height that the reasons may take.
const MOST: f64 = 0.34;
/// Height of a bar with its space.
const BAR: f64 = 46.0;

/// Writes it for A4, if that is wanted.
pub(crate) fn write_a4(
    content: &ReadyContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write(content, Paper::A4, slot)
}

/// Writes it for Letter, if that is wanted.
pub(crate) fn write_letter(
    content: &ReadyContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write(content, Paper::Letter, slot)
}

/// Writes it for A3, if that is wanted.
pub(crate) fn write_a3(
    content: &ReadyContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write(content, Paper::A3, slot)
}

/// Writes it for Tabloid, if that is wanted.
pub(crate) fn write_tabloid(
    content: &ReadyContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    write(content, Paper::Tabloid, slot)
}

fn write(
    content: &ReadyContent<'_>,
    paper: Paper,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    if !content.papers.contains(&paper) {
        return Ok(());
    }
    let made = made(content.provenance);
    let routes = match &content.routes {
        Some(routes) => on_paper(routes, paper, |sheet| format!("Page {}. {made}", sheet + 1))?,
        None => Vec::new(),
    };
    let first = draw(content, paper, routes.len() + 1);
    let sheets: Vec<ReadableSheet> = std::iter::once(first).chain(routes).collect();
    let about = About { title: format!("{}: ready?", content.ready.event), description: made };
    slot.bytes(&pdf::pdf(&sheets, paper, about, content.provenance)?)
}

/// The first of so many sheets.
fn draw(content: &ReadyContent<'_>, paper: Paper, pages: usize) -> ReadableSheet {
    let ReadyContent { ready, timeline, provenance, .. } = *content;
    let (mut sheet, room) = blank(paper);
    let top = head(&mut sheet, ready, room);
    let top = reasons(&mut sheet, ready, room, top);
    let top = bars(&mut sheet, timeline, room, top);
    rule(&mut sheet, room, top);
    let width = (room.width - GUTTER) / 2.0;
    let column = Frame {
        left: room.left,
        top: top + 22.0,
        width,
        height: room.bottom() - 50.0 - top - 22.0,
    };
    let other = Frame { left: room.left + width + GUTTER, ..column };
    let left_out = flow::draw(&mut sheet, &pieces(ready), &[column, other], &REST);
    if left_out > 0 {
        let more = format!("{left_out} more lines are in ready.txt.");
        sheet.begin(Role::Paragraph);
        let warning = Lettering::new(21.0).bold();
        sheet.text_within((room.left, room.bottom() - 26.0), &more, &warning, room.width);
    }
    let small = Lettering::new(17.0).quiet();
    sheet.begin(Role::Paragraph);
    let page = if pages > 1 { format!("Page 1 of {pages}. ") } else { String::new() };
    let foot = page + &made(provenance);
    sheet.text_within((room.left, room.bottom()), &foot, &small, room.width);
    sheet.into_readable()
}

/// Event, day and verdict; returns where the next begins.
fn head(sheet: &mut Sheet, ready: &Ready, room: Frame) -> f64 {
    let title = Lettering::new(36.0).bold();
    let text = format!("{}: ready?", ready.event);
    sheet.begin(Role::Heading(1));
    sheet.text_shrunk((room.left, room.top + 34.0), &text, &title, room.width, SMALLEST);
    let when = Lettering::new(25.0);
    sheet.begin(Role::Paragraph);
    sheet.text_within((room.left, room.top + 70.0), &ready.date, &when, room.width);
    let band = Frame { left: room.left, top: room.top + 90.0, width: room.width, height: 112.0 };
    // Dark for no, light for go: told apart on a grey copy too.
    let (pen, colour) = match ready.verdict {
        Verdict::No => (Pen::fill(ACCENT), PAPER),
        Verdict::GoIf => (Pen::line(INK, 5.0).filled(HAIRLINE), INK),
        Verdict::Go => (Pen::line(INK, 5.0), INK),
    };
    sheet.rectangle(band, 10.0, &pen);
    sheet.begin(Role::Paragraph);
    let word = Lettering::new(50.0).bold().in_colour(colour);
    let at = (band.left + 26.0, band.top + 70.0);
    let room = band.width - 52.0;
    let (word, at) = if word.width(&ready.headline) <= room {
        (word, at)
    } else {
        let word = Lettering { size: 34.0, ..word };
        let several = wrapped(&ready.headline, word.size, word.cut, room).len() > 1;
        (word, (at.0, band.top + if several { 44.0 } else { 68.0 }))
    };
    sheet.paragraph(at, &ready.headline, &word, room, 42.0);
    let caveat = Lettering::new(22.0).bold().in_colour(ACCENT);
    let lines: Vec<&str> = ready.without.as_deref().into_iter().chain(ready.missing).collect();
    if lines.is_empty() {
        return band.bottom() + 22.0;
    }
    lines.into_iter().fold(band.bottom() + 30.0, |top, line| {
        sheet.begin(Role::Paragraph);
        sheet.paragraph((band.left, top), line, &caveat, band.width, 28.0)
    })
}

/// Why not, or what has to be done first; returns where the next begins.
fn reasons(sheet: &mut Sheet, ready: &Ready, room: Frame, top: f64) -> f64 {
    let pieces: Vec<Piece> = (1..)
        .zip(&ready.reasons)
        .map(|(number, line)| {
            let fix = line.fix.as_deref().unwrap_or("No fix was found in the plan.");
            Piece::line(&format!("{number}."), &line.says).advised(&[fix.to_owned()])
        })
        .collect();
    if pieces.is_empty() {
        return top;
    }
    let most = room.height * MOST;
    let size = REASONS.iter().find(|size| flow::height(&pieces, room.width, **size) <= most);
    let size = *size.unwrap_or(&20.0);
    let height = flow::height(&pieces, room.width, size).min(most);
    let frame = Frame { left: room.left, top, width: room.width, height: height + 4.0 };
    let left_out = flow::draw(sheet, &pieces, &[frame], &[size]);
    if left_out > 0 {
        let more = format!("{left_out} more are in ready.txt.");
        sheet.begin(Role::Paragraph);
        let warning = Lettering::new(22.0).bold();
        sheet.text_within((room.left, frame.bottom() + 20.0), &more, &warning, room.width);
        return frame.bottom() + 34.0;
    }
    frame.bottom() + 10.0
}

/// What the bars show.
const BARS: &str = "On the air until tear-down, poor case";

/// The same for whoever does not see them.
fn bars_in_words(timeline: &Timeline) -> String {
    let each = timeline.bars.iter().map(|bar| format!("{}, {}", bar.name, end(timeline, bar)));
    format!("{BARS}: {}.", each.collect::<Vec<_>>().join("; "))
}

/// From the first station on to the last radio down; returns where the next begins.
fn bars(sheet: &mut Sheet, timeline: &Timeline, room: Frame, top: f64) -> f64 {
    let heading = Lettering::new(25.0).bold();
    sheet.begin(Role::Heading(2));
    sheet.text((room.left, top + 26.0), BARS, &heading);
    sheet.begin(Role::Figure(bars_in_words(timeline)));
    let names = room.width * 0.19;
    let ends = room.width * 0.17;
    let left = room.left + names;
    let width = room.width - names - ends;
    let x = |at: &ZonedDateTime| left + width * axis(timeline).part(at);
    let first = top + 74.0;
    let height = BAR * timeline.bars.len() as f64;
    let tick = Lettering::new(21.0).quiet().aligned(Align::Middle);
    for (at, hour) in axis(timeline).hours() {
        let x = x(&at);
        sheet.line((x, first - 10.0), (x, first + height - 10.0), &Pen::line(HAIRLINE, 1.5));
        sheet.text((x, first - 16.0), &hour, &tick);
    }
    for (row, bar) in timeline.bars.iter().enumerate() {
        let top = first + BAR * row as f64;
        let text = Lettering::new(24.0);
        sheet.text_within((room.left, top + 21.0), &bar.name, &text, names - 14.0);
        let (from, to) = (x(&bar.from), x(&bar.to));
        let whole = Frame { left: from, top, width: to - from, height: 28.0 };
        match bar.kind {
            BarKind::Event => sheet.rectangle(whole, 0.0, &Pen::fill(HAIRLINE)),
            BarKind::Roof => {
                let middle = top + 14.0;
                sheet.line((from, middle), (to, middle), &Pen::line(QUIET, 5.0));
            }
            BarKind::Station => {
                let runs = bar.poor_until.as_ref().map_or(to, x);
                sheet.rectangle(whole, 0.0, &Pen::line(INK, 2.0).dashed("8 6").filled(PAPER));
                let filled = Frame { width: runs - from, ..whole };
                sheet.rectangle(filled, 0.0, &Pen::fill(INK));
                if bar.poor_until.is_some() {
                    let cross = Pen::line(ACCENT, 5.0);
                    sheet.line((runs - 11.0, top + 3.0), (runs + 11.0, top + 25.0), &cross);
                    sheet.line((runs - 11.0, top + 25.0), (runs + 11.0, top + 3.0), &cross);
                }
                for change in &bar.changes {
                    let at = x(change);
                    sheet.line((at, top - 5.0), (at, top + 33.0), &Pen::line(PAPER, 7.0));
                    sheet.line((at, top - 5.0), (at, top + 33.0), &Pen::line(ACCENT, 3.0));
                }
            }
        }
        let bold = if bar.poor_until.is_some() { text.bold() } else { text };
        sheet.text_within(
            (left + width + 18.0, top + 21.0),
            &end(timeline, bar),
            &bold,
            ends - 18.0,
        );
    }
    let key = Lettering::new(20.0).quiet();
    let legend = "Filled: runs. Dashed: should still run. Cross: dies. Line across: change packs. Thin: roof open.";
    sheet.text((room.left, first + height + 12.0), legend, &key);
    sheet.text((room.left, first + height + 38.0), POOR_CASE, &key);
    first + height + 56.0
}

/// Everything below the bars.
fn pieces(ready: &Ready) -> Vec<Piece> {
    let listed = |title: &str, lines: Vec<Piece>| -> Vec<Piece> {
        if lines.is_empty() {
            return lines;
        }
        std::iter::once(Piece::title(title)).chain(lines).collect()
    };
    let plain = |lines: &[String]| lines.iter().map(|line| Piece::line("", line)).collect();
    let found = |lines: &[Line]| -> Vec<Piece> {
        let line = |line: &Line| {
            let fix = line.fix.as_ref().map_or_else(String::new, |fix| format!(" {fix}"));
            Piece::line("", &format!("{}{fix}", line.says))
        };
        lines.iter().map(line).collect()
    };
    let must: Vec<String> = ready.must.iter().chain(&ready.places).cloned().collect();
    [
        listed("Must-have posts", plain(&must)),
        listed("Works in part only", found(&ready.fails)),
        listed("If the relay dies", plain(&ready.fallback)),
        listed("Not known", plain(&ready.unknowns)),
        listed("Also", found(&ready.told)),
        listed("Then, what gains most first", plain(&ready.next)),
        listed("Take care", plain(&ready.care)),
    ]
    .concat()
}
