//! Buildings and land cover on the terrain: heights, bad input, coordinate
//! systems, and what they do to a walker's link.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::sync::atomic::AtomicBool;

use crate::support::wanted::has_gdal;
use crate::support::{PLAN, UTM_25N, perchline, printed, said, utm_transform, write_raster};
use ndarray::Array2;
use perchline::coverage::{cover as cover_map, plain};
use perchline::link::{LinkModel, Propagator, Terminal};
use perchline::plan::{self, Plan};
use perchline::propagation::{METHODS, p2109};
use perchline::terrain::{CoverError, Extent, Grid, Terrain};
use perchline::units::{Degrees, Megahertz, Metres, Percent, Position};

/// Easting and northing of the middle of the small plan's terrain.
const MIDDLE: (f64, f64) = (356_000.0, 5_207_500.0);

/// A folder with a plan over flat ground 50 m above the sea in cells of 10 m.
struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        write_raster(
            &folder.path().join("terrain.tif"),
            (400, 400),
            utm_transform(MIDDLE.0 - 2000.0, MIDDLE.1 + 2000.0, 10.0),
            Some(UTM_25N),
            Some(-9999.0),
            |_, _| 50.0,
        );
        Self { folder }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// GeoJSON of footprints: (properties as JSON, corners in UTM metres from the middle).
    fn footprints(&self, name: &str, features: &[(&str, &[(f64, f64)])]) -> PathBuf {
        let projector = utm_grid().projector().unwrap();
        let features: Vec<String> = features
            .iter()
            .map(|(properties, corners)| {
                let ring: Vec<String> = corners
                    .iter()
                    .chain(corners.first())
                    .map(|(east, north)| {
                        let at = projector.to_position(*east, -*north).unwrap();
                        format!("[{:.9}, {:.9}]", at.longitude().value(), at.latitude().value())
                    })
                    .collect();
                format!(
                    r#"{{"type": "Feature", "properties": {properties}, "geometry": {{"type": "Polygon", "coordinates": [[{}]]}}}}"#,
                    ring.join(", ")
                )
            })
            .collect();
        let text =
            format!(r#"{{"type": "FeatureCollection", "features": [{}]}}"#, features.join(",\n"));
        fs::write(self.path(name), text).unwrap();
        self.path(name)
    }

    /// The plan with `tables` in it, read.
    fn plan(&self, tables: &str, edit: impl Fn(String) -> String) -> Plan {
        let text = edit(PLAN.replace("[map]", &format!("{tables}\n[map]")));
        fs::write(self.path("plan.toml"), text).unwrap();
        let methods: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
        plan::read(&self.path("plan.toml"), &methods).unwrap()
    }

    fn terrain(&self, tables: &str) -> Terrain {
        let plan = self.plan(tables, |text| text);
        open(&plan).unwrap()
    }
}

fn open(plan: &Plan) -> Result<Terrain, CoverError> {
    let extent = Extent::around(plan.extent_points(), plan.map.margin).unwrap();
    Terrain::open(&plan.terrain, extent).unwrap().with_surroundings(plan)
}

/// A grid whose cells are metres from the middle.
fn utm_grid() -> Grid {
    Grid::new(1, 1, [MIDDLE.0, 1.0, 0.0, MIDDLE.1, 0.0, -1.0], "EPSG:32625").unwrap()
}

fn at(east: f64, north: f64) -> Position {
    utm_grid().projector().unwrap().to_position(east, -north).unwrap()
}

/// Cover at a place: that of the cell which holds it.
fn cover(terrain: &Terrain, east: f64, north: f64) -> f32 {
    let (column, row) = terrain.grid().projector().unwrap().to_cell(at(east, north)).unwrap();
    terrain.cover().unwrap()[(row as usize, column as usize)]
}

fn square(east: f64, north: f64, side: f64) -> Vec<(f64, f64)> {
    vec![(east, north), (east + side, north), (east + side, north + side), (east, north + side)]
}

#[track_caller]
fn remarked(terrain: &Terrain, parts: &[&str]) {
    let found = terrain.remarks().iter().any(|r| parts.iter().all(|part| r.text.contains(part)));
    let texts: Vec<_> = terrain.remarks().iter().map(|r| &r.text).collect();
    assert!(found, "no remark has {parts:?}: {texts:#?}");
}

const BUILDINGS: &str = "[buildings]\nfiles = [\"b.geojson\"]\n";

/// A height of 60 to 90 m that no neighbour tells.
fn crest(row: usize, column: usize) -> f64 {
    60.0 + (row * 7919 + column * 104_729) as f64 % 31.0
}

