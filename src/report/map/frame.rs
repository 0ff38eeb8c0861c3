//! The frame with its coordinates, the scale bar and the north arrow.

use crate::ReportError;
use crate::axis;
use crate::palette::{INK, PAPER, QUIET};
use crate::sheet_layout::{MAP_ROOM, MAP_SIZE};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, outline};
use perchline_plan::{Plan, ReferenceGrid, UnitSystem};
use perchline_units::METRES_PER_MILE;
use perchline_units::{Degrees, METRES_PER_FOOT, Metres};

use super::georeference::MapFrame;
use super::grid_lines::GridLines;

/// Points along an edge between which a meridian or parallel is looked for.
const SAMPLES: usize = 128;
/// Size of the coordinates' lettering.
const TICK_SIZE: f64 = 18.0;
/// Room along an edge that one coordinate needs.
const TICK_ROOM: f64 = 210.0;
/// Longest scale bar, and its greatest share of the width that it has with the arrow.
const BAR_ROOM: f64 = 420.0;
const BAR_SHARE: f64 = 0.28;
/// Size of its numbers.
const BAR_SIZE: f64 = 20.0;

/// Pixels of a map's sheet on a metre of A4 paper across (ISO 216: 297 mm).
const PIXELS_PER_PAPER_METRE: f64 = MAP_SIZE.0 as f64 / 0.297;

/// Draws the map's frame and its coordinates.
pub fn border(sheet: &mut Sheet, map: &MapFrame) -> Result<(), ReportError> {
    coordinates(sheet, map)?;
    sheet.rectangle(map.frame(), 0.0, &Pen::line(INK, 2.4));
    Ok(())
}

/// Draws what stands below the map, and `said` of the names that found no place on it.
pub fn below(
    sheet: &mut Sheet,
    map: &MapFrame,
    plan: &Plan,
    said: Option<&str>,
) -> Result<(), ReportError> {
    let units = plan.units;
    let frame = map.frame();
    let base = frame.bottom() + 74.0;
    let (from, to) = bar_and_north(sheet, map, units, (MAP_ROOM.left, MAP_ROOM.right()), base)?;
    let told = scale_and_grid(map, plan.map.grid)?;
    let small = Lettering::new(TICK_SIZE).quiet();
    let fits = small.width(&told) <= to - from;
    if fits {
        sheet.text((from, base + 8.0), &told, &small);
    }
    // Below, what found no room beside the bar.
    let told = (!fits).then_some(told.as_str());
    let said: Vec<&str> = told.into_iter().chain(said).collect();
    if !said.is_empty() {
        let text = Lettering::new(TICK_SIZE).oblique();
        let at = (MAP_ROOM.left, base + 40.0);
        sheet.text_within(at, &said.join("  ·  "), &text, MAP_ROOM.width);
    }
    Ok(())
}

/// The scale of the map where the sheet is printed on A4, to two digits.
fn scale(map: &MapFrame) -> String {
    let ground = PIXELS_PER_PAPER_METRE / map.pixels_per_metre();
    let digit = 10f64.powf(ground.log10().floor() - 1.0);
    // At most some ten millions.
    let rounded = ((ground / digit).round() * digit) as u64;
    let (thousands, rest) = (rounded / 1000, rounded % 1000);
    let number = if thousands > 0 { format!("{thousands} {rest:03}") } else { rest.to_string() };
    format!("1:{number} on A4")
}

/// What stands beside the scale bar.
fn scale_and_grid(map: &MapFrame, grid: ReferenceGrid) -> Result<String, ReportError> {
    let scale = scale(map);
    Ok(match grid_told(map, grid)? {
        Some(grid) => format!("{scale}  ·  {grid}"),
        None => scale,
    })
}

/// What is said of the grid on a map; nothing where the plan wants none.
///
/// # Errors
/// [`ReportError`] when the map's edge cannot be projected.
pub fn grid_told(map: &MapFrame, grid: ReferenceGrid) -> Result<Option<String>, ReportError> {
    Ok(match grid {
        ReferenceGrid::None => None,
        ReferenceGrid::Utm => Some(GridLines::of(map)?.map_or_else(
            || "no UTM grid here: UTM ends at 80° S and 84° N".to_owned(),
            |grid| grid.told(),
        )),
    })
}

