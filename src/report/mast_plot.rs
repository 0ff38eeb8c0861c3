//! The plot of coverage against the height of masts, one curve a site.

use perchline_plan::{Plan, UnitSystem};
use perchline_siting::masts::MastStudy;

use super::cautions::{Output, in_paragraphs};
use super::mast_tables::{feed_line_rule, knee_rule};
use super::outputs::{OutboxSlot, OutputError};
use super::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use super::sheet_layout::{Foot, Head, PLOT_BORDER, SheetLayout};
use super::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, outline, render};
use super::words;
use super::{Provenance, axis};

const WIDTH: u32 = 2000;
/// The plotting area; the curves' names stand right of it.
const PLOT: Frame = Frame { left: 180.0, top: 250.0, width: 1270.0, height: 760.0 };
/// Curves are told apart by dash as well as by their names; the first is solid.
const DASHES: [&str; 6] = ["", "18 8", "4 7", "26 7 4 7", "10 5", "30 8 4 6 4 8"];
/// Height that a curve's name with its line of facts takes.
const LABEL: f64 = 58.0;

/// What the plot shows.
#[derive(Debug, Clone, Copy)]
pub struct MastPlot<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// Name of the channel.
    pub channel: &'a str,
    /// The sites' studies, a curve each.
    pub studies: &'a [&'a MastStudy],
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Writes the plot as a PNG 2000 pixels wide.
pub(super) fn write_png(content: &MastPlot<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&render(&drawn(content))?)
}

/// Writes the plot as an SVG document.
pub(super) fn write_svg(content: &MastPlot<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(drawn(content).as_bytes())
}

/// The plot as an SVG document.
fn drawn(content: &MastPlot<'_>) -> String {
    let MastPlot { plan, channel, studies, provenance } = *content;
    // Names need their room however many curves there are.
    let names = studies.len() as f64 * LABEL;
    let plot = Frame { height: PLOT.height.max(names), ..PLOT };
    // The cautions below, a line or two each.
    let care = in_paragraphs(plan, Output::Masts);
    let height = plot.bottom() + 290.0 + 46.0 * care.len() as f64;
    let mut layout = SheetLayout::plot(WIDTH, height);
    let facts =
        format!("{}  ·  channel {channel}  ·  method {}", plan.event.name, provenance.method);
    layout.head(&Head {
        title: "How much mast",
        subtitle: &facts,
        lead: &[(
            "Weighted coverage, both directions, over posts, areas and routes",
            Lettering::new(25.0).bold(),
        )],
        figure: None,
    });
    let scale = Scale::of(plot, studies, plan.units);
    scale.axes(layout.sheet());
    curves(layout.sheet(), &scale, studies, plan.units);
    let below = plot.bottom() + 100.0;
    let care: Vec<&str> = care.iter().map(String::as_str).collect();
    legend(layout.sheet(), below);
    layout.foot_from(
        below + 44.0,
        &Foot {
            notes: &[knee_rule(plan.units), feed_line_rule(plan).to_owned()],
            caveats: &words::foot(plan.houses()).join(" "),
            care: &care,
            made: Some(&provenance.line()),
            remark: None,
        },
    );
    layout.into_svg()
}

/// From heights in the report's units and percent to points on the sheet.
struct Scale {
    plot: Frame,
    highest: f64,
    low: f64,
    high: f64,
    units: UnitSystem,
}

impl Scale {
    fn of(plot: Frame, studies: &[&MastStudy], units: UnitSystem) -> Self {
        let all = || studies.iter().flat_map(|s| &s.heights);
        let percent = || all().map(|s| s.weighted_probability * 100.0);
        let low = percent().fold(f64::INFINITY, f64::min);
        let high = percent().fold(f64::NEG_INFINITY, f64::max);
        let (low, high) = if low <= high { (low, high) } else { (0.0, 100.0) };
        let margin = ((high - low) * 0.06).max(1.0);
        Self {
            plot,
            highest: all().map(|s| in_units(s.mast_m.value(), units)).fold(1.0, f64::max),
            low: (low - margin).max(0.0),
            high: (high + margin).min(100.0),
            units,
        }
    }

