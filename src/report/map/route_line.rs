//! A route on the map: its line, which way it runs, its kilometres or miles, and,
//! thick, the stretches that do not work.

use geo::LineString;

use crate::ReportError;
use crate::axis::round_step;
use crate::palette::{ACCENT, INK, PAPER};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, outline};
use perchline_plan::UnitSystem;
use perchline_siting::Stretch;
use perchline_units::{METRES_PER_MILE, Position};

use super::georeference::MapFrame;

/// Dashes by which routes are told apart, the first one whole.
pub const ROUTE_DASHES: [&str; 4] = ["", "22 9", "5 8", "26 8 5 8"];
/// Radius of a distance mark.
pub const DISTANCE_RADIUS: f64 = 12.0;
/// Least distance of two distance marks along the route, pixels.
const MARKS_APART: f64 = 150.0;
/// Width of a stretch that does not work, with and without its rim.
const GAP_WIDTHS: [f64; 2] = [17.0, 11.0];
/// Shortest piece of such a stretch that is drawn, pixels, so that none is lost.
const LEAST_GAP: f64 = 8.0;

/// A route's line on the sheet.
pub struct RouteLine {
    /// Metres from its first point, and the point on the sheet.
    points: Vec<(f64, Point)>,
}

impl RouteLine {
    /// The line as the map shows it.
    pub fn of(map: &MapFrame, line: &LineString) -> Result<Self, ReportError> {
        let mut points = Vec::new();
        let mut last: Option<Position> = None;
        let mut metres = 0.0;
        for position in line.points().filter_map(|p| Position::from_point(p).ok()) {
            metres += last.map_or(0.0, |last| last.distance(position).value());
            last = Some(position);
            points.push((metres, map.at(position)?));
        }
        Ok(Self { points })
    }

    /// Its points on the sheet.
    pub fn points(&self) -> Vec<Point> {
        self.points.iter().map(|(_, at)| *at).collect()
    }

    fn length(&self) -> f64 {
        self.points.last().map_or(0.0, |(metres, _)| *metres)
    }

    /// The point so many metres along it, and which way the line runs there.
    fn at(&self, metres: f64) -> Option<(Point, Point)> {
        let next = self.points.partition_point(|(at, _)| *at < metres).max(1);
        let (&(from, a), &(to, b)) = (self.points.get(next - 1)?, self.points.get(next)?);
        let share = if to > from { ((metres - from) / (to - from)).clamp(0.0, 1.0) } else { 0.0 };
        let run = (b.0 - a.0, b.1 - a.1);
        let length = run.0.hypot(run.1);
        let way = if length > 0.0 { (run.0 / length, run.1 / length) } else { (0.0, 0.0) };
        Some(((a.0 + run.0 * share, a.1 + run.1 * share), way))
    }

    /// The points from one distance to another.
    fn between(&self, from: f64, to: f64) -> Vec<Point> {
        let inner = self.points.iter().filter(|(at, _)| *at > from && *at < to).map(|(_, p)| *p);
        let end = |metres| self.at(metres).map(|(at, _)| at);
        end(from).into_iter().chain(inner).chain(end(to)).collect()
    }

    /// Draws the line.
    pub fn draw(&self, sheet: &mut Sheet, frame: Frame, dash: &'static str) {
        let path = outline(self.points(), false);
        sheet.path_within(frame, &path, &Pen::line(PAPER, 10.0));
        sheet.path_within(frame, &path, &Pen::line(ACCENT, 5.0).dashed(dash));
    }

    /// Draws the part between two distances in metres, or all of it, with these pens one
    /// over the other.
    pub fn draw_stretch(
        &self,
        sheet: &mut Sheet,
        frame: Frame,
        ends: Option<(f64, f64)>,
        pens: &[Pen],
    ) {
        let points = match ends {
            Some((from, to)) => self.between(from, to),
            None => self.points(),
        };
        let path = outline(points, false);
        for pen in pens {
            sheet.path_within(frame, &path, pen);
        }
    }

    /// Draws the stretches that do not work, thick.
    pub fn draw_gaps(&self, sheet: &mut Sheet, map: &MapFrame, gaps: &[Stretch]) {
        let least = LEAST_GAP / map.pixels_per_metre();
        for gap in gaps {
            let (from, to) = (gap.from_m.value(), gap.to_m.value());
            let widen = ((least - (to - from)) / 2.0).max(0.0);
            let (from, to) = ((from - widen).max(0.0), (to + widen).min(self.length()));
            let path = outline(self.between(from, to), false);
            for (colour, width) in [PAPER, INK].into_iter().zip(GAP_WIDTHS) {
                sheet.path_within(map.frame(), &path, &Pen::line(colour, width));
            }
        }
    }

    /// Distances to mark, in kilometres or miles, with the point of each on the sheet.
    /// None nearer than a mark's width to another or to what is in `taken`.
    pub fn distances(
        &self,
        map: &MapFrame,
        units: UnitSystem,
        taken: &[Frame],
    ) -> Vec<(f64, Point)> {
        let unit = match units {
            UnitSystem::Metric => 1000.0,
            UnitSystem::Us => METRES_PER_MILE,
        };
        let step = round_step(MARKS_APART / map.pixels_per_metre() / unit).max(1.0);
        let mut marks: Vec<(f64, Point)> = Vec::new();
        for number in crate::axis::multiples(step, self.length() / unit, step) {
            let Some((at, _)) = self.at(number * unit) else { continue };
            let own = box_around(at);
            let free = map.frame().holds(&own)
                && taken.iter().all(|other| !own.overlaps(other))
                && marks.iter().all(|(_, other)| !own.overlaps(&box_around(*other)));
            if free {
                marks.push((number, at));
            }
        }
        marks
    }

