//! Running a script of `tests/browser` in the machine's own browser.

use std::path::Path;
use std::process::Command;

use super::wanted::Wanted;

/// Runs `tests/browser/SCRIPT` with these arguments, passes on what it prints,
/// and fails where it fails. Tells whether it ran: there may be no browser.
pub fn in_browser(script: &str, arguments: &[&str]) -> bool {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let there = |program: &str| {
        Command::new(program).arg("--version").output().is_ok_and(|o| o.status.success())
    };
    let lacking = if !there("node") {
        Some("node")
    } else if !there("chromium") {
        Some("chromium")
    } else if Command::new("pdftotext").arg("-v").output().is_err() {
        Some("pdftotext")
    } else if !root.join("target/test-browser/fetched-lock.json").exists() {
        Some("target/test-browser")
    } else {
        None
    };
    if let Some(lacking) = lacking {
        Wanted::Browser.is_missing(&format!("there is no {lacking}"));
        return false;
    }
    let output = Command::new("node")
        .arg(root.join("tests/browser").join(script))
        .args(arguments)
        .output()
        .unwrap();
    print!("{}", String::from_utf8_lossy(&output.stdout));
    assert!(output.status.success(), "{script}: {}", String::from_utf8_lossy(&output.stderr));
    true
}
