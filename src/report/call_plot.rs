//! What each test call would teach: the margin that is expected at each place, how far it
//! may well be off, and how much the call narrows the doubt of the lead.

use perchline_heard::rehearsal::{Rehearsal, TestPlace};

use super::cautions::{Output, in_paragraphs};
use super::outputs::{OutboxSlot, OutputError};
use super::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use super::rehearsal::{RehearsalWalk, expected, lead, narrows, two_digits};
use super::sheet_layout::{Foot, Head, PLOT_BORDER, SheetLayout};
use super::svg_page::{Align, Frame, Lettering, Pen, Sheet, render};
use super::{axis, words};

const WIDTH: u32 = 2000;
/// Where margins stand; names stand left of them.
const MARGINS: (f64, f64) = (640.0, 1280.0);
/// Where what a call teaches begins, and where the longest bar of it ends.
const TEACHES: (f64, f64) = (1360.0, 1760.0);
/// Where the first row begins, and the height of one.
const TOP: f64 = 330.0;
const ROW: f64 = 74.0;
/// Height of the axis below the rows, and of the legend below that.
const AXIS: f64 = 84.0;
const LEGEND: f64 = 60.0;
/// Margins that are shown at least, in dB from none on.
const LEAST: f64 = 10.0;

/// Writes the plot as a PNG 2000 pixels wide.
pub(super) fn write_png(
    content: &RehearsalWalk<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(&render(&draw_svg(content))?)
}

/// The plot as an SVG document.
#[must_use]
pub fn draw_svg(content: &RehearsalWalk<'_>) -> String {
    let RehearsalWalk { plan, rehearsal, provenance, .. } = *content;
    let rows = TOP + ROW * rehearsal.places.len() as f64;
    let below = rows + AXIS + LEGEND;
    let caveats = words::foot(plan.houses()).join(" ");
    let made = provenance.line();
    let care = in_paragraphs(plan, Output::Rehearse);
    let care: Vec<&str> = care.iter().map(String::as_str).collect();
    let notes = [
        "Margin: the weaker direction's predicted median over what it needs. Its line reaches as far as two of three calls: spots differ, and the method errs.".to_owned(),
        "Narrows: a call there, and no other, takes so much off the standard deviation of the lead. Calls teach less together than each by itself. A post that has to work is called whatever it teaches.".to_owned(),
    ];
    let foot =
        Foot { notes: &notes, caveats: &caveats, care: &care, made: Some(&made), remark: None };
    let mut layout = SheetLayout::plot(WIDTH, below + 30.0 + foot.height_on_plot(WIDTH));
    let facts =
        format!("{}  ·  channel {}  ·  {}", plan.event.name, rehearsal.channel, rehearsal.site);
    let told = format!("{}.", lead(rehearsal));
    layout.head(&Head {
        title: "What each test call would teach",
        subtitle: &facts,
        lead: &[(&told, Lettering::new(25.0).bold())],
        figure: None,
    });
    let scale = Scale::of(rehearsal);
    let sheet = layout.sheet();
    scale.axes(sheet, rows);
    for (row, place) in rehearsal.places.iter().enumerate() {
        call(sheet, &scale, (row + 1, place), rehearsal, TOP + ROW * row as f64);
    }
    legend(sheet, rows + AXIS + LEGEND - 22.0);
    layout.foot_from(below + 30.0, &foot);
    layout.into_svg()
}

/// From dB and points to places across the sheet.
struct Scale {
    /// Lowest and highest margin.
    margins: (f64, f64),
    /// The most that a call narrows the doubt, in points.
    most: f64,
}

impl Scale {
    fn of(rehearsal: &Rehearsal) -> Self {
        let ends = rehearsal.places.iter().flat_map(|place| {
            let (margin, spread) = (place.margin_db.value(), place.spread_db.value());
            [margin - spread, margin + spread]
        });
        let ends: Vec<f64> = ends.collect();
        let low = ends.iter().copied().fold(-LEAST, f64::min);
        let high = ends.iter().copied().fold(LEAST, f64::max);
        let narrows = rehearsal.places.iter().map(|place| narrows(rehearsal, place));
        Self { margins: (low - 1.0, high + 1.0), most: narrows.fold(0.0, f64::max) }
    }

    fn margin(&self, db: f64) -> f64 {
        let (low, high) = self.margins;
        MARGINS.0 + (MARGINS.1 - MARGINS.0) * (db - low) / (high - low)
    }

    fn points(&self, points: f64) -> f64 {
        let part = if self.most > 0.0 { points / self.most } else { 0.0 };
        TEACHES.0 + (TEACHES.1 - TEACHES.0) * part
    }