    /// Draws arrows along it, half way between distance marks or so often anyway.
    pub fn draw_arrows(&self, sheet: &mut Sheet, map: &MapFrame, taken: &[Frame]) {
        let apart = MARKS_APART / map.pixels_per_metre();
        let mut metres = apart / 2.0;
        while metres < self.length() {
            if let Some((at, way)) = self.at(metres)
                && map.frame().holds(&box_around(at))
                && taken.iter().all(|other| !box_around(at).overlaps(other))
            {
                arrow(sheet, at, way);
            }
            metres += apart;
        }
    }
}

/// The square that a distance mark fills.
pub fn box_around(at: Point) -> Frame {
    super::names::square(at, DISTANCE_RADIUS)
}

/// Draws a distance mark: its number on a disc.
pub fn draw_distance(sheet: &mut Sheet, number: f64, at: Point) {
    sheet.circle(at, DISTANCE_RADIUS, &Pen::line(ACCENT, 2.0).filled(PAPER));
    let text = format!("{number:.0}");
    let size = if text.len() > 2 { 11.0 } else { 14.0 };
    let lettering = Lettering::new(size).bold().in_colour(ACCENT).aligned(Align::Middle);
    sheet.text((at.0, at.1 + size * 0.36), &text, &lettering);
}

/// Draws an arrow head at `at` that points along `way`.
pub fn arrow(sheet: &mut Sheet, at: Point, way: Point) {
    let place = |along: f64, across: f64| {
        (at.0 + along * way.0 - across * way.1, at.1 + along * way.1 + across * way.0)
    };
    let head = [place(10.0, 0.0), place(-7.0, 8.0), place(-3.0, 0.0), place(-7.0, -8.0)];
    sheet.path(&outline(head, true), &Pen::line(PAPER, 2.0).filled(ACCENT));
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_terrain::Grid;
    use perchline_units::Metres;

    /// A route due east along 500 cells of 10 m in the middle of a map.
    fn line() -> (MapFrame, RouteLine) {
        let transform = [500_000.0, 10.0, 0.0, 5_200_000.0, 0.0, -10.0];
        let grid = Grid::new(500, 300, transform, "EPSG:32625").unwrap();
        let map = MapFrame::fit(&grid).unwrap();
        let ends = map.positions(&[(0.1, 0.5), (0.5, 0.5), (0.9, 0.5)]).unwrap();
        let line = LineString::from_iter(ends.iter().map(|p| p.point()));
        let route = RouteLine::of(&map, &line).unwrap();
        (map, route)
    }

    #[test]
    fn distances_stand_where_the_route_has_them() {
        let (map, route) = line();
        // 4 km on the grid; UTM's scale there is 0.9996 (Snyder 1987, chapter 8).
        assert!((route.length() - 4000.0 / 0.9996).abs() < 1.0, "{}", route.length());
        let marks = route.distances(&map, UnitSystem::Metric, &[]);
        assert_eq!(marks.iter().map(|(km, _)| *km).collect::<Vec<_>>(), [1.0, 2.0, 3.0, 4.0]);
        let frame = map.frame();
        for (km, (x, y)) in marks {
            let east = 500.0 + km * 1000.0 * 0.9996;
            assert!((x - frame.left - east / 5000.0 * frame.width).abs() < 0.5, "{km}: {x}");
            assert!((y - frame.top - frame.height / 2.0).abs() < 0.5);
        }
        let miles = route.distances(&map, UnitSystem::Us, &[]);
        assert_eq!(miles.len(), 2);
        // Where something stands already there is no mark.
        let taken = [box_around(miles[0].1)];
        assert_eq!(route.distances(&map, UnitSystem::Us, &taken), [miles[1]]);
    }

    #[test]
    fn the_way_and_the_stretches_are_those_of_the_line() {
        let (map, route) = line();
        let (_, way) = route.at(1500.0).unwrap();
        assert!((way.0 - 1.0).abs() < 1e-3 && way.1.abs() < 1e-2, "{way:?}");
        let piece = route.between(1000.0, 3000.0);
        assert_eq!(piece.len(), 3, "the point between is kept");
        assert!((piece[2].0 - piece[0].0 - 2000.0 * map.pixels_per_metre()).abs() < 1.0);
        // A gap of a metre still shows.
        let mut sheet = Sheet::new(2480, 1754);
        let gap = Stretch { from_m: Metres::new(1000.0), to_m: Metres::new(1001.0) };
        route.draw_gaps(&mut sheet, &map, &[gap]);
        let picture = crate::svg_page::render(&sheet.into_svg()).unwrap();
        let picture = image::load_from_memory(&picture).unwrap().to_luma8();
        let dark = picture.pixels().filter(|p| p.0[0] < 90).count() as f64;
        assert!(dark > 0.8 * LEAST_GAP * GAP_WIDTHS[1], "{dark}");
    }
}
