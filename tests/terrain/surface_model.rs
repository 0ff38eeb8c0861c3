//! Elevation with roofs in it is recognised, and bare ground is not taken for it: the
//! sample's town with its houses in the heights and without, and real mountains.

use std::fs;
use std::path::Path;

use perchline::plan::TerrainInputs;
use perchline::terrain::{Extent, Grid, Terrain};
use perchline::units::Metres;
use perchline::vector::footprints;

use crate::support::real::{MOUNTAINS, grounds, real_file};
use crate::support::{UTM_25N, place, read_plan, utm_transform, write_raster};

/// The square of the sample's town: 4.5 by 3 km.
const LEFT: f64 = 354_000.0;
const TOP: f64 = 5_207_500.0;

fn sample(name: &str) -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain").join(name)
}

fn open(file: &Path, extent: Extent) -> Terrain {
    let inputs = TerrainInputs {
        files: vec![file.to_owned()],
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    Terrain::open(&inputs, extent).unwrap()
}

/// What is told of roofs in the heights of a file.
fn told(file: &Path, extent: Extent) -> Option<String> {
    let terrain = open(file, extent);
    let mut texts = terrain.remarks().iter().map(|remark| remark.text.clone());
    texts.find(|text| text.contains("roofs and trees are in the heights"))
}

fn earth() -> Extent {
    Extent { south_west: place(-89.0, -179.0), north_east: place(89.0, 179.0) }
}

/// The sample's land in cells of so many metres, with so much of its houses in it.
fn written(folder: &Path, cell: f64, houses: f32) -> std::path::PathBuf {
    let plan = read_plan(&sample("ferry-lights-town.toml"));
    let extent = Extent::around(plan.extent_points(), Metres::new(500.0)).unwrap();
    let bare = Terrain::open(&plan.terrain, extent).unwrap();
    let (columns, rows) = ((4500.0 / cell) as usize, (3000.0 / cell) as usize);
    let transform = utm_transform(LEFT, TOP, cell);
    let grid = Grid::new(columns, rows, transform, "EPSG:32625").unwrap();
    let town = footprints(&sample("buildings.geojson"), whole()).unwrap().footprints;
    assert!(town.len() > 500);
    let projector = grid.projector().unwrap();
    // A building covers the cells whose centres its outline holds.
    let mut built = vec![0.0f32; columns * rows];
    for house in &town {
        use geo::{BoundingRect, Contains};
        let around = house.outline.bounding_rect().unwrap();
        let corner = |x: f64, y: f64| projector.to_cell(place(y, x)).unwrap();
        let (low, high) = (around.min(), around.max());
        let corners = [
            corner(low.x, low.y),
            corner(high.x, low.y),
            corner(low.x, high.y),
            corner(high.x, high.y),
        ];
        let span = |of: fn(&(f64, f64)) -> f64, most: usize| {
            let low = corners.iter().map(of).fold(f64::MAX, f64::min).floor().max(0.0) as usize;
            let high = corners.iter().map(of).fold(f64::MIN, f64::max).ceil().max(0.0) as usize;
            low..high.min(most)
        };
        for row in span(|c| c.1, rows) {
            for column in span(|c| c.0, columns) {
                let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
                if house.outline.contains(&at.point()) {
                    built[row * columns + column] = 7.0;
                }
            }
        }
    }
    let file = folder.join(format!("land-{cell}-{houses}.tif"));
    write_raster(&file, (columns, rows), transform, Some(UTM_25N), None, |column, row| {
        let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        bare.ground(at).unwrap().value() as f32 + houses * built[row * columns + column]
    });
    file
}

fn whole() -> geo::Rect {
    geo::Rect::new((-180.0, -90.0), (180.0, 90.0))
}

#[test]
fn the_town_is_seen_in_the_heights_and_its_bare_ground_is_not() {
    let folder = tempfile::tempdir().unwrap();
    for cell in [10.0, 5.0] {
        assert_eq!(told(&written(folder.path(), cell, 0.0), earth()), None, "{cell} m");
        let text = told(&written(folder.path(), cell, 1.0), earth()).unwrap();
        // Three kilometres of walls on each square kilometre.
        let metres: f64 = text.split_whitespace().find_map(|word| word.parse().ok()).unwrap();
        assert!((2500.0..4000.0).contains(&metres), "{cell} m: {text}");
    }
    assert_eq!(told(&sample("ostlers-ferry.tif"), earth()), None);
}

/// In their own large cells, where a house could not be seen, and in cells of 10 m.
#[test]
fn mountains_are_not_taken_for_a_town() {
    let Some(file) = real_file(MOUNTAINS) else { return };
    assert_eq!(told(&file, earth()), None);
    let Some([_, (_, mountains), _]) = grounds() else { return };
    let folder = tempfile::tempdir().unwrap();
    let fine = folder.path().join("fine.tif");
    let (transform, side) = (utm_transform(440_000.0, 4_468_000.0, 10.0), 300);
    let grid = Grid::new(side, side, transform, "EPSG:32613").unwrap();
    let projector = grid.projector().unwrap();
    write_raster(&fine, (side, side), transform, Some(32613), None, |column, row| {
        let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        mountains.ground(at).unwrap().value() as f32
    });
    assert_eq!(told(&fine, earth()), None);
    assert!(fs::metadata(&fine).unwrap().len() > 300_000);
}
