//! Sheets to cut up, a slip for the person at each post.

use crate::cautions::Caution;
use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::QUIET;
use crate::svg_page::{Frame, Lettering, Pen, ReadableSheet, Role, Sheet};

use super::flow::{self, Piece};
use super::{Brief, BriefContent, Paper, SMALLEST, blank, pdf, rule};
use crate::brief::PostLine;

/// Slips beside and below each other on a sheet.
const COLUMNS: usize = 2;
const ROWS: usize = 3;
/// Free border of a slip, pixels: a cut may go wrong by 3 mm.
const BORDER: f64 = 26.0;
/// Sizes that are tried for the one thing that matters: 13.4 points and less.
const LARGE: [f64; 5] = [38.0, 34.0, 31.0, 28.0, 25.5];
/// Share of a slip that it may take with its advice.
const MOST: f64 = 0.42;
/// The smallest size: 5.5 points.
const LEAST: f64 = 15.5;
/// Sizes of the rest that are tried: 9.2 points and less.
const SIZES: [f64; 11] = [26.0, 25.0, 24.0, 23.0, 22.0, 21.0, 20.0, 19.0, 18.0, 17.0, LEAST];

/// Writes the slips for the paper that the plan's units go with.
pub(crate) fn write_slips(
    content: &BriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    let BriefContent { brief, inputs, map, .. } = *content;
    let paper = Paper::in_the_hand(inputs.plan.units);
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
    let title = Lettering::new(40.0).bold();
    sheet.begin(Role::Heading(1));
    sheet.text_shrunk((inner.left, inner.top + 34.0), &name, &title, inner.width, SMALLEST);
    let when = format!("{}, {}", brief.event, brief.date);
    let small = Lettering::new(18.0).quiet();
    sheet.begin(Role::Paragraph);
    sheet.text_shrunk((inner.left, inner.top + 60.0), &when, &small, inner.width, SMALLEST);
    let head = Frame { top: inner.top + 74.0, height: inner.height - 74.0 - 22.0, ..inner };
    let (above, without) = matters(sheet, post, head);
    let text = Frame { top: head.top + above, height: head.height - above, ..head };
    rule(sheet, text, text.top - 6.0);
    let slip = &post.slip;
    let mut pieces = vec![
        Piece::line("Channel:", &slip.channel),
        Piece::line("Stand:", &slip.stand),
        Piece::line("Radio:", &slip.hold),
    ];
    let emergency = Caution::Emergency.text();
    if let Some((head, what)) = emergency.split_once(": ") {
        pieces.push(Piece::line(&format!("{head}:"), what));
    }
    // A line each: they are done one after the other, in the dark.
    let steps = (1..).zip(&slip.silent).map(|(number, step)| format!("{number}. {step}"));
    let head = std::iter::once("Silent?").chain(std::iter::repeat(""));
    pieces.extend(head.zip(steps).map(|(head, step)| Piece::line(head, &step)));
    let left_out = flow::draw(sheet, &pieces, &[text], &SIZES);
    let foot = match left_out + without {
        0 => format!("Predicted, not walked. {made}."),
        more => format!("{more} more lines are in brief.html. {made}."),
    };
    let quiet = Lettering::new(14.0).quiet();
    sheet.begin(Role::Paragraph);
    sheet.text_shrunk((inner.left, inner.bottom()), &foot, &quiet, inner.width, 0.7);
}

/// The one thing that matters, in the largest letters for which it leaves room: whether
/// radio works here, and what to do where it does not. Returns the height that it takes,
/// and whether it was left out.
fn matters(sheet: &mut Sheet, post: &PostLine, room: Frame) -> (f64, usize) {
    let piece = [Piece::line(&post.sentence, "").marked(post.outcome).advised(&post.advice)];
    let takes = |size: f64| flow::height(&piece, room.width, size);
    let mut sizes = LARGE.into_iter().chain(SIZES);
    let fits = sizes.find(|size| takes(*size) <= room.height * MOST);
    let size = fits.unwrap_or(LEAST);
    (takes(size) + 14.0, flow::draw(sheet, &piece, &[room], &[size]))
}
