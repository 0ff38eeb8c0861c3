//! A raster of 3601 x 3601 cells, as tiles of elevation models have, and `coverage` of
//! all of it: the whole process with every file that it writes, on two threads.

use std::path::Path;
use std::process::{Command, Stdio};

use gdal::raster::Buffer;
use rayon::prelude::*;
use support::timed::{hills, seconds};

#[path = "../tests/support/mod.rs"]
mod support;

const SIDE: usize = 3601;
/// Metres: the greatest margin of a plan reaches the raster's rim.
const CELL: f64 = 27.0;
const RUNS: u32 = 5;

fn main() {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a temporary folder");
    write(&folder.path().join("terrain.tif"));
    // High enough that the map has all classes, in patches of every size.
    let plan = support::PLAN
        .replace("margin = \"100 m\"", "margin = \"50 km\"")
        .replace("roof = \"20 m above ground\"", "roof = \"100 m above ground\"");
    std::fs::write(folder.path().join("plan.toml"), plan).expect("room for it");
    let seconds = seconds(RUNS, || run(folder.path()));
    println!("figure coverage_3601_seconds {seconds:.1} s");
    let features = folder.path().join("out/event-hotel.geojson");
    let bytes = std::fs::metadata(features).expect("it was written").len();
    println!("figure coverage_3601_geojson_megabytes {:.1} MB", bytes as f64 / 1e6);
}

/// Hills of 60 m whose roughness falls from scale to scale.
fn write(file: &Path) {
    let options = ["COMPRESS=DEFLATE", "ZLEVEL=1", "TILED=YES"];
    let dataset = support::new_raster::<f32>(file, SIDE, CELL, &options);
    let heights: Vec<f32> = (0..SIDE)
        .into_par_iter()
        .flat_map_iter(|row| (0..SIDE).map(move |column| hills(column, row, 60.0, 0.45) as f32))
        .collect();
    let mut buffer = Buffer::new((SIDE, SIDE), heights);
    let mut band = dataset.rasterband(1).expect("one band");
    band.write((0, 0), (SIDE, SIDE), &mut buffer).expect("room for it");
    dataset.close().expect("room for it");
}

/// Maps a site.
fn run(folder: &Path) {
    let status = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(["coverage", "plan.toml", "--site", "Hotel", "--out", "out", "--threads", "2"])
        .current_dir(folder)
        .stdout(Stdio::null())
        .status()
        .expect("the program starts");
    assert!(status.success(), "the map is made");
}
