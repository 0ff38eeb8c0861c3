//! How long each station's packs last against the hours in which they are wanted: a bar a
//! station, the poor case in full black, and below them a pack of each crew against its
//! shift.

use jiff::ZonedDateTime;
use perchline_assessment::Energy;
use perchline_plan::{Plan, UnitSystem};
use perchline_power::{CrewNeeds, StationBudget};
use perchline_units::Hours;

use super::answers::{packs_last, packs_not_known};
use super::cautions::{Output, in_paragraphs};
use super::outputs::{OutboxSlot, OutputError};
use super::palette::{ACCENT, HAIRLINE, INK, PAPER, QUIET};
use super::power_tables::{POOR_CASE, TYPICAL, clock, lasts, remedy};
use super::sheet_layout::{Foot, Head, PLOT_BORDER, SheetLayout};
use super::svg_page::{Align, Frame, Lettering, Pen, Sheet, render};
use super::time_axis::TimeAxis;
use super::words::percent;
use super::{Provenance, ReportError};

const WIDTH: u32 = 2000;
/// Where bars begin and end; names stand left of them, what they come to right.
const BARS: (f64, f64) = (520.0, 1500.0);
/// Where what they come to begins.
const ENDS: f64 = 1530.0;
/// Height of a bar, and of a row with its two lines of text.
const BAR: f64 = 46.0;
const ROW: f64 = 98.0;
/// Where the first row begins.
const TOP: f64 = 332.0;
/// Height of the heading over the crews with its hours.
const CREWS: f64 = 130.0;
/// Height of the legend.
const LEGEND: f64 = 70.0;

/// What the plot shows.
#[derive(Debug, Clone, Copy)]
pub struct PowerPlot<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What lasts how long.
    pub energy: &'a Energy,
    /// What it was made with.
    pub provenance: &'a Provenance,
}

/// Writes the plot as a PNG 2000 pixels wide.
pub(super) fn write_png(content: &PowerPlot<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(&draw(content)?)
}

/// Writes the plot as an SVG document.
pub(super) fn write_svg(content: &PowerPlot<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.bytes(draw_svg(content).as_bytes())
}

/// The plot as a PNG 2000 pixels wide.
///
/// # Errors
/// [`ReportError`] when the picture cannot be made.
pub fn draw(content: &PowerPlot<'_>) -> Result<Vec<u8>, ReportError> {
    render(&draw_svg(content))
}

/// What the plot shows, for whoever does not see it.
#[must_use]
pub fn in_words(energy: &Energy) -> String {
    let stations = energy.stations.iter().map(|budget| {
        format!(
            "{}, wanted {} to {}: {}, {}",
            budget.station,
            budget.on.strftime("%H:%M"),
            clock(&budget.off, &budget.on),
            poor_end(budget),
            expected_end(budget)
        )
    });
    let crews = energy.crews.iter().map(|crew| {
        format!("{}, shift of {}: {}", crew.crew, crew.shift_h.clock(), pack_runs(crew))
    });
    let not_known = Some(packs_not_known(energy)).filter(|told| !told.is_empty());
    let not_known = not_known.map(|told| told.trim_end_matches('.').to_owned());
    let all: Vec<String> = stations.chain(crews).chain(not_known).collect();
    format!("Bars from switching on to switching off. {}.", all.join("; "))
}

/// The plot as an SVG document.
#[must_use]
pub fn draw_svg(content: &PowerPlot<'_>) -> String {
    let PowerPlot { plan, energy, provenance } = *content;
    let (stations, crews) = (&energy.stations, &energy.crews);
    let care = in_paragraphs(plan, Output::Power);
    let care: Vec<&str> = care.iter().map(String::as_str).collect();
    let notes: Vec<String> = stations
        .iter()
        .filter_map(|budget| Some(format!("{}: {}", budget.station, remedy(budget)?)))
        .collect();
    let made = provenance.line();
    let foot =
        Foot { notes: &notes, caveats: TYPICAL, care: &care, made: Some(&made), remark: None };
    let stations_end = TOP + ROW * stations.len() as f64;
    let crews_end = match crews.len() {
        0 => stations_end,
        count => stations_end + CREWS + ROW * count as f64,
    };
    let foot_top = crews_end + LEGEND + 40.0;
    let mut layout = SheetLayout::plot(WIDTH, foot_top + foot.height_on_plot(WIDTH));
    head(&mut layout, content);
    let sheet = layout.sheet();
    let from = stations.iter().map(|budget| &budget.on).min();
    let to = stations.iter().map(|budget| &budget.off).max();
    if let (Some(from), Some(to)) = (from, to) {
        let axis = TimeAxis::new(from, to.max(&plan.event.tear_down));
        hours(sheet, plan, &axis, stations_end);
        for (row, budget) in stations.iter().enumerate() {
            station(sheet, (budget, plan.units), &axis, TOP + ROW * row as f64);
        }
    }
    if !crews.is_empty() {
        shifts(sheet, crews, stations_end);
    }
    legend(sheet, crews_end + LEGEND - 24.0);
    layout.foot_from(foot_top, &foot);
    layout.into_svg()
}

