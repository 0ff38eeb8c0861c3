//! Disks of a test's own.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use super::said;

/// Runs a shell that may mount a disk of its own on `disk`, as an unprivileged
/// user may. `None` where that can't be, said aloud, and a failure where it has
/// to be.
pub fn on_a_disk(folder: &Path, script: &str) -> Option<Output> {
    fs::create_dir_all(folder.join("disk")).unwrap();
    let output = Command::new("unshare")
        .args(["--user", "--map-root-user", "--mount", "sh", "-c", script])
        .current_dir(folder)
        .output();
    let why = match output {
        Ok(output) => match said(&output) {
            words if words.contains("unshare") || words.contains("mount:") => words,
            _ => return Some(output),
        },
        Err(error) => error.to_string(),
    };
    assert!(std::env::var_os("PERCHLINE_REQUIRE_MOUNT").is_none(), "{why}");
    eprintln!("no disk can be mounted here, so this is not checked: {why}");
    None
}
