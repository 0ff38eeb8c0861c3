//! Between the plan's positions and the town's metres.

use std::fmt::Write;
use std::path::Path;

use perchline::plan;
use perchline::terrain::{Grid, Projector};
use perchline::units::Position;

use super::landscape::{CELL, COLUMNS, LEFT, ROWS, TOP};
use super::place_names::{PLACE_NAMES, Where};
use super::roads::ROADS;
use super::town::{Clear, House};

/// What the plan names, in metres of UTM zone 25.
pub struct Named {
    /// What houses keep clear of.
    pub clear: Clear,
    /// Where no trees grow: places and radii.
    pub open: Vec<((f64, f64), f64)>,
}

/// Sites and posts that a landmark is built on.
const LANDMARKS: [&str; 6] =
    ["Car park", "Hospital", "College library", "Hotel", "Grain elevator", "Net Control"];

/// A grid whose cells are metres east and south of the land's corner.
fn metres() -> Result<Projector, perchline::terrain::TerrainError> {
    let size = (COLUMNS * CELL as usize, ROWS * CELL as usize);
    Grid::new(size.0, size.1, [LEFT, 1.0, 0.0, TOP, 0.0, -1.0], "EPSG:32625")?.projector()
}

/// Reads the sample's plan over `heights`.
pub fn named(file: &Path, heights: &[f64]) -> Result<Named, Box<dyn std::error::Error>> {
    let methods: Vec<_> = perchline::propagation::METHODS.iter().map(|m| m.name()).collect();
    let plan = plan::read(file, &methods)?;
    let projector = metres()?;
    let spot = |at: Position| -> Result<(f64, f64), Box<dyn std::error::Error>> {
        let (east, south) = projector.to_cell(at)?;
        // To the centimetre, so that no rounding of the projection shows.
        let centimetre = |v: f64| (v * 100.0).round() / 100.0;
        Ok((centimetre(LEFT + east), centimetre(TOP - south)))
    };
    let line = |line: &geo::LineString| {
        line.points().map(|p| spot(Position::from_point(p)?)).collect::<Result<Vec<_>, _>>()
    };
    let sites = plan.sites.iter().map(|s| (s.name.as_str(), s.at));
    let posts = plan.posts.iter().map(|p| (p.name.as_str(), p.at));
    let (mut places, mut open, mut landmarks) = (Vec::new(), Vec::new(), Vec::new());
    for (name, at) in sites.chain(posts) {
        let here = spot(at)?;
        match LANDMARKS.iter().find(|landmark| **landmark == name) {
            Some(landmark) => landmarks.push((*landmark, here)),
            None => places.push((here, 14.0)),
        }
        // The overlook has its view; a post stands in a clearing.
        open.push((here, if name == "Ridge overlook" { 250.0 } else { 60.0 }));
    }
    let mut lines = Vec::new();
    for route in &plan.routes {
        let points = line(&route.line)?;
        for pair in points.windows(2) {
            let (dx, dy) = (pair[1].0 - pair[0].0, pair[1].1 - pair[0].1);
            let steps = ((dx * dx + dy * dy).sqrt() / 15.0).ceil().max(1.0);
            open.extend((0..=steps as usize).map(|i| {
                let t = i as f64 / steps;
                ((pair[0].0 + t * dx, pair[0].1 + t * dy), 25.0)
            }));
        }
        lines.push(points);
    }
    for area in &plan.areas {
        let ring = line(area.outline.exterior())?;
        // A lot or a meadow is wider than a house, so its middle and its rim are enough.
        let count = ring.len() as f64;
        let sum = ring.iter().fold((0.0, 0.0), |s, p| (s.0 + p.0, s.1 + p.1));
        let middle = (sum.0 / count, sum.1 / count);
        let reach = ring
            .iter()
            .map(|p| ((p.0 - middle.0).powi(2) + (p.1 - middle.1).powi(2)).sqrt())
            .fold(0.0, f64::max);
        places.push((middle, 0.75 * reach));
        open.push((middle, reach + 20.0));
        lines.push(ring);
    }
    let hotel = plan.sites.iter().find(|s| s.name == "Hotel").ok_or("the plan has no hotel")?;
    let (east, north) = spot(hotel.at)?;
    let (column, row) = (((east - LEFT) / CELL) as usize, ((TOP - north) / CELL) as usize);
    let ground = heights.get(row * COLUMNS + column).ok_or("the hotel is off the land")?;
    let plan::Roof::AboveSea(roof) = hotel.roof else {
        return Err("the hotel's roof is above sea".into());
    };
    // The square before the car park stays open.
    if let Some((_, at)) = landmarks.iter().find(|(name, _)| *name == "Car park") {
        places.push(((at.0 + 40.0, at.1 - 70.0), 55.0));
    }
    let clear = Clear { places, lines, landmarks, hotel: roof.value() - ground };
    Ok(Named { clear, open })
}

