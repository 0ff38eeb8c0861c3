//! The sample's land: made again it is the same, and it is what its plan needs.

use std::path::{Path, PathBuf};

use perchline::plan::{HeightUnit, TerrainInputs};
use perchline::terrain::{Extent, Terrain};
use perchline::units::{Degrees, Position};

#[path = "../sample-terrain/landscape.rs"]
mod landscape;

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
    };
    let extent = Extent { south_west: at(46.9, -35.1), north_east: at(47.1, -34.7) };
    Terrain::open(&inputs, extent).unwrap()
}

#[test]
fn making_it_again_gives_the_committed_heights() {
    let terrain = whole();
    let made = landscape::heights();
    assert_eq!(terrain.heights().dim(), (landscape::ROWS, landscape::COLUMNS));
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
