//! The plot of what worked against what was predicted.

use crate::outputs::{OutboxSlot, OutputError};
use crate::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use crate::sheet_layout::{Foot, Head, SheetLayout};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, render};
use perchline_heard::estimate::Bin;

use super::DebriefContent;
use super::tables::verdict;

const WIDTH: u32 = 1600;
const HEIGHT: f64 = 1560.0;
const PLOT: Frame = Frame { left: 200.0, top: 260.0, width: 1000.0, height: 1000.0 };

/// Writes the plot as a PNG of 1600 by 1560 pixels.
pub(crate) fn write_png(
    content: &DebriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    slot.bytes(&render(&drawn(content))?)
}

/// The plot as an SVG document.
fn drawn(content: &DebriefContent<'_>) -> String {
    let DebriefContent { plan, debrief, provenance, .. } = *content;
    let mut layout = SheetLayout::plot(WIDTH, HEIGHT);
    let facts = format!(
        "{}  ·  {} reports  ·  method {}",
        plan.event.name,
        debrief.compared.len(),
        provenance.method
    );
    layout.head(&Head {
        title: "What worked against what was predicted",
        subtitle: &facts,
        lead: &[(
            "Share of reports that worked; bars: where it lies in 95 of 100 cases (Wilson)",
            Lettering::new(25.0).bold(),
        )],
        figure: None,
    });
    let sheet = layout.sheet();
    axes(sheet);
    let learned = &debrief.learned;
    series(sheet, &learned.curve.bins, Mark::Published);
    if learned.calibration.is_some() {
        series(sheet, &learned.corrected.bins, Mark::Corrected);
    }
    legend(sheet, learned.calibration.is_some());
    layout.foot_from(
        PLOT.bottom() + 150.0,
        &Foot {
            notes: &[],
            caveats: "",
            care: &[&verdict(debrief)],
            made: Some(&provenance.line()),
            remark: None,
        },
    );
    layout.into_svg()
}

/// Which predictions a series is of.
#[derive(Clone, Copy, PartialEq)]
enum Mark {
    Published,
    Corrected,
}

fn at(predicted: f64, worked: f64) -> Point {
    (PLOT.left + predicted * PLOT.width, PLOT.bottom() - worked * PLOT.height)
}

fn axes(sheet: &mut Sheet) {
    let small = Lettering::new(22.0);
    for step in 0..=10 {
        let share = f64::from(step) / 10.0;
        let text = format!("{} %", step * 10);
        let (x, y) = at(share, share);
        sheet.line((PLOT.left, y), (PLOT.right(), y), &Pen::line(HAIRLINE, 1.4));
        sheet.line((x, PLOT.top), (x, PLOT.bottom()), &Pen::line(HAIRLINE, 1.4));
        sheet.text((PLOT.left - 16.0, y + 8.0), &text, &small.aligned(Align::Right));
        sheet.text((x, PLOT.bottom() + 36.0), &text, &small.aligned(Align::Middle));
    }
    sheet.line(at(0.0, 0.0), at(1.0, 1.0), &Pen::line(QUIET, 3.0).dashed("12 8"));
    sheet.rectangle(PLOT, 0.0, &Pen::line(INK, 2.4));
    let middle = small.aligned(Align::Middle);
    sheet.text((PLOT.left + PLOT.width / 2.0, PLOT.bottom() + 84.0), "predicted", &middle);
    sheet.text_upwards((96.0, PLOT.top + PLOT.height / 2.0), "worked", &small);
}

fn series(sheet: &mut Sheet, bins: &[Bin], mark: Mark) {
    let (colour, shift) = match mark {
        Mark::Published => (INK, -7.0),
        Mark::Corrected => (ACCENT, 7.0),
    };
    let beside = |(x, y): Point| (x + shift, y);
    for bin in bins {
        let (low, high) = (beside(at(bin.predicted, bin.low)), beside(at(bin.predicted, bin.high)));
        sheet.line(low, high, &Pen::line(colour, 3.0));
        for (x, y) in [low, high] {
            sheet.line((x - 9.0, y), (x + 9.0, y), &Pen::line(colour, 3.0));
        }
    }
    let line: Vec<Point> = bins.iter().map(|b| beside(at(b.predicted, b.share))).collect();
    for (bin, (x, y)) in bins.iter().zip(line) {
        if mark == Mark::Published {
            sheet.circle((x, y), 9.0, &Pen::fill(colour));
            let text = bin.reports.to_string();
            sheet.text((x - 16.0, y - 12.0), &text, &Lettering::new(19.0).aligned(Align::Right));
        } else {
            let square = Frame { left: x - 9.0, top: y - 9.0, width: 18.0, height: 18.0 };
            sheet.rectangle(square, 0.0, &Pen::line(colour, 3.0).filled(PAPER));
        }
    }
}

fn legend(sheet: &mut Sheet, corrected: bool) {
    let text = Lettering::new(22.0);
    let x = PLOT.right() + 40.0;
    let mut y = PLOT.top + 30.0;
    sheet.circle((x, y - 8.0), 9.0, &Pen::fill(INK));
    sheet.text((x + 26.0, y), "as predicted then", &text);
    y += 34.0;
    sheet.text((x + 26.0, y), "(number of reports)", &text.quiet());
    if corrected {
        y += 60.0;
        let square = Frame { left: x - 9.0, top: y - 17.0, width: 18.0, height: 18.0 };
        sheet.rectangle(square, 0.0, &Pen::line(ACCENT, 3.0).filled(PAPER));
        sheet.text((x + 26.0, y), "with the corrections", &text);
        y += 34.0;
        sheet.text((x + 26.0, y), "(made from these", &text.quiet());
        y += 30.0;
        sheet.text((x + 26.0, y), "very reports)", &text.quiet());
    }
    y += 60.0;
    sheet.line((x - 14.0, y - 8.0), (x + 16.0, y - 8.0), &Pen::line(QUIET, 3.0).dashed("12 8"));
    sheet.text((x + 26.0, y), "where all is right", &text);
}
