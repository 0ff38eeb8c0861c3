//! The plot of one link: the ground between its ends, and both power budgets.

mod profile;
mod waterfall;

use perchline_link::{BudgetLine, PathStudy};
use perchline_plan::{Houses, UnitSystem};

use super::answers::{Against, path_verdict};
use super::outputs::{OutboxSlot, OutputError};
use super::palette;
use super::sheet_layout::{Foot, Head, PLOT_BORDER, SheetLayout};
use super::svg_page::{Align, Frame, Lettering, Pen, Sheet, render};
use super::typeface::printable;
use super::words;
use super::{Provenance, ReportError, axis};

const WIDTH: u32 = 2000;
/// The profile's plotting area.
const PROFILE: Frame = Frame { left: 170.0, top: 284.0, width: 1750.0, height: 430.0 };

/// What the plot shows.
#[derive(Debug, Clone, Copy)]
pub struct PathPlot<'a> {
    /// The link.
    pub study: &'a PathStudy,
    /// What keeps the station off the site, whatever the link would come to.
    pub against: &'a Against,
    /// The units of the report.
    pub units: UnitSystem,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// The plot as a PNG 2000 pixels wide and about 1500 high; a budget of many
/// lines makes it higher.
///
/// # Errors
/// [`ReportError`] when the picture cannot be made.
pub fn draw(content: &PathPlot<'_>) -> Result<Vec<u8>, ReportError> {
    render(&draw_svg(content))
}

/// Writes it as [`draw`] makes it.
pub(super) fn write_png(content: &PathPlot<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&draw(content)?)
}

/// The plot as an SVG document.
#[must_use]
pub fn draw_svg(content: &PathPlot<'_>) -> String {
    let PathPlot { study, against, units, provenance } = *content;
    let edges = profile::edges_height(study.edges.len());
    let budgets_top = PROFILE.bottom() + 120.0 + edges;
    let lines = study.budgets.talk_in.lines.len().max(study.budgets.talk_out.lines.len());
    let foot_top = budgets_top + waterfall::height(lines) + 44.0;
    let foot = Foot {
        notes: &[],
        caveats: &format!(
            "{} Levels are medians at the receiver's input.",
            words::foot(houses(study)).join(" ")
        ),
        care: &[],
        made: Some(&provenance.line()),
        remark: None,
    };
    let mut layout = SheetLayout::plot(WIDTH, foot_top + foot.height_on_plot(WIDTH));
    head(&mut layout, study, against, units);
    let sheet = layout.sheet();
    profile::draw(sheet, PROFILE, study, units);
    let gap = 90.0;
    let half = (sheet.whole().width - 2.0 * PLOT_BORDER - gap) / 2.0;
    for (left, budget) in
        [(PLOT_BORDER, &study.budgets.talk_in), (PLOT_BORDER + half + gap, &study.budgets.talk_out)]
    {
        waterfall::draw(sheet, (left, budgets_top), half, study, budget);
    }
    layout.foot_from(foot_top, &foot);
    layout.into_svg()
}

fn head(layout: &mut SheetLayout, study: &PathStudy, against: &Against, units: UnitSystem) {
    let facts = format!(
        "Channel {}  ·  {} at {:.0}° from true north  ·  method {}",
        study.channel,
        units.distance(study.distance),
        study.bearing.value(),
        words::method_of(study)
    );
    let sentence = Lettering::new(29.0).bold().in_colour(palette::ACCENT);
    layout.head(&Head {
        title: &format!("{} to {}", study.from.name, study.to.name),
        subtitle: &facts,
        lead: &[(&path_verdict(study, against, units), sentence)],
        figure: None,
    });
}

/// A number with its sign, the minus as long as the plus.
fn signed(value: f64) -> String {
    let number = axis::minus(&format!("{value:.1}"));
    if number.starts_with('−') { number } else { format!("+{number}") }
}

/// The same without a plus.
fn level(value: f64) -> String {
    axis::minus(&format!("{value:.1}"))
}

/// A text on a small white ground, so that lines behind do not cut it.
fn plate(sheet: &mut Sheet, at: (f64, f64), text: &str, lettering: &Lettering) {
    let width = lettering.width(&printable(text));
    let left = match lettering.align {
        Align::Left => at.0,
        Align::Middle => at.0 - width / 2.0,
        Align::Right => at.0 - width,
    };
    let ground = Frame {
        left: left - 4.0,
        top: at.1 - lettering.size * 0.85,
        width: width + 8.0,
        height: lettering.size * 1.15,
    };
    sheet.rectangle(ground, 3.0, &Pen::fill(palette::PAPER).faint(0.85));
    sheet.text(at, text, lettering);
}

/// What is known of the houses along a path.
fn houses(study: &PathStudy) -> Houses {
    let stated = |line: &BudgetLine| line.label.ends_with("(P.2108)");
    let budgets = [&study.budgets.talk_in, &study.budgets.talk_out];
    if !study.profile.cover().is_empty() {
        Houses::OnFile
    } else if budgets.iter().any(|budget| budget.lines.iter().any(stated)) {
        Houses::Stated
    } else {
        Houses::Unknown
    }
}
