//! A ranking that is cut into parts and put together again is that of a single run,
//! to the byte, and nothing that is missing, old or broken goes into it.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use crate::support::{perchline_long, printed, said};
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain");

/// A folder with the sample on a coarse map.
fn sample() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    for entry in fs::read_dir(SAMPLE).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().into_string().unwrap();
        if name.ends_with(".rs") {
            continue;
        }
        fs::copy(entry.path(), folder.path().join(&name)).unwrap();
    }
    let plan = folder.path().join("ferry-lights.toml");
    let text = fs::read_to_string(&plan).unwrap();
    assert!(text.contains("cell = \"20 m\""));
    fs::write(&plan, text.replacen("cell = \"20 m\"", "cell = \"200 m\"", 1)).unwrap();
    folder
}

fn rank(folder: &Path, arguments: &[&str]) -> std::process::Output {
    perchline_long(folder, &[&["rank", "ferry-lights.toml"], arguments].concat())
}

fn ranked(folder: &Path, arguments: &[&str]) -> String {
    let output = rank(folder, arguments);
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    printed(&output)
}

/// Every file of a folder with what it holds.
fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    fs::read_dir(folder)
        .unwrap()
        .map(|entry| {
            let path = entry.unwrap().path();
            (path.file_name().unwrap().to_string_lossy().into_owned(), fs::read(path).unwrap())
        })
        .collect()
}

fn refused(folder: &Path, parts: &[&str]) {
    let output = rank(folder, &["--gather", "parts", "--out", "refused"]);
    assert_eq!(output.status.code(), Some(2), "{}", printed(&output));
    for part in parts {
        assert!(said(&output).contains(part), "{part:?} is not in {}", said(&output));
    }
    assert!(!folder.join("refused").exists(), "a file was written");
}

#[test]
fn parts_put_together_are_a_single_run() {
    let dir = sample();
    let folder = dir.path();
    ranked(folder, &["--out", "whole", "--maps", "all"]);
    // Each on its own number of threads, as on other machines.
    let told = ranked(folder, &["--part", "1/3", "--out", "parts/one", "--threads", "1"]);
    assert!(told.contains("Part 1 of 3: ") && told.contains("--gather"), "{told}");
    refused(folder, &["2 of 3 parts are missing: 2, 3", "--part 2/3"]);
    ranked(folder, &["--part", "2/3", "--out", "parts/two", "--threads", "2"]);
    let said_of_itself: Value =
        serde_json::from_str(&ranked(folder, &["--part", "3/3", "--out", "parts/three", "--json"]))
            .unwrap();
    assert_eq!(said_of_itself["result"]["share"]["part"], 3);
    ranked(folder, &["--gather", "parts", "--out", "gathered", "--maps", "all"]);
    let (whole, gathered) = (files(&folder.join("whole")), files(&folder.join("gathered")));
    assert!(whole.len() > 10, "{:?}", whole.keys());
    assert_eq!(whole.keys().collect::<Vec<_>>(), gathered.keys().collect::<Vec<_>>());
    for (name, bytes) in &whole {
        assert!(gathered.get(name) == Some(bytes), "{name} differs");
    }

    // A byte that is not as it was written.
    let file = folder.join("parts/two/part-2-of-3.parquet");
    let good = fs::read(&file).unwrap();
    let mut broken = good.clone();
    let middle = broken.len() / 2;
    broken[middle] ^= 1;
    fs::write(&file, &broken).unwrap();
    refused(folder, &["part-2-of-3.parquet", "its SHA-256 is another", "rank that part again"]);
    fs::write(&file, &good).unwrap();
    // Parts of a ranking of one channel alone do not make one of all.
    ranked(folder, &["--part", "2/3", "--out", "parts/two", "--channel", "Relay"]);
    refused(folder, &["do not hold every site on channel"]);
    ranked(folder, &["--part", "2/3", "--out", "parts/two"]);
    assert_eq!(fs::read(&file).unwrap(), good, "a part is the same however often it is made");
    // The plan moves on.
    let plan = folder.join("ferry-lights.toml");
    let text = fs::read_to_string(&plan).unwrap();
    fs::write(&plan, text.replacen("margin = \"500 m\"", "margin = \"600 m\"", 1)).unwrap();
    refused(folder, &["part-1-of-3.json", "another plan, terrain or settings"]);
}

#[test]
fn a_part_that_does_not_exist_is_refused() {
    let dir = sample();
    let folder = dir.path();
    for (part, words) in [
        ("0/3", "such as 3/16"),
        ("4/3", "such as 3/16"),
        ("1", "such as 3/16"),
        ("a/b", "such as 3/16"),
        ("1/100001", "100000 at most"),
    ] {
        let output = rank(folder, &["--part", part, "--out", "x"]);
        assert_eq!(output.status.code(), Some(2));
        assert!(said(&output).contains(words), "{part}: {}", said(&output));
    }
    let output = rank(folder, &["--part", "1/3"]);
    assert!(said(&output).contains("--out"), "{}", said(&output));
    fs::create_dir(folder.join("parts")).unwrap();
    refused(folder, &["no part of a ranking is there"]);
    fs::write(folder.join("parts/part-1-of-1.json"), "{\"share\": 1}").unwrap();
    refused(folder, &["part-1-of-1.json", "rank that part again"]);
}