fn head(layout: &mut SheetLayout, content: &PowerPlot<'_>) {
    let stations = &content.energy.stations;
    let all = stations.len() + content.energy.stations_not_known();
    let last = stations.iter().filter(|budget| budget.poor.lasts()).count();
    let title = match (all, last) {
        (0, _) => "Packs of the hand-held radios".to_owned(),
        (1, 1) => "The station should run to the end in the poor case".to_owned(),
        (1, _) if stations.is_empty() => {
            "Nobody knows whether the station runs to the end".to_owned()
        }
        (all, _) if stations.is_empty() => {
            format!("Nobody knows whether the {all} stations run to the end")
        }
        (1, _) => "The station dies before the end in the poor case".to_owned(),
        (all, last) if all == last => {
            format!("All {all} stations should run to the end in the poor case")
        }
        (all, last) => format!("{last} of {all} stations should run to the end in the poor case"),
    };
    let subtitle = format!(
        "{}  ·  {}  ·  {POOR_CASE}",
        content.plan.event.name,
        content.plan.event.starts.strftime("%A %-d %B %Y")
    );
    let lead = [packs_last(stations), packs_not_known(content.energy)];
    let lead: Vec<&str> = lead.iter().map(String::as_str).filter(|text| !text.is_empty()).collect();
    let lead = lead.join(" ");
    layout.head(&Head {
        title: &title,
        subtitle: &subtitle,
        lead: &[(&lead, Lettering::new(25.0).bold())],
        figure: None,
    });
}

/// Where a moment stands.
fn across(axis: &TimeAxis<'_>, at: &ZonedDateTime) -> f64 {
    BARS.0 + (BARS.1 - BARS.0) * axis.part(at)
}

/// The hours, the event as a ground behind the bars, and when the last radio goes down.
fn hours(sheet: &mut Sheet, plan: &Plan, axis: &TimeAxis<'_>, bottom: f64) {
    let event = &plan.event;
    let (starts, ends) = (across(axis, &event.starts), across(axis, &event.ends));
    let ground =
        Frame { left: starts, top: TOP - 22.0, width: ends - starts, height: bottom - TOP + 14.0 };
    sheet.rectangle(ground, 0.0, &Pen::fill(GROUND));
    let small = Lettering::new(21.0);
    let middle = small.aligned(Align::Middle);
    for (at, hour) in axis.hours() {
        let x = across(axis, &at);
        sheet.line((x, TOP - 22.0), (x, bottom - 8.0), &Pen::line(HAIRLINE, 1.4));
        sheet.text((x, TOP - 32.0), &hour, &middle);
    }
    let label = format!(
        "event {} to {}",
        event.starts.strftime("%H:%M"),
        clock(&event.ends, &event.starts)
    );
    sheet.text_within((PLOT_BORDER, TOP - 32.0), &label, &small.quiet(), BARS.0 - 110.0);
    let down = across(axis, &event.tear_down);
    sheet.line((down, TOP - 22.0), (down, bottom - 8.0), &Pen::line(INK, 3.0));
    let label = format!("last radio down {}", clock(&event.tear_down, &event.starts));
    sheet.text_within((ENDS, TOP - 32.0), &label, &small.quiet(), room_at_end());
}

/// The hours of the event behind the bars.
const GROUND: &str = "#ece8de";
/// What is hoped for beyond the poor case.
const HOPED: &str = "#a9adb6";

fn room_at_end() -> f64 {
    f64::from(WIDTH) - PLOT_BORDER - ENDS
}

