//! Each folder of src is a crate, so the compiler keeps what each may name.
//! Here the manifests are held to the order in which data flows, and the
//! sources to what a manifest cannot say.

use std::fs;
use std::path::{Path, PathBuf};

/// The crates that may call GDAL.
const FOREIGN: [&str; 3] = ["confine", "vector", "terrain"];

/// The files that may hold unsafe code.
const UNSAFE: [&str; 2] = ["terrain/ffi.rs", "confine/drivers.rs"];

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

/// Crates whose functions compute from their arguments alone.
const PURE: [&str; 4] = ["units", "profile", "propagation", "power"];

struct Source {
    path: PathBuf,
    folder: String,
    text: String,
}

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn manifest(file: &Path) -> toml::Table {
    fs::read_to_string(file).unwrap().parse().unwrap()
}

/// The crates in the order in which the workspace names them.
fn order() -> Vec<String> {
    let workspace = manifest(&root().join("Cargo.toml"));
    let members = workspace["workspace"]["members"].as_array().unwrap();
    let name = |member: &toml::Value| {
        member.as_str().unwrap().strip_prefix("src/").expect("a folder of src").to_owned()
    };
    members.iter().map(name).collect()
}

/// The names of all that a crate leans on, in one of the tables of its manifest.
fn leans_on(manifest: &toml::Table, table: &str) -> Vec<String> {
    let whole = manifest.get(table).into_iter();
    let per_system = manifest.get("target").and_then(toml::Value::as_table).into_iter();
    let per_system = per_system.flat_map(|t| t.values()).filter_map(|system| system.get(table));
    whole
        .chain(per_system)
        .flat_map(|dependencies| dependencies.as_table().unwrap().keys().cloned())
        .collect()
}

fn sources() -> Vec<Source> {
    let mut sources = Vec::new();
    for folder in order() {
        gather(&root().join("src").join(&folder), &folder, &mut sources);
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

#[test]
fn every_folder_is_a_crate_with_its_place_in_the_order() {
    let src = fs::read_dir(root().join("src")).unwrap().map(|e| e.unwrap().path());
    let mut folders: Vec<_> = src
        .filter(|path| path.is_dir())
        .map(|path| path.file_name().unwrap().to_str().unwrap().to_owned())
        .collect();
    folders.sort();
    let mut named = order();
    let line = named.join(" -> ");
    named.sort();
    assert_eq!(folders, named);
    // And DEVELOPERS.md and the docs of the library draw the same line.
    for file in ["DEVELOPERS.md", "src/lib.rs"] {
        assert!(fs::read_to_string(root().join(file)).unwrap().contains(&line), "{file}");
    }
}

#[test]
fn a_crate_leans_on_those_before_it() {
    let order = order();
    let mut seen = 0;
    for (place, folder) in order.iter().enumerate() {
        let own = manifest(&root().join("src").join(folder).join("Cargo.toml"));
        for table in ["dependencies", "dev-dependencies", "build-dependencies"] {
            for name in leans_on(&own, table) {
                let Some(other) = name.strip_prefix("perchline-") else { continue };
                seen += 1;
                let there = order.iter().position(|f| f == other);
                assert!(there.is_some_and(|there| there < place), "{folder} leans on {other}");
            }
        }
    }
    assert!(seen > 50, "only {seen} found");
}

#[test]
fn gdal_stays_in_three_crates() {
    for folder in order() {
        let own = manifest(&root().join("src").join(&folder).join("Cargo.toml"));
        let calls = leans_on(&own, "dependencies").iter().any(|name| name.starts_with("gdal"));
        assert_eq!(calls, FOREIGN.contains(&folder.as_str()), "{folder}");
    }
}

#[test]
fn unsafe_code_stays_in_two_files() {
    for source in sources() {
        let allowed = UNSAFE.iter().any(|file| source.path.ends_with(file));
        let found = code(&source.text).any(|(_, line)| line.contains("unsafe {"));
        assert_eq!(found, allowed, "{}", source.path.display());
    }
}

#[test]
fn pure_crates_compute_and_nothing_else() {
    let mut lines = 0;
    for source in sources().iter().filter(|s| PURE.contains(&s.folder.as_str())) {
        // Tests below the code may print or read what they like.
        let body = source.text.split("#[cfg(test)]\nmod").next().unwrap_or_default();
        for (line, text) in code(body) {
            lines += 1;
            for way in OUTSIDE {
                assert!(!text.contains(way), "{}:{line}: {way}", source.path.display());
            }
        }
    }
    assert!(lines > 1000, "only {lines} lines were read");
}

/// Libraries stand once, with a reason, and each is used.
#[test]
fn every_dependency_has_a_reason_and_a_user() {
    let text = fs::read_to_string(root().join("Cargo.toml")).unwrap();
    let (_, table) = text.split_once("[workspace.dependencies]").unwrap();
    let mut used: Vec<String> = Vec::new();
    for folder in order().iter().map(|f| format!("src/{f}")).chain([String::new()]) {
        let own = manifest(&root().join(folder).join("Cargo.toml"));
        used.extend(leans_on(&own, "dependencies"));
        used.extend(leans_on(&own, "dev-dependencies"));
    }
    let mut reason = false;
    let mut known = 0;
    for line in table.lines().take_while(|line| !line.starts_with('[')) {
        if let Some((name, _)) = line.split_once(" = ") {
            let own = name.starts_with("perchline-");
            assert!(own || reason, "{name}: nothing says what it is for");
            assert!(used.iter().any(|u| u == name), "{name} is used nowhere");
            known += 1;
        }
        reason = line.starts_with("# ");
    }
    assert!(known > 50, "only {known} found");
}

/// What reads files and requests of others keeps its checks of overflow in the
/// program that is handed out.
#[test]
fn readers_keep_their_checks_of_overflow() {
    let workspace = manifest(&root().join("Cargo.toml"));
    let release = &workspace["profile"]["release"]["package"];
    for reader in ["confine", "vector", "plan", "terrain", "heard", "live"] {
        let profile = &release[format!("perchline-{reader}")];
        assert_eq!(profile["overflow-checks"].as_bool(), Some(true), "{reader}");
    }
}