/// The same as [`bar_and_north`], with what is said of the grid between the two; returns
/// that where it has no room there.
///
/// # Errors
/// [`ReportError`] as for [`bar_and_north`].
pub fn bar_grid_and_north(
    sheet: &mut Sheet,
    map: &MapFrame,
    plan: &Plan,
    ends: (f64, f64),
    base: f64,
) -> Result<Option<String>, ReportError> {
    let (from, to) = bar_and_north(sheet, map, plan.units, ends, base)?;
    let small = Lettering::new(TICK_SIZE).quiet();
    let told = grid_told(map, plan.map.grid)?;
    let fits = told.as_ref().filter(|told| small.width(told) <= to - from);
    if let Some(told) = fits {
        sheet.text((from, base + 8.0), told, &small);
        return Ok(None);
    }
    Ok(told)
}

/// Draws the scale bar and, right of it, the north arrow with what is said of it, on the
/// base line `base`: at the map's ends, or where the map is too narrow for both, wider
/// than it, between `left` and `right`. Returns where the room between the two begins
/// and ends.
pub fn bar_and_north(
    sheet: &mut Sheet,
    map: &MapFrame,
    units: UnitSystem,
    (left, right): (f64, f64),
    base: f64,
) -> Result<(f64, f64), ReportError> {
    let frame = map.frame();
    let lean = lean(map)?;
    let longest = BAR_ROOM.min((right - left) * BAR_SHARE);
    let bar = ScaleBar::of(map.pixels_per_metre(), units, longest);
    let (bar_width, label) = bar.size();
    let (bar_left, north_x) =
        places((frame.left, frame.right()), (left, right), bar_width + label, note_room(lean));
    bar.draw(sheet, (bar_left, base));
    north(sheet, (north_x, base - 8.0), lean);
    let free = (bar_left + bar_width + label + BETWEEN, north_x - note_room(lean) - BETWEEN);
    Ok(free)
}

/// From the middle of the north arrow to its right end.
const ARROW: f64 = 22.0;
/// Free width between the bar and what is said of north.
const BETWEEN: f64 = 24.0;

/// Where a bar begins that is so wide with its label, and where the middle of the arrow
/// is, left of which so much is said.
fn places(map: (f64, f64), room: (f64, f64), bar: f64, said: f64) -> (f64, f64) {
    let wanted = bar + BETWEEN + said + ARROW;
    let lacking = (wanted - (map.1 - map.0)).max(0.0);
    let bar_left = (map.0 - lacking / 2.0).min(room.1 - wanted).max(room.0);
    (bar_left, (map.1 - ARROW).max(bar_left + bar + BETWEEN + said))
}

/// Which edge a coordinate stands at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Edge {
    Top,
    Bottom,
    Left,
    Right,
}

impl Edge {
    fn share(self, along: f64) -> (f64, f64) {
        match self {
            Self::Top => (along, 0.0),
            Self::Bottom => (along, 1.0),
            Self::Left => (0.0, along),
            Self::Right => (1.0, along),
        }
    }

    fn is_level(self) -> bool {
        matches!(self, Self::Top | Self::Bottom)
    }
}

fn coordinates(sheet: &mut Sheet, map: &MapFrame) -> Result<(), ReportError> {
    let frame = map.frame();
    for edge in [Edge::Bottom, Edge::Top, Edge::Left, Edge::Right] {
        let shares: Vec<f64> = (0..=SAMPLES).map(|i| i as f64 / SAMPLES as f64).collect();
        let points: Vec<(f64, f64)> = shares.iter().map(|s| edge.share(*s)).collect();
        let values: Vec<f64> = map
            .positions(&points)?
            .iter()
            .map(|p| if edge.is_level() { p.longitude().value() } else { p.latitude().value() })
            .collect();
        let low = values.iter().copied().fold(f64::INFINITY, f64::min);
        let high = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let length = if edge.is_level() { frame.width } else { frame.height };
        // At most a few dozen coordinates, so the cut to a whole number is safe.
        let most = (length / TICK_ROOM).clamp(1.0, 6.0) as usize;
        let step = axis::angle_step(high - low, most);
        for value in axis::multiples(low, high, step) {
            if let Some(along) = crossing(&shares, &values, value) {
                tick(sheet, frame, edge, along, &text(edge, value, step));
            }
        }
    }
    Ok(())
}

fn text(edge: Edge, value: f64, step: f64) -> String {
    let (positive, negative) = if edge.is_level() { ('E', 'W') } else { ('N', 'S') };
    axis::angle(value, step, positive, negative)
}

