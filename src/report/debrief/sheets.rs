//! The document on sheets of paper: the map on the first, and as many sheets as the
//! rest takes.

use crate::ReportError;
use crate::brief::lower;
use crate::brief::sheets::flow::{self, Piece};
use crate::brief::sheets::liaison::fitted_map;
use crate::brief::sheets::{Paper, SMALLEST, blank, foot, pdf, rule};
use crate::map::frame::bar_grid_and_north;
use crate::map::georeference::MapFrame;
use crate::map::{legend, names};
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{ACCENT, INK};
use crate::svg_page::{Frame, Lettering, Pen, ReadableSheet, Role, Sheet};

use super::map::{LEGEND, NOTE, ReportMap, count, mark, on_the_ground};
use super::page::NO_MAP;
use super::{DebriefContent, DebriefDocument};

/// Size of the text: 8.5 points.
const SIZE: f64 = 24.0;
/// Sizes that are tried where one line is longer than a sheet.
const SIZES: [f64; 3] = [SIZE, 20.0, 16.0];
/// Share of a sheet's height that the map may take.
const MAP_SHARE: f64 = 0.42;
/// Free width between columns.
const GUTTER: f64 = 40.0;
/// From the map to its legend: scale bar and arrow stand between.
const BELOW: f64 = 58.0;
/// Height of a row of the legend.
const ROW: f64 = 34.0;

/// Writes the document as a PDF, its text as text: A4, or Letter where the plan has
/// the units of the United States.
pub(crate) fn write_pdf(
    content: &DebriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let paper = Paper::in_the_hand(content.plan.units);
    let document = content.document;
    let sheets = drawn(content, paper)?;
    let about = pdf::About {
        title: format!("{}: debrief", document.event),
        description: document.made.join(" "),
    };
    slot.bytes(&pdf::pdf(&sheets, paper, about, content.provenance)?)
}

fn drawn(content: &DebriefContent<'_>, paper: Paper) -> Result<Vec<ReadableSheet>, ReportError> {
    let document = content.document;
    let (mut sheet, room) = blank(paper);
    let top = head(&mut sheet, document, room);
    let top = match content.map {
        Some(map) => draw_map(&mut sheet, map, room, top)?,
        None => {
            sheet.begin(Role::Paragraph);
            sheet.text_within((room.left, top + 30.0), NO_MAP, &Lettering::new(22.0), room.width);
            top + 50.0
        }
    };
    let first = columns(room, top);
    let next = columns(room, room.top);
    let pieces = pieces(content);
    let counts = flow::over_sheets(&pieces, &first, &next, SIZE);
    let (mut rest, pages) = (pieces.as_slice(), counts.len());
    let mut sheets = Vec::new();
    for (number, count) in (1..).zip(counts) {
        let (own, later) = rest.split_at(count.min(rest.len()));
        rest = later;
        let columns = if number == 1 { &first } else { &next };
        let left_out = flow::draw(&mut sheet, own, columns, &SIZES);
        if left_out > 0 {
            let more = "More of this is in debrief.html and debrief.txt.";
            let bold = Lettering::new(20.0).bold();
            sheet.begin(Role::Paragraph);
            sheet.text_within((room.left, room.bottom() - 30.0), more, &bold, room.width);
        }
        foot(&mut sheet, room, content.provenance, (number, pages), "debrief");
        let (blank_sheet, _) = blank(paper);
        sheets.push(std::mem::replace(&mut sheet, blank_sheet).into_readable());
    }
    Ok(sheets)
}

/// Two columns from `top` down to the foot.
fn columns(room: Frame, top: f64) -> [Frame; 2] {
    let width = (room.width - GUTTER) / 2.0;
    let column = Frame { left: room.left, top, width, height: room.bottom() - 50.0 - top };
    [column, Frame { left: room.left + width + GUTTER, ..column }]
}

