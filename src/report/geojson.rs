//! The map as features (RFC 7946): one area for each class of coverage, and
//! the posts, sites, areas and routes with their figures.
//!
//! Longitude and latitude on WGS 84 to 7 decimals (about a centimetre), outer
//! rings anticlockwise, holes clockwise. A map over the date line is not cut
//! there: events do not straddle it.

use geo::orient::Direction;
use geo::{Coord, LineString, MultiPolygon, Orient, Polygon, Rect, unary_union};
use geojson::{Feature, FeatureCollection, Geometry, JsonObject};
use serde_json::{Value, json};

use perchline_coverage::Coverage;
use perchline_link::Outcome;
use perchline_plan::Plan;
use perchline_siting::spots::SpotSearch;
use perchline_siting::{RouteScore, ShareScore};
use perchline_terrain::Projector;
use perchline_units::{Db, Position};

use super::map::MapContent;
use super::map::spots::SpotMap;
use super::outputs::{OutboxSlot, OutputError};
use super::words;
use super::{Provenance, ReportError};

/// Long straight sides get a corner wherever they pass a multiple of this many
/// cells, so that they follow the grid's curve in longitude and latitude and
/// two neighbours share their corners.
const CORNER_EVERY: i64 = 16;

/// Writes the map as [`map_features`] makes it.
pub(super) fn write_map(content: &MapContent<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.json(&map_features(content)?)
}

/// Writes a search as [`spot_features`] makes it.
pub(super) fn write_spots(content: &SpotMap<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    slot.json(&spot_features(content.plan, content.search, content.provenance))
}

/// Everything on the map as one collection, its provenance as a foreign member.
///
/// # Errors
/// [`ReportError`] when the coverage does not fit its grid or a corner cannot
/// be projected.
pub fn map_features(content: &MapContent<'_>) -> Result<FeatureCollection, ReportError> {
    let mut collection = coverage_features(content.coverage)?;
    let plan = content.plan;
    for area in &plan.areas {
        let score = content.site.areas.iter().find(|s| s.name == area.name);
        let mut own = share_properties("staging-area", &area.name, score);
        own.insert("weight".to_owned(), json!(area.weight));
        let outline = area.outline.orient(Direction::Default);
        collection.features.push(feature(polygon_geometry(&[outline]), own));
    }
    for route in &plan.routes {
        let score = content.site.routes.iter().find(|s| s.share.name == route.name);
        let mut own = share_properties("route", &route.name, score.map(|s| &s.share));
        own.extend(score.map(route_properties).into_iter().flatten());
        own.insert("weight".to_owned(), json!(route.weight));
        collection.features.push(feature(Geometry::new_line_string(ring(&route.line)), own));
    }
    for (index, post) in content.site.posts.iter().enumerate() {
        collection.features.push(feature(
            point(post.at),
            object(json!({
                "kind": "post",
                "name": post.post,
                "number": index + 1,
                "outcome": post.outcome,
                "meaning": words::meaning(post.outcome),
                "probability_both_ways": post.probability.map(thousandths),
                "must": post.must,
                "distance_m": tenths(post.distance_m.value()),
                "line_of_sight": post.line_of_sight,
                "governing": post.budgets.as_ref().map(|b| b.governing),
                "governing_margin_db": post.governing_margin_db.map(margin),
                "talk_in_margin_db": post.budgets.as_ref().map(|b| margin(b.talk_in.margin_db)),
                "talk_out_margin_db": post.budgets.as_ref().map(|b| margin(b.talk_out.margin_db)),
                "reason": post.reason,
                "remedy": post.remedy,
            })),
        ));
    }
    let site = content.site;
    collection.features.push(feature(
        point(site.at),
        object(json!({
            "kind": "site",
            "name": site.site,
            "in_use": true,
            "available": site.available,
            "ground_m": tenths(site.ground_m.value()),
            "antenna_above_ground_m": tenths(site.antenna_above_ground_m.value()),
            "weighted_probability": thousandths(site.weighted_probability),
            "posts_covered": site.posts_covered,
            "posts": site.posts.len(),
            "must_posts_met": site.must_posts_met,
            "worst_post": site.worst_post,
            "map_share": site.map_share,
        })),
    ));
    for other in plan.sites.iter().filter(|s| s.name != site.site) {
        collection.features.push(feature(
            point(other.at),
            object(json!({
                "kind": "site",
                "name": other.name,
                "in_use": false,
                "available": other.available,
            })),
        ));
    }
    collection.foreign_members = Some(object(json!({
        "event": plan.event.name,
        "site": site.site,
        "channel": content.channel,
        "provenance": content.provenance,
        "caveats": words::caveats(plan.houses()),
        "remarks": content.remarks,
    })));
    Ok(collection)
}

