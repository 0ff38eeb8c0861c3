//! A raster of 40,000 x 40,000 cells on this machine's disk, and the program on
//! it: the whole of it in larger cells, and a window of its own cells. Prints
//! how long each took and the most memory that either held, and fails if that
//! is more than 2 GB or more than was predicted.

use std::path::Path;
use std::time::Instant;

use serde_json::Value;

#[path = "../tests/support/mod.rs"]
mod support;

fn main() {
    let folder = tempfile::tempdir_in(env!("CARGO_TARGET_TMPDIR")).expect("a temporary folder");
    support::national::write(&folder.path().join("terrain.tif"));
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

/// Maps a site and tells the most memory that was held, GB, and the time, s.
fn run(folder: &Path) -> (f64, f64) {
    let begun = Instant::now();
    let coverage = ["coverage", "plan.toml", "--site", "Hotel", "--out", "out", "--memory", "2 GB"];
    let held = support::held::by_a_run(folder, &coverage).expect("Linux tells");
    (held / 1e9, begun.elapsed().as_secs_f64())
}