/// How a station's pack ends in the poor case.
fn poor_end(budget: &StationBudget) -> String {
    match budget.poor.dies_at.as_ref().filter(|_| !budget.poor.lasts()) {
        Some(dies) => format!("dies {}", clock(dies, &budget.on)),
        None => format!("{} left at the end", percent(budget.poor.left_at_end)),
    }
}

/// How it ends as expected.
fn expected_end(budget: &StationBudget) -> String {
    match budget.expected.dies_at.as_ref().filter(|_| !budget.expected.lasts()) {
        Some(dies) => format!("as expected {}", clock(dies, &budget.on)),
        None => format!("as expected {} left", percent(budget.expected.left_at_end)),
    }
}

fn station(
    sheet: &mut Sheet,
    (budget, units): (&StationBudget, UnitSystem),
    axis: &TimeAxis<'_>,
    top: f64,
) {
    let (from, to) = (across(axis, &budget.on), across(axis, &budget.off));
    let until =
        |dies: &Option<ZonedDateTime>| dies.as_ref().map_or(to, |at| across(axis, at)).min(to);
    let pack = format!(
        "{} x {}, {:.1}; {}",
        budget.packs,
        budget.pack,
        budget.rated_ah,
        units.temperatures(budget.temperatures_c)
    );
    names(sheet, top, &budget.station, &pack);
    bar(sheet, (from, to), (until(&budget.poor.dies_at), until(&budget.expected.dies_at)), top);
    if !budget.poor.lasts() {
        cross(sheet, (until(&budget.poor.dies_at), top + BAR / 2.0));
    }
    for change in &budget.changes {
        mark_change(sheet, across(axis, change), top);
    }
    ends(sheet, top, &poor_end(budget), &expected_end(budget), !budget.poor.lasts());
}

/// What a row is about.
fn names(sheet: &mut Sheet, top: f64, name: &str, pack: &str) {
    let room = BARS.0 - PLOT_BORDER - 24.0;
    sheet.text_within((PLOT_BORDER, top + 22.0), name, &Lettering::new(26.0).bold(), room);
    sheet.text_shrunk((PLOT_BORDER, top + 50.0), pack, &Lettering::new(20.0).quiet(), room, 0.75);
}

/// What a row comes to: the poor case, then what is expected.
fn ends(sheet: &mut Sheet, top: f64, poor: &str, expected: &str, fails: bool) {
    let lettering = Lettering::new(26.0).bold();
    let lettering = if fails { lettering.in_colour(ACCENT) } else { lettering };
    sheet.text_within((ENDS, top + 22.0), poor, &lettering, room_at_end());
    let small = Lettering::new(20.0).quiet();
    sheet.text_within((ENDS, top + 50.0), expected, &small, room_at_end());
}

/// A bar of what is wanted: black as far as the poor case runs, grey as far as is
/// expected, empty behind.
fn bar(sheet: &mut Sheet, (from, to): (f64, f64), (poor, expected): (f64, f64), top: f64) {
    let whole = Frame { left: from, top, width: to - from, height: BAR };
    sheet.rectangle(whole, 0.0, &Pen::line(INK, 2.4).dashed("9 7").filled(PAPER));
    let hoped = Frame { left: from, width: (expected.max(poor) - from).max(0.0), ..whole };
    sheet.rectangle(hoped, 0.0, &Pen::fill(HOPED));
    let runs = Frame { left: from, width: (poor - from).max(0.0), ..whole };
    sheet.rectangle(runs, 0.0, &Pen::fill(INK));
}

/// Where a pack dies.
fn cross(sheet: &mut Sheet, (x, y): (f64, f64)) {
    for (pen, half) in [(Pen::line(PAPER, 11.0), 17.0), (Pen::line(ACCENT, 6.0), 16.0)] {
        sheet.line((x - half, y - half), (x + half, y + half), &pen);
        sheet.line((x - half, y + half), (x + half, y - half), &pen);
    }
}

/// Where packs are changed.
fn mark_change(sheet: &mut Sheet, x: f64, top: f64) {
    sheet.line((x, top - 9.0), (x, top + BAR + 9.0), &Pen::line(PAPER, 9.0));
    sheet.line((x, top - 9.0), (x, top + BAR + 9.0), &Pen::line(ACCENT, 4.0));
}