/// The spots that a search found as points with their figures, best first; its
/// provenance as a foreign member.
fn spot_features(plan: &Plan, search: &SpotSearch, provenance: &Provenance) -> FeatureCollection {
    let features = search.spots.iter().enumerate().map(|(index, spot)| {
        let rank = &spot.rank;
        feature(
            point(rank.at),
            object(json!({
                "kind": "spot",
                "name": rank.name,
                "number": index + 1,
                "stands_on": spot.stands_on,
                "ground_m": tenths(rank.ground_m.value()),
                "antenna_above_ground_m": tenths(rank.antenna_above_ground_m.value()),
                "weighted_probability": thousandths(rank.weighted_probability),
                "missed_must_posts": rank.missed_must_posts,
                "posts_covered": rank.posts_covered,
                "posts": rank.posts,
                "to_road_m": spot.to_road_m.map(|road| tenths(road.value())),
                "near_site": spot.near_site,
                "slope_percent": spot.slope.map(|slope| tenths(slope * 100.0)),
            })),
        )
    });
    FeatureCollection {
        features: features.collect(),
        foreign_members: Some(object(json!({
            "event": plan.event.name,
            "channel": search.channel,
            "bound": search.bound,
            "provenance": provenance,
            "caveats": words::caveats(plan.houses())
                .iter()
                .chain(words::SPOTS)
                .collect::<Vec<_>>(),
        }))),
        ..FeatureCollection::default()
    }
}

/// The coverage alone: one feature for each class that occurs, its cells
/// dissolved into polygons with holes.
///
/// # Errors
/// [`ReportError`] when the coverage does not fit its grid or a corner cannot
/// be projected.
pub fn coverage_features(coverage: &Coverage) -> Result<FeatureCollection, ReportError> {
    let features = coverage_polygons(coverage)?
        .into_iter()
        .map(|(outcome, ground)| {
            feature(
                polygon_geometry(&ground.0),
                object(json!({
                    "kind": "coverage",
                    "outcome": outcome,
                    "name": words::legend(outcome, coverage.reliability),
                    "probability_from": outcome.from_probability(coverage.reliability),
                    "works_both_ways": outcome.works(),
                    "cells": coverage.outcome.iter().filter(|o| **o == outcome).count(),
                    "share_of_map": coverage.share(outcome),
                })),
            )
        })
        .collect();
    Ok(FeatureCollection { bbox: None, features, foreign_members: None })
}

/// The ground of each class that occurs, best first, in longitude and latitude,
/// its cells dissolved into polygons with holes.
///
/// # Errors
/// [`ReportError`] as for [`coverage_features`].
pub fn coverage_polygons(coverage: &Coverage) -> Result<Vec<(Outcome, MultiPolygon)>, ReportError> {
    let grid = &coverage.grid;
    let expected = (grid.rows(), grid.columns());
    if coverage.outcome.dim() != expected {
        return Err(ReportError::Uneven {
            layer: "coverage",
            found: coverage.outcome.dim(),
            expected,
        });
    }
    let projector = grid.projector()?;
    Outcome::ALL
        .into_iter()
        .filter(|outcome| coverage.outcome.iter().any(|there| there == outcome))
        .map(|outcome| Ok((outcome, projected(&dissolved(coverage, outcome), &projector)?)))
        .collect()
}

