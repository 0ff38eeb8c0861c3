//! The bundles of the pages that lie beside their sources are what those sources and
//! the pinned map library give.

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::support::wanted::Wanted;

fn pages() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src/pages")
}

#[test]
fn the_bundles_are_what_the_sources_give() {
    let node = Command::new("node").arg("--version").output();
    let fetched = "target/pages/fetched-lock.json";
    let fetched = fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join(fetched)).ok();
    if node.is_err() || fetched != fs::read(pages().join("package-lock.json")).ok() {
        Wanted::Pages.is_missing("there is no node, or nothing to bundle the pages with");
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
