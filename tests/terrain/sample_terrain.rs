//! The sample's land: made again it is the same, and it is what its plan needs.

use std::path::{Path, PathBuf};

use perchline::plan::{HeightUnit, Roof, Site, TerrainInputs};
use perchline::propagation;
use perchline::terrain::{Extent, Terrain};
use perchline::units::{Degrees, Megahertz, Metres, Position};

use crate::landscape;

fn file() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ostlers-ferry.tif")
}

fn at(latitude: f64, longitude: f64) -> Position {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

fn whole() -> Terrain {
    let inputs = TerrainInputs {
        files: vec![file()],
        height_unit: Some(HeightUnit::Metre),
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    let extent = Extent { south_west: at(46.9, -35.1), north_east: at(47.1, -34.7) };
    Terrain::open(&inputs, extent).unwrap()
}

#[test]
fn making_it_again_gives_the_committed_heights() {
    let terrain = whole();
    let made = landscape::heights();
    assert_eq!(terrain.heights().dim(), (landscape::ROWS, landscape::COLUMNS));
    let cell = landscape::CELL;
    let transform = [landscape::LEFT, cell, 0.0, landscape::TOP, 0.0, -cell];
    assert_eq!(terrain.grid().transform(), transform);
    for (index, (read, made)) in terrain.heights().iter().zip(&made).enumerate() {
        // The file holds tenths of a metre.
        let tenths = (made * 10.0).round() as i16;
        assert_eq!(*read, (f64::from(tenths) * 0.1) as f32, "cell {index}");
    }
}

#[test]
fn it_is_small_whole_and_out_in_the_ocean() {
    assert!(std::fs::metadata(file()).unwrap().len() < 2_000_000);
    let terrain = whole();
    assert_eq!(terrain.gap_cells(), 0);
    let bounds = terrain.bounds();
    // Between the Azores and Newfoundland: no land within hundreds of kilometres.
    assert!(bounds.contains(at(47.0, -34.9)));
    let lowest = terrain.heights().iter().copied().fold(f32::INFINITY, f32::min);
    let highest = terrain.heights().iter().copied().fold(f32::NEG_INFINITY, f32::max);
    assert!((30.0..60.0).contains(&lowest), "{lowest}");
    assert!((250.0..350.0).contains(&highest), "{highest}");
}

/// Clearance in metres at the worst point of the path, k = 4/3.
fn clearance(terrain: &Terrain, site: &Site, to: Position) -> f64 {
    let ground = terrain.ground(site.at).unwrap();
    let up = site.mast
        + match site.roof {
            Roof::AboveGround(height) => height,
            Roof::AboveSea(height) => height - ground,
            Roof::OfBuilding => panic!("this plan has no footprints"),
        };
    let profile = terrain.profile(site.at, to).unwrap();
    let path = propagation::Path::new(&profile, up, Metres::new(1.4), Megahertz::new(147.0));
    propagation::clearance::clearance(&path).unwrap().worst_clearance.value()
}

#[test]
fn the_plan_lies_on_the_land_and_is_hard_where_it_should_be() {
    let plan_file = file().with_file_name("ferry-lights.toml");
    let methods: Vec<_> = propagation::METHODS.iter().map(|m| m.name()).collect();
    let plan = perchline::plan::read(&plan_file, &methods).unwrap();
    let terrain = whole();
    for at in plan.extent_points() {
        terrain.ground(at).unwrap();
    }
    assert!(plan.posts.len() >= 12 && plan.sites.len() == 6 && plan.areas.len() == 3);
    let route: f64 = plan.routes[0]
        .line
        .lines()
        .map(|l| {
            let at = |c: geo::Coord| Position::from_point(c.into()).unwrap();
            at(l.start).distance(at(l.end)).kilometres()
        })
        .sum();
    // A half marathon is 21.0975 km.
    assert!((21.05..21.2).contains(&route), "{route}");
    // Roofs above sea level are those of buildings, not of holes or towers.
    for site in &plan.sites {
        if let Roof::AboveSea(height) = site.roof {
            let above = (height - terrain.ground(site.at).unwrap()).value();
            assert!((5.0..60.0).contains(&above), "{}: {above}", site.name);
        }
    }
    let post = |name: &str| plan.posts.iter().find(|p| p.name == name).unwrap().at;
    for site in &plan.sites {
        for hard in ["Aid 6", "Safety boat landing"] {
            let clear = clearance(&terrain, site, post(hard));
            assert!(clear < 0.0, "{} sees {hard}: {clear}", site.name);
        }
        let easy = clearance(&terrain, site, post("Net Control"));
        assert!(easy > 0.0, "{} misses Net Control: {easy}", site.name);
    }
}
