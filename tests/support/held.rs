//! How much memory a run of the program holds, and what it says that it needs.

use std::path::Path;
use std::process::{Child, Command, Output, Stdio};
use std::time::Duration;

use super::said;
use super::wanted::Wanted;

/// Runs the program in `folder` until it ends well, and tells the most memory,
/// bytes, that it held. `None` where the system does not tell.
pub fn by_a_run(folder: &Path, arguments: &[&str]) -> Option<f64> {
    let mut child = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(arguments)
        .current_dir(folder)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let held = most(&mut child);
    assert!(child.wait().unwrap().success(), "{arguments:?}");
    if held.is_none() {
        Wanted::Linux.is_missing("this system does not tell what a program holds");
    }
    held
}

fn most(child: &mut Child) -> Option<f64> {
    let file = format!("/proc/{}/status", child.id());
    let mut most: Option<f64> = None;
    while child.try_wait().unwrap().is_none() {
        let status = std::fs::read_to_string(&file).unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        if let Some(line) = line {
            let bytes = line.trim().trim_end_matches(" kB").parse::<f64>().unwrap() * 1024.0;
            most = Some(most.unwrap_or(0.0).max(bytes));
        }
        std::thread::sleep(Duration::from_millis(3));
    }
    most
}

/// What a run that was refused for want of memory says that it needs, bytes.
pub fn needed(refused: &Output) -> f64 {
    let words = said(refused);
    assert_eq!(refused.status.code(), Some(2), "{words}");
    let need = words.split("needs about ").nth(1).unwrap_or_else(|| panic!("{words}"));
    need.split(' ').next().unwrap().parse::<f64>().unwrap() * 1e9
}
