//! The list of what is linked (CycloneDX) that goes with the program: it is of the
//! versions in Cargo.lock, it has every library that is asked for, and it says
//! nothing of the machine that made it.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;

use serde_json::Value;

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn table(file: &str) -> toml::Table {
    fs::read_to_string(root().join(file)).unwrap().parse().unwrap()
}

/// Names with versions in Cargo.lock.
fn locked() -> BTreeSet<(String, String)> {
    let lock = table("Cargo.lock");
    let text = |package: &toml::Value, field: &str| package[field].as_str().unwrap().to_owned();
    let packages = lock["package"].as_array().unwrap().iter();
    packages.map(|package| (text(package, "name"), text(package, "version"))).collect()
}

/// What the crates of the workspace lean on, tests aside.
fn wanted() -> BTreeSet<String> {
    let members = table("Cargo.toml")["workspace"]["members"].clone();
    let mut wanted = BTreeSet::new();
    for member in members.as_array().unwrap() {
        let manifest = table(&format!("{}/Cargo.toml", member.as_str().unwrap()));
        let systems = manifest.get("target").and_then(toml::Value::as_table).into_iter();
        let tables = systems
            .flat_map(|systems| systems.values())
            .filter_map(|system| system.get("dependencies"))
            .chain(manifest.get("dependencies"));
        wanted.extend(tables.flat_map(|table| table.as_table().unwrap().keys().cloned()));
    }
    wanted
}

#[test]
fn the_list_of_what_is_linked_is_of_these_versions() {
    let text = fs::read_to_string(root().join("docs/linked.cdx.json")).unwrap();
    let list: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(list["bomFormat"], "CycloneDX");
    let locked = locked();
    let mut named = BTreeSet::new();
    for component in list["components"].as_array().unwrap() {
        let field = |name: &str| component[name].as_str().unwrap().to_owned();
        let entry = (field("name"), field("version"));
        assert!(locked.contains(&entry), "{entry:?} is not in Cargo.lock: make supply");
        assert!(!component["purl"].as_str().unwrap().is_empty());
        named.insert(entry.0);
    }
    let wanted = wanted();
    assert!(wanted.len() > 70, "only {} are wanted", wanted.len());
    let missing: Vec<_> = wanted.difference(&named).collect();
    assert!(missing.is_empty(), "not in the list: {missing:?}; make supply");
    for (place, _) in text.match_indices("path+file://") {
        assert!(text[place..].starts_with("path+file:///perchline"), "a folder of some machine");
    }
}

/// `extras` puts it beside the program's manual pages.
#[test]
fn extras_hand_out_the_list() {
    let folder = tempfile::tempdir().unwrap();
    let output = crate::support::perchline(folder.path(), &["extras", "--out", "out"]);
    assert!(output.status.success(), "{}", crate::support::said(&output));
    let handed_out = fs::read(folder.path().join("out/linked.cdx.json")).unwrap();
    assert_eq!(handed_out, fs::read(root().join("docs/linked.cdx.json")).unwrap());
}
