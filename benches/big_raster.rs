//! A raster of 40,000 x 40,000 cells on this machine's disk, and the program on
//! it: the whole of it in larger cells, and a window of its own cells. Prints
//! how long each took and the most memory that either held, and fails if that
//! is more than 2 GB or more than was predicted.

use std::path::Path;
use std::time::Instant;

use gdal::DriverManager;
use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;
use rayon::prelude::*;
use serde_json::Value;

#[path = "../tests/support/mod.rs"]
mod support;

const SIDE: usize = 40_000;
/// Metres.
const CELL: f64 = 2.0;
/// Rows written at a time: those of a row of tiles.
const ROWS: usize = 256;

fn main() {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a temporary folder");
    write(&folder.path().join("terrain.tif"));
    let whole = plan("38 km", "cell = \"20 m\"\n", "cell = \"40 m\"\n");
    let window = plan("4 km", "", "cell = \"10 m\"\n");
    let mut most = 0.0f64;
    for (name, text) in [("whole", whole), ("window", window)] {
        std::fs::write(folder.path().join("plan.toml"), text).expect("room for it");
        let check = support::perchline(folder.path(), &["check", "plan.toml", "--json"]);
        assert!(check.status.success(), "{}", support::said(&check));
        let found: Value = serde_json::from_slice(&check.stdout).expect("JSON");
        let predicted = found["result"]["memory_bytes"].as_f64().expect("a number") / 1e9;
        let (held, seconds) = run(folder.path());
        println!("figure big_raster_{name}_seconds {seconds:.0} s");
        println!("figure big_raster_{name}_predicted_gigabytes {predicted:.2} GB");
        println!("figure big_raster_{name}_gigabytes {held:.2} GB");
        assert!(held <= predicted, "{held} GB held, {predicted} GB predicted");
        most = most.max(held);
    }
    println!("figure big_raster_gigabytes {most:.2} GB");
    assert!(most <= 2.0, "{most} GB");
}

/// The plan that tests use, with so much around it.
fn plan(margin: &str, terrain: &str, map: &str) -> String {
    support::PLAN
        .replace("files = [\"terrain.tif\"]\n", &format!("files = [\"terrain.tif\"]\n{terrain}"))
        .replace("margin = \"100 m\"\n", &format!("margin = \"{margin}\"\n{map}"))
}

/// Hills of decimetres, as surveys from the air store them, compressed in tiles.
fn write(file: &Path) {
    let options = RasterCreationOptions::from_iter([
        "COMPRESS=DEFLATE",
        "ZLEVEL=1",
        "TILED=YES",
        "NUM_THREADS=ALL_CPUS",
        "BIGTIFF=YES",
    ]);
    let mut dataset = DriverManager::get_driver_by_name("GTiff")
        .and_then(|driver| {
            driver.create_with_band_type_with_options::<i16, _>(file, SIDE, SIDE, 1, &options)
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
    let mut band = dataset.rasterband(1).expect("one band");
    band.set_no_data_value(Some(-32768.0)).expect("a void value");
    for first in (0..SIDE).step_by(ROWS) {
        let rows = ROWS.min(SIDE - first);
        let heights: Vec<i16> = (first..first + rows)
            .into_par_iter()
            .flat_map_iter(|row| {
                let y = row as f32;
                (0..SIDE).map(move |column| {
                    let x = column as f32;
                    let hills = (x / 700.0).sin() * (y / 900.0).cos() * 60.0;
                    let knolls = (x / 61.0 + y / 83.0).sin() * 6.0;
                    (120.0 + hills + knolls).round() as i16
                })
            })
            .collect();
        let mut buffer = Buffer::new((SIDE, rows), heights);
        band.write((0, first as isize), (SIDE, rows), &mut buffer).expect("room for it");
    }
    dataset.close().expect("room for it");
}

/// Maps a site and tells the most memory that was held, GB, and the time, s.
fn run(folder: &Path) -> (f64, f64) {
    let begun = Instant::now();
    let coverage = ["coverage", "plan.toml", "--site", "Hotel", "--out", "out", "--memory", "2 GB"];
    let held = support::held::by_a_run(folder, &coverage).expect("Linux tells");
    (held / 1e9, begun.elapsed().as_secs_f64())
}