    fn at(&self, metres: f64, probability: f64) -> Point {
        let across = in_units(metres, self.units) / self.highest;
        let up = (probability * 100.0 - self.low) / (self.high - self.low);
        (self.plot.left + across * self.plot.width, self.plot.bottom() - up * self.plot.height)
    }

    fn axes(&self, sheet: &mut Sheet) {
        let plot = self.plot;
        let small = Lettering::new(22.0);
        let percent = axis::ticks(self.low, self.high, 8);
        let step = percent.first().zip(percent.get(1)).map_or(1.0, |(a, b)| b - a);
        for value in percent {
            let (_, y) = self.at(0.0, value / 100.0);
            sheet.line((plot.left, y), (plot.right(), y), &Pen::line(HAIRLINE, 1.4));
            let text = format!("{} %", axis::label(value, step));
            sheet.text((plot.left - 28.0, y + 7.0), &text, &small.aligned(Align::Right));
        }
        let heights = axis::ticks(0.0, self.highest, 15);
        let step = heights.first().zip(heights.get(1)).map_or(1.0, |(a, b)| b - a);
        for value in heights {
            let x = plot.left + value / self.highest * plot.width;
            sheet.line((x, plot.bottom()), (x, plot.bottom() + 9.0), &Pen::line(INK, 1.8));
            let text = axis::label(value, step);
            sheet.text((x, plot.bottom() + 36.0), &text, &small.aligned(Align::Middle));
        }
        sheet.line((plot.left, plot.bottom()), (plot.right(), plot.bottom()), &Pen::line(INK, 2.0));
        let unit = match self.units {
            UnitSystem::Metric => "m",
            UnitSystem::Us => "ft",
        };
        let text = format!("antenna over the roof, {unit}");
        sheet.text((plot.left, plot.bottom() + 70.0), &text, &Lettering::new(22.0).quiet());
    }
}

fn in_units(metres: f64, units: UnitSystem) -> f64 {
    match units {
        UnitSystem::Metric => metres,
        UnitSystem::Us => metres / perchline_units::METRES_PER_FOOT,
    }
}

/// The curves, their marks, and their names at their right ends, moved apart.
fn curves(sheet: &mut Sheet, scale: &Scale, studies: &[&MastStudy], units: UnitSystem) {
    let point = |study: &MastStudy, mast: perchline_units::Metres| {
        let score = study.heights.iter().rev().find(|s| s.mast_m <= mast)?;
        Some(scale.at(score.mast_m.value(), score.weighted_probability))
    };
    let mut ends: Vec<(usize, Point)> = Vec::new();
    for (number, study) in studies.iter().enumerate() {
        let line: Vec<Point> = study
            .heights
            .iter()
            .map(|s| scale.at(s.mast_m.value(), s.weighted_probability))
            .collect();
        ends.extend(line.last().map(|end| (number, *end)));
        let path = outline(line, false);
        sheet.path(&path, &Pen::line(PAPER, 8.0).faint(0.8));
        sheet.path(&path, &Pen::line(INK, 3.6).dashed(dash(number)));
    }
    for study in studies {
        if let Some((x, y)) = point(study, study.planned_mast_m) {
            sheet.line((x, y - 13.0), (x, y + 13.0), &Pen::line(INK, 4.0));
        }
        if let Some(at) = study.all_must_posts_from_m.and_then(|m| point(study, m)) {
            square(sheet, at);
        }
        if let Some(at) = point(study, study.knee_m) {
            knee(sheet, at);
        }
    }
    for ((number, end), y) in apart(ends, scale.plot) {
        let Some(study) = studies.get(number) else { continue };
        let x = scale.plot.right() + 70.0;
        sheet.line(end, (x - 40.0, y), &Pen::line(QUIET, 1.4));
        sheet.line((x - 40.0, y), (x - 8.0, y), &Pen::line(INK, 3.6).dashed(dash(number)));
        let name = Lettering::new(25.0).bold();
        let room = sheet.whole().right() - PLOT_BORDER - x;
        sheet.text_within((x, y + 2.0), &study.site, &name, room);
        let must = match study.all_must_posts_from_m {
            Some(from) => format!("all must-have posts from {}", units.height(from)),
            None => format!("never {}", missed(study)),
        };
        let small = Lettering::new(19.0).quiet();
        // The knee is on the curve too; what is refused is nowhere else.
        let text = study.refused_from_m.map_or_else(
            || format!("knee {}; {must}", units.height(study.knee_m)),
            |from| format!("REFUSED from {} on: power line", units.height(from)),
        );
        sheet.text_within((x, y + 26.0), &text, &small, room);
    }
}

