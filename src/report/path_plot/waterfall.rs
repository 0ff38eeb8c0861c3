//! One direction's budget as a fall of levels, from the transmitter down to
//! what is left over at the receiver.

use crate::axis;
use crate::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet};
use crate::words;
use perchline_link::{Budget, NoiseSource, PathStudy};

use super::{level, signed};

/// Height of a row.
const ROW: f64 = 31.0;
/// Room above the first row for the title.
const HEAD: f64 = 62.0;
/// Room below the last row for the axis and the noise.
const FOOT: f64 = 100.0;
/// Room for the names of the lines.
const NAMES: f64 = 300.0;
/// Room for the numbers.
const NUMBERS: f64 = 84.0;

/// Between the title and the frequency.
const GAP: f64 = 24.0;

const GAIN: &str = "#e6c48b";
const LOSS: &str = "#47748a";

/// Height of a budget of `lines` lines.
pub fn height(lines: usize) -> f64 {
    HEAD + (lines + 5) as f64 * ROW + FOOT
}

/// Draws `budget` with its top left corner at `at`.
pub fn draw(sheet: &mut Sheet, at: Point, width: f64, study: &PathStudy, budget: &Budget) {
    let (left, top) = at;
    let governs = budget.direction == study.budgets.governing;
    let bold = Lettering::new(27.0).bold();
    let title = words::way_of(study, budget.direction);
    let frequency = format!("{} MHz", words::megahertz(budget.frequency_mhz));
    let mark = if governs { format!("{frequency}  ·  the limiting direction") } else { frequency };
    let colour = if governs { ACCENT } else { QUIET };
    let note = Lettering::new(22.0).in_colour(colour).aligned(Align::Right);
    let note = if governs { note.bold() } else { note };
    let room = width - note.width(&mark) - GAP;
    sheet.text_within((left, top + 8.0), &title, &bold, room);
    sheet.text((left + width, top + 8.0), &mark, &note);
    sheet.line(
        (left, top + 22.0),
        (left + width, top + 22.0),
        &Pen::line(colour, if governs { 3.0 } else { 1.6 }),
    );

    let plot = Frame {
        left: left + NAMES,
        top: top + HEAD - 24.0,
        width: width - NAMES - NUMBERS,
        height: (budget.lines.len() + 5) as f64 * ROW,
    };
    let chart = Chart::new(plot, budget);
    chart.grid(sheet);
    let mut rows = Rows { chart: &chart, left, right: left + width, line: 0 };
    rows.point(sheet, "Transmitter output", budget.power_dbm.value());
    let mut before = budget.power_dbm.value();
    for line in &budget.lines {
        let after = line.level_dbm.value();
        rows.step(sheet, &line.label, before, after, line.change_db.value());
        before = after;
    }
    let needed = budget.required_dbm.value();
    let wanted = needed + budget.reliability_allowance_db.value();
    rows.point(sheet, "Signal that arrives", budget.signal_dbm.value());
    rows.point(sheet, "Level needed", needed);
    rows.step(sheet, "Location allowance", needed, wanted, budget.reliability_allowance_db.value());
    rows.margin(sheet, wanted, budget.signal_dbm.value(), budget.margin_db.value());
    noise(sheet, (left, plot.bottom() + 58.0), width, budget);
}

fn noise(sheet: &mut Sheet, at: Point, width: f64, budget: &Budget) {
    let noise = &budget.noise;
    let text = match noise.governed_by {
        NoiseSource::Environment => format!(
            "Noise floor {} dBm, set by man-made noise around the antenna: it costs {:.1} dB \
             against the receiver alone ({} dBm). The level needed is {:.1} dB above the floor.",
            level(noise.total_dbm.value()),
            noise.environment_cost_db.value(),
            level(noise.receiver_dbm.value()),
            budget.required_over_noise_db.value()
        ),
        NoiseSource::Receiver => format!(
            "Noise floor {} dBm, set by the receiver itself; noise around the antenna ({} dBm) \
             costs {:.1} dB. The level needed is {:.1} dB above the floor.",
            level(noise.total_dbm.value()),
            level(noise.environment_dbm.value()),
            noise.environment_cost_db.value(),
            budget.required_over_noise_db.value()
        ),
    };
    let roof = match noise.roof_dbm {
        Some(_) => format!(
            " Transmitters on the same roof add {:.1} dB to it.",
            noise.roof_cost_db.value()
        ),
        None => String::new(),
    };
    let at_times = noise.desense_at_times.map_or_else(String::new, |desense| {
        format!(
            " While transmitters on the same roof send, {} of the time, it is {:.1} dB higher.",
            words::share_of_time(desense.share),
            desense.cost_db.value()
        )
    });
    sheet.paragraph(at, &(text + &roof + &at_times), &Lettering::new(19.0).quiet(), width, 25.0);
}

