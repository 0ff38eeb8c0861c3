//! The lines of UTM over a map, numbered as MGRS and USNG number them: the
//! kilometres are the last two whole digits of easting and northing in a square
//! of 100 km, whose letters stand under the map (NGA.STND.0037, UTM and MGRS).

use geoconvert::LatLon;

use crate::ReportError;
use crate::axis::round_step;
use crate::palette::{INK, PAPER};
use crate::svg_page::{Align, Frame, Lettering, Pen, Point, Sheet, outline};
use perchline_plan::{Plan, ReferenceGrid};
use perchline_terrain::{Grid, Projector};

use super::georeference::MapFrame;

/// Least distance of two lines on the sheet, pixels.
const LEAST_APART: f64 = 120.0;
/// Points along a line.
const SAMPLES: u32 = 24;
/// Size of the numbers.
const NUMBER_SIZE: f64 = 18.0;
/// Clear space around a number.
const PADDING: f64 = 3.0;

/// The grid of a map.
pub struct GridLines {
    /// From positions to easting and northing and back, metres.
    zone: Projector,
    /// Zone, latitude band and letters of the square of 100 km at the map's middle.
    square: String,
    /// From line to line, metres.
    step: f64,
    /// Smallest and greatest easting and northing on the map.
    low: (f64, f64),
    high: (f64, f64),
}

/// Draws the grid that `plan` wants, where there is one; returns where its numbers stand.
pub fn draw(sheet: &mut Sheet, map: &MapFrame, plan: &Plan) -> Result<Vec<Frame>, ReportError> {
    match plan.map.grid {
        ReferenceGrid::None => Ok(Vec::new()),
        ReferenceGrid::Utm => {
            GridLines::of(map)?.map_or_else(|| Ok(Vec::new()), |grid| grid.draw(sheet, map))
        }
    }
}

impl GridLines {
    /// The grid of the zone in which the map's middle lies; `None` near the poles,
    /// where UTM ends, and where PROJ does not reach the map's edge.
    pub fn of(map: &MapFrame) -> Result<Option<Self>, ReportError> {
        let Some(middle) = map.positions(&[(0.5, 0.5)])?.first().copied() else {
            return Ok(None);
        };
        let Ok(place) = LatLon::create(middle.latitude().value(), middle.longitude().value())
        else {
            return Ok(None);
        };
        let reference = place.to_mgrs(0);
        if !reference.is_utm() {
            return Ok(None);
        }
        let half = if reference.is_north() { 326 } else { 327 };
        let crs = format!("EPSG:{half}{:02}", reference.zone());
        // Cells of a metre whose columns and rows are easting and northing.
        let plane = Grid::new(1, 1, [0.0, 1.0, 0.0, 0.0, 0.0, 1.0], &crs)?;
        let zone = plane.projector()?;
        let edge: Vec<(f64, f64)> = (0..=SAMPLES)
            .map(|i| f64::from(i) / f64::from(SAMPLES))
            .flat_map(|s| [(s, 0.0), (s, 1.0), (0.0, s), (1.0, s)])
            .collect();
        let (mut low, mut high) =
            ((f64::INFINITY, f64::INFINITY), (f64::NEG_INFINITY, f64::NEG_INFINITY));
        for position in map.positions(&edge)? {
            let Ok((east, north)) = zone.to_cell(position) else { return Ok(None) };
            low = (low.0.min(east), low.1.min(north));
            high = (high.0.max(east), high.1.max(north));
        }
        let step = round_step(LEAST_APART / map.pixels_per_metre()).max(100.0);
        let mut square = reference.to_string();
        // As it is read: zone and band, then the two letters.
        square.insert(square.len().saturating_sub(2), ' ');
        Ok(Some(Self { zone, square, step, low, high }))
    }

    /// What stands under the map of it.
    pub fn told(&self) -> String {
        let apart = if self.step >= 1000.0 {
            format!("{:.0} km", self.step / 1000.0)
        } else {
            format!("{:.0} m", self.step)
        };
        format!("UTM grid every {apart}, WGS 84, square {} (MGRS, USNG)", self.square)
    }

    /// Draws the lines, and their numbers at the left and the lower edge.
    fn draw(&self, sheet: &mut Sheet, map: &MapFrame) -> Result<Vec<Frame>, ReportError> {
        let frame = map.frame();
        let mut numbers = Vec::new();
        for east in crate::axis::multiples(self.low.0, self.high.0, self.step) {
            let line = self.line(map, |t| (east, self.low.1 + t * (self.high.1 - self.low.1)))?;
            strike(sheet, frame, &line);
            if let Some((x, _)) = crossing(&line, |p| p.1, frame.bottom() - 13.0) {
                numbers.extend(number(sheet, frame, (x, frame.bottom() - 13.0), &self.label(east)));
            }
        }
        for north in crate::axis::multiples(self.low.1, self.high.1, self.step) {
            let line = self.line(map, |t| (self.low.0 + t * (self.high.0 - self.low.0), north))?;
            strike(sheet, frame, &line);
            if let Some((_, y)) = crossing(&line, |p| p.0, frame.left + 17.0) {
                numbers.extend(number(sheet, frame, (frame.left + 17.0, y), &self.label(north)));
            }
        }
        Ok(numbers)
    }

