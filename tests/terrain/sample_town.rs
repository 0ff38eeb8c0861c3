//! The sample's town: made again it is the same, it goes with its plan, and
//! the car park's deck hides those at its own foot.

use crate::support;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::atomic::AtomicBool;

use perchline::coverage::{cover, plain};
use perchline::link::{LinkModel, Propagator, Terminal, building_remarks};
use perchline::plan::{Indoors, Plan};
use perchline::terrain::{Extent, Grid, Terrain};
use perchline::units::Metres;
use serde_json::Value;

use crate::landscape;

#[path = "../../sample-terrain/files.rs"]
mod files;
#[path = "../../sample-terrain/land_cover.rs"]
mod land_cover;
#[path = "../../sample-terrain/place_names.rs"]
mod place_names;
#[path = "../../sample-terrain/roads.rs"]
mod roads;
#[path = "../../sample-terrain/town.rs"]
mod town;

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain").join(name)
}

fn read(name: &str) -> Plan {
    support::read_plan(&sample(name))
}

fn numbers(value: &Value) -> Vec<f64> {
    match value {
        Value::Number(number) => vec![number.as_f64().unwrap()],
        Value::Array(items) => items.iter().flat_map(numbers).collect(),
        Value::Object(fields) => fields.values().flat_map(numbers).collect(),
        _ => vec![],
    }
}

#[test]
fn making_it_again_gives_the_committed_files() {
    let drawn: Value = serde_json::from_str(&files::road_geojson()).unwrap();
    let text = fs::read_to_string(sample("roads.geojson")).unwrap();
    let (drawn, kept) =
        (numbers(&drawn["features"]), numbers(&serde_json::from_str(&text).unwrap()));
    assert!(drawn.len() > 40 && drawn.len() == kept.len());
    assert!(drawn.iter().zip(&kept).all(|(a, b)| (a - b).abs() < 2e-6));
    let drawn: Value = serde_json::from_str(&files::name_geojson()).unwrap();
    let text = fs::read_to_string(sample("place-names.geojson")).unwrap();
    let kept: Value = serde_json::from_str(&text).unwrap();
    let (drawn, kept) =
        (drawn["features"].as_array().unwrap(), kept["features"].as_array().unwrap());
    assert!(drawn.len() >= 15 && drawn.len() == kept.len());
    for (drawn, kept) in drawn.iter().zip(kept) {
        assert_eq!(drawn["properties"], kept["properties"]);
        let (drawn, kept) = (numbers(&drawn["geometry"]), numbers(&kept["geometry"]));
        assert!(!drawn.is_empty() && drawn.len() == kept.len());
        assert!(drawn.iter().zip(&kept).all(|(a, b)| (a - b).abs() < 2e-6));
    }
    let heights = landscape::heights();
    let named = files::named(&sample("ferry-lights.toml"), &heights).unwrap();
    let made: Value = serde_json::from_str(&files::geojson(&town::houses(&named.clear))).unwrap();
    let text = fs::read_to_string(sample("buildings.geojson")).unwrap();
    let read: Value = serde_json::from_str(&text).unwrap();
    let (made, read) = (made["features"].as_array().unwrap(), read["features"].as_array().unwrap());
    assert!((560..=640).contains(&made.len()), "{}", made.len());
    assert_eq!(made.len(), read.len());
    for (made, read) in made.iter().zip(read) {
        assert_eq!(made["properties"], read["properties"]);
        let corners = |feature: &Value| numbers(&feature["geometry"]["coordinates"]);
        let (made, read) = (corners(made), corners(read));
        assert_eq!(made.len(), read.len());
        // The last digit is the projection's to round.
        assert!(made.iter().zip(&read).all(|(a, b)| (a - b).abs() < 2e-6));
    }
    let dataset = gdal::Dataset::open(sample("land-cover.tif")).unwrap();
    let codes = dataset.rasterband(1).unwrap().read_band_as::<u8>().unwrap();
    assert!(land_cover::codes(&heights, &named.open) == codes.data());
    let bytes = |name| fs::metadata(sample(name)).unwrap().len();
    assert!(bytes("buildings.geojson") + bytes("land-cover.tif") < 1_500_000);
}

/// The plan of the town is the plain one with what it says it adds.
#[test]
fn the_two_plans_differ_in_what_they_say() {
    let text = |name| fs::read_to_string(sample(name)).unwrap();
    let (plain, town) = (text("ferry-lights.toml"), text("ferry-lights-town.toml"));
    let added: Vec<&str> = town.lines().filter(|line| !plain.lines().any(|p| p == *line)).collect();
    let removed: Vec<&str> =
        plain.lines().filter(|line| !town.lines().any(|t| t == *line)).collect();
    assert_eq!(removed.len(), 3, "{removed:#?}");
    let settings: Vec<&&str> = added.iter().filter(|line| !line.starts_with('#')).collect();
    assert_eq!(
        settings,
        [
            &"[buildings]",
            &"files = [\"buildings.geojson\"]",
            &"cell = \"5 m\"",
            &"[land_cover]",
            &"file = \"land-cover.tif\"",
            &"classes = \"global-10\"",
            &"cell = \"10 m\"",
            &"indoors = \"traditional\"",
        ]
    );
    let plan = read("ferry-lights-town.toml");
    assert_eq!(plan.posts[0].indoors, Some(Indoors::Traditional));
}

