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

/// Calling, beacon and licence-free channels, MHz (from memory).
const WELL_KNOWN: [f64; 57] = [
    // Calling and simplex channels of amateurs, 2 m.
    144.2, 144.3, 145.5, 146.52, 146.535, 146.55, 146.565, 146.58, 146.595, 147.42, 147.435, 147.45,
    147.465, 147.48, 147.495, 147.51, 147.525, 147.54, 147.555, 147.57, 147.585,
    // Position beacons.
    144.39, 144.575, 144.64, 144.66, 144.8, 144.93, 145.175, 145.57,
    // Satellites and the space station.
    145.8, 145.825, // Amateurs, 70 cm.
    432.1, 432.5, 433.0, 433.5, 439.9875, 446.0, // MURS.
    151.82, 151.88, 151.94, 154.57, 154.6, // Freenet.
    149.025, 149.0375, 149.05, 149.0875, 149.1, 149.1125,
    // Marine: distress, calling, bridge to bridge, ships among themselves, digital.
    156.8, 156.525, 156.65, 156.3, 156.45, 161.975, 162.025,
    // Pagers and fire grounds.
    152.48, 154.28,
];

/// The frequencies of both samples are on none of these channels, nor within half a
/// channel of 12.5 kHz of one; PMR446 (446.0 to 446.2), GMRS and FRS (462.5 to 467.8)
/// and LPD (433.05 to 434.8) are bands of channels side by side.
#[test]
fn no_frequency_of_the_samples_is_a_channel_that_people_know() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let bands = [(446.0, 446.2), (462.5, 467.8), (433.05, 434.8), (156.0, 157.5)];
    let mut seen = 0;
    for plan in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        let text = std::fs::read_to_string(folder.join(plan)).unwrap();
        let stated = text.lines().filter(|line| !line.trim_start().starts_with('#'));
        for line in stated.filter(|line| line.contains(" MHz\"")) {
            let number = line.split('"').nth(1).unwrap().trim_end_matches(" MHz");
            let frequency: f64 = number.parse().unwrap();
            let known = WELL_KNOWN.iter().find(|known| (*known - frequency).abs() < 0.00625);
            assert_eq!(known, None, "{plan}: {line}");
            let band = bands.iter().find(|(from, to)| (*from..=*to).contains(&frequency));
            assert_eq!(band, None, "{plan}: {line}");
            seen += 1;
        }
    }
    assert_eq!(seen, 12);
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
