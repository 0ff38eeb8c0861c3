//! A raster of 3601 x 3601 cells, as tiles of elevation models have, and `coverage` of
//! all of it: the whole process with every file that it writes, on two threads.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use gdal::DriverManager;
use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use rayon::prelude::*;
use support::land::noise;

#[path = "../tests/support/mod.rs"]
mod support;

const SIDE: usize = 3601;
/// Metres: the greatest margin of a plan reaches the raster's rim.
const CELL: f64 = 27.0;
const RUNS: usize = 5;

fn main() {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a temporary folder");
    write(&folder.path().join("terrain.tif"));
    // High enough that the map has all classes, in patches of every size.
    let plan = support::PLAN
        .replace("margin = \"100 m\"", "margin = \"50 km\"")
        .replace("roof = \"20 m above ground\"", "roof = \"100 m above ground\"");
    std::fs::write(folder.path().join("plan.toml"), plan).expect("room for it");
    let seconds = (0..RUNS).map(|_| run(folder.path())).fold(f64::INFINITY, f64::min);
    println!("figure coverage_3601_seconds {seconds:.1} s");
    let features = folder.path().join("out/event-hotel.geojson");
    let bytes = std::fs::metadata(features).expect("it was written").len();
    println!("figure coverage_3601_geojson_megabytes {:.1} MB", bytes as f64 / 1e6);
}

/// Hills of 60 m whose roughness falls from scale to scale.
fn write(file: &Path) {
    let options = RasterCreationOptions::from_iter(["COMPRESS=DEFLATE", "ZLEVEL=1", "TILED=YES"]);
    let mut dataset = DriverManager::get_driver_by_name("GTiff")
        .and_then(|driver| {
            driver.create_with_band_type_with_options::<f32, _>(file, SIDE, SIDE, 1, &options)
        })
        .expect("a disk with room");
    // The plan's places lie in its middle.
    let reach = SIDE as f64 / 2.0 * CELL;
    dataset
        .set_geo_transform(&support::utm_transform(356_000.0 - reach, 5_207_500.0 + reach, CELL))
        .expect("a transform");
    dataset
        .set_spatial_ref(&SpatialRef::from_epsg(support::UTM_25N).expect("a known system"))
        .expect("a system");
    let heights: Vec<f32> = (0..SIDE)
        .into_par_iter()
        .flat_map_iter(|row| {
            (0..SIDE).map(move |column| {
                let hills = (0..7).map(|k| {
                    let (x, y) = (column as f64, row as f64);
                    60.0 * 0.45f64.powi(k) * noise(x, y, 200.0 / 2f64.powi(k), 7 + k as u64)
                });
                (400.0 + hills.sum::<f64>()) as f32
            })
        })
        .collect();
    let mut buffer = Buffer::new((SIDE, SIDE), heights);
    let mut band = dataset.rasterband(1).expect("one band");
    band.write((0, 0), (SIDE, SIDE), &mut buffer).expect("room for it");
    dataset.close().expect("room for it");
}

/// Maps a site and tells how long that took, s.
fn run(folder: &Path) -> f64 {
    let begun = Instant::now();
    let status = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(["coverage", "plan.toml", "--site", "Hotel", "--out", "out", "--threads", "2"])
        .current_dir(folder)
        .stdout(Stdio::null())
        .status()
        .expect("the program starts");
    assert!(status.success(), "the map is made");
    begun.elapsed().as_secs_f64()
}
