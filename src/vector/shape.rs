//! Making one geometry serve as a point, a line or an area.

use geo::{CoordsIter, Geometry, InteriorPoint, LineString, MultiLineString, Validation};

use super::Wanted;

/// The most corners of an area: whether its outline crosses itself is looked up
/// pair by pair.
pub const MOST_CORNERS: usize = 10_000;

/// The most corners of a polygon in which a point is looked for: in one that
/// crosses itself that takes a time that grows with their square and more.
const MOST_MARKING: usize = 2_000;

/// The geometry as wanted and a note for people, or why it does not serve.
pub(super) fn fit(
    geometry: &Geometry,
    wanted: Wanted,
) -> Result<(Geometry, Option<String>), String> {
    match (wanted, geometry) {
        (_, Geometry::MultiPoint(many)) if many.0.len() == 1 => only(many.0.first(), wanted),
        (_, Geometry::MultiPolygon(many)) if many.0.len() == 1 => only(many.0.first(), wanted),
        (_, Geometry::GeometryCollection(many)) if many.0.len() == 1 => {
            only(many.0.first(), wanted)
        }
        (Wanted::Point, Geometry::Point(_)) => Ok((geometry.clone(), None)),
        (Wanted::Point, Geometry::Polygon(polygon)) if polygon.coords_count() > MOST_MARKING => {
            Err(format!(
                "the polygon has {} corners, and a point is found inside one of {MOST_MARKING} at the most; save a point",
                polygon.coords_count()
            ))
        }
        (Wanted::Point, Geometry::Polygon(polygon)) => polygon
            .interior_point()
            .map(|point| {
                (point.into(), Some("it is a polygon; a point inside it was taken".to_owned()))
            })
            .ok_or_else(|| "it is an empty polygon".to_owned()),
        (Wanted::Line, Geometry::LineString(line)) => unbroken(line.clone()),
        (Wanted::Line, Geometry::MultiLineString(many)) => joined(many).and_then(unbroken),
        (Wanted::Area, Geometry::Polygon(polygon)) if polygon.coords_count() > MOST_CORNERS => {
            Err(format!(
                "the polygon has {} corners, and {MOST_CORNERS} are the most; simplify it",
                polygon.coords_count()
            ))
        }
        (Wanted::Area, Geometry::Polygon(polygon)) => match polygon.check_validation() {
            Ok(()) => Ok((geometry.clone(), None)),
            Err(error) => Err(format!("the polygon is not valid: {error}")),
        },
        (Wanted::Area, Geometry::LineString(line)) if line.is_closed() && line.0.len() >= 4 => {
            Err("it is a closed line, not a polygon; save it as a polygon".to_owned())
        }
        _ => Err(format!("it is a {}, and a {} is needed", kind(geometry), need(wanted))),
    }
}

fn only<G: Clone + Into<Geometry>>(
    part: Option<&G>,
    wanted: Wanted,
) -> Result<(Geometry, Option<String>), String> {
    let part = part.ok_or_else(|| "it is empty".to_owned())?;
    fit(&part.clone().into(), wanted)
}

fn unbroken(line: LineString) -> Result<(Geometry, Option<String>), String> {
    let distinct = line.lines().any(|segment| segment.start != segment.end);
    if distinct { Ok((line.into(), None)) } else { Err("the line has no length".to_owned()) }
}

/// Parts that follow each other end to start, as one line.
fn joined(parts: &MultiLineString) -> Result<LineString, String> {
    let mut points: Vec<geo::Coord> = Vec::new();
    for part in parts.iter().filter(|part| !part.0.is_empty()) {
        match (points.last(), part.0.first()) {
            (Some(end), Some(start)) if end == start => points.extend(part.0.iter().skip(1)),
            (None, _) => points.extend(&part.0),
            _ => {
                return Err(format!(
                    "the line is broken into {} parts that do not join; save it as one line",
                    parts.0.len()
                ));
            }
        }
    }
    Ok(LineString::new(points))
}

fn kind(geometry: &Geometry) -> &'static str {
    match geometry {
        Geometry::Point(_) => "point",
        Geometry::Line(_) | Geometry::LineString(_) => "line",
        Geometry::Polygon(_) | Geometry::Rect(_) | Geometry::Triangle(_) => "polygon",
        Geometry::MultiPoint(_) => "set of points",
        Geometry::MultiLineString(_) => "set of lines",
        Geometry::MultiPolygon(_) => "set of polygons",
        Geometry::GeometryCollection(_) => "mixed collection",
    }
}

fn need(wanted: Wanted) -> &'static str {
    match wanted {
        Wanted::Point => "point",
        Wanted::Line => "line",
        Wanted::Area => "polygon",
    }
}

#[cfg(test)]
mod tests {
    use geo::wkt;

    use super::*;

    #[test]
    fn tracks_in_parts_join_only_end_to_start() {
        let whole = wkt!(MULTILINESTRING((0. 0., 1. 0.), (1. 0., 2. 0.))).into();
        let (line, _) = fit(&whole, Wanted::Line).unwrap();
        assert_eq!(line, wkt!(LINESTRING(0. 0., 1. 0., 2. 0.)).into());
        let broken = wkt!(MULTILINESTRING((0. 0., 1. 0.), (3. 0., 2. 0.))).into();
        assert!(fit(&broken, Wanted::Line).unwrap_err().contains("2 parts"));
    }

    #[test]
    fn a_polygon_serves_as_a_point_inside_it() {
        let horseshoe: Geometry =
            wkt!(POLYGON((0. 0., 9. 0., 9. 9., 8. 9., 8. 1., 1. 1., 1. 9., 0. 9., 0. 0.))).into();
        let (point, note) = fit(&horseshoe, Wanted::Point).unwrap();
        assert!(geo::Intersects::intersects(&horseshoe, &point));
        assert!(note.is_some());
    }

    #[test]
    fn a_bow_tie_is_no_area_and_a_point_no_line() {
        let bow_tie = wkt!(POLYGON((0. 0., 2. 2., 2. 0., 0. 2., 0. 0.))).into();
        assert!(fit(&bow_tie, Wanted::Area).unwrap_err().contains("not valid"));
        let point = wkt!(POINT(1. 1.)).into();
        assert!(fit(&point, Wanted::Line).unwrap_err().contains("it is a point"));
        let still = wkt!(LINESTRING(1. 1., 1. 1.)).into();
        assert!(fit(&still, Wanted::Line).unwrap_err().contains("no length"));
    }

    /// A polygon of so many corners, the one that closes it counted.
    fn round(corners: usize) -> Geometry {
        let turn = std::f64::consts::TAU / (corners - 1) as f64;
        let ring = (0..corners - 1).map(|n| (turn * n as f64).sin_cos());
        geo::Polygon::new(ring.collect(), Vec::new()).into()
    }

    #[test]
    fn so_many_corners_are_taken_and_no_more() {
        assert!(fit(&round(MOST_MARKING), Wanted::Point).is_ok());
        let refused = fit(&round(MOST_MARKING + 1), Wanted::Point).unwrap_err();
        assert!(refused.contains("2001 corners") && refused.contains("2000 at the most"));
        assert!(fit(&round(MOST_CORNERS), Wanted::Area).is_ok());
        let refused = fit(&round(MOST_CORNERS + 1), Wanted::Area).unwrap_err();
        assert!(refused.contains("10001 corners") && refused.contains("10000 are the most"));
    }
}