/// The cells of one class as polygons, x = column and y = row of their corners.
fn dissolved(coverage: &Coverage, wanted: Outcome) -> MultiPolygon {
    let mut blocks: Vec<Polygon> = Vec::new();
    // Runs of the row above that may grow downwards: first, end, first row.
    let mut open: Vec<(usize, usize, usize)> = Vec::new();
    let rows = coverage.outcome.nrows();
    for row in 0..=rows {
        let runs = if row < rows { runs(coverage, row, wanted) } else { Vec::new() };
        let mut next = Vec::with_capacity(runs.len());
        let mut above = open.iter().peekable();
        for (first, end) in runs {
            // Both lists are in order of columns.
            let mut top = row;
            while let Some(&&(f, e, t)) = above.peek() {
                if f > first {
                    break;
                }
                above.next();
                if (f, e) == (first, end) {
                    top = t;
                } else {
                    blocks.push(block(f, e, t, row));
                }
            }
            next.push((first, end, top));
        }
        blocks.extend(above.map(|&(f, e, t)| block(f, e, t, row)));
        open = next;
    }
    unary_union(&blocks)
}

/// Runs of the wanted class in a row: first column and the column after the last.
fn runs(coverage: &Coverage, row: usize, wanted: Outcome) -> Vec<(usize, usize)> {
    let mut runs: Vec<(usize, usize)> = Vec::new();
    for (column, outcome) in coverage.outcome.row(row).iter().enumerate() {
        if *outcome != wanted {
            continue;
        }
        match runs.last_mut() {
            Some((_, end)) if *end == column => *end = column + 1,
            _ => runs.push((column, column + 1)),
        }
    }
    runs
}

fn block(first: usize, end: usize, top: usize, bottom: usize) -> Polygon {
    Rect::new((first as f64, top as f64), (end as f64, bottom as f64)).to_polygon()
}

/// Corners of cells as longitude and latitude, rings turned as RFC 7946 wants them.
fn projected(cells: &MultiPolygon, projector: &Projector) -> Result<MultiPolygon, ReportError> {
    let line = |ring: &LineString| -> Result<LineString, ReportError> {
        let corners = with_corners(ring);
        let positions = projector.to_positions(&corners)?;
        Ok(positions.iter().map(|p| rounded(p.point().into())).collect())
    };
    let mut polygons = Vec::with_capacity(cells.0.len());
    for polygon in cells {
        let holes = polygon.interiors().iter().map(line).collect::<Result<Vec<_>, _>>()?;
        polygons.push(Polygon::new(line(polygon.exterior())?, holes).orient(Direction::Default));
    }
    Ok(MultiPolygon(polygons))
}

/// The corners of a ring that runs along cells' sides, whole numbers again
/// after the union, with more of them on long sides.
fn with_corners(ring: &LineString) -> Vec<(f64, f64)> {
    let whole = |c: &Coord| (c.x.round(), c.y.round());
    let mut out: Vec<(f64, f64)> = Vec::with_capacity(ring.0.len());
    for (from, to) in ring.0.iter().zip(ring.0.iter().skip(1)) {
        let (from, to) = (whole(from), whole(to));
        out.push(from);
        let level = from.1 == to.1;
        // Columns and rows of a raster fit into the whole numbers of a float.
        let (a, b) =
            if level { (from.0 as i64, to.0 as i64) } else { (from.1 as i64, to.1 as i64) };
        let (low, high) = (a.min(b), a.max(b));
        let first = (low.div_euclid(CORNER_EVERY) + 1) * CORNER_EVERY;
        let mut between: Vec<i64> =
            (0..).map(|n| first + n * CORNER_EVERY).take_while(|c| *c < high).collect();
        if a > b {
            between.reverse();
        }
        out.extend(
            between.into_iter().map(
                |c| {
                    if level { (c as f64, from.1) } else { (from.0, c as f64) }
                },
            ),
        );
    }
    out.extend(ring.0.last().map(whole));
    out
}

fn rounded(c: Coord) -> Coord {
    let seven = |v: f64| (v * 1e7).round() / 1e7;
    Coord { x: seven(c.x), y: seven(c.y) }
}