/// How long a pack of a crew runs against its shift.
fn pack_runs(crew: &CrewNeeds) -> String {
    let runs = format!("a pack runs {} in the poor case", lasts(crew.poor_pack_lasts_h));
    match crew.packs_each {
        Some(1) => runs,
        Some(each) => format!("{runs}, so {each} packs each"),
        None => format!("{runs}; no number of packs lasts the shift"),
    }
}

/// A pack of each crew against its shift, in hours from its beginning.
fn shifts(sheet: &mut Sheet, crews: &[CrewNeeds], above: f64) {
    let heading = Lettering::new(26.0).bold();
    sheet.text((PLOT_BORDER, above + 58.0), "Hand-held radios: one pack", &heading);
    let longest = crews.iter().map(|crew| crew.shift_h.value()).fold(1.0, f64::max);
    let x = |hours: f64| BARS.0 + (BARS.1 - BARS.0) * (hours / longest).clamp(0.0, 1.0);
    let (top, small) = (above + CREWS, Lettering::new(21.0));
    let bottom = top + ROW * crews.len() as f64;
    let step = (longest / 12.0).ceil().max(1.0);
    let mut hour = 0.0;
    while hour <= longest {
        sheet.line((x(hour), top - 22.0), (x(hour), bottom - 30.0), &Pen::line(HAIRLINE, 1.4));
        let text = format!("{hour:.0} h");
        sheet.text((x(hour), top - 32.0), &text, &small.aligned(Align::Middle));
        hour += step;
    }
    for (row, crew) in crews.iter().enumerate() {
        let top = top + ROW * row as f64;
        let told = format!("{} people, shift of {}", crew.people, crew.shift_h.clock());
        names(sheet, top, &crew.crew, &told);
        let shift = crew.shift_h.value();
        let until = |runs: Option<Hours>| x(runs.map_or(shift, |h| h.value().min(shift)));
        let (poor, expected) = (until(crew.poor_pack_lasts_h), until(crew.pack_lasts_h));
        bar(sheet, (BARS.0, x(shift)), (poor, expected), top);
        let dies = crew.poor_pack_lasts_h.is_some_and(|runs| runs < crew.shift_h);
        if dies {
            cross(sheet, (poor, top + BAR / 2.0));
        }
        let each = match crew.packs_each {
            Some(1) => "1 pack each".to_owned(),
            Some(each) => format!("{each} packs each"),
            None => "no number of packs does".to_owned(),
        };
        let expected = format!("as expected {}", lasts(crew.pack_lasts_h));
        ends(sheet, top, &each, &expected, crew.packs_each.is_none());
    }
}

/// What the bars mean.
fn legend(sheet: &mut Sheet, base: f64) {
    let plain = Lettering::new(21.0);
    let mut x = PLOT_BORDER;
    let mut item = |sheet: &mut Sheet, text: &str, mark: &dyn Fn(&mut Sheet, f64, f64)| {
        mark(sheet, x, base - 8.0);
        sheet.text((x + 58.0, base), text, &plain);
        x += 58.0 + plain.width(text) + 44.0;
    };
    let patch = |sheet: &mut Sheet, x: f64, y: f64, pen: Pen| {
        let frame = Frame { left: x, top: y - 13.0, width: 46.0, height: 26.0 };
        sheet.rectangle(frame, 0.0, &pen);
    };
    item(sheet, "runs in the poor case", &|sheet, x, y| patch(sheet, x, y, Pen::fill(INK)));
    item(sheet, "runs as expected", &|sheet, x, y| patch(sheet, x, y, Pen::fill(HOPED)));
    item(sheet, "wanted, but not running", &|sheet, x, y| {
        patch(sheet, x, y, Pen::line(INK, 2.4).dashed("9 7").filled(PAPER));
    });
    item(sheet, "pack dies", &|sheet, x, y| cross(sheet, (x + 24.0, y)));
    item(sheet, "change packs", &|sheet, x, y| {
        sheet.line((x + 24.0, y - 18.0), (x + 24.0, y + 18.0), &Pen::line(ACCENT, 4.0));
    });
    item(sheet, "the event", &|sheet, x, y| {
        patch(sheet, x, y, Pen::line(QUIET, 1.2).filled(GROUND));
    });
    item(sheet, "last radio down", &|sheet, x, y| {
        sheet.line((x + 24.0, y - 18.0), (x + 24.0, y + 18.0), &Pen::line(INK, 3.0));
    });
}