/// The levels' axis.
struct Chart {
    frame: Frame,
    low: f64,
    high: f64,
    noise: f64,
}

impl Chart {
    fn new(frame: Frame, budget: &Budget) -> Self {
        let wanted = budget.required_dbm + budget.reliability_allowance_db;
        let levels = budget.lines.iter().map(|l| l.level_dbm).chain([
            budget.power_dbm,
            budget.signal_dbm,
            budget.required_dbm,
            wanted,
            budget.noise.total_dbm,
        ]);
        let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
        for level in levels.map(|l| l.value()).filter(|l| l.is_finite()) {
            low = low.min(level);
            high = high.max(level);
        }
        if !(low.is_finite() && high.is_finite()) {
            (low, high) = (-150.0, 50.0);
        }
        let margin = 0.04 * (high - low).max(10.0);
        Self {
            frame,
            low: low - margin,
            high: high + margin,
            noise: budget.noise.total_dbm.value(),
        }
    }

    fn x(&self, level: f64) -> f64 {
        let share = (level - self.low) / (self.high - self.low);
        self.frame.left + share.clamp(0.0, 1.0) * self.frame.width
    }

    fn grid(&self, sheet: &mut Sheet) {
        let lettering = Lettering::new(17.0).in_colour(QUIET).aligned(Align::Middle);
        let step = axis::round_step((self.high - self.low) / 6.0);
        for value in axis::ticks(self.low, self.high, 6) {
            let x = self.x(value);
            sheet.line((x, self.frame.top), (x, self.frame.bottom()), &Pen::line(HAIRLINE, 1.0));
            sheet.text((x, self.frame.bottom() + 20.0), &axis::label(value, step), &lettering);
        }
        let unit = lettering.aligned(Align::Left);
        sheet.text((self.frame.right() + 12.0, self.frame.bottom() + 20.0), "dBm", &unit);
        let x = self.x(self.noise);
        let pen = Pen::line(INK, 1.8).dashed("3 5");
        sheet.line((x, self.frame.top), (x, self.frame.bottom()), &pen);
        let lettering = Lettering::new(17.0).oblique();
        let text = "noise floor";
        sheet.text((x + 7.0, self.frame.top + 18.0), text, &lettering);
    }
}

/// Rows, one below the other.
struct Rows<'a> {
    chart: &'a Chart,
    left: f64,
    right: f64,
    line: usize,
}

impl Rows<'_> {
    /// Starts the next row: its name and number; returns its middle.
    fn next(&mut self, sheet: &mut Sheet, name: &str, number: &str, bold: bool) -> f64 {
        let middle = self.chart.frame.top + (self.line as f64 + 0.5) * ROW;
        self.line += 1;
        let plain = Lettering::new(20.0);
        let lettering = if bold { plain.bold() } else { plain };
        sheet.text_within((self.left, middle + 7.0), name, &lettering, NAMES - 18.0);
        sheet.text((self.right, middle + 7.0), number, &lettering.aligned(Align::Right));
        middle
    }

    /// A level.
    fn point(&mut self, sheet: &mut Sheet, name: &str, at: f64) {
        let middle = self.next(sheet, name, &level(at), true);
        let x = self.chart.x(at);
        let half = ROW * 0.36;
        sheet.line((x, middle - half), (x, middle + half), &Pen::line(INK, 5.0));
    }

    /// A change from one level to the next.
    fn step(&mut self, sheet: &mut Sheet, name: &str, before: f64, after: f64, change: f64) {
        let middle = self.next(sheet, name, &signed(change), false);
        let fill = if change >= 0.0 { GAIN } else { LOSS };
        self.bar(sheet, middle, before, after, fill, INK);
        let x = self.chart.x(after);
        let link = Pen::line(QUIET, 1.2);
        sheet.line((x, middle + ROW * 0.32), (x, middle + ROW * 0.68), &link);
    }

    /// What is left over, or lacking: hollow, so that a shortfall shows on any copy.
    fn margin(&mut self, sheet: &mut Sheet, wanted: f64, signal: f64, margin: f64) {
        let name = if margin >= 0.0 { "Margin in hand, dB" } else { "Margin: short by, dB" };
        let middle = self.next(sheet, name, &signed(margin), true);
        let fill = if margin >= 0.0 { ACCENT } else { PAPER };
        self.bar(sheet, middle, wanted, signal, fill, ACCENT);
    }

    fn bar(
        &self,
        sheet: &mut Sheet,
        middle: f64,
        from: f64,
        to: f64,
        fill: &'static str,
        stroke: &'static str,
    ) {
        let (a, b) = (self.chart.x(from), self.chart.x(to));
        let frame = Frame {
            left: a.min(b),
            top: middle - ROW * 0.32,
            width: (a - b).abs().max(2.0),
            height: ROW * 0.64,
        };
        sheet.rectangle(frame, 0.0, &Pen::line(stroke, 1.4).filled(fill));
    }
}