    fn line(
        &self,
        map: &MapFrame,
        at: impl Fn(f64) -> (f64, f64),
    ) -> Result<Vec<Point>, ReportError> {
        let places: Vec<(f64, f64)> =
            (0..=SAMPLES).map(|i| at(f64::from(i) / f64::from(SAMPLES))).collect();
        self.zone.to_positions(&places)?.into_iter().map(|position| map.at(position)).collect()
    }

    /// The digits of a line within its square of 100 km: kilometres, and hundreds of
    /// metres where lines stand closer.
    fn label(&self, metres: f64) -> String {
        let within = metres.rem_euclid(100_000.0);
        if self.step >= 1000.0 {
            format!("{:02.0}", within / 1000.0)
        } else {
            format!("{:03.0}", within / 100.0)
        }
    }
}

fn strike(sheet: &mut Sheet, frame: Frame, line: &[Point]) {
    let path = outline(line.iter().copied(), false);
    sheet.path_within(frame, &path, &Pen::line(PAPER, 3.0).faint(0.35));
    sheet.path_within(frame, &path, &Pen::line(INK, 1.1).faint(0.5));
}

/// Where a line comes by a value of one of its coordinates.
fn crossing(line: &[Point], value: impl Fn(&Point) -> f64, wanted: f64) -> Option<Point> {
    line.iter().zip(line.iter().skip(1)).find_map(|(a, b)| {
        let (from, to) = (value(a), value(b));
        let t = (wanted - from) / (to - from);
        (from != to && (0.0..=1.0).contains(&t))
            .then_some((a.0 + t * (b.0 - a.0), a.1 + t * (b.1 - a.1)))
    })
}

/// Draws a number on its patch, where that lies within the frame; returns the patch.
fn number(sheet: &mut Sheet, frame: Frame, (x, y): Point, text: &str) -> Option<Frame> {
    let lettering = Lettering::new(NUMBER_SIZE).bold().aligned(Align::Middle);
    let width = lettering.width(text) + 2.0 * PADDING;
    let patch = Frame {
        left: x - width / 2.0,
        top: y - NUMBER_SIZE / 2.0 - 1.0,
        width,
        height: NUMBER_SIZE + 2.0,
    };
    if !frame.holds(&patch) {
        return None;
    }
    sheet.rectangle(patch, 2.0, &Pen::fill(PAPER).faint(0.85));
    sheet.text((x, y + NUMBER_SIZE * 0.36), text, &lettering);
    Some(patch)
}

#[cfg(test)]
mod tests {
    use super::*;
    use geoconvert::Mgrs;

    fn map(crs: &str, west: f64, north: f64, side: f64) -> MapFrame {
        let transform = [west, side, 0.0, north, 0.0, -side];
        MapFrame::fit(&Grid::new(100, 80, transform, crs).unwrap()).unwrap()
    }

    /// Each number drawn is that of geoconvert's MGRS at the place where its line
    /// stands (an implementation apart from PROJ's).
    #[test]
    fn numbers_are_those_of_mgrs() {
        for (crs, west, north, side) in [
            ("EPSG:32625", 502_340.0, 5_207_410.0, 62.0),
            ("EPSG:32756", 331_210.0, 6_251_980.0, 40.0),
            ("EPSG:4326", 11.3, 48.2, 0.001),
        ] {
            let map = map(crs, west, north, side);
            let grid = GridLines::of(&map).unwrap().unwrap();
            for east in crate::axis::multiples(grid.low.0, grid.high.0, grid.step) {
                let middle = (grid.low.1 + grid.high.1) / 2.0;
                // A little inside of the square that begins at the line.
                let at = grid.zone.to_positions(&[(east + 2.0, middle)]).unwrap()[0];
                let at = LatLon::create(at.latitude().value(), at.longitude().value()).unwrap();
                let reference = at.to_mgrs(5).to_string();
                // Five digits of easting before five of northing.
                let digits = reference.get(reference.len() - 10..reference.len() - 5).unwrap();
                let shown = grid.label(east);
                assert!(digits.starts_with(&shown), "{reference} at {east}: {shown}");
            }
            let told = grid.told();
            assert!(
                told.contains(&grid.square)
                    && Mgrs::parse_str(&grid.square.replace(' ', "")).is_ok(),
                "{told}"
            );
        }
    }

    #[test]
    fn near_the_poles_there_is_none() {
        assert!(GridLines::of(&map("EPSG:4326", 10.0, 86.0, 0.001)).unwrap().is_none());
    }
}
