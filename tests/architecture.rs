//! DEVELOPERS.md says which way data flows; here it is held to that. A source
//! file may name `crate::FOLDER` only of its own folder and those before it.

use std::fs;
use std::path::{Path, PathBuf};

/// The folders of `src` in the order in which data flows.
const ORDER: [&str; 17] = [
    "units",
    "confine",
    "vector",
    "plan",
    "profile",
    "terrain",
    "propagation",
    "link",
    "power",
    "coverage",
    "siting",
    "heard",
    "pages",
    "report",
    "opened",
    "live",
    "cli",
];

/// The folders that may call GDAL.
const FOREIGN: [&str; 3] = ["confine", "vector", "terrain"];

/// Ways to reach a file, the network, the environment, a process or a clock.
const OUTSIDE: [&str; 8] = [
    "std::fs",
    "std::io",
    "std::net",
    "std::env",
    "std::process",
    "std::time",
    "println!",
    "include_",
];

/// Folders whose functions compute from their arguments alone.
const PURE: [&str; 4] = ["units", "profile", "propagation", "power"];

struct Source {
    path: PathBuf,
    folder: String,
    text: String,
}

fn sources() -> Vec<Source> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut sources = Vec::new();
    for folder in fs::read_dir(&root).unwrap().map(|e| e.unwrap().path()).filter(|p| p.is_dir()) {
        let name = folder.file_name().unwrap().to_str().unwrap().to_owned();
        gather(&folder, &name, &mut sources);
    }
    assert!(sources.len() > 50, "only {} source files found", sources.len());
    sources
}

fn gather(place: &Path, folder: &str, sources: &mut Vec<Source>) {
    for path in fs::read_dir(place).unwrap().map(|e| e.unwrap().path()) {
        if path.is_dir() {
            gather(&path, folder, sources);
        } else if path.extension().is_some_and(|x| x == "rs") {
            let text = fs::read_to_string(&path).unwrap();
            sources.push(Source { path, folder: folder.to_owned(), text });
        }
    }
}

/// Lines of code: comments and docs may name what they like.
fn code(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.lines()
        .enumerate()
        .map(|(index, line)| (index + 1, line.split("//").next().unwrap_or_default()))
}

/// The folders that a line names after `crate::`, one or several in braces.
fn named(line: &str) -> Vec<&str> {
    line.split("crate::")
        .skip(1)
        .flat_map(|rest| {
            let list = rest.strip_prefix('{').map_or(rest, |l| l.split('}').next().unwrap_or(l));
            let several = if rest.starts_with('{') { usize::MAX } else { 1 };
            list.split(',').take(several).map(|part| {
                let part = part.trim();
                part.split(|c: char| !c.is_ascii_alphanumeric() && c != '_').next().unwrap_or(part)
            })
        })
        .filter(|name| !name.is_empty())
        .collect()
}

#[test]
fn every_folder_has_its_place_in_the_order() {
    let mut folders: Vec<_> = sources().into_iter().map(|s| s.folder).collect();
    folders.sort();
    folders.dedup();
    let mut order = ORDER.map(str::to_owned);
    order.sort();
    assert_eq!(folders, order);
    // And DEVELOPERS.md and the crate's docs draw the same line.
    let line = ORDER.join(" -> ");
    for file in ["DEVELOPERS.md", "src/lib.rs"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join(file);
        assert!(fs::read_to_string(path).unwrap().contains(&line), "{file} says otherwise");
    }
}

#[test]
fn imports_follow_the_order() {
    let place = |folder: &str| ORDER.iter().position(|f| *f == folder);
    let mut against = Vec::new();
    let mut seen = 0;
    for source in sources() {
        let here = place(&source.folder).unwrap();
        for (line, text) in code(&source.text) {
            for folder in named(text) {
                seen += 1;
                if place(folder).is_none_or(|there| there > here) {
                    against.push(format!("{}:{line}: {}", source.path.display(), text.trim()));
                }
            }
        }
    }
    assert!(seen > 100, "only {seen} imports found");
    assert!(against.is_empty(), "against the order:\n{}", against.join("\n"));
}

#[test]
fn gdal_stays_in_vector_and_terrain() {
    let mut users = Vec::new();
    for source in sources() {
        let uses = code(&source.text).any(|(_, line)| {
            line.contains("gdal::") || line.contains("gdal_sys") || line.contains("use gdal")
        });
        if uses {
            assert!(FOREIGN.contains(&source.folder.as_str()), "{}", source.path.display());
            users.push(source.folder);
        }
    }
    for folder in FOREIGN {
        assert!(users.iter().any(|u| u == folder), "{folder} no longer uses GDAL: say so here");
    }
}

#[test]
fn unsafe_code_stays_in_two_files() {
    for source in sources() {
        let allowed =
            ["terrain/ffi.rs", "confine/drivers.rs"].iter().any(|file| source.path.ends_with(file));
        let found = code(&source.text).any(|(_, line)| line.contains("unsafe {"));
        assert_eq!(found, allowed, "{}", source.path.display());
    }
}

#[test]
fn propagation_computes_and_nothing_else() {
    for source in sources().iter().filter(|s| PURE.contains(&s.folder.as_str())) {
        // Tests below the code may print or read what they like.
        let body = source.text.split("#[cfg(test)]").next().unwrap_or_default();
        for (line, text) in code(body) {
            for way in OUTSIDE {
                assert!(!text.contains(way), "{}:{line}: {way}", source.path.display());
            }
        }
    }
}

/// The reader of imports itself: a check that reads nothing finds nothing.
#[test]
fn imports_are_read_in_each_form() {
    assert_eq!(named("use crate::plan::{self, Plan};"), ["plan"]);
    assert_eq!(named("use crate::{link, plan::Plan};"), ["link", "plan"]);
    assert_eq!(named("fn f(a: crate::units::Db) -> crate::units::Db {"), ["units", "units"]);
    assert_eq!(named("pub(crate) fn f() {}"), [""; 0]);
}
