//! Times that `make figures` prints: whole runs of the program, as users start it.

use std::process::{Command, Stdio};
use std::time::Instant;

fn main() {
    let out = tempfile::tempdir().expect("a temporary folder");
    let started = Instant::now();
    let status = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(["rank", "sample-terrain/ferry-lights.toml", "--out"])
        .arg(out.path())
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .stdout(Stdio::null())
        .status()
        .expect("the program starts");
    assert!(status.success(), "the sample plan ranks");
    println!("figure demo_seconds {:.2} s", started.elapsed().as_secs_f64());
}