fn ring(line: &LineString) -> Vec<[f64; 2]> {
    line.coords().map(|c| rounded(*c)).map(|c| [c.x, c.y]).collect()
}

fn polygon_geometry(polygons: &[Polygon]) -> Geometry {
    let rings = |polygon: &Polygon| -> Vec<Vec<[f64; 2]>> {
        std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(ring).collect()
    };
    Geometry::new_multi_polygon(polygons.iter().map(rings))
}

fn point(at: Position) -> Geometry {
    let at = rounded(at.point().into());
    Geometry::new_point([at.x, at.y])
}

fn route_properties(score: &RouteScore) -> JsonObject {
    object(json!({
        "length_m": tenths(score.length_m.value()),
        "expected_without_contact_m": tenths(score.expected_without_contact_m.value()),
        "longest_gap_from_m": score.longest_gap.map(|g| tenths(g.from_m.value())),
        "longest_gap_to_m": score.longest_gap.map(|g| tenths(g.to_m.value())),
    }))
}

fn share_properties(kind: &str, name: &str, score: Option<&ShareScore>) -> JsonObject {
    object(json!({
        "kind": kind,
        "name": name,
        "share_both_ways": score.map(|s| s.share),
        "probability_both_ways": score.map(|s| thousandths(s.probability)),
        "samples": score.map(|s| s.samples),
    }))
}

/// A margin in dB to a tenth; nothing where it is unknown.
fn margin(margin: Db) -> Value {
    tenths(margin.value())
}

/// A probability to a thousandth.
fn thousandths(probability: f64) -> Value {
    json!((probability * 1e3).round() / 1e3)
}

fn tenths(value: f64) -> Value {
    // A value that is not a number becomes null.
    json!((value * 10.0).round() / 10.0)
}

fn object(value: Value) -> JsonObject {
    match value {
        Value::Object(map) => map,
        _ => JsonObject::new(),
    }
}