/// Where along an edge a coordinate is met. A jump over the date line is no meeting.
fn crossing(shares: &[f64], values: &[f64], wanted: f64) -> Option<f64> {
    let pairs = shares.iter().zip(values);
    pairs.clone().zip(pairs.skip(1)).find_map(|((s, a), (t, b))| {
        let run = b - a;
        let part = (wanted - a) / run;
        (run != 0.0 && run.abs() < 180.0 && (0.0..=1.0).contains(&part)).then(|| s + part * (t - s))
    })
}

fn tick(sheet: &mut Sheet, frame: Frame, edge: Edge, along: f64, text: &str) {
    let (u, v) = edge.share(along);
    let (x, y) = (frame.left + u * frame.width, frame.top + v * frame.height);
    let pen = Pen::line(INK, 1.8);
    let lettering = Lettering::new(TICK_SIZE).in_colour(QUIET).aligned(Align::Middle);
    match edge {
        Edge::Top => sheet.line((x, y), (x, y - 9.0), &pen),
        Edge::Bottom => {
            sheet.line((x, y), (x, y + 9.0), &pen);
            let half = lettering.width(text) / 2.0;
            let x = x.clamp(frame.left + half, (frame.right() - half).max(frame.left + half));
            sheet.text((x, y + 29.0), text, &lettering);
        }
        Edge::Left => {
            sheet.line((x, y), (x - 9.0, y), &pen);
            let half = lettering.width(text) / 2.0;
            let y = y.clamp(frame.top + half, (frame.bottom() - half).max(frame.top + half));
            sheet.text_upwards((x - 15.0, y), text, &lettering);
        }
        Edge::Right => sheet.line((x, y), (x + 9.0, y), &pen),
    }
}

/// A scale bar.
#[derive(Debug, Clone, Copy)]
struct ScaleBar {
    /// Its width in pixels.
    width: f64,
    /// What it is long, and in what.
    number: f64,
    unit: &'static str,
}

impl ScaleBar {
    /// The longest of a round number that is no wider than `longest` pixels.
    fn of(pixels_per_metre: f64, units: UnitSystem, longest: f64) -> Self {
        let most = longest / pixels_per_metre;
        let (unit, name) = match units {
            UnitSystem::Metric if most >= 2_000.0 => (1_000.0, "km"),
            UnitSystem::Metric => (1.0, "m"),
            UnitSystem::Us if most >= METRES_PER_MILE => (METRES_PER_MILE, "miles"),
            UnitSystem::Us => (METRES_PER_FOOT, "ft"),
        };
        let number = axis::round_down(most / unit);
        Self { width: number * unit * pixels_per_metre, number, unit: name }
    }

    /// Its width, and how far its last number stands out over its end.
    fn size(&self) -> (f64, f64) {
        let label = Lettering::new(BAR_SIZE).width(&format!("{} {}", self.number, self.unit));
        (self.width, label / 2.0)
    }

    fn draw(&self, sheet: &mut Sheet, (x, y): Point) {
        let Self { width, number, unit } = *self;
        let lettering = Lettering::new(BAR_SIZE).aligned(Align::Middle);
        let parts = 4;
        for part in 0..parts {
            let left = x + width * f64::from(part) / f64::from(parts);
            let box_ = Frame { left, top: y, width: width / f64::from(parts), height: 9.0 };
            let fill = if part % 2 == 0 { INK } else { PAPER };
            sheet.rectangle(box_, 0.0, &Pen::line(INK, 1.8).filled(fill));
        }
        for (share, align) in [(0.0, Align::Left), (0.5, Align::Middle), (1.0, Align::Middle)] {
            // Round numbers have at most a few decimals and Rust prints no more than needed.
            let value = (number * share * 1e6).round() / 1e6;
            let text = if share == 1.0 { format!("{value} {unit}") } else { format!("{value}") };
            sheet.text((x + width * share, y - 8.0), &text, &lettering.aligned(align));
        }
    }
}

/// How far true north is off the sheet's upright in the middle of the map, clockwise in
/// radians.
fn lean(map: &MapFrame) -> Result<f64, ReportError> {
    let frame = map.frame();
    let Some(centre) = map.positions(&[(0.5, 0.5)])?.first().copied() else { return Ok(0.0) };
    let reach = Metres::new(frame.height.min(frame.width) / 4.0 / map.pixels_per_metre());
    let (x0, y0) = map.at(centre)?;
    let (x1, y1) = map.at(centre.destination(Degrees::new(0.0), reach))?;
    Ok((x1 - x0).atan2(y0 - y1))
}