/// The event and what it comes to; returns where it ends.
fn head(sheet: &mut Sheet, document: &DebriefDocument, room: Frame) -> f64 {
    let title = Lettering::new(48.0).bold();
    let text = format!("{}: debrief", document.event);
    sheet.begin(Role::Heading(1));
    sheet.text_shrunk((room.left, room.top + 44.0), &text, &title, room.width, SMALLEST);
    let when = match &document.agency {
        Some(agency) => format!("{}  ·  {agency}", document.date),
        None => document.date.clone(),
    };
    sheet.begin(Role::Paragraph);
    sheet.text_within((room.left, room.top + 82.0), &when, &Lettering::new(25.0), room.width);
    sheet.begin(Role::Paragraph);
    let headline = Lettering::new(31.0).bold().in_colour(ACCENT);
    let at = (room.left, room.top + 130.0);
    let mut y = sheet.paragraph(at, &document.headline, &headline, room.width, 38.0);
    if let Some(missing) = document.missing {
        let bold = Lettering::new(22.0).bold();
        sheet.begin(Role::Paragraph);
        y = sheet.paragraph((room.left, y - 6.0), missing, &bold, room.width, 28.0);
    }
    rule(sheet, room, y);
    y + 14.0
}

/// The map with its legend; returns where both end.
fn draw_map(
    sheet: &mut Sheet,
    content: &ReportMap<'_>,
    room: Frame,
    top: f64,
) -> Result<f64, ReportError> {
    let under = content.map;
    let map = fitted_map(under, room, top, MAP_SHARE)?;
    let frame = map.frame();
    let counts =
        LEGEND.map(|(kind, heard, meaning)| format!("{} {meaning}", count(content, kind, heard)));
    let shows = format!(
        "Map of what was heard on channel {} from {}: {}.",
        under.channel,
        under.site.site,
        counts.join(", ")
    );
    sheet.begin(Role::Figure(shows));
    let line = |sheet: &mut Sheet, map: &MapFrame| {
        sheet.rectangle(map.frame(), 0.0, &Pen::line(INK, 2.4));
        Ok(())
    };
    let drawn = on_the_ground(sheet, content, &map, line)?;
    let base = frame.bottom() + 40.0;
    let ends = (room.left, room.right());
    let grid = bar_grid_and_north(sheet, &map, under.plan, ends, base)?;
    let text = Lettering::new(20.0);
    let third = room.width / 3.0;
    for (index, ((kind, heard, _), meaning)) in LEGEND.into_iter().zip(&counts).enumerate() {
        let left = room.left + (index % 3) as f64 * third;
        let middle = frame.bottom() + BELOW + ((index / 3) as f64 + 0.5) * ROW;
        mark(sheet, (left + 16.0, middle), kind, heard);
        sheet.text_within((left + 40.0, middle + 7.0), meaning, &text, third - 46.0);
    }
    let below = frame.bottom() + BELOW + LEGEND.len().div_ceil(3) as f64 * ROW;
    let mut note = format!("Channel {} from {}. {NOTE}", under.channel, under.site.site);
    if let Some(told) = grid {
        note += &format!(" {told}.");
    }
    if drawn.off > 0 {
        note += &format!(" {} reports lie off this map.", drawn.off);
    }
    if drawn.named.distances {
        note += &format!(" Numbers in rings: {}.", lower(legend::distance(under.plan.units)));
    }
    note += &names::without_room(&drawn.named.unnamed)
        .map_or_else(String::new, |said| format!(" {said}"));
    let small = Lettering::new(18.0);
    sheet.begin(Role::Paragraph);
    let y = sheet.paragraph((room.left, below + 22.0), &note, &small, room.width, 22.0);
    Ok(y + 4.0)
}

/// Everything that the document says, changes first.
fn pieces(content: &DebriefContent<'_>) -> Vec<Piece> {
    let document = content.document;
    let mut pieces = Vec::new();
    if !document.changes.is_empty() {
        pieces.push(Piece::title("Changes for the next plan"));
    }
    for (number, change) in (1..).zip(&document.changes) {
        let text = change.text();
        let lines: Vec<String> = text.lines().map(str::to_owned).collect();
        let end = if lines.is_empty() { "." } else { ":" };
        pieces.push(
            Piece::line(&format!("{number}."), &format!("{}{end}", change.why)).advised(&lines),
        );
    }
    for section in &document.sections {
        pieces.push(Piece::title(&section.title));
        pieces.extend(section.entries.iter().map(|entry| {
            let head =
                if entry.head.is_empty() { String::new() } else { format!("{}:", entry.head) };
            Piece::line(&head, &entry.body)
        }));
    }
    for picture in content.pictures.iter().skip(1) {
        pieces.push(Piece::line(
            &format!("Map of {} from {}:", picture.channel, picture.site),
            "a file of its own, and in debrief.html.",
        ));
    }
    pieces.push(Piece::title("What made this"));
    pieces.push(Piece::line("", &document.caveats.join(" ")));
    pieces.extend(document.made.iter().map(|line| Piece::line("", line)));
    pieces
}
