//! The ground under every map: open water, contours, houses and roads, thin enough that
//! what lies under them still reads.

use std::fmt::Write as _;

use geo::{Coord, LineString, Simplify as _};

use crate::ReportError;
use crate::layers::Layers;
use crate::palette::{BETWEEN, INK, PAPER, QUIET, WATER};
use crate::sheet_layout::{Marked, Side};
use crate::svg_page::{Frame, Pen, Point, Sheet, outline};
use perchline_plan::UnitSystem;
use perchline_units::Metres;

use super::footprints;
use super::georeference::MapFrame;

/// Every so many contours one is drawn stronger.
const STRONG: f64 = 5.0;
/// A line of the land may be so far off where it belongs, pixels: nobody sees it, and what
/// draws it has a fraction of the corners to join.
const OFF: f64 = 0.5;
/// On a map whose longer side is shorter, pixels, the stronger contours stand alone.
const SMALL: f64 = 1000.0;

/// How lines are drawn, those that are to be seen on any ground on a casing. The many fine
/// ones have a tone between light and dark ground in its place, which is drawn in a fraction
/// of the time.
const FINE_CONTOUR: Pen = Pen::line(BETWEEN, 0.9).faint(0.55);
const STRONG_CONTOUR: [Pen; 2] =
    [Pen::line(PAPER, 3.0).faint(0.28), Pen::line(INK, 1.6).faint(0.38)];
const LEVEL: Pen = Pen::line(WATER, 1.0).faint(0.6);
const SHORE: [Pen; 2] = [Pen::line(PAPER, 3.4).faint(0.45), Pen::line(WATER, 1.6)];
const ROAD: [Pen; 2] = [Pen::line(PAPER, 4.4).faint(0.8), Pen::line(QUIET, 1.8)];

/// From one level line on water to the next, pixels.
const LEVEL_PITCH: f64 = 7.0;

/// Draws what lies under the marks of a map.
///
/// # Errors
/// [`ReportError`] when a place cannot be projected.
pub fn draw(sheet: &mut Sheet, layers: &Layers<'_>, map: &MapFrame) -> Result<(), ReportError> {
    let ground = Ground::of(layers, map.frame());
    let [level, shores] = ground.water();
    let [fine, strong] = ground.contours()?;
    let under: [(String, &[Pen]); 4] =
        [(level, &[LEVEL]), (shores, &SHORE), (fine, &[FINE_CONTOUR]), (strong, &STRONG_CONTOUR)];
    lines(sheet, map.frame(), &under);
    footprints::draw(sheet, layers.terrain.buildings(), map)?;
    let Some(roads) = &layers.plan.search.roads else { return Ok(()) };
    let paths = roads.lines.iter().map(|line| Ok(outline(map.along(line)?, false)));
    let paths = paths.collect::<Result<Vec<String>, ReportError>>()?.concat();
    lines(sheet, map.frame(), &[(paths, &ROAD)]);
    Ok(())
}

/// Draws each path with its pens, one over the other.
fn lines(sheet: &mut Sheet, frame: Frame, paths: &[(String, &[Pen])]) {
    let drawn = paths.iter().filter(|(path, _)| !path.is_empty());
    let drawn: Vec<(&str, Pen)> =
        drawn.flat_map(|(path, pens)| pens.iter().map(|pen| (path.as_str(), *pen))).collect();
    if !drawn.is_empty() {
        sheet.paths_within(frame, &drawn);
    }
}

/// A terrain under the frame of a map that spans the layers' grid.
struct Ground<'a> {
    layers: &'a Layers<'a>,
    frame: Frame,
}

impl<'a> Ground<'a> {
    const fn of(layers: &'a Layers<'a>, frame: Frame) -> Self {
        Self { layers, frame }
    }

    /// The point of a place in columns and rows of the terrain.
    fn at(&self, cell: (f64, f64)) -> Point {
        let grid = self.layers.grid;
        let (column, row) = grid.cell_of(self.layers.terrain.grid(), cell);
        (
            self.frame.left + column / grid.columns() as f64 * self.frame.width,
            self.frame.top + row / grid.rows() as f64 * self.frame.height,
        )
    }