/// How the arrow's note is set.
const NOTE: Lettering = Lettering::new(TICK_SIZE).quiet();
/// From the middle of the arrow to the right end of the note, and of the letter.
const NOTE_OFF: f64 = 48.0;
const LETTER_OFF: f64 = 20.0;

/// What is said of a lean that matters.
fn note(lean: f64) -> Option<String> {
    let degrees = lean.to_degrees();
    let side = if degrees > 0.0 { "right" } else { "left" };
    let off = degrees.abs();
    (off > 1.0).then(|| format!("true north is {off:.1}° {side} of the sheet's upright"))
}

/// Width left of the arrow's middle that its letter and note take.
fn note_room(lean: f64) -> f64 {
    note(lean).map_or(NOTE_OFF, |note| NOTE_OFF + NOTE.width(&note))
}

/// Draws the arrow, and how far true north is off the sheet's upright.
fn north(sheet: &mut Sheet, at: Point, lean: f64) {
    let (sin, cos) = lean.sin_cos();
    // Turned clockwise by the lean, about the arrow's middle.
    let turn = |x: f64, y: f64| (at.0 + x * cos - y * sin, at.1 + x * sin + y * cos);
    let left_half = [turn(0.0, -30.0), turn(-11.0, 16.0), turn(0.0, 8.0)];
    let right_half = [turn(0.0, -30.0), turn(11.0, 16.0), turn(0.0, 8.0)];
    sheet.path(&outline(left_half, true), &Pen::line(INK, 1.8).filled(INK));
    sheet.path(&outline(right_half, true), &Pen::line(INK, 1.8).filled(PAPER));
    let letter = Lettering::new(22.0).bold().aligned(Align::Right);
    sheet.text((at.0 - LETTER_OFF, at.1 + 16.0), "N", &letter);
    if let Some(note) = note(lean) {
        sheet.text((at.0 - NOTE_OFF, at.1 + 16.0), &note, &NOTE.aligned(Align::Right));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bar_is_round_and_fits() {
        for pixels_per_metre in [10.0, 0.7, 0.13, 0.011] {
            for units in [UnitSystem::Metric, UnitSystem::Us] {
                let ScaleBar { width, number, .. } =
                    ScaleBar::of(pixels_per_metre, units, BAR_ROOM);
                assert!(width <= BAR_ROOM + 1e-6 && width > BAR_ROOM / 2.6, "{width}");
                let digit = number / 10f64.powf(number.log10().floor());
                assert!([1.0, 2.0, 5.0].iter().any(|d| (d - digit).abs() < 1e-9), "{number}");
            }
        }
    }

    /// However narrow the map and wherever it stands, the arrow and what is said of it
    /// keep right of the bar, and both stay in their room.
    #[test]
    fn the_bar_and_the_arrow_keep_apart() {
        for width in [60.0, 300.0, 700.0, 900.0, 1584.0] {
            for (lean, bar) in [(0.0f64, 420.0), (0.05, 420.0), (-0.3, 180.0)] {
                let left = MAP_ROOM.left + ((MAP_ROOM.width - width) / 2.0).floor();
                let (said, room) = (note_room(lean), (MAP_ROOM.left, MAP_ROOM.right()));
                let (bar_left, north) = places((left, left + width), room, bar, said);
                let case = format!("{width} {lean} {bar}: {bar_left} {north}");
                assert!(bar_left + bar + BETWEEN <= north - said + 1e-6, "{case}");
                assert!(bar_left >= room.0 && north + ARROW <= room.1 + 1e-6, "{case}");
                if width > 1500.0 {
                    assert_eq!((bar_left, north), (left, left + width - ARROW), "{case}");
                }
            }
        }
    }

    #[test]
    fn a_coordinate_is_found_where_the_edge_meets_it() {
        let shares = [0.0, 0.5, 1.0];
        assert_eq!(crossing(&shares, &[10.0, 11.0, 13.0], 12.0), Some(0.75));
        assert_eq!(crossing(&shares, &[10.0, 11.0, 13.0], 14.0), None);
        assert_eq!(crossing(&shares, &[179.0, -180.0, -179.0], 0.0), None);
    }
}
