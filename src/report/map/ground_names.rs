//! Names of the ground on a map: towns, quarters, streets, streams. They are for
//! orientation and give way to everything else.

use geo::{Centroid as _, CoordsIter as _, Geometry, InteriorPoint as _, LineString};

use crate::ReportError;
use crate::layers::Layers;
use crate::palette::{QUIET, WATER};
use crate::svg_page::{Frame, Lettering, Point};
use perchline_plan::{GroundKind, GroundName};
use perchline_units::Position;

use super::georeference::MapFrame;
use super::names::{inside, square};

/// A map bears no more of them; those that help most are looked at first.
const MOST: usize = 300;
/// Widest name before it is cut.
const ROOM: f64 = 320.0;
/// A polygon of more corners is named at its centroid: to look for a point within takes
/// a time that grows with their square.
const MOST_CORNERS: usize = 2_000;
/// From a line to the name beside it.
const BESIDE: f64 = 5.0;
/// Where along a line its name may stand, the middle first.
const SHARES: [f64; 7] = [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8];
/// Directions in which the name of a point may move off it.
const DIRECTIONS: usize = 8;

/// How large names are set on a map.
#[derive(Debug, Clone, Copy)]
pub struct NameSizes {
    /// How many times their usual size.
    pub scale: f64,
    /// No smaller than this, pixels.
    pub least: f64,
}

impl NameSizes {
    /// Of a map on a sheet that is read in the hand.
    pub const SHEET: Self = Self { scale: 1.0, least: 0.0 };
}

/// A name, and the boxes in which it may stand, each with what that costs.
pub struct NameOnGround {
    /// As it is printed.
    pub text: String,
    /// How it is set.
    pub lettering: Lettering,
    /// On the sheet; the cost in pixels of distance.
    pub places: Vec<(f64, Frame)>,
}

/// The names that the ground of a map has, those that help most first.
///
/// # Errors
/// [`ReportError`] when a place cannot be projected.
pub fn names(
    layers: &Layers<'_>,
    map: &MapFrame,
    sizes: NameSizes,
) -> Result<Vec<NameOnGround>, ReportError> {
    let Some(named) = &layers.plan.place_names else { return Ok(Vec::new()) };
    let bounds = layers.grid.bounds()?;
    let near = named.found.names.iter().filter(|name| bounds.meets(&name.geometry));
    let mut wanted: Vec<&GroundName> = near.collect();
    wanted.sort_by_key(|name| name.kind);
    let mut names = Vec::new();
    for name in wanted {
        let lettering = lettering(name.kind, sizes);
        let text = lettering.fitted(&name.name, ROOM * sizes.scale.max(1.0));
        let size = (lettering.width(&text) + 6.0, lettering.size + 4.0);
        let places = places(&name.geometry, map, size)?;
        if !places.is_empty() && !text.is_empty() {
            names.push(NameOnGround { text, lettering, places });
        }
        if names.len() == MOST {
            break;
        }
    }
    Ok(names)
}

/// How a name is set: slanted and lighter than names of posts, water in its own tone.
fn lettering(kind: GroundKind, sizes: NameSizes) -> Lettering {
    let (size, colour) = match kind {
        GroundKind::Settlement => (27.0, QUIET),
        GroundKind::Water => (20.0, WATER),
        GroundKind::Quarter => (22.0, QUIET),
        GroundKind::Other => (18.0, QUIET),
    };
    let size = (size * sizes.scale).max(sizes.least);
    Lettering::new(size).oblique().in_colour(colour).haloed()
}

/// Where the name of a shape may stand.
fn places(
    geometry: &Geometry,
    map: &MapFrame,
    size: (f64, f64),
) -> Result<Vec<(f64, Frame)>, ReportError> {
    let around = |point: Option<geo::Point>| -> Result<Vec<(f64, Frame)>, ReportError> {
        let position = point.and_then(|point| Position::from_point(point).ok());
        let at = position.map(|position| map.at(position)).transpose()?;
        let at = at.and_then(|at| inside(at, map.frame()));
        Ok(at.map_or_else(Vec::new, |at| around_point(at, size)))
    };
    match geometry {
        Geometry::Point(point) => around(Some(*point)),
        Geometry::MultiPoint(points) => around(points.0.first().copied()),
        Geometry::Line(line) => along(&[LineString::from(*line)], map, size),
        Geometry::LineString(line) => along(std::slice::from_ref(line), map, size),
        Geometry::MultiLineString(lines) => along(&lines.0, map, size),
        Geometry::GeometryCollection(parts) => {
            parts.0.first().map_or_else(|| Ok(Vec::new()), |part| places(part, map, size))
        }
        area if area.coords_count() > MOST_CORNERS => around(area.centroid()),
        area => around(area.interior_point()),
    }
}

/// A box of this size around its middle.
fn box_at((x, y): Point, (width, height): (f64, f64)) -> Frame {
    Frame { left: x - width / 2.0, top: y - height / 2.0, width, height }
}

/// On a point, or a little off it.
fn around_point(at: Point, size: (f64, f64)) -> Vec<(f64, Frame)> {
    let mut places = vec![(0.0, box_at(at, size))];
    for ring in 1..=2 {
        for step in 0..DIRECTIONS {
            let (sin, cos) = (step as f64 / DIRECTIONS as f64 * std::f64::consts::TAU).sin_cos();
            let (x, y) =
                (cos * size.0 * 0.4 * f64::from(ring), sin * size.1 * 1.1 * f64::from(ring));
            places.push((x.hypot(y), box_at((at.0 + x, at.1 + y), size)));
        }
    }
    places
}