    /// A line of the terrain on the sheet, without detail that nobody sees; nothing where
    /// it is off the map.
    fn line(&self, cells: &[(f64, f64)]) -> Option<Vec<Point>> {
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        let points = cells.iter().map(|cell| {
            let (x, y) = self.at(*cell);
            low = [low[0].min(x), low[1].min(y)];
            high = [high[0].max(x), high[1].max(y)];
            Coord { x, y }
        });
        let line: LineString = points.collect();
        let frame = &self.frame;
        let seen = high[0] >= frame.left
            && low[0] <= frame.right()
            && high[1] >= frame.top
            && low[1] <= frame.bottom();
        seen.then(|| line.simplify(OFF).0.into_iter().map(|at| (at.x, at.y)).collect())
    }

    /// The paths of the contours, and of the stronger ones.
    fn contours(&self) -> Result<[String; 2], ReportError> {
        let mut paths = [String::new(), String::new()];
        let Some(interval) = self.layers.contour_interval() else { return Ok(paths) };
        for contour in &*self.layers.terrain.contours(interval)? {
            let [fine, bold] = &mut paths;
            let strong = is_strong(contour.height, interval);
            if !strong && is_small(self.frame) {
                continue;
            }
            let path = if strong { bold } else { fine };
            for line in contour.lines.iter().filter_map(|line| self.line(line)) {
                path.push_str(&outline(line, false));
            }
        }
        Ok(paths)
    }

    /// The paths of level lines on open water, and of its shores.
    fn water(&self) -> [String; 2] {
        let terrain = self.layers.terrain;
        if !terrain.has_water() {
            return [String::new(), String::new()];
        }
        let (grid, frame) = (self.layers.grid, self.frame);
        let is_water = |x: f64, y: f64| {
            let across = (x - frame.left) / frame.width * grid.columns() as f64;
            let down = (y - frame.top) / frame.height * grid.rows() as f64;
            let (column, row) = terrain.grid().cell_of(grid, (across, down));
            // Within the terrain, whose cells an index holds.
            column >= 0.0 && row >= 0.0 && terrain.is_water(row as usize, column as usize)
        };
        let mut level = String::new();
        let mut y = frame.top + LEVEL_PITCH / 2.0;
        while y < frame.bottom() {
            let (mut x, mut from) = (frame.left, None);
            while x <= frame.right() {
                match (from, x < frame.right() && is_water(x, y)) {
                    (None, true) => from = Some(x),
                    (Some(start), false) => {
                        // Writing to a String cannot fail.
                        let _ = write!(level, "M{start:.1} {y:.1}H{x:.1}");
                        from = None;
                    }
                    _ => {}
                }
                x += 1.0;
            }
            y += LEVEL_PITCH;
        }
        let shores = terrain.shores();
        let shores = shores.iter().filter_map(|line| self.line(line));
        [level, shores.map(|line| outline(line, false)).collect()]
    }
}

/// Whether a map is too small for all contours.
pub fn is_small(frame: Frame) -> bool {
    frame.width.max(frame.height) < SMALL
}

/// Height from one contour that is drawn to the next, on a map that is small or not;
/// nothing on level ground.
pub fn interval(layers: &Layers<'_>, is_small: bool) -> Option<Metres> {
    let interval = layers.contour_interval()?;
    Some(if is_small { interval * STRONG } else { interval })
}

/// Whether a contour is one of the stronger ones, which have their height.
fn is_strong(height: Metres, interval: Metres) -> bool {
    (height.value() / interval.value()).round().rem_euclid(STRONG) == 0.0
}

/// Length of a contour from one of its heights to the next, pixels; one that is not half
/// as long has none.
const HEIGHT_EVERY: f64 = 700.0;
/// From one place along a contour at which its height may stand to the next.
const HEIGHT_STEP: f64 = 50.0;

/// A height, and the places along its contour at which it may stand, the one liked best
/// first.
pub struct HeightOnContour {
    /// In the plan's unit.
    pub text: String,
    /// On the sheet.
    pub places: Vec<Point>,
}

