//! The bundles of the pages that lie beside their sources are what those sources and
//! the pinned map library give.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::support::wanted::Wanted;

fn pages() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src/pages")
}

/// Whether what bundles and checks the pages is there.
fn can_bundle() -> bool {
    let node = Command::new("node").arg("--version").output();
    let fetched = "target/pages/fetched-lock.json";
    let fetched = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(fetched)).ok();
    let there = node.is_ok() && fetched == fs::read(pages().join("package-lock.json")).ok();
    if !there {
        Wanted::Pages.is_missing("there is no node, or nothing to bundle the pages with");
    }
    there
}

/// The scripts name nothing that is not defined; where one does, it is told with its line.
#[test]
fn the_scripts_name_nothing_undefined() {
    if !can_bundle() {
        return;
    }
    let told = |folder: &Path| {
        let output = Command::new("sh").arg(pages().join("names.sh")).arg(folder).output().unwrap();
        let found = String::from_utf8_lossy(&output.stdout).into_owned();
        assert_eq!(output.status.success(), found.is_empty(), "{output:?}");
        found
    };
    assert_eq!(told(&pages()), "");
    // A slip in a name, in an import and in what an import gives.
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(pages()).unwrap().map(|entry| entry.unwrap().path()) {
        if entry.extension().is_some_and(|ending| ending == "js") {
            fs::copy(&entry, folder.path().join(entry.file_name().unwrap())).unwrap();
        }
    }
    let script = folder.path().join("live.js");
    let text = fs::read_to_string(&script).unwrap();
    let slips = [
        ("createStrips(at, board)", "createStrips(at, borad)"),
        ("import { createNight }", "import { createNigth }"),
        ("\"./live-here.js\"", "\"./live-hear.js\""),
    ];
    let wrong = slips.iter().fold(text, |text, (right, slip)| {
        assert!(text.contains(right), "{right}");
        text.replace(right, slip)
    });
    fs::write(&script, wrong).unwrap();
    let found = told(folder.path());
    for name in ["borad", "createNigth", "live-hear.js"] {
        assert!(
            found.lines().any(|line| line.starts_with("live.js(") && line.contains(name)),
            "{found}"
        );
    }
}

#[test]
fn the_bundles_are_what_the_sources_give() {
    if !can_bundle() {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let output =
        Command::new("sh").arg(pages().join("bundle.sh")).arg(folder.path()).output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    let names = |place: &Path| {
        let entries = fs::read_dir(place).unwrap().map(|entry| entry.unwrap().file_name());
        let mut names: Vec<_> = entries.collect();
        names.sort();
        names
    };
    let kept = pages().join("bundled");
    assert_eq!(names(&kept), names(folder.path()));
    for name in names(&kept) {
        let same =
            fs::read(kept.join(&name)).unwrap() == fs::read(folder.path().join(&name)).unwrap();
        assert!(same, "src/pages/bundled/{name:?} is not of these sources: run `make pages`");
    }
}

/// Whoever hands the pages on hands the licence of the map library on with them.
#[test]
fn the_bundles_name_the_map_library_and_its_licence_lies_beside_them() {
    let read = |name: &str| fs::read_to_string(pages().join("bundled").join(name)).unwrap();
    let manifest: serde_json::Value =
        serde_json::from_slice(&fs::read(pages().join("package.json")).unwrap()).unwrap();
    let version = manifest["dependencies"]["leaflet"].as_str().unwrap();
    for page in ["brief.js", "live.js"] {
        assert!(read(page).contains(&format!("Leaflet {version}")), "{page}");
    }
    let licence = read("leaflet-licence.txt");
    assert!(licence.contains("BSD 2-Clause") && licence.contains("Copyright (c)"), "{licence}");
}
