//! Page two: for the radio crew.

use crate::Provenance;
use crate::svg_page::{Frame, Lettering, ReadableSheet, Role};

use super::flow::{self, Piece};
use super::{Brief, Paper, SMALLEST, blank, foot, rule};

/// Sizes that are tried: 9.9 points and less.
const SIZES: [f64; 7] = [28.0, 26.0, 24.5, 23.0, 21.5, 20.0, 18.5];
/// Free width between the columns.
const GUTTER: f64 = 40.0;

pub(super) fn draw(brief: &Brief, provenance: &Provenance, paper: Paper) -> ReadableSheet {
    let (mut sheet, room) = blank(paper);
    sheet.begin(Role::Heading(1));
    let title = Lettering::new(44.0).bold();
    let text = format!("{}: for the radio crew", brief.event);
    sheet.text_shrunk((room.left, room.top + 40.0), &text, &title, room.width, SMALLEST);
    let when = Lettering::new(25.0);
    sheet.begin(Role::Paragraph);
    sheet.text_within((room.left, room.top + 76.0), &brief.date, &when, room.width);
    let top = room.top + 92.0;
    rule(&mut sheet, room, top);

    let made: Vec<Piece> = brief.made.iter().map(|text| Piece::line("", text)).collect();
    let small = 17.0;
    let made_height = flow::height(&made, room.width, small).min(room.height * 0.16);
    let made_top = room.bottom() - 30.0 - made_height;
    let width = (room.width - GUTTER) / 2.0;
    let column =
        Frame { left: room.left, top: top + 14.0, width, height: made_top - 36.0 - top - 14.0 };
    let other = Frame { left: room.left + width + GUTTER, ..column };
    let pieces: Vec<Piece> = brief
        .crew
        .iter()
        .flat_map(|section| {
            let lines = section.entries.iter();
            let lines = lines.map(|entry| Piece::line(&format!("{}:", entry.head), &entry.body));
            std::iter::once(Piece::title(&section.title)).chain(lines)
        })
        .collect();
    let left_out = flow::draw(&mut sheet, &pieces, &[column, other], &SIZES);
    if left_out > 0 {
        let more = format!("{left_out} more lines are in brief.html and brief.txt.");
        let warning = Lettering::new(21.0).bold();
        sheet.begin(Role::Paragraph);
        sheet.text_within((room.left, made_top - 16.0), &more, &warning, room.width);
    }
    let frame = Frame { left: room.left, top: made_top, width: room.width, height: made_height };
    flow::draw(&mut sheet, &made, &[frame], &[small]);
    foot(&mut sheet, room, provenance, (2, 2), "for the crew");
    sheet.into_readable()
}
