//! The map as features (RFC 7946): one area for each class of coverage, and
//! the posts, sites, areas and routes with their figures.
//!
//! Longitude and latitude on WGS 84, outer rings anticlockwise, holes clockwise.
//! Places are given to 7 decimals (about a centimetre), classes to a hundredth of a
//! cell. A map over the date line is not cut there: events do not straddle it.

use std::io::{self, Write};

use geo::orient::Direction;
use geo::{Coord, LineString, MapCoords, MultiPolygon, Orient, Polygon};
use geojson::{Feature, FeatureCollection, Geometry, JsonObject};
use rayon::prelude::*;
use serde_json::{Value, json};

use perchline_coverage::Coverage;
use perchline_link::Outcome;
use perchline_plan::Plan;
use perchline_siting::spots::SpotSearch;
use perchline_siting::{RouteScore, ShareScore};
use perchline_terrain::Grid;
use perchline_units::{Db, Position};

use super::borders::Borders;
use super::cautions::{Output, said};
use super::map::MapContent;
use super::map::spots::SpotMap;
use super::outputs::{OutboxSlot, OutputError};
use super::words;
use super::{Provenance, ReportError};

/// Metres in a degree of latitude, near enough to tell decimals by.
const DEGREE: f64 = 111e3;

/// Decimals of places.
const CENTIMETRES: i32 = 7;

/// Corners that one thread projects at a time.
const PROJECTED: usize = 1 << 15;

/// Rings whose text is held at a time, and of these what one thread writes.
const HELD: usize = 1 << 13;
const WRITTEN: usize = 1 << 8;

/// Writes what [`map_features`] makes, a feature a line.
pub(super) fn write_map(content: &MapContent<'_>, slot: OutboxSlot<'_>) -> Result<(), OutputError> {
    let coverage = content.coverage;
    let grounds = coverage_polygons(coverage)?;
    let (places, members) = (places(content), members(content));
    slot.through(|to| {
        to.write_all(b"{\"type\":\"FeatureCollection\",\n\"features\":[")?;
        let mut before = "\n";
        for (outcome, ground) in &grounds {
            write!(to, "{before}{{\"type\":\"Feature\",\"properties\":")?;
            serde_json::to_writer(&mut *to, &class_properties(coverage, *outcome))?;
            to.write_all(b",\"geometry\":{\"type\":\"MultiPolygon\",\"coordinates\":[")?;
            write_polygons(to, ground)?;
            to.write_all(b"]}}")?;
            before = ",\n";
        }
        for place in &places {
            to.write_all(before.as_bytes())?;
            serde_json::to_writer(&mut *to, place)?;
            before = ",\n";
        }
        to.write_all(b"\n]")?;
        for (name, value) in &members {
            to.write_all(b",\n")?;
            serde_json::to_writer(&mut *to, name)?;
            to.write_all(b":")?;
            serde_json::to_writer(&mut *to, value)?;
        }
        to.write_all(b"}\n")
    })
}

/// Polygons as the coordinates of a GeoJSON multi-polygon, without its brackets.
fn write_polygons(to: &mut dyn Write, ground: &MultiPolygon) -> io::Result<()> {
    let polygons = ground.iter().enumerate();
    let rings: Vec<(&str, &LineString, &str)> = polygons
        .flat_map(|(number, polygon)| {
            let holes = polygon.interiors();
            let end = |last: bool| if last { "]" } else { "" };
            let first = if number == 0 { "[" } else { ",[" };
            let outer = (first, polygon.exterior(), end(holes.is_empty()));
            let inner = holes.iter().enumerate();
            std::iter::once(outer)
                .chain(inner.map(move |(at, hole)| (",", hole, end(at + 1 == holes.len()))))
        })
        .collect();
    for held in rings.chunks(HELD) {
        let texts: Vec<io::Result<Vec<u8>>> = held
            .par_chunks(WRITTEN)
            .map(|rings| {
                let mut text = Vec::new();
                for (before, ring, after) in rings {
                    text.extend_from_slice(before.as_bytes());
                    serde_json::to_writer(&mut text, &positions(ring))?;
                    text.extend_from_slice(after.as_bytes());
                }
                Ok(text)
            })
            .collect();
        for text in texts {
            to.write_all(&text?)?;
        }
    }
    Ok(())
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
    collection.features.extend(places(content));
    collection.foreign_members = Some(members(content));
    Ok(collection)
}