/// Points in kilometres east and north of the south-west corner as GeoJSON has them, to a
/// tenth of a metre.
fn coordinates(points: &[(f64, f64)]) -> String {
    let Ok(projector) = metres() else { unreachable!("the zone is known") };
    let height = ROWS as f64 * CELL;
    let points: Vec<String> = points
        .iter()
        .map(|(x, y)| match projector.to_position(x * 1000.0, height - y * 1000.0) {
            Ok(at) => format!("[{:.6},{:.6}]", at.longitude().value(), at.latitude().value()),
            Err(error) => unreachable!("the land is in the zone: {error}"),
        })
        .collect();
    points.join(",")
}

/// Features as GeoJSON, one a line, each with its properties and its geometry.
fn collection(features: impl Iterator<Item = (String, &'static str, String)>) -> String {
    let features: Vec<String> = features
        .map(|(properties, kind, coordinates)| {
            format!(
                "{{\"type\": \"Feature\", \"properties\": {{{properties}}}, \"geometry\": {{\"type\": \"{kind}\", \"coordinates\": {coordinates}}}}}"
            )
        })
        .collect();
    format!("{{\"type\": \"FeatureCollection\", \"features\": [\n{}\n]}}\n", features.join(",\n"))
}

/// The roads as GeoJSON.
pub fn road_geojson() -> String {
    collection(ROADS.iter().map(|(name, points)| {
        (format!("\"name\": \"{name}\""), "LineString", format!("[{}]", coordinates(points)))
    }))
}

/// The names of the ground as GeoJSON.
pub fn name_geojson() -> String {
    collection(PLACE_NAMES.iter().map(|(name, kind, at)| {
        let properties = format!("\"name\": \"{name}\", \"kind\": \"{kind}\"");
        match at {
            Where::At(point) => (properties, "Point", coordinates(&[*point])),
            Where::Along(points) => {
                (properties, "LineString", format!("[{}]", coordinates(points)))
            }
            Where::Within(points) => {
                let ring: Vec<(f64, f64)> = points.iter().chain(points.first()).copied().collect();
                (properties, "Polygon", format!("[[{}]]", coordinates(&ring)))
            }
        }
    }))
}

/// The houses as GeoJSON, coordinates to a tenth of a metre.
pub fn geojson(houses: &[House]) -> String {
    let Ok(projector) = metres() else { unreachable!("the zone is known") };
    let ring = |corners: &[(f64, f64)]| {
        let text: Vec<String> = corners
            .iter()
            .chain(corners.first())
            .map(|(east, north)| match projector.to_position(east - LEFT, TOP - north) {
                Ok(at) => format!("[{:.6},{:.6}]", at.longitude().value(), at.latitude().value()),
                Err(error) => unreachable!("the town is in the zone: {error}"),
            })
            .collect();
        format!("[{}]", text.join(","))
    };
    let mut text = "{\"type\": \"FeatureCollection\", \"features\": [\n".to_owned();
    for (index, house) in houses.iter().enumerate() {
        let mut properties = format!("\"id\": \"b{}\"", index + 1);
        if let Some(name) = house.name {
            properties += &format!(", \"name\": \"{name}\"");
        }
        if let Some(height) = &house.height {
            properties += &format!(", \"height\": {height}");
        }
        if let Some(levels) = house.levels {
            properties += &format!(", \"building:levels\": \"{levels}\"");
        }
        let hole =
            if house.hole.is_empty() { String::new() } else { format!(",{}", ring(&house.hole)) };
        let comma = if index + 1 < houses.len() { "," } else { "" };
        // Writing into a String does not fail.
        let _ = writeln!(
            text,
            "{{\"type\": \"Feature\", \"properties\": {{{properties}}}, \"geometry\": {{\"type\": \"Polygon\", \"coordinates\": [{}{hole}]}}}}{comma}",
            ring(&house.ring)
        );
    }
    text + "]}\n"
}