/// Must-have posts that no height serves, in few words.
fn missed(study: &MastStudy) -> String {
    let posts = study.still_missing.iter().map(|m| match m.missing_db {
        Some(missing) => format!("{}, by {missing:.1}", m.post),
        None => m.post.clone(),
    });
    posts.collect::<Vec<_>>().join("; ")
}

fn dash(number: usize) -> &'static str {
    DASHES.get(number % DASHES.len()).copied().unwrap_or_default()
}

/// Heights on the sheet for the names, near their curves' ends and clear of
/// each other.
fn apart(mut ends: Vec<(usize, Point)>, plot: Frame) -> Vec<((usize, Point), f64)> {
    ends.sort_by(|a, b| a.1.1.total_cmp(&b.1.1));
    let mut places: Vec<f64> = Vec::new();
    for (_, (_, y)) in &ends {
        let free = places.last().map_or(plot.top, |last| last + LABEL);
        places.push(y.max(free));
    }
    // What ran out at the lower end moves up again.
    let mut limit = plot.bottom();
    for place in places.iter_mut().rev() {
        *place = place.min(limit);
        limit = *place - LABEL;
    }
    ends.into_iter().zip(places).collect()
}

fn knee(sheet: &mut Sheet, at: Point) {
    sheet.circle(at, 10.0, &Pen::line(ACCENT, 4.0).filled(PAPER));
}

fn square(sheet: &mut Sheet, (x, y): Point) {
    let frame = Frame { left: x - 14.0, top: y - 14.0, width: 28.0, height: 28.0 };
    sheet.rectangle(frame, 0.0, &Pen::line(INK, 2.0).filled(ACCENT));
}

fn legend(sheet: &mut Sheet, base: f64) {
    let plain = Lettering::new(21.0);
    let mut x = PLOT_BORDER + 14.0;
    let mut item = |sheet: &mut Sheet, text: &str, mark: &dyn Fn(&mut Sheet, Point)| {
        mark(sheet, (x, base - 7.0));
        sheet.text((x + 28.0, base), text, &plain);
        x += plain.width(text) + 90.0;
    };
    item(sheet, "knee", &|sheet, at| knee(sheet, at));
    item(sheet, "every must-have post works from here", &|sheet, at| square(sheet, at));
    item(sheet, "the plan's mast", &|sheet, (x, y)| {
        sheet.line((x, y - 13.0), (x, y + 13.0), &Pen::line(INK, 4.0));
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_never_touch_and_stay_beside_the_plot() {
        let ends: Vec<(usize, Point)> =
            (0..13).map(|i| (i, (900.0, 300.0 + (i % 3) as f64))).collect();
        let placed = apart(ends, PLOT);
        for pair in placed.windows(2) {
            assert!(pair[1].1 - pair[0].1 >= LABEL - 1e-9);
        }
        assert!(placed.iter().all(|(_, y)| (PLOT.top - 1e-9..=PLOT.bottom()).contains(y)));
    }
}
