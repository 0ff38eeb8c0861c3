//! Sheets to cut up, a slip for the person at each post.

use crate::cautions::Caution;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::QUIET;
use crate::svg_page::{Frame, Lettering, Pen, ReadableSheet, Role, Sheet};
use perchline_plan::UnitSystem;

use super::flow::{self, Piece};
use super::{Brief, BriefContent, Paper, SMALLEST, blank, pdf};
use crate::brief::PostLine;

/// Slips beside and below each other on a sheet.
const COLUMNS: usize = 2;
const ROWS: usize = 4;
/// Free border of a slip, pixels: a cut may go wrong by 3 mm.
const BORDER: f64 = 26.0;
/// Sizes of its text that are tried: 8.5 points and less.
const SIZES: [f64; 6] = [24.0, 22.0, 20.0, 18.5, 17.0, 15.5];

/// Writes the slips for the paper that the plan's units go with.
pub(crate) fn write_slips(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let BriefContent { brief, inputs, map, .. } = *content;
    let paper = match inputs.plan.units {
        UnitSystem::Metric => Paper::A4,
        UnitSystem::Us => Paper::Letter,
    };
    if brief.posts.is_empty() {
        return Ok(());
    }
    let made = map.provenance.made_from_plan();
    let sheets: Vec<ReadableSheet> =
        brief.posts.chunks(COLUMNS * ROWS).map(|posts| draw(brief, posts, paper, &made)).collect();
    let about = pdf::About {
        title: format!("{}: a slip for each post", brief.event),
        description: brief.made.join(" "),
    };
    slot.bytes(&pdf::pdf(&sheets, paper, about, map.provenance)?)
}

fn draw(brief: &Brief, posts: &[PostLine], paper: Paper, made: &str) -> ReadableSheet {
    let (mut sheet, room) = blank(paper);
    let (width, height) = (room.width / COLUMNS as f64, room.height / ROWS as f64);
    for (index, post) in posts.iter().enumerate() {
        let (row, column) = (index / COLUMNS, index % COLUMNS);
        let frame = Frame {
            left: room.left + column as f64 * width,
            top: room.top + row as f64 * height,
            width,
            height,
        };
        slip(&mut sheet, brief, post, frame, made);
    }
    cuts(&mut sheet, room, posts.len(), (width, height));
    sheet.into_readable()
}

/// Where to cut: no line where no slip is.
fn cuts(sheet: &mut Sheet, room: Frame, slips: usize, (width, height): (f64, f64)) {
    let cut = Pen::line(QUIET, 1.6).dashed("10 8");
    let rows = slips.div_ceil(COLUMNS);
    let bottom = room.top + rows as f64 * height;
    for row in 0..=rows {
        let y = room.top + row as f64 * height;
        sheet.line((room.left, y), (room.right(), y), &cut);
    }
    for column in 0..=COLUMNS {
        let x = room.left + column as f64 * width;
        sheet.line((x, room.top), (x, bottom), &cut);
    }
}

fn slip(sheet: &mut Sheet, brief: &Brief, post: &PostLine, frame: Frame, made: &str) {
    let inner = frame.grown(-BORDER);
    let name = format!("{} {}", post.number, post.name);
    let title = Lettering::new(34.0).bold();
    sheet.begin(Role::Heading(1));
    sheet.text_shrunk((inner.left, inner.top + 30.0), &name, &title, inner.width, SMALLEST);
    let when = format!("{}, {}", brief.event, brief.date);
    let small = Lettering::new(18.0).quiet();
    sheet.begin(Role::Paragraph);
    sheet.text_shrunk((inner.left, inner.top + 56.0), &when, &small, inner.width, SMALLEST);
    let slip = &post.slip;
    let mut pieces = vec![
        Piece::line("", &post.sentence).marked(post.outcome).advised(&post.advice),
        Piece::line("Stand:", &slip.stand),
        Piece::line("Radio:", &slip.hold),
        Piece::line("Channel:", &slip.channel),
    ];
    let emergency = Caution::Emergency.text();
    if let Some((head, what)) = emergency.split_once(": ") {
        pieces.push(Piece::line(&format!("{head}:"), what));
    }
    let steps = (1..).zip(&slip.silent).map(|(number, step)| format!("{number}. {step}"));
    pieces.push(Piece::line("Silent?", &steps.collect::<Vec<_>>().join(" ")));
    let text = Frame { top: inner.top + 68.0, height: inner.height - 68.0 - 22.0, ..inner };
    let left_out = flow::draw(sheet, &pieces, &[text], &SIZES);
    let foot = match left_out {
        0 => format!("Predicted, not walked. {made}."),
        more => format!("{more} more lines are in brief.html. {made}."),
    };
    let quiet = Lettering::new(14.0).quiet();
    sheet.begin(Role::Paragraph);
    sheet.text_shrunk((inner.left, inner.bottom()), &foot, &quiet, inner.width, 0.7);
}