#[test]
fn everything_stands_where_it_should() {
    let plan = read("ferry-lights-town.toml");
    let terrain = support::open_terrain(&plan);
    for post in &plan.posts {
        assert_eq!(
            terrain.building(post.at).is_some(),
            post.name == "Net Control",
            "{}",
            post.name
        );
    }
    // Every roof but the overlook's is that of its footprint.
    for site in &plan.sites {
        assert_eq!(terrain.building(site.at).is_some(), site.name != "Ridge overlook");
    }
    let remarks = building_remarks(&plan, &terrain);
    assert_eq!(remarks.len(), 1, "{remarks:#?}");
    assert!(remarks[0].about.contains("Net Control"));
    // Runners keep to the streets.
    for point in plan.routes[0].line.points() {
        let at = perchline::units::Position::from_point(point).unwrap();
        assert!(terrain.building(at).is_none());
    }
    let cover = terrain.cover().unwrap();
    let share = |range: std::ops::RangeInclusive<f32>| {
        cover.iter().filter(|c| range.contains(c)).count() as f64 / cover.len() as f64
    };
    assert!((0.1..0.5).contains(&share(14.9..=15.05)), "trees {}", share(14.9..=15.05));
    let files: Vec<_> = terrain.files().iter().map(|f| f.path.clone()).collect();
    assert!(files.iter().any(|f| f.ends_with("land-cover.tif")), "{files:?}");
}

/// The mast stands 3 m above the middle of the deck; parapet and deck edge
/// hide who stands at their foot. Sixty metres off they hide less.
#[test]
fn the_car_park_hides_those_at_its_own_foot() {
    const HALF: (f64, f64) = (32.0, 24.0);
    const REACH: usize = 110;
    const CELL: f64 = 5.0;
    let plan = read("ferry-lights-town.toml");
    let built = support::open_terrain(&plan);
    let site = plan.sites.iter().find(|s| s.name == "Car park").unwrap();
    let channel = &plan.channels[0];
    let station = Terminal::at_site(&plan, channel, site, &built).unwrap();
    let carried = Terminal::anywhere(&plan, channel, None, site.at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    let metres =
        Grid::new(1, 1, [landscape::LEFT, 1.0, 0.0, landscape::TOP, 0.0, -1.0], "EPSG:32625");
    let (east, south) = metres.unwrap().projector().unwrap().to_cell(site.at).unwrap();
    let (east, north) = (landscape::LEFT + east, landscape::TOP - south);
    let reach = REACH as f64;
    let transform = [east - reach, CELL, 0.0, north + reach, 0.0, -CELL];
    let side = 2 * REACH / CELL as usize;
    let grid = Grid::new(side, side, transform, "EPSG:32625").unwrap();
    let projector = grid.projector().unwrap();
    let propagator = Propagator::new(&plan.prediction);
    let medians = |terrain: &Terrain, swept: bool| {
        let engine = if swept { cover } else { plain::cover };
        let stop = AtomicBool::new(false);
        let coverage = engine(terrain, &grid, &model, &propagator, &|| {}, &stop).unwrap();
        [(4.0, 12.0), (54.0, 66.0)].map(|(from, to)| {
            let mut margins: Vec<f64> = (0..side * side)
                .map(|cell| (cell / side, cell % side))
                .filter(|(row, column)| {
                    let x = (*column as f64 + 0.5) * CELL - reach;
                    let y = reach - (*row as f64 + 0.5) * CELL;
                    let along = ((12.0 * x + 5.0 * y) / 13.0).abs() - HALF.0;
                    let across = ((12.0 * y - 5.0 * x) / 13.0).abs() - HALF.1;
                    let away = along.max(0.0).hypot(across.max(0.0));
                    let at = projector.to_position(*column as f64 + 0.5, *row as f64 + 0.5);
                    (from..to).contains(&away) && built.building(at.unwrap()).is_none()
                })
                .map(|(row, column)| coverage.governing_margin(row, column).unwrap().value())
                .collect();
            margins.sort_by(f64::total_cmp);
            assert!(margins.len() > 30, "{}", margins.len());
            margins[margins.len() / 2]
        })
    };
    let [foot, off] = medians(&built, true);
    assert!(off - foot > 3.0, "{foot} at the foot, {off} further off, by the sweep");
    let [foot, off] = medians(&built, false);
    println!("figure deck_foot_below_60_m_off_db {:.1} dB", off - foot);
    assert!(off - foot > 3.0, "{foot} at the foot, {off} further off");
    // Over bare ground who stands nearer hears better.
    let extent = Extent::around(plan.extent_points(), Metres::new(500.0)).unwrap();
    let bare = Terrain::open(&plan.terrain, extent).unwrap();
    let [foot, off] = medians(&bare, false);
    assert!(foot > off, "{foot} at the foot, {off} further off, bare");
}
