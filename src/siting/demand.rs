//! Spots that stand for a staging area or a route.

use geo::{
    BoundingRect, Contains, Densify, Distance, Euclidean, Geodesic, InteriorPoint, InterpolatePoint,
};

use perchline_plan::{Area, Route};
use perchline_terrain::Terrain;
use perchline_units::{Metres, Position};

/// A spot and the length or area that it stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sample {
    pub(super) at: Position,
    pub(super) weight: f64,
}

/// Length of route that one spot stands for at most.
const ROUTE_STEP: Metres = Metres::new(25.0);

/// Least and most spots along one side of an area.
const AREA_SPOTS: (f64, f64) = (3.0, 40.0);

/// Wanted distance between spots in an area.
const AREA_STEP: Metres = Metres::new(10.0);

/// The same spots, those inside a building moved to the street beside it:
/// routes and areas cut corners of footprints, people do not.
pub(super) fn on_the_street(mut samples: Vec<Sample>, terrain: &Terrain) -> Vec<Sample> {
    for sample in &mut samples {
        if terrain.building(sample.at).is_some() {
            sample.at = terrain.beside(sample.at).unwrap_or(sample.at);
        }
    }
    samples
}

/// Middles of the pieces, 25 m long at most, into which a route is cut, each
/// weighted by its length.
pub(super) fn route_samples(route: &Route) -> Vec<Sample> {
    Geodesic
        .densify(&route.line, ROUTE_STEP.value())
        .lines()
        .filter_map(|piece| {
            let middle =
                Euclidean.point_at_ratio_between(piece.start_point(), piece.end_point(), 0.5);
            Some(Sample {
                at: Position::from_point(middle).ok()?,
                weight: Geodesic.distance(piece.start_point(), piece.end_point()),
            })
        })
        .filter(|sample| sample.weight > 0.0)
        .collect()
}

/// A lattice of spots, about 10 m apart, inside an area's outline; one interior
/// point for an area too thin to hold any.
pub(super) fn area_samples(area: &Area) -> Vec<Sample> {
    let Some(bounds) = area.outline.bounding_rect() else {
        return Vec::new();
    };
    let (low, high) = (bounds.min(), bounds.max());
    let count = |from: geo::Coord, to: geo::Coord| {
        let side = Geodesic.distance(from.into(), geo::Point::from(to));
        (side / AREA_STEP.value()).ceil().clamp(AREA_SPOTS.0, AREA_SPOTS.1) as u32
    };
    let columns = count(low, geo::coord! { x: high.x, y: low.y });
    let rows = count(low, geo::coord! { x: low.x, y: high.y });
    let along = |low: f64, high: f64, index: u32, of: u32| {
        low + (high - low) * (f64::from(index) + 0.5) / f64::from(of)
    };
    let lattice = (0..rows).flat_map(|row| {
        (0..columns).map(move |column| {
            geo::point! { x: along(low.x, high.x, column, columns), y: along(low.y, high.y, row, rows) }
        })
    });
    let spots: Vec<_> = lattice
        .filter(|point| area.outline.contains(point))
        .filter_map(|point| Some(Sample { at: Position::from_point(point).ok()?, weight: 1.0 }))
        .collect();
    if spots.is_empty() {
        let inside = area.outline.interior_point().and_then(|p| Position::from_point(p).ok());
        inside.map(|at| Sample { at, weight: 1.0 }).into_iter().collect()
    } else {
        spots
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use geo::{LineString, Polygon};

    use super::*;

    #[test]
    fn route_pieces_are_short_and_add_up() {
        let line = LineString::from(vec![(-34.9, 47.0), (-34.88, 47.0), (-34.88, 47.01)]);
        let length: f64 =
            line.lines().map(|l| Geodesic.distance(l.start_point(), l.end_point())).sum();
        let samples =
            route_samples(&Route { name: String::new(), line, weight: 1.0, environment: None });
        assert!(samples.iter().all(|s| s.weight <= ROUTE_STEP.value() + 1e-6));
        assert_relative_eq!(
            samples.iter().map(|s| s.weight).sum::<f64>(),
            length,
            max_relative = 1e-6
        );
    }

    #[test]
    fn an_area_is_sampled_inside_its_outline_only() {
        let outline = Polygon::new(
            LineString::from(vec![(0.0, 0.0), (0.002, 0.0), (0.0, 0.002), (0.0, 0.0)]),
            vec![],
        );
        let area = Area { name: String::new(), outline, weight: 1.0, environment: None };
        let samples = area_samples(&area);
        assert!(samples.len() > 100);
        assert!(samples.iter().all(|s| area.outline.contains(&s.at.point())));
    }

    #[test]
    fn a_sliver_still_has_one_spot() {
        let outline = Polygon::new(
            LineString::from(vec![(0.0, 0.0), (0.01, 0.003), (0.01, 0.003_000_1), (0.0, 0.0)]),
            vec![],
        );
        let area = Area { name: String::new(), outline, weight: 1.0, environment: None };
        assert_eq!(area_samples(&area).len(), 1);
    }
}