/// Beside the middle of the longest piece of the lines that is on the map.
fn along(
    lines: &[LineString],
    map: &MapFrame,
    size: (f64, f64),
) -> Result<Vec<(f64, Frame)>, ReportError> {
    let mut longest: (f64, Vec<Point>) = (0.0, Vec::new());
    for line in lines {
        for piece in pieces(&map.along(line)?, map.frame()) {
            let length = length(&piece);
            if length > longest.0 {
                longest = (length, piece);
            }
        }
    }
    Ok(beside(&longest.1, longest.0, size))
}

/// Beside the middle of a line so long, or as near to it as may be.
fn beside(line: &[Point], length: f64, size: (f64, f64)) -> Vec<(f64, Frame)> {
    // A name much longer than what it names says nothing of where that is.
    if length < size.0 * 0.5 {
        return Vec::new();
    }
    let mut places = Vec::new();
    for share in SHARES {
        let Some((at, (dx, dy))) = point_along(line, length * share) else { continue };
        // Above first; beside a line that goes up and down, right of it.
        let first = if dx.abs() > 0.2 { -dx.signum() } else { -dy.signum() };
        for (side, more) in [(first, 0.0), (-first, 6.0)] {
            let (nx, ny) = (-dy * side, dx * side);
            let off = BESIDE + size.0 / 2.0 * nx.abs() + size.1 / 2.0 * ny.abs();
            let middle = (at.0 + nx * off, at.1 + ny * off);
            places.push(((share - 0.5).abs() * 120.0 + more, box_at(middle, size)));
        }
    }
    places
}

/// The pieces of a line that lie within a frame.
fn pieces(line: &[Point], frame: Frame) -> Vec<Vec<Point>> {
    let spread = super::names::spread(line);
    let mut pieces = vec![Vec::new()];
    for at in spread {
        if frame.holds(&square(at, 0.0)) {
            if let Some(piece) = pieces.last_mut() {
                piece.push(at);
            }
        } else if pieces.last().is_some_and(|piece| !piece.is_empty()) {
            pieces.push(Vec::new());
        }
    }
    pieces
}

fn length(line: &[Point]) -> f64 {
    line.iter().zip(line.iter().skip(1)).map(|(a, b)| (b.0 - a.0).hypot(b.1 - a.1)).sum()
}

/// The point so far along a line, and the line's direction there over a few steps.
fn point_along(line: &[Point], wanted: f64) -> Option<(Point, Point)> {
    let mut along = 0.0;
    let index = line.iter().zip(line.iter().skip(1)).position(|(a, b)| {
        along += (b.0 - a.0).hypot(b.1 - a.1);
        along >= wanted
    })?;
    let (from, to) = (index.saturating_sub(4), (index + 5).min(line.len().saturating_sub(1)));
    let (from, to, at) = (line.get(from)?, line.get(to)?, line.get(index)?);
    let (dx, dy) = (to.0 - from.0, to.1 - from.1);
    let run = dx.hypot(dy);
    (run > 0.0).then(|| (*at, (dx / run, dy / run)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Beside a line that goes straight any way, no box that may be taken lies on it, and
    /// the first stands above its middle or, where it goes up and down, right of it.
    #[test]
    fn names_stand_beside_their_lines() {
        let size = (120.0, 22.0);
        for degrees in [0.0f64, 20.0, 45.0, 80.0, 90.0, 135.0, 180.0, 250.0, 270.0] {
            let (sin, cos) = degrees.to_radians().sin_cos();
            let line: Vec<Point> =
                (-400..=400).map(|n| (f64::from(n) * cos, f64::from(n) * sin)).collect();
            let places = beside(&line, length(&line), size);
            assert_eq!(places.len(), 2 * SHARES.len());
            for (_, frame) in &places {
                let on_it = line.iter().any(|at| frame.holds(&square(*at, 0.0)));
                assert!(!on_it, "{degrees}: {frame:?}");
            }
            let first = places[0].1;
            let middle = (first.left + first.width / 2.0, first.top + first.height / 2.0);
            if cos.abs() > 0.2 {
                assert!(middle.1 < 0.0)
            } else {
                assert!(middle.0 > 0.0)
            }
            assert!(middle.0.hypot(middle.1) < 90.0, "{degrees}: {middle:?}");
        }
        assert!(beside(&[(0.0, 0.0), (50.0, 0.0)], 50.0, size).is_empty());
    }

    #[test]
    fn the_part_of_a_line_on_the_map_is_named() {
        let frame = Frame { left: 0.0, top: 0.0, width: 100.0, height: 100.0 };
        let found = pieces(&[(-50.0, 50.0), (150.0, 50.0), (150.0, 10.0), (90.0, 10.0)], frame);
        assert!(found.iter().flatten().all(|(x, _)| (0.0..=100.0).contains(x)));
        // The line is followed in steps: at either end less than one is left out.
        let (step, inside) = (found[0][1].0 - found[0][0].0, length(&found[0]));
        assert!(inside <= 100.0 && inside > 100.0 - 2.0 * step && step <= 12.0, "{found:?}");
        assert_eq!(found.iter().filter(|piece| !piece.is_empty()).count(), 2);
        let size = (120.0, 22.0);
        assert_eq!(around_point((50.0, 50.0), size)[0], (0.0, box_at((50.0, 50.0), size)));
    }
}