/// The heights that the stronger contours of a map may have.
///
/// # Errors
/// [`ReportError`] when there are too many contours.
pub fn heights(layers: &Layers<'_>, map: &MapFrame) -> Result<Vec<HeightOnContour>, ReportError> {
    let Some(interval) = layers.contour_interval() else { return Ok(Vec::new()) };
    let ground = Ground::of(layers, map.frame());
    let mut heights = Vec::new();
    for contour in &*layers.terrain.contours(interval)? {
        if !is_strong(contour.height, interval) {
            continue;
        }
        let text = match layers.plan.units {
            UnitSystem::Metric => format!("{:.0}", contour.height.value()),
            UnitSystem::Us => format!("{:.0}", contour.height.feet()),
        };
        for line in contour.lines.iter().filter_map(|line| ground.line(line)) {
            let points = paced(&line);
            // A few thousand of them at most.
            let apart = (HEIGHT_EVERY / HEIGHT_STEP) as usize;
            for middle in (apart / 2..points.len()).step_by(apart) {
                let around = [0, 1, -1, 2, -2, 3, -3];
                let places = around.into_iter().filter_map(|by| middle.checked_add_signed(by));
                let places = places.filter_map(|place| points.get(place).copied()).collect();
                heights.push(HeightOnContour { text: text.clone(), places });
            }
        }
    }
    Ok(heights)
}

/// Points along a line, [`HEIGHT_STEP`] apart.
fn paced(line: &[Point]) -> Vec<Point> {
    let mut points: Vec<Point> = line.first().copied().into_iter().collect();
    let mut along = 0.0;
    for (from, to) in line.iter().zip(line.iter().skip(1)) {
        let run = (to.0 - from.0).hypot(to.1 - from.1);
        // Where the next points lie on this piece.
        let mut next = HEIGHT_STEP - along;
        while next <= run {
            let share = next / run;
            points.push((from.0 + (to.0 - from.0) * share, from.1 + (to.1 - from.1) * share));
            next += HEIGHT_STEP;
        }
        along = run - (next - HEIGHT_STEP);
    }
    points
}

/// A mark of the legend: what draws it, and what it means.
pub type LandMark = (fn(&mut Sheet, Point), String);

/// What the lines of the land mean, where the map has them, and whether it is a small one.
#[must_use]
pub fn explained(layers: &Layers<'_>, is_small: bool) -> Vec<LandMark> {
    let mut all: Vec<LandMark> = Vec::new();
    if layers.terrain.has_water() {
        all.push((water_mark, "Open water".to_owned()));
    }
    if layers.plan.search.roads.is_some() {
        all.push((road_mark, "Road".to_owned()));
    }
    if let Some(interval) = interval(layers, is_small) {
        all.push((contour_mark, format!("Contours every {}", layers.plan.units.height(interval))));
    }
    all
}

/// Puts what the lines of the land mean into the column beside a map.
pub fn legend(side: &mut Side<'_>, layers: &Layers<'_>) {
    let all = explained(layers, false);
    let marked: Vec<Marked<'_>> =
        all.iter().map(|(draw, text)| (draw as &dyn Fn(&mut Sheet, Point), &**text)).collect();
    side.marks_in_rows(&marked);
}

fn water_mark(sheet: &mut Sheet, (x, y): Point) {
    let shore = Frame { left: x - 17.0, top: y - 11.0, width: 34.0, height: 22.0 };
    for by in [-4.0, 3.0] {
        sheet.line((shore.left, y + by), (shore.right(), y + by), &LEVEL);
    }
    sheet.rectangle(shore, 6.0, &SHORE[1]);
}

fn road_mark(sheet: &mut Sheet, (x, y): Point) {
    for pen in &ROAD {
        sheet.line((x - 18.0, y), (x + 18.0, y), pen);
    }
}

fn contour_mark(sheet: &mut Sheet, (x, y): Point) {
    let lines: [(f64, &[Pen]); 3] =
        [(-5.0, &[FINE_CONTOUR]), (2.0, &STRONG_CONTOUR), (9.0, &[FINE_CONTOUR])];
    for (by, pens) in lines {
        let y = y + by;
        let bend =
            format!("M{:.1} {:.1}Q{x:.1} {:.1} {:.1} {:.1}", x - 18.0, y, y - 8.0, x + 18.0, y);
        for pen in pens {
            sheet.path(&bend, pen);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heights_stand_along_long_contours_alone() {
        let line = |length: f64| -> Vec<Point> {
            vec![(0.0, 0.0), (length * 0.13, 0.0), (length * 0.9, 0.0), (length, 0.0)]
        };
        let points = paced(&line(1001.0));
        assert_eq!(points.len(), 21);
        for pair in points.windows(2) {
            assert!((pair[1].0 - pair[0].0 - HEIGHT_STEP).abs() < 1e-9, "{pair:?}");
        }
        assert!(paced(&line(300.0)).len() <= (HEIGHT_EVERY / HEIGHT_STEP) as usize / 2);
    }
}
