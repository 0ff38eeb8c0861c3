//! Real ground: the pieces of elevation that `tests/fetch-real-elevation.sh` puts
//! into target/test-data.

use std::fs::File;
use std::path::{Path, PathBuf};

use gdal::Dataset;
use ndarray::{Array0, Array1, Array2};
use ndarray_npy::NpzReader;
use perchline::terrain::{Grid, Terrain};

use super::wanted::Wanted;

/// Ridges and valleys, mountains, and a coast with fjords, each with its name;
/// none where one of them is missing.
pub fn grounds() -> Option<[(&'static str, Terrain); 3]> {
    let (ridges, mountains, coast) =
        (real_file("jacksboro_fault_dem.npz")?, real_file(MOUNTAINS)?, real_file("topobathy.npz")?);
    Some([
        ("ridges", ridges_of(&ridges)),
        ("mountains", mountains_of(&mountains)),
        ("coast", coast_of(&coast)),
    ])
}

/// The mountains' file.
pub const MOUNTAINS: &str = "rmnp-dem.tif";

/// A file of real elevation; none where it is missing.
pub fn real_file(name: &str) -> Option<PathBuf> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/test-data").join(name);
    if !file.exists() {
        Wanted::Elevation.is_missing(&format!("there is no {}", file.display()));
        return None;
    }
    Some(file)
}

fn ridges_of(file: &Path) -> Terrain {
    let (heights, transform) = ridges(file);
    terrain(heights.mapv(f32::from), transform, "EPSG:4269")
}

/// The ridges' heights in metres, north at the top, and where they lie in degrees.
pub fn ridges(file: &Path) -> (Array2<i16>, [f64; 6]) {
    let mut npz = NpzReader::new(File::open(file).unwrap()).unwrap();
    let heights: Array2<i16> = npz.by_name("elevation").unwrap();
    let mut number = |name: &str| {
        let value: Array0<f64> = npz.by_name(name).unwrap();
        value.into_scalar()
    };
    let (west, dx, dy) = (number("xmin"), number("dx"), number("dy"));
    // The file calls the northern edge ymin.
    let north = number("ymin").max(number("ymax"));
    (heights, [west, dx, 0.0, north, 0.0, -dy])
}

fn mountains_of(file: &Path) -> Terrain {
    let dataset = Dataset::open(file).unwrap();
    let band = dataset.rasterband(1).unwrap().read_band_as::<f32>().unwrap();
    let ((columns, rows), heights) = band.into_shape_and_vec();
    let heights = Array2::from_shape_vec((rows, columns), heights).unwrap();
    terrain(heights, dataset.geo_transform().unwrap(), "EPSG:4326")
}

/// The sea at height nothing; its rows, all but evenly spaced, taken as even.
fn coast_of(file: &Path) -> Terrain {
    let mut npz = NpzReader::new(File::open(file).unwrap()).unwrap();
    let heights: Array2<f32> = npz.by_name("topo").unwrap();
    let mut ends = |name: &str| {
        let values: Array1<f32> = npz.by_name(name).unwrap();
        let (first, last) = (f64::from(values[0]), f64::from(values[values.len() - 1]));
        (first, last, (last - first) / (values.len() - 1) as f64)
    };
    let ((west, _, dx), (_, north, dy)) = (ends("longitude"), ends("latitude"));
    let transform = [west - 360.0 - dx / 2.0, dx, 0.0, north + dy / 2.0, 0.0, -dy];
    let (rows, columns) = heights.dim();
    // The first row is the southernmost.
    let turned = Array2::from_shape_fn((rows, columns), |(row, column)| {
        heights[(rows - 1 - row, column)].max(0.0)
    });
    terrain(turned, transform, "EPSG:4326")
}

fn terrain(heights: Array2<f32>, transform: [f64; 6], crs: &str) -> Terrain {
    let grid = Grid::new(heights.ncols(), heights.nrows(), transform, crs).unwrap();
    Terrain::from_heights(grid, heights).unwrap()
}