#[test]
fn finer_cells_keep_ground_that_lies_on_another_grid() {
    let place = Place::new();
    let (left, top) = (MIDDLE.0 - 2000.0, MIDDLE.1 + 2000.0);
    // The western half level, in cells of 20 m; beside it others, 7 m off.
    let written = |name: &str, size, origin: (f64, f64), height: &dyn Fn(usize, usize) -> f32| {
        let transform = utm_transform(origin.0, origin.1, 20.0);
        write_raster(&place.path(name), size, transform, Some(UTM_25N), Some(-9999.0), height);
    };
    written("terrain.tif", (100, 200), (left, top), &|_, _| 50.0);
    written("east.tif", (200, 200), (left + 7.0, top + 7.0), &|c, r| crest(r, c) as f32);
    place.footprints("houses.geojson", &[(r#"{"height": 9}"#, &square(200.0, 0.0, 20.0))]);
    let tables = "[buildings]\nfiles = [\"houses.geojson\"]\ncell = \"5 m\"\n";
    let plan = place.plan(tables, |text| text.replace("terrain.tif", "terrain.tif\", \"east.tif"));
    let terrain = open(&plan).unwrap();
    assert!(terrain.spacing().value() < 5.1, "{}", terrain.spacing());
    for step in 0..300 {
        let share = f64::from(step) / 300.0;
        let (east, north) = (60.0 + 500.0 * share, -400.0 + 800.0 * (17.0 * share).fract());
        let x = (MIDDLE.0 + east - left - 7.0) / 20.0 - 0.5;
        let y = (top + 7.0 - MIDDLE.1 - north) / 20.0 - 0.5;
        let (column, row) = (x as usize, y as usize);
        let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
        let upper = mix(crest(row, column), crest(row, column + 1), x.fract());
        let lower = mix(crest(row + 1, column), crest(row + 1, column + 1), x.fract());
        let own = mix(upper, lower, y.fract());
        let found = terrain.ground(at(east, north)).unwrap().value();
        assert!((found - own).abs() < 0.01, "{east:.0} {north:.0}: {found} against {own}");
    }
    // At the seam nothing jumps by more than the ground does.
    let seam = |east: f64| terrain.ground(at(east, 100.0)).unwrap().value();
    for step in 0..400 {
        let east = -40.0 + 0.2 * f64::from(step);
        let rise = (seam(east + 0.2) - seam(east)).abs();
        assert!(rise < 1.5, "{rise} m over 0.2 m at {east}");
    }
}

#[test]
fn heights_come_from_attributes_then_storeys_then_the_default() {
    let place = Place::new();
    place.footprints(
        "b.geojson",
        &[
            (r#"{"id": "a", "height": 12}"#, &square(0.0, 0.0, 40.0)),
            (r#"{"id": "b", "height": "40 ft"}"#, &square(100.0, 0.0, 40.0)),
            (r#"{"id": "c", "building:levels": "4"}"#, &square(200.0, 0.0, 40.0)),
            (r#"{"id": "d"}"#, &square(300.0, 0.0, 40.0)),
        ],
    );
    let terrain = place.terrain(BUILDINGS);
    let near = |found: f32, wanted: f32| assert!((found - wanted).abs() < 1e-4, "{found} {wanted}");
    near(cover(&terrain, 20.0, 20.0), 12.0);
    near(cover(&terrain, 120.0, 20.0), 12.192);
    near(cover(&terrain, 220.0, 20.0), 12.0);
    near(cover(&terrain, 320.0, 20.0), 6.0);
    near(cover(&terrain, 70.0, 20.0), 0.0);
    remarked(&terrain, &["1 of 4 footprints", "default_height of 6.0 m"]);
    // The ground stays apart from what stands on it, and its cells are finer.
    assert!(terrain.heights().iter().all(|h| *h == 50.0));
    assert!((terrain.spacing().value() - 5.0).abs() < 0.01);
    assert_eq!(terrain.ground(at(20.0, 20.0)).unwrap().value(), 50.0);
    let top = terrain.surface().iter().copied().fold(0.0, f32::max);
    near(top, 62.192);
}

#[test]
fn impossible_heights_and_bad_outlines_are_told_by_name() {
    let place = Place::new();
    let bow_tie = [(300.0, 0.0), (340.0, 40.0), (340.0, 0.0), (300.0, 40.0)];
    let flat = [(400.0, 0.0), (420.0, 0.0), (440.0, 0.0)];
    place.footprints(
        "b.geojson",
        &[
            (r#"{"id": "zero", "height": 0, "building:levels": 2}"#, &square(0.0, 0.0, 40.0)),
            (r#"{"id": "giant", "height": 2000}"#, &square(100.0, 0.0, 40.0)),
            (r#"{"id": "knot", "height": 9}"#, &bow_tie),
            (r#"{"id": "line", "height": 9}"#, &flat),
            (r#"{"id": "low", "height": 5}"#, &square(500.0, 0.0, 40.0)),
            (r#"{"id": "high", "height": 20}"#, &square(520.0, 0.0, 40.0)),
            (r#"{"id": "shed", "height": 3}"#, &square(601.0, 1.0, 0.9)),
        ],
    );
    let terrain = place.terrain(BUILDINGS);
    assert_eq!(cover(&terrain, 20.0, 20.0), 6.0);
    assert_eq!(cover(&terrain, 120.0, 20.0), 6.0);
    remarked(&terrain, &["2 heights are none", "zero: height \"0\"", "giant: height \"2000\""]);
    // The repaired knot: the two triangles between its crossing and its sides.
    assert_eq!((cover(&terrain, 305.0, 20.0), cover(&terrain, 320.0, 2.0)), (9.0, 0.0));
    remarked(&terrain, &["1 outlines cross themselves", "knot"]);
    remarked(&terrain, &["1 features are left out", "line: it has no area"]);
    assert_eq!((cover(&terrain, 510.0, 20.0), cover(&terrain, 530.0, 20.0)), (5.0, 20.0));
    remarked(&terrain, &["1 pairs of footprints overlap", "high (20.0 m) over low (5.0 m)"]);
    remarked(&terrain, &["hold the centre of no cell", "shed"]);
}

#[test]
fn an_empty_outline_and_a_line_are_left_out() {
    let place = Place::new();
    let file =
        place.footprints("b.geojson", &[(r#"{"id": "a", "height": 9}"#, &square(0.0, 0.0, 40.0))]);
    let more = r#"{"type": "FeatureCollection", "features": [
        {"type": "Feature", "properties": {"id": "void"}, "geometry": {"type": "Polygon", "coordinates": []}},
        {"type": "Feature", "properties": {"id": "none"}, "geometry": null},
        {"type": "Feature", "properties": {"id": "way"}, "geometry": {"type": "LineString", "coordinates": [[-34.89, 47.0], [-34.88, 47.0]]}},"#;
    let text = fs::read_to_string(&file).unwrap();
    let text = text.replace(r#"{"type": "FeatureCollection", "features": ["#, more);
    fs::write(&file, text).unwrap();
    let terrain = place.terrain(BUILDINGS);
    remarked(&terrain, &["2 features are left out", "void: it is empty", "none: it is empty"]);
    remarked(&terrain, &["1 features are points or lines"]);
    assert_eq!(cover(&terrain, 20.0, 20.0), 9.0);
}

/// `ogr2ogr` brings the same footprints into another system and format.
#[test]
fn footprints_in_another_coordinate_system_land_on_the_same_cells() {
    if !has_gdal(&["ogr2ogr"]) {
        return;
    }
    let place = Place::new();
    let features: Vec<_> = (0..12)
        .map(|i| {
            let corners = square(f64::from(i) * 61.3 - 350.0, f64::from(i * i) * 4.7, 33.3);
            (format!(r#"{{"id": "{i}", "height": {}}}"#, 5 + i), corners)
        })
        .collect();
    let features: Vec<_> = features.iter().map(|(p, c)| (p.as_str(), c.as_slice())).collect();
    let file = place.footprints("b.geojson", &features);
    let plain = place.terrain(BUILDINGS);
    for (name, crs) in [("b.gpkg", "EPSG:3857"), ("b.shp", "EPSG:32626")] {
        let status = Command::new("ogr2ogr")
            .args(["-t_srs", crs])
            .args([&place.path(name), &file])
            .status()
            .unwrap();
        assert!(status.success());
        let other = place.terrain(&BUILDINGS.replace("b.geojson", name));
        assert_eq!(other.cover(), plain.cover(), "{name}");
    }
    assert!(plain.cover().unwrap().iter().filter(|c| **c > 0.0).count() > 400);
}

/// `gdal_rasterize` burns the footprints on the same cells, lowest first.
#[test]
fn burnt_heights_are_those_of_gdal_rasterize() {
    if !has_gdal(&["ogr2ogr", "gdal_rasterize"]) {
        return;
    }
    let place = Place::new();
    let features: Vec<_> = (0..40)
        .map(|i| {
            let i = f64::from(i);
            // Turned squares of many sizes; some overlap.
            let (east, north) = ((i * 97.0) % 900.0 - 400.0, (i * 57.0) % 700.0 - 300.0);
            let (a, b) = (10.0 + i % 9.0 * 3.0, 4.0 + i % 5.0 * 4.0);
            let corners = vec![
                (east, north),
                (east + a, north + b),
                (east + a - b, north + a + b),
                (east - b, north + a),
            ];
            (format!(r#"{{"id": "{i}", "height": {}}}"#, 4.0 + i * 0.5), corners)
        })
        .collect();
    let features: Vec<_> = features.iter().map(|(p, c)| (p.as_str(), c.as_slice())).collect();
    let file = place.footprints("b.geojson", &features);
    let terrain = place.terrain(&(BUILDINGS.to_owned() + "cell = \"2 m\"\n"));
    let grid = terrain.grid();
    let [x, width, _, y, _, height] = grid.transform();
    let (right, bottom) = (x + width * grid.columns() as f64, y + height * grid.rows() as f64);
    let run = |program: &str, arguments: &[&str]| {
        let status =
            Command::new(program).args(arguments).current_dir(place.folder.path()).status();
        assert!(status.unwrap().success(), "{program}");
    };
    run("ogr2ogr", &["-t_srs", "EPSG:32625", "utm.gpkg", file.to_str().unwrap()]);
    let bounds = [x, bottom, right, y].map(|v| format!("{v:.6}"));
    let size = [grid.columns().to_string(), grid.rows().to_string()];
    let mut arguments = vec!["-q", "-a", "height", "-ot", "Float32", "-te"];
    arguments.extend(bounds.iter().map(String::as_str));
    arguments.push("-ts");
    arguments.extend(size.iter().map(String::as_str));
    arguments.extend(["utm.gpkg", "burnt.tif"]);
    run("gdal_rasterize", &arguments);
    let dataset = gdal::Dataset::open(place.path("burnt.tif")).unwrap();
    let burnt = dataset.rasterband(1).unwrap().read_band_as::<f32>().unwrap();
    let burnt = Array2::from_shape_vec((grid.rows(), grid.columns()), burnt.into_shape_and_vec().1)
        .unwrap();
    let differ = burnt.iter().zip(terrain.cover().unwrap()).filter(|(a, b)| a != b).count();
    let built = burnt.iter().filter(|c| **c > 0.0).count();
    assert!(built > 2000, "{built}");
    println!("figure burnt_cells_differ_from_gdal_rasterize {differ} cells");
    assert_eq!(differ, 0);
}

#[test]
fn footprints_that_lie_elsewhere_are_an_error_with_its_line() {
    let place = Place::new();
    place.footprints("b.geojson", &[(r#"{"height": 9}"#, &square(90_000.0, 0.0, 40.0))]);
    place.plan(BUILDINGS, |text| text);
    let output = perchline(place.folder.path(), &["check", "plan.toml"]);
    let said = said(&output);
    assert_eq!(output.status.code(), Some(2), "{said}");
    assert!(said.contains("plan.toml:11: buildings: files"), "{said}");
    assert!(said.contains("no footprint lies where the plan needs them"), "{said}");
}

#[test]
fn bad_tables_are_refused() {
    let place = Place::new();
    place.footprints("b.geojson", &[(r#"{"height": 9}"#, &square(0.0, 0.0, 40.0))]);
    fs::write(place.path("mine.toml"), "[classes]\n7 = { name = \"wood\", kind = \"trees\" }\n")
        .unwrap();
    for (tables, parts) in [
        (
            "[buildings]\nfiles = [\"none.geojson\"]",
            &["buildings: files[0]", "there is no file"][..],
        ),
        ("[buildings]\nfiles = []", &["buildings: files", "at least one"]),
        ("[buildings]\nfiles = [\"b.geojson\", \"b.geojson\"]", &["files[1]", "already"]),
        ("[buildings]\nfiles = [\"b.geojson\"]\ncell = \"1 ft\"", &["cell", "out of range"]),
        ("[buildings]\nfiles = [\"b.geojson\"]\ncell = 5", &["cell", "bare number"]),
        ("[buildings]\nfiles = [\"b.geojson\"]\nstoreys = 5", &["storeys", "no such field"]),
        ("[buildings]\nfiles = [\"b.geojson\"]\nmetres_per_level = 30", &["out of range"]),
        ("[buildings]\nfiles = [\"b.geojson\"]\ndefault_height = \"0 m\"", &["out of range"]),
        ("[buildings]\nfiles = [\"/vsicurl/http://example.org/b.json\"]", &["plain file path"]),
        (
            "[land_cover]\nfile = \"terrain.tif\"\nclasses = \"global-20\"",
            &["Did you mean \"global-10\"?"],
        ),
        (
            "[land_cover]\nfile = \"terrain.tif\"\nclasses = \"mine.toml\"",
            &["mine.toml:2: class 7 needs a height"],
        ),
        (
            "[land_cover]\nfile = \"no.tif\"\nclasses = \"global-10\"",
            &["land_cover: file", "there is no file"],
        ),
        (
            "[land_cover]\nfile = \"b.geojson\"\nclasses = \"global-10\"",
            &["land_cover: file", "cannot be opened"],
        ),
    ] {
        fs::write(place.path("plan.toml"), PLAN.replace("[map]", &format!("{tables}\n[map]")))
            .unwrap();
        let output = perchline(place.folder.path(), &["check", "plan.toml"]);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(2), "{tables}: {said}");
        for part in parts {
            assert!(said.contains(part), "{tables}: no {part:?} in {said}");
        }
    }
}

/// A class raster in geographic degrees, of another cell and not aligned,
/// which covers part of the window and holds codes that nobody knows.
fn write_classes(path: &Path, code: impl Fn(usize, usize) -> f32) {
    // 47.000 to 47.012 N, 34.912 to 34.884 W.
    let degree = 0.000_13;
    write_raster(
        path,
        (215, 92),
        [-34.912, degree, 0.0, 47.012, 0.0, -degree],
        Some(4326),
        Some(0.0),
        code,
    );
}

const LAND_COVER: &str = "[land_cover]\nfile = \"classes.tif\"\nclasses = \"global-10\"\n";

#[test]
fn classes_become_heights_by_the_nearest_cell() {
    let place = Place::new();
    write_classes(&place.path("classes.tif"), |c, r| match (c + 3 * r) % 7 {
        0 => 10.0,
        1 => 50.0,
        2 => 80.0,
        3 if c > 200 => 33.0,
        _ => 30.0,
    });
    let terrain = place.terrain(LAND_COVER);
    remarked(&terrain, &["1 class codes are not in the mapping", "33 in "]);
    remarked(&terrain, &["have no land cover"]);
    // Cell by cell against the code of the raster's cell that holds the centre.
    let dataset = gdal::Dataset::open(place.path("classes.tif")).unwrap();
    let codes = dataset.rasterband(1).unwrap().read_band_as::<f32>().unwrap();
    let grid = terrain.grid();
    let projector = grid.projector().unwrap();
    let (mut seen, mut differ) = (0, 0);
    for ((row, column), cover) in terrain.cover().unwrap().indexed_iter() {
        let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        let x = ((at.longitude().value() + 34.912) / 0.000_13).floor();
        let y = ((47.012 - at.latitude().value()) / 0.000_13).floor();
        let inside = (0.0..215.0).contains(&x) && (0.0..92.0).contains(&y);
        let code = if inside { codes.data()[y as usize * 215 + x as usize] } else { 0.0 };
        let wanted = match code as i32 {
            10 => 15.0,
            50 => 10.0,
            _ => 0.0,
        };
        seen += usize::from(inside);
        differ += usize::from(*cover != wanted);
    }
    assert!(seen > 20_000, "{seen}");
    // Centres on a cell's rim may round to either side.
    assert!(differ <= seen / 10_000, "{differ} of {seen}");
    assert!(terrain.files().iter().any(|f| f.path.ends_with("classes.tif")));
}

#[test]
fn built_land_gives_way_to_footprints() {
    let place = Place::new();
    write_classes(&place.path("classes.tif"), |c, _| if c % 2 == 0 { 50.0 } else { 10.0 });
    place.footprints("b.geojson", &[(r#"{"id": "a", "height": 9}"#, &square(0.0, 0.0, 60.0))]);
    let alone = place.terrain(LAND_COVER);
    let both = place.terrain(&format!("{BUILDINGS}{LAND_COVER}"));
    let heights = |terrain: &Terrain| {
        let mut all: Vec<f32> = terrain.cover().unwrap().iter().copied().collect();
        all.sort_by(f32::total_cmp);
        all.dedup();
        all
    };
    assert_eq!(heights(&alone), [0.0, 10.0, 15.0]);
    assert_eq!(heights(&both), [0.0, 9.0, 15.0]);
    assert_eq!(cover(&both, 30.0, 30.0), 9.0);
}

#[test]
fn a_raster_without_classes_is_refused() {
    let place = Place::new();
    let check = |tables: &str, expected: &str| {
        let plan = place.plan(tables, |text| text);
        let error = open(&plan).unwrap_err().to_string();
        assert!(error.contains(expected), "{error}");
    };
    write_classes(&place.path("classes.tif"), |c, _| c as f32 + 0.5);
    check(LAND_COVER, "values that are no class codes");
    write_classes(&place.path("classes.tif"), |_, _| 0.0);
    check(LAND_COVER, "no class anywhere");
    let far = [20.0, 0.001, 0.0, 10.0, 0.0, -0.001];
    write_raster(&place.path("classes.tif"), (50, 50), far, Some(4326), None, |_, _| 10.0);
    check(LAND_COVER, "no class anywhere");
    write_raster(&place.path("classes.tif"), (50, 50), far, None, None, |_, _| 10.0);
    check(LAND_COVER, "no coordinate system");
}

/// The plan's text with Aid 1 at a place in metres from the middle.
fn with_post(text: &str, east: f64, north: f64, more: &str) -> String {
    let at = at(east, north);
    text.replace(
        "at = \"47.000, -34.900\"",
        &format!("at = \"{:.7}, {:.7}\"\n{more}", at.latitude().value(), at.longitude().value()),
    )
}

fn with_site(text: &str, east: f64, north: f64) -> String {
    let at = at(east, north);
    text.replace(
        "at = \"47.004, -34.890\"",
        &format!("at = \"{:.7}, {:.7}\"", at.latitude().value(), at.longitude().value()),
    )
}

/// The path from the Hotel to Aid 1: its JSON, and the remarks.
fn path(place: &Place, plan: &str) -> (serde_json::Value, String) {
    fs::write(place.path("plan.toml"), plan).unwrap();
    let output = perchline(
        place.folder.path(),
        &["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1", "--json"],
    );
    assert!(output.status.success(), "{}", said(&output));
    let document: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let remarks = document["remarks"].to_string();
    (document["result"].clone(), remarks)
}

fn margin(result: &serde_json::Value) -> f64 {
    result["budgets"]["talk_out"]["margin_db"].as_f64().unwrap()
}

#[test]
fn a_walker_behind_a_building_hears_less_than_one_in_front_of_it() {
    let place = Place::new();
    place.footprints(
        "b.geojson",
        &[(r#"{"height": 18}"#, &[(500.0, -60.0), (540.0, -60.0), (540.0, 60.0), (500.0, 60.0)])],
    );
    let base = PLAN.replace("[map]", &format!("{BUILDINGS}[map]"));
    let base = with_site(&base, 0.0, 0.0);
    let (front, _) = path(&place, &with_post(&base, 470.0, 0.0, ""));
    let (behind, _) = path(&place, &with_post(&base, 560.0, 0.0, ""));
    let bare = with_site(PLAN, 0.0, 0.0);
    let (open, _) = path(&place, &with_post(&bare, 560.0, 0.0, ""));
    assert!(margin(&front) - margin(&behind) > 10.0, "{} {}", margin(&front), margin(&behind));
    assert!(margin(&open) - margin(&behind) > 10.0);
    assert_eq!(behind["line_of_sight"], false);
    assert_eq!(open["line_of_sight"], true);
}

/// The mast stands on the roof and the roof on the ground; a wrong one is told.
#[test]
fn a_site_may_leave_its_roof_to_the_footprint() {
    let place = Place::new();
    place.footprints(
        "b.geojson",
        &[(r#"{"id": "hotel", "height": 20}"#, &square(-15.0, -15.0, 30.0))],
    );
    let base = PLAN.replace("[map]", &format!("{BUILDINGS}[map]"));
    let base = with_post(&with_site(&base, 0.0, 0.0), 400.0, 0.0, "");
    let (stated, quiet) = path(&place, &base);
    assert!(!quiet.contains("hotel"), "{quiet}");
    for roof in ["roof = \"building\"\n", ""] {
        let (taken, said) = path(&place, &base.replacen("roof = \"20 m above ground\"\n", roof, 1));
        assert_eq!(taken, stated);
        assert!(said.contains("on the roof of hotel, 20.0 m above the ground"), "{said}");
    }
    let (_, said) = path(&place, &base.replacen("20 m above ground", "24 m above ground", 1));
    assert!(said.contains("footprint of hotel says 20.0 m: which is right?"), "{said}");
    // A site beside every footprint has no roof to take.
    let moved = with_site(&PLAN.replace("[map]", &format!("{BUILDINGS}[map]")), 200.0, 0.0);
    fs::write(place.path("plan.toml"), moved.replacen("roof = \"20 m above ground\"\n", "", 1))
        .unwrap();
    let output = perchline(place.folder.path(), &["check", "plan.toml"]);
    assert!(said_of(&output).contains("no building's footprint holds the site"));
    // Without footprints a roof has to be stated.
    fs::write(place.path("plan.toml"), PLAN.replacen("roof = \"20 m above ground\"\n", "", 1))
        .unwrap();
    let output = perchline(place.folder.path(), &["check", "plan.toml"]);
    assert!(said_of(&output).contains("site \"Hotel\": roof: this is missing"));
}

fn said_of(output: &std::process::Output) -> String {
    said(output) + &printed(output)
}

#[test]
fn a_post_inside_a_footprint_is_asked_about() {
    let place = Place::new();
    place.footprints(
        "b.geojson",
        &[(r#"{"id": "hall", "height": 8}"#, &square(400.0, -20.0, 40.0))],
    );
    let base = PLAN.replace("[map]", &format!("{BUILDINGS}[map]"));
    let base = with_site(&base, 0.0, 0.0);
    let inside = |more: &str| path(&place, &with_post(&base, 405.0, 0.0, more));
    let (asked, said) = inside("");
    assert!(said.contains("is it indoors or on the street?") && said.contains("hall"), "{said}");
    let (street, said) = inside("street = true");
    assert!(said.contains("street level beside it") && !said.contains('?'), "{said}");
    assert_eq!(asked, street);
    // Ten metres before the wall that faces the site, all but the two that round.
    let away = street["distance_m"].as_f64().unwrap();
    assert!((390.0..396.0).contains(&away), "{away}");
    // Medians of P.2109; how much buildings differ joins the spread, 5.6 dB over
    // places and 5 dB of model error, of which 95 % asks for 1.645 (a normal quantile).
    for (word, building, median) in [
        ("traditional", p2109::Building::Traditional, 13.5..14.5),
        ("efficient", p2109::Building::ThermallyEfficient, 33.0..38.0),
    ] {
        let loss = |share| {
            let level = Degrees::new(0.0);
            p2109::entry_loss(building, Megahertz::new(147.6), level, Percent::new(share)).unwrap()
        };
        let deviation = (loss(84.13) - loss(15.87)).value() / 2.0;
        assert!((5.0..14.0).contains(&deviation), "{word} {deviation}");
        let spread = 5.6f64.hypot(5.0);
        let more_kept_back = 1.645 * (deviation.hypot(spread) - spread);
        let (indoors, said) = inside(&format!("indoors = \"{word}\""));
        assert!(said.contains(&format!("loss into a {word} building")), "{said}");
        let taken = margin(&street) - margin(&indoors);
        let found = taken - more_kept_back;
        assert!(median.contains(&found), "{word} {taken} {more_kept_back}");
        assert!((found - loss(50.0).value()).abs() < 0.1, "{word} {found}");
        let lines = indoors["budgets"]["talk_in"]["lines"].to_string();
        assert!(lines.contains(&format!("into the building, {word} (P.2109)")), "{lines}");
        let both = ["talk_in", "talk_out"].map(|way| {
            street["budgets"][way]["margin_db"].as_f64().unwrap()
                - indoors["budgets"][way]["margin_db"].as_f64().unwrap()
        });
        assert!((both[0] - both[1]).abs() < 0.05, "{both:?}");
    }
    fs::write(
        place.path("plan.toml"),
        with_post(&base, 405.0, 0.0, "indoors = \"traditional\"\nstreet = true"),
    )
    .unwrap();
    let output = perchline(place.folder.path(), &["check", "plan.toml"]);
    assert!(said_of(&output).contains("indoors or on the street, not both"));
}

/// Footprints that fill the whole neighbourhood leave no street to stand on.
#[test]
fn street_level_is_the_nearest_clear_place() {
    let place = Place::new();
    place.footprints(
        "b.geojson",
        &[
            (r#"{"height": 8}"#, &square(0.0, 0.0, 40.0)),
            // An alley of 4 m: nearer, but no cell of 5 m clear of the walls.
            (r#"{"height": 8}"#, &square(44.0, 0.0, 40.0)),
        ],
    );
    let terrain = place.terrain(BUILDINGS);
    let found = terrain.beside(at(36.0, 20.0)).unwrap();
    assert!(terrain.building(found).is_none());
    assert!(terrain.cover().is_some());
    let away = found.distance(at(36.0, 20.0)).value();
    assert!((20.0..27.0).contains(&away), "{away}");
    place.footprints("b.geojson", &[(r#"{"height": 8}"#, &square(-500.0, -500.0, 1000.0))]);
    let terrain = place.terrain(BUILDINGS);
    assert_eq!(terrain.beside(at(0.0, 0.0)), None);
}

#[test]
fn coarse_cells_and_fine_terrain_are_told() {
    let place = Place::new();
    place.footprints("b.geojson", &[(r#"{"height": 8}"#, &square(0.0, 0.0, 40.0))]);
    let terrain = place.terrain(&(BUILDINGS.to_owned() + "cell = \"30 m\"\n"));
    remarked(&terrain, &["terrain's own cells of 10.0 m x 10.0 m are finer than 30 m"]);
    assert!((terrain.spacing().value() - 10.0).abs() < 0.01);
}

/// The trees of a class are woods, footprints among them are not, and the
/// surface without its trees keeps its houses.
#[test]
fn trees_of_the_plan_are_woods_and_its_houses_are_not() {
    let place = Place::new();
    write_classes(&place.path("classes.tif"), |c, _| if c < 120 { 10.0 } else { 30.0 });
    place.footprints("b.geojson", &[(r#"{"height": 9}"#, &square(-200.0, 0.0, 60.0))]);
    let terrain = place.terrain(&(BUILDINGS.to_owned() + LAND_COVER));
    let (woods, cleared) = (terrain.woods().unwrap(), terrain.cleared_surface().unwrap());
    let mut seen = [0; 3];
    for (at, cover) in terrain.cover().unwrap().indexed_iter() {
        let kind = match (*cover, woods[at]) {
            (0.0, 0.0) => 0,
            (9.0, 0.0) => 1,
            (15.0, 15.0) => 2,
            other => panic!("{other:?} at {at:?}"),
        };
        seen[kind] += 1;
        assert_eq!(cleared[at], 50.0 + cover - woods[at]);
    }
    assert!(seen.iter().all(|n| *n > 100), "{seen:?}");
    let profile = terrain.profile(at(-400.0, 30.0), at(300.0, 30.0)).unwrap();
    assert!(profile.has_woods() && profile.cover().contains(&9.0));
    for (trees, cover) in profile.woods().iter().zip(profile.cover()) {
        assert!(trees <= cover, "{trees} {cover}");
    }
}

const WATER: &str = "[water]\nfiles = [\"w.geojson\"]\n";

#[test]
fn water_is_where_the_plan_has_it_and_profiles_know_it() {
    let place = Place::new();
    place.footprints("w.geojson", &[("{}", &square(0.0, -200.0, 400.0))]);
    let (from, to) = (at(-300.0, 0.0), at(700.0, 0.0));
    let terrain = place.terrain(WATER);
    assert!(terrain.has_sea() && terrain.cover().is_none());
    assert!(terrain.is_afloat(at(200.0, 0.0)) && !terrain.is_afloat(at(-50.0, 0.0)));
    assert!(!terrain.is_afloat(at(200.0, 250.0)));
    let profile = terrain.profile(from, to).unwrap();
    assert!((profile.sea_share() - 0.4).abs() < 0.02, "{}", profile.sea_share());
    remarked(&terrain, &["% of the window counts as salt"]);
    // It is drawn apart from level land.
    let relief = terrain.hillshade().unwrap();
    let cell = |east: f64| {
        let projector = terrain.grid().projector().unwrap();
        let (column, row) = projector.to_cell(at(east, 0.0)).unwrap();
        relief[(row as usize, column as usize)]
    };
    assert!(cell(200.0) + 50 < cell(-50.0), "{} {}", cell(200.0), cell(-50.0));
    // Fresh water is no place to stand and no sea.
    let fresh = place.terrain(&format!("{WATER}salt = false\n"));
    assert!(fresh.is_afloat(at(200.0, 0.0)) && !fresh.has_sea());
    assert_eq!(fresh.profile(from, to).unwrap().sea_share(), 0.0);
    // Cells no higher than the level are water; all of this terrain is at 50 m.
    let flooded = place.terrain("[water]\nbelow = \"50 m\"");
    assert_eq!(flooded.profile(from, to).unwrap().sea_share(), 1.0);
    let dry = place.terrain("[water]\nbelow = \"49.9 m\"");
    assert!(!dry.has_sea());
    remarked(&dry, &["no cell of the window is water"]);
}

/// The water of the land cover is sea only where the plan has [water].
#[test]
fn land_cover_has_water_that_becomes_sea_where_the_plan_says_so() {
    let place = Place::new();
    // Class 80 of the shipped mapping is water.
    write_classes(&place.path("c.tif"), |_, _| 80.0);
    let cover = "[land_cover]\nfile = \"c.tif\"\nclasses = \"global-10\"\n";
    let (from, to) = (at(-300.0, 0.0), at(300.0, 0.0));
    let lake = place.terrain(cover);
    assert!(lake.is_afloat(at(0.0, 0.0)) && !lake.has_sea());
    assert_eq!(lake.profile(from, to).unwrap().sea_share(), 0.0);
    let sea = place.terrain(&format!("{cover}[water]\n"));
    assert_eq!(sea.profile(from, to).unwrap().sea_share(), 1.0);
}

#[test]
fn water_that_cannot_be_is_refused_with_its_line() {
    let place = Place::new();
    write_raster(
        &place.path("terrain.tif"),
        (400, 400),
        utm_transform(MIDDLE.0 - 2000.0, MIDDLE.1 + 2000.0, 10.0),
        Some(UTM_25N),
        Some(-9999.0),
        |column, _| column as f32 * 0.5,
    );
    place.footprints("hill.geojson", &[(r#"{"name": "Bay"}"#, &square(0.0, 0.0, 700.0))]);
    place.footprints("shore.geojson", &[(r#"{"name": "Bay"}"#, &square(0.0, 0.0, 500.0))]);
    place.footprints("far.geojson", &[("{}", &square(90_000.0, 0.0, 40.0))]);
    for (tables, parts) in [
        ("[water]\n", &["water: files", "says of no water where it is"][..]),
        ("[water]\nfiles = [\"no.geojson\"]", &["water: files[0]", "there is no file"]),
        ("[water]\nfiles = [\"far.geojson\"]", &["plan.toml:11: water: files", "no water lies"]),
        (
            "[water]\nfiles = [\"hill.geojson\"]",
            &["plan.toml:11: water: files", "hill.geojson: Bay", "water is level"],
        ),
        ("[water]\nbelow = 0.5", &["water: below", "bare number"]),
        ("[water]\ndepth = \"2 m\"", &["depth", "no such field"]),
        ("[prediction]\nsurroundings = \"city\"", &["prediction: surroundings", "\"town\""]),
        (
            "[prediction]\nroof_height = \"12 m\"",
            &["prediction: roof_height", "belongs to a class of surroundings"],
        ),
        (
            "[[area]]\nname = \"Old town\"\nsurroundings = \"town\"\noutline = [\"10.0, 10.0\", \"10.0, 10.1\", \"10.1, 10.1\"]",
            &["area \"Old town\""],
        ),
    ] {
        fs::write(place.path("plan.toml"), PLAN.replace("[map]", &format!("{tables}\n[map]")))
            .unwrap();
        let output = perchline(place.folder.path(), &["rank", "plan.toml", "--out", "made"]);
        let said = said(&output);
        assert_eq!(output.status.code(), Some(2), "{tables}: {said}");
        for part in parts {
            assert!(said.contains(part), "{tables}: no {part:?} in {said}");
        }
        assert!(!place.path("made").exists(), "{tables}");
    }
    // A shore that rises by 25 m is taken.
    assert!(place.terrain("[water]\nfiles = [\"shore.geojson\"]").has_sea());
}

/// A map over the sea is made path by path, and upright it is much better off there.
#[test]
fn a_map_over_the_sea_counts_it() {
    let place = Place::new();
    place.footprints("w.geojson", &[("{}", &square(100.0, -700.0, 1500.0))]);
    let mapped = |tables: &str| {
        let plan = place.plan(tables, |text| text);
        let terrain = open(&plan).unwrap();
        let channel = &plan.channels[0];
        let station = Terminal::at_site(&plan, channel, &plan.sites[0], &terrain).unwrap();
        let carried = Terminal::anywhere(&plan, channel, None, plan.sites[0].at);
        let model = LinkModel::new(&plan, channel, &station, &carried);
        let propagator = Propagator::new(&plan.prediction);
        let grid = terrain.grid().coarser(Metres::new(50.0)).unwrap();
        let stop = AtomicBool::new(false);
        let map = cover_map(&terrain, &grid, &model, &propagator, &|| {}, &stop).unwrap();
        let exact = plain::cover(&terrain, &grid, &model, &propagator, &|| {}, &stop).unwrap();
        (map.talk_out_margin, exact.talk_out_margin)
    };
    let ((dry, _), (sea, exact)) = (mapped(""), mapped(WATER));
    assert!(sea.iter().zip(&exact).all(|(a, b)| a.to_bits() == b.to_bits()));
    let best = sea.iter().zip(&dry).map(|(sea, dry)| sea - dry).fold(f32::MIN, f32::max);
    let worst = sea.iter().zip(&dry).map(|(sea, dry)| sea - dry).fold(f32::MAX, f32::min);
    assert!(best > 3.0 && worst > -0.2, "{best} {worst}");
    let (level, _) = mapped(&format!("{WATER}[prediction]\npolarization = \"horizontal\"\n"));
    let (level_dry, _) = mapped("[prediction]\npolarization = \"horizontal\"\n");
    let apart = level.iter().zip(&level_dry).map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
    assert!(apart < 1.0, "{apart}");
}

/// A KML file of folders, each with one square of so many metres at the middle.
fn folders_of_squares(place: &Place, name: &str, folders: &[(&str, f64)]) {
    let folders: String = folders
        .iter()
        .map(|(folder, side)| {
            let ring: Vec<String> = square(0.0, 0.0, *side)
                .iter()
                .chain(&[(0.0, 0.0)])
                .map(|(east, north)| {
                    let at = at(*east, *north);
                    format!("{:.9},{:.9}", at.longitude().value(), at.latitude().value())
                })
                .collect();
            format!(
                "<Folder><name>{folder}</name><Placemark><name>{folder} 1</name><Polygon><outerBoundaryIs><LinearRing><coordinates>{}</coordinates></LinearRing></outerBoundaryIs></Polygon></Placemark></Folder>",
                ring.join(" ")
            )
        })
        .collect();
    let text = format!(
        "<kml xmlns=\"http://www.opengis.net/kml/2.2\"><Document>{folders}</Document></kml>"
    );
    fs::write(place.path(name), text).unwrap();
}

#[test]
fn of_several_layers_of_polygons_none_is_taken_for_houses() {
    let place = Place::new();
    folders_of_squares(&place, "b.kml", &[("parks", 200.0), ("buildings", 40.0)]);
    let refused = |tables: &str| open(&place.plan(tables, |text| text)).unwrap_err();
    let error = refused("[buildings]\nfiles = [\"b.kml\"]\n");
    let text = error.to_string();
    assert!(text.contains("b.kml") && text.contains("parks, buildings"), "{text}");
    assert!(text.contains("layer = \"parks\""), "{text}");
    assert_eq!(error.place(), ("buildings", "layer"));
    let error = refused("[buildings]\nfiles = [\"b.kml\"]\nlayer = \"houses\"\n").to_string();
    assert!(error.contains("no layer \"houses\"") && error.contains("parks, buildings"), "{error}");
    // The one that is named stands, and the park does not.
    let terrain = place.terrain("[buildings]\nfiles = [\"b.kml\"]\nlayer = \"buildings\"\n");
    assert_eq!(cover(&terrain, 20.0, 20.0), 6.0);
    assert_eq!(cover(&terrain, 120.0, 120.0), 0.0);
    // Where one has polygons it needs no name.
    folders_of_squares(&place, "b.kml", &[("buildings", 40.0)]);
    assert_eq!(cover(&place.terrain("[buildings]\nfiles = [\"b.kml\"]\n"), 20.0, 20.0), 6.0);
}

#[test]
fn attributes_of_other_names_are_read_where_they_are_named() {
    let place = Place::new();
    place.footprints(
        "b.geojson",
        &[
            (r#"{"id": "a", "roof_m": 12.5, "floors": 2, "height": 99}"#, &square(0.0, 0.0, 40.0)),
            (r#"{"id": "b", "roof_m": null, "floors": 4}"#, &square(100.0, 0.0, 40.0)),
        ],
    );
    let fields = "height_field = \"roof_m\"\nstoreys_field = \"FLOORS\"\n";
    let terrain = place.terrain(&format!("{BUILDINGS}{fields}"));
    assert_eq!(cover(&terrain, 20.0, 20.0), 12.5);
    assert_eq!(cover(&terrain, 120.0, 20.0), 12.0);
    let plan = place.plan(&format!("{BUILDINGS}height_field = \"roof\"\n"), |text| text);
    let error = open(&plan).unwrap_err().to_string();
    assert!(error.contains("no field \"roof\"") && error.contains("roof_m"), "{error}");
}
