//! Running a script of `tests/browser` in the machine's own browser.

use std::path::Path;
use std::process::Command;

/// Runs `tests/browser/SCRIPT` with these arguments, passes on what it prints,
/// and fails where it fails. Without a browser, node or what drives them it
/// checks nothing and says so, unless `PERCHLINE_REQUIRE_BROWSER` is set.
pub fn in_browser(script: &str, arguments: &[&str]) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let there = |program: &str| {
        Command::new(program).arg("--version").output().is_ok_and(|o| o.status.success())
    };
    let lacking = if !there("node") {
        Some("node")
    } else if !there("chromium") {
        Some("chromium")
    } else if !root.join("target/test-browser/fetched-lock.json").exists() {
        Some("target/test-browser (tests/browser/fetch.sh puts it there)")
    } else {
        None
    };
    if let Some(lacking) = lacking {
        assert!(
            std::env::var_os("PERCHLINE_REQUIRE_BROWSER").is_none(),
            "PERCHLINE_REQUIRE_BROWSER is set, but there is no {lacking}"
        );
        eprintln!("no {lacking}: {script} checks nothing");
        return;
    }
    let output = Command::new("node")
        .arg(root.join("tests/browser").join(script))
        .args(arguments)
        .output()
        .unwrap();
    print!("{}", String::from_utf8_lossy(&output.stdout));
    assert!(output.status.success(), "{script}: {}", String::from_utf8_lossy(&output.stderr));
}
