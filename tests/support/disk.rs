//! Disks of a test's own.

use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use super::said;
use super::wanted::Wanted;

/// Runs a shell that may mount a disk of its own on `disk`, as an unprivileged
/// user may. `None` where that can't be and need not be.
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
    Wanted::Mount.is_missing(&format!("no disk can be mounted here: {}", why.trim()));
    None
}