/// What is on the map beside its classes.
fn places(content: &MapContent<'_>) -> Vec<Feature> {
    let plan = content.plan;
    let mut features = Vec::new();
    for area in &plan.areas {
        let score = content.site.areas.iter().find(|s| s.name == area.name);
        let mut own = share_properties("staging-area", &area.name, score);
        own.insert("weight".to_owned(), json!(area.weight));
        let outline = area.outline.orient(Direction::Default).map_coords(to_centimetres);
        features.push(feature(polygon_geometry(&[outline]), own));
    }
    for route in &plan.routes {
        let score = content.site.routes.iter().find(|s| s.share.name == route.name);
        let mut own = share_properties("route", &route.name, score.map(|s| &s.share));
        own.extend(score.map(route_properties).into_iter().flatten());
        own.insert("weight".to_owned(), json!(route.weight));
        features.push(feature(
            Geometry::new_line_string(positions(&route.line.map_coords(to_centimetres))),
            own,
        ));
    }
    for (index, post) in content.site.posts.iter().enumerate() {
        features.push(feature(
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
    features.push(feature(
        point(site.at),
        object(json!({
            "kind": "site",
            "name": site.site,
            "in_use": true,
            "available": site.available,
            "refused_mast": site.refused_mast,
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
        features.push(feature(
            point(other.at),
            object(json!({
                "kind": "site",
                "name": other.name,
                "in_use": false,
                "available": other.available,
            })),
        ));
    }
    features
}

/// What is told of the map as a whole.
fn members(content: &MapContent<'_>) -> JsonObject {
    object(json!({
        "event": content.plan.event.name,
        "site": content.site.site,
        "channel": content.channel,
        "provenance": content.provenance,
        "caveats": words::caveats(content.plan.houses()),
        "cautions": said(content.plan, Output::Coverage),
        "remarks": content.remarks,
    }))
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
            "caveats": words::caveats(plan.houses()),
            "cautions": said(plan, Output::Search),
        }))),
        ..FeatureCollection::default()
    }
}

/// The coverage alone: one feature for each class that occurs, its cells
/// dissolved into polygons with holes as [`coverage_polygons`] makes them.
///
/// # Errors
/// [`ReportError`] when the coverage does not fit its grid or a corner cannot
/// be projected.
pub fn coverage_features(coverage: &Coverage) -> Result<FeatureCollection, ReportError> {
    let features = coverage_polygons(coverage)?
        .into_iter()
        .map(|(outcome, ground)| {
            feature(polygon_geometry(&ground.0), class_properties(coverage, outcome))
        })
        .collect();
    Ok(FeatureCollection { bbox: None, features, foreign_members: None })
}

fn class_properties(coverage: &Coverage, outcome: Outcome) -> JsonObject {
    object(json!({
        "kind": "coverage",
        "outcome": outcome,
        "name": words::legend(outcome, coverage.reliability),
        "probability_from": outcome.from_probability(coverage.reliability),
        "works_both_ways": outcome.works(),
        "cells": coverage.outcome.iter().filter(|o| **o == outcome).count(),
        "share_of_map": coverage.share(outcome),
    }))
}

/// The ground of each class that occurs, best first, in longitude and latitude,
/// its cells dissolved into polygons with holes.
///
/// Borders between classes are simplified by half a cell at the most: the centre of
/// each cell lies in its own class and in no other, neighbours share their line, and
/// all polygons are valid and together cover the map without overlap or hole.
/// Coordinates are rounded to a hundredth of a cell.
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
    let borders = Borders::of(&coverage.outcome);
    let decimals = decimals(grid)?;
    let projected = |corners: &[(f64, f64)]| -> Result<Vec<Coord>, ReportError> {
        let positions = grid.projector()?.to_positions(corners)?;
        Ok(positions.iter().map(|p| rounded(p.point().into(), decimals)).collect())
    };
    let places = borders.points().par_chunks(PROJECTED).map(projected);
    let places = places.collect::<Result<Vec<_>, _>>()?.concat();
    Ok(borders.polygons(&places, is_mirrored(grid)?))
}

/// Decimals of a degree that tell a hundredth of a cell.
fn decimals(grid: &Grid) -> Result<i32, ReportError> {
    let (width, height) = grid.cell_size()?;
    let needed = (100.0 * DEGREE / width.min(height).value()).log10().ceil();
    // Cells of a tenth of a millimetre and of the whole earth.
    Ok(needed.clamp(2.0, 11.0) as i32)
}

/// Whether a grid's rows follow each other to the left of its columns' way.
fn is_mirrored(grid: &Grid) -> Result<bool, ReportError> {
    let (column, row) = (grid.columns() as f64 / 2.0, grid.rows() as f64 / 2.0);
    let corners = [(column, row), (column + 1.0, row), (column, row + 1.0)];
    let positions = grid.projector()?.to_positions(&corners)?;
    let [from, across, down] = positions.as_slice() else { return Ok(false) };
    let way = |to: &Position| {
        let east = to.longitude().value() - from.longitude().value();
        let north = to.latitude().value() - from.latitude().value();
        // The short way around the earth.
        ((east + 180.0).rem_euclid(360.0) - 180.0, north)
    };
    let (across, down) = (way(across), way(down));
    Ok(across.0 * down.1 - across.1 * down.0 > 0.0)
}

fn rounded(c: Coord, decimals: i32) -> Coord {
    let unit = 10f64.powi(decimals);
    let round = |v: f64| (v * unit).round() / unit;
    Coord { x: round(c.x), y: round(c.y) }
}

fn to_centimetres(c: Coord) -> Coord {
    rounded(c, CENTIMETRES)
}

fn positions(line: &LineString) -> Vec<[f64; 2]> {
    line.coords().map(|c| [c.x, c.y]).collect()
}

fn polygon_geometry(polygons: &[Polygon]) -> Geometry {
    let rings = |polygon: &Polygon| -> Vec<Vec<[f64; 2]>> {
        std::iter::once(polygon.exterior()).chain(polygon.interiors()).map(positions).collect()
    };
    Geometry::new_multi_polygon(polygons.iter().map(rings))
}

fn point(at: Position) -> Geometry {
    let at = to_centimetres(at.point().into());
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

    /// Cells of 30 m: a hundredth of one is 0.3 m, 2.7 millionths of a degree.
    #[test]
    fn coverage_has_the_decimals_that_a_cell_needs_and_a_known_corner() {
        let collection = coverage_features(&coverage(&["##", "##"])).unwrap();
        let corners = polygons(&collection.features[0]);
        for c in corners.0[0].exterior().coords() {
            approx::assert_abs_diff_eq!(c.x * 1e6, (c.x * 1e6).round(), epsilon = 1e-4);
        }
        // 500000 E is the zone's central meridian, 33 degrees west, by definition.
        let west = corners.0[0].exterior().coords().map(|c| c.x).fold(f64::INFINITY, f64::min);
        approx::assert_abs_diff_eq!(west, -33.0, epsilon = 1e-6);
    }

    /// A raster may count its rows from the south.
    #[test]
    fn rings_turn_alike_where_rows_run_north() {
        let mut coverage = coverage(&["#.#", ".#.", "..#"]);
        let transform = [500_000.0, 30.0, 0.0, 4_000_000.0, 0.0, 30.0];
        coverage.grid = Grid::new(3, 3, transform, "EPSG:32625").unwrap();
        for (_, ground) in coverage_polygons(&coverage).unwrap() {
            assert!(ground.is_valid());
            for polygon in &ground {
                assert!(polygon.exterior().is_ccw());
                assert!(polygon.interiors().iter().all(|hole| hole.is_cw()));
            }
        }
    }
}
