//! The houses on the map.

use geo::orient::{Direction, Orient};

use crate::ReportError;
use crate::palette::{PAPER, QUIET};
use crate::svg_page::{Pen, Sheet, outline};
use perchline_terrain::Building;

use super::georeference::MapFrame;

/// A house too small to be drawn by this many pixels is left to the tint.
const LEAST: f64 = 2.0;

/// Width of a wall.
const WALL: f64 = 0.8;

/// Draws what of `buildings` lies on the map: paper white, for the tints tell
/// of radios in the open.
pub fn draw(sheet: &mut Sheet, buildings: &[Building], map: &MapFrame) -> Result<(), ReportError> {
    let frame = map.frame();
    let mut path = String::new();
    for building in buildings {
        // Turned alike, houses that overlap fill what they share.
        for polygon in &building.outline().orient(Direction::Default) {
            let mut rings = String::new();
            let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
            for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
                let points = map.along(ring)?;
                for (x, y) in &points {
                    low = [low[0].min(*x), low[1].min(*y)];
                    high = [high[0].max(*x), high[1].max(*y)];
                }
                rings.push_str(&outline(points, true));
            }
            let seen = high[0] > frame.left
                && low[0] < frame.right()
                && high[1] > frame.top
                && low[1] < frame.bottom();
            if seen && high[0] - low[0] >= LEAST && high[1] - low[1] >= LEAST {
                path.push_str(&rings);
            }
        }
    }
    if !path.is_empty() {
        sheet.path_within(frame, &path, &Pen::line(QUIET, WALL).filled(PAPER));
    }
    Ok(())
}