    /// Headings over both, the margins' axis under the rows.
    fn axes(&self, sheet: &mut Sheet, bottom: f64) {
        let head = Lettering::new(24.0).bold();
        let base = TOP - 44.0;
        sheet.text((PLOT_BORDER, base), "Place, in the order of the walk", &head);
        sheet.text((MARGINS.0, base), "Expected margin, dB", &head);
        sheet.text((TEACHES.0, base), "Narrows the doubt of the lead, points", &head);
        let ticks = axis::ticks(self.margins.0, self.margins.1, 8);
        let step = ticks.first().zip(ticks.get(1)).map_or(1.0, |(a, b)| b - a);
        let small = Lettering::new(21.0).aligned(Align::Middle);
        for value in ticks {
            let x = self.margin(value);
            sheet.line((x, TOP - 22.0), (x, bottom), &Pen::line(HAIRLINE, 1.4));
            sheet.text((x, bottom + 30.0), &axis::label(value, step), &small);
        }
        let none = self.margin(0.0);
        sheet.line((none, TOP - 22.0), (none, bottom), &Pen::line(INK, 3.0));
        let quiet = small.quiet();
        sheet.text((none - 16.0, bottom + 62.0), "too weak", &quiet.aligned(Align::Right));
        sheet.text((none + 16.0, bottom + 62.0), "works", &quiet.aligned(Align::Left));
    }
}

/// A place: its name and figures, its margin with the spread, what a call there teaches.
fn call(
    sheet: &mut Sheet,
    scale: &Scale,
    (number, place): (usize, &TestPlace),
    rehearsal: &Rehearsal,
    top: f64,
) {
    let middle = top + ROW / 2.0 - 8.0;
    let room = MARGINS.0 - PLOT_BORDER - 30.0;
    let must = if place.must { ", must work" } else { "" };
    let inside = if place.indoors { ", inside" } else { "" };
    let name = Lettering::new(25.0).bold();
    let told = format!("{number} {}{must}{inside}", place.name);
    sheet.text_shrunk((PLOT_BORDER, middle - 2.0), &told, &name, room, 0.7);
    let figures =
        format!("{}; works in {} spots", expected(place), words::spots(place.probability));
    let small = Lettering::new(20.0).quiet();
    sheet.text_within((PLOT_BORDER, middle + 26.0), &figures, &small, room);
    let (margin, spread) = (place.margin_db.value(), place.spread_db.value());
    let (from, to) = (scale.margin(margin - spread), scale.margin(margin + spread));
    sheet.line((from, middle), (to, middle), &Pen::line(INK, 5.0));
    for end in [from, to] {
        sheet.line((end, middle - 11.0), (end, middle + 11.0), &Pen::line(INK, 3.0));
    }
    mark(sheet, (scale.margin(margin), middle), place.must);
    let points = narrows(rehearsal, place);
    let bar = Frame {
        left: TEACHES.0,
        top: middle - 15.0,
        width: scale.points(points) - TEACHES.0,
        height: 30.0,
    };
    sheet.rectangle(bar, 0.0, &Pen::line(INK, 1.6).filled(TAUGHT));
    let label = two_digits(points);
    sheet.text((bar.right() + 12.0, middle + 8.0), &label, &Lettering::new(23.0));
}

/// What a call teaches, in a tint that parts from paper on a grey copy.
const TAUGHT: &str = QUIET;

/// A margin; a square one is of a post that has to work.
fn mark(sheet: &mut Sheet, (x, y): (f64, f64), must: bool) {
    let pen = Pen::line(ACCENT, 5.0).filled(PAPER);
    if must {
        let square = Frame { left: x - 10.0, top: y - 10.0, width: 20.0, height: 20.0 };
        sheet.rectangle(square, 0.0, &pen);
    } else {
        sheet.circle((x, y), 10.0, &pen);
    }
}

fn legend(sheet: &mut Sheet, base: f64) {
    let plain = Lettering::new(21.0);
    let mut x = PLOT_BORDER + 14.0;
    for (text, must) in [("margin", false), ("margin of a post that has to work", true)] {
        mark(sheet, (x, base - 7.0), must);
        sheet.text((x + 26.0, base), text, &plain);
        x += plain.width(text) + 90.0;
    }
    sheet.line((x - 12.0, base - 7.0), (x + 48.0, base - 7.0), &Pen::line(INK, 5.0));
    sheet.text((x + 62.0, base), "two of three calls", &plain);
}
