//! How long the verbs take that a lead waits for: the whole program as users start it,
//! for the answer on the screen and for all of it with every file, on two threads, the
//! least of five runs; and another program's sweep of a raster of 3601 x 3601 cells in
//! the same run, for comparison.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use support::timed::{land, plain_raster, seconds, viewshed_seconds};

#[path = "../tests/support/mod.rs"]
mod support;

const SAMPLE: &str = "sample-terrain/ferry-lights.toml";
const TOWN: &str = "sample-terrain/ferry-lights-town.toml";

/// What is timed, each by the name of its figure; all but the briefing, which is nothing
/// but files, without files too.
const VERBS: [(&str, &[&str]); 7] = [
    ("rank_sample", &["rank", SAMPLE]),
    ("rank_town", &["rank", TOWN]),
    ("choose_sample", &["choose", SAMPLE]),
    ("masts_town", &["masts", TOWN]),
    ("search_town", &["search", TOWN]),
    ("rehearse_sample", &["rehearse", SAMPLE]),
    ("brief_sample", &["brief", SAMPLE]),
];

/// Runs of each verb.
const RUNS: u32 = 5;

/// The system of the sample's raster moved by a metre each way, which no registry has.
const CUSTOM: &str =
    "+proj=tmerc +lat_0=0 +lon_0=-33 +k=0.9996 +x_0=500001 +y_0=1 +datum=WGS84 +units=m +no_defs";

/// Seconds of a run with these arguments that writes all its files, the least of so many.
fn timed(runs: u32, threads: &str, arguments: &[&str]) -> f64 {
    let out = tempfile::tempdir().expect("a temporary folder");
    let out = out.path().to_str().expect("a path of letters");
    told(runs, &[arguments, &["--threads", threads, "--out", out]].concat())
}

/// The same of a run that is only read.
fn told(runs: u32, arguments: &[&str]) -> f64 {
    seconds(runs, || {
        let status = Command::new(env!("CARGO_BIN_EXE_perchline"))
            .args(arguments)
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .expect("the program starts");
        assert!(status.success(), "it ends well: {arguments:?}");
    })
}

/// Seconds until a program has loaded the libraries that this one rests on, and says its
/// version; `None` where GDAL's programs are not installed.
fn libraries() -> Option<f64> {
    let says = || {
        let status = Command::new("gdalinfo").arg("--version").stdout(Stdio::null()).status();
        status.is_ok_and(|status| status.success())
    };
    says().then(|| seconds(4 * RUNS, || assert!(says(), "it says its version")))
}

/// The sample in `folder` with its raster in the system that no registry has; `None`
/// where GDAL's programs are not installed.
fn custom(folder: &Path) -> Option<PathBuf> {
    let own = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    for entry in std::fs::read_dir(&own).expect("the sample").flatten() {
        std::fs::copy(entry.path(), folder.join(entry.file_name())).expect("room for it");
    }
    let raster = "ostlers-ferry.tif";
    let status = Command::new("gdal_translate")
        .args(["-q", "-a_srs", CUSTOM, "-a_ullr", "349501", "5211001", "361501", "5202001"])
        .args([own.join(raster), folder.join(raster)])
        .status();
    status.is_ok_and(|s| s.success()).then(|| folder.join("ferry-lights.toml"))
}

fn main() {
    for (name, arguments) in VERBS {
        let with_files = timed(RUNS, "2", arguments);
        if arguments.first() == Some(&"brief") {
            println!("figure {name}_seconds {with_files:.2} seconds");
            continue;
        }
        let answer = told(RUNS, &[arguments, &["--threads", "2"]].concat());
        println!("figure {name}_seconds {answer:.2} seconds");
        println!("figure {name}_files_seconds {with_files:.2} seconds");
    }
    let [alone, both] = ["1", "2"].map(|threads| timed(RUNS, threads, &["rank", SAMPLE]));
    println!("figure rank_two_thread_speedup {:.2} times", alone / both);
    let startup = told(4 * RUNS, &["power", SAMPLE]);
    println!("figure startup_ms {:.0} ms", startup * 1e3);
    if let Some(libraries) = libraries() {
        println!("figure startup_of_libraries_ms {:.0} ms", libraries * 1e3);
    }

    let folder = tempfile::tempdir().expect("a temporary folder");
    if let Some(plan) = custom(folder.path()) {
        let plan = plan.to_str().expect("a path of letters");
        let costs = ["rank", "rehearse"].map(|verb| {
            // Turn by turn, so that what else the machine does falls on both.
            let turns = (0..RUNS).map(|_| [plan, SAMPLE].map(|plan| timed(1, "2", &[verb, plan])));
            let [own, registered] =
                turns.fold([f64::INFINITY; 2], |[a, b], [c, d]| [a.min(c), b.min(d)]);
            own / registered
        });
        println!("figure custom_crs_costs {:.2} times", costs[0].max(costs[1]));
    }
    let large = land(3601, 60.0, 0.45, false);
    let input = plain_raster(&large, folder.path());
    if let Some(viewshed) = input.and_then(|input| viewshed_seconds(&large, &input)) {
        println!("figure viewshed_3601_seconds {viewshed:.2} seconds");
    }
}