fn feature(geometry: Geometry, properties: JsonObject) -> Feature {
    Feature { geometry: Some(geometry), properties: Some(properties), ..Feature::default() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use geo::{Area, Contains, Validation, Winding};
    use geojson::GeometryValue;
    use ndarray::Array2;
    use perchline_terrain::Grid;

    use perchline_units::Dbm;

    /// A coverage drawn in letters, 30 m cells in UTM zone 25 north.
    fn coverage(picture: &[&str]) -> Coverage {
        let (rows, columns) = (picture.len(), picture.first().map_or(0, |r| r.len()));
        let outcome =
            Array2::from_shape_fn((rows, columns), |(r, c)| match picture[r].as_bytes()[c] {
                b'#' => Outcome::Strong,
                b'+' => Outcome::Clear,
                b'?' => Outcome::Unknown,
                _ => Outcome::NoContact,
            });
        of(outcome)
    }

    fn of(outcome: Array2<Outcome>) -> Coverage {
        let (rows, columns) = outcome.dim();
        let transform = [500_000.0, 30.0, 0.0, 4_000_000.0, 0.0, -30.0];
        let layer = Array2::zeros((rows, columns));
        Coverage {
            grid: Grid::new(columns, rows, transform, "EPSG:32625").unwrap(),
            talk_in_margin: layer.clone(),
            talk_out_margin: layer.clone(),
            talk_out_wanted: Dbm::new(-100.0),
            probability: layer,
            reliability: 0.95,
            line_of_sight: Array2::from_elem((rows, columns), true),
            unknown_cells: 0,
            outcome,
        }
    }

    fn polygons(feature: &Feature) -> MultiPolygon {
        let Some(GeometryValue::MultiPolygon { coordinates }) =
            feature.geometry.as_ref().map(|g| &g.value)
        else {
            panic!("not a multi-polygon")
        };
        let ring = |r: &Vec<geojson::Position>| {
            LineString::from(r.iter().map(|p| (p[0], p[1])).collect::<Vec<_>>())
        };
        coordinates
            .iter()
            .map(|rings| {
                let mut rings = rings.iter().map(ring);
                Polygon::new(rings.next().unwrap(), rings.collect())
            })
            .collect()
    }

    #[test]
    fn a_ring_of_cells_is_one_polygon_with_a_hole() {
        let collection =
            coverage_features(&coverage(&["......", ".####.", ".#..#.", ".####.", "......"]))
                .unwrap();
        assert_eq!(collection.features.len(), 2, "one feature a class");
        let strong = polygons(&collection.features[0]);
        assert_eq!(strong.0.len(), 1);
        assert_eq!(strong.0[0].interiors().len(), 1);
        let none = polygons(&collection.features[1]);
        assert_eq!(none.0.len(), 2, "the hole's filling and the rest around it");
    }

    /// RFC 7946, section 3.1.6: outer rings anticlockwise, holes clockwise, rings closed.
    #[test]
    fn rings_turn_as_the_standard_wants() {
        let collection =
            coverage_features(&coverage(&[".....", ".###.", ".#.#.", ".###."])).unwrap();
        for feature in &collection.features {
            for polygon in &polygons(feature) {
                assert!(polygon.exterior().is_ccw() && polygon.exterior().is_closed());
                assert!(polygon.interiors().iter().all(|hole| hole.is_cw()));
            }
        }
        let text = collection.to_string();
        assert!(!text.contains("\"crs\""));
    }

    /// Cells that meet at a corner only, side by side and around a hole.
    #[test]
    fn corners_that_touch_do_not_make_a_ring_cross_itself() {
        for picture in [
            &["#.", ".#"] as &[&str],
            &["#.#", ".#.", "#.#"],
            &["#####", "#.#.#", "##.##", "#.#.#", "#####"],
            &[".##", "#.#", "##."],
        ] {
            for feature in &coverage_features(&coverage(picture)).unwrap().features {
                let found = polygons(feature);
                assert!(found.is_valid(), "{picture:?}: {:?}", found.check_validation());
            }
        }
    }

    /// A cell lies in the polygon of its own class and in no other.
    #[test]
    fn noise_is_dissolved_without_loss() {
        let mut state = 99u64;
        let outcome = Array2::from_shape_fn((24, 40), |_| {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
            match state >> 62 {
                0 => Outcome::Strong,
                1 => Outcome::Patchy,
                2 => Outcome::OneWay,
                _ => Outcome::Unknown,
            }
        });
        let coverage = of(outcome);
        let collection = coverage_features(&coverage).unwrap();
        let projector = coverage.grid.projector().unwrap();
        let grounds: Vec<(Value, MultiPolygon)> = collection
            .features
            .iter()
            .map(|f| (f.property("outcome").unwrap().clone(), polygons(f)))
            .collect();
        for (name, ground) in &grounds {
            assert!(ground.is_valid(), "{name}: {:?}", ground.check_validation());
        }
        for ((row, column), outcome) in coverage.outcome.indexed_iter() {
            let middle = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
            for (name, ground) in &grounds {
                let own = *name == serde_json::to_value(outcome).unwrap();
                assert_eq!(ground.contains(&middle.point()), own, "cell {row}, {column} in {name}");
            }
        }
        // All classes together are the grid: its outline with the same corners on the sides.
        let total: f64 = grounds.iter().map(|(_, g)| g.unsigned_area()).sum();
        let all = of(Array2::from_elem((24, 40), Outcome::Clear));
        let whole = polygons(&coverage_features(&all).unwrap().features[0]).unsigned_area();
        approx::assert_relative_eq!(total, whole, max_relative = 5e-6);
    }

    #[test]
    fn positions_have_seven_decimals_and_a_known_corner() {
        let collection = coverage_features(&coverage(&["##", "##"])).unwrap();
        let corners = polygons(&collection.features[0]);
        for c in corners.0[0].exterior().coords() {
            approx::assert_abs_diff_eq!(c.x * 1e7, (c.x * 1e7).round(), epsilon = 1e-3);
        }
        // 500000 E is the zone's central meridian, 33 degrees west, by definition.
        let west = corners.0[0].exterior().coords().map(|c| c.x).fold(f64::INFINITY, f64::min);
        approx::assert_abs_diff_eq!(west, -33.0, epsilon = 1e-7);
    }
}
