//! A disk that is full: whichever file it is that finds no room, and standard
//! output too, the error says so in words and names it, and nothing is changed.

use std::collections::BTreeSet;
use std::fs;
use std::path::Path;
use std::process::{Command, Output, Stdio};

use crate::support::disk::on_a_disk;
use crate::support::wanted::Wanted;
use crate::support::{perchline, plan_and_log, printed, said};

const PAGE: u64 = 4096;

/// Verbs that between them write a file of every kind, the last of each as a
/// rule after files of other kinds.
const VERBS: &[&[&str]] = &[
    &["rank", "plan.toml", "--channel", "Event"],
    &["brief", "plan.toml", "--paper", "a4"],
    &["cosite", "plan.toml"],
    &["masts", "plan.toml", "--site", "Hotel"],
    &["debrief", "plan.toml", "log.csv", "--site", "Hotel", "--channel", "Event"],
    &["rehearse", "plan.toml"],
    &["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1"],
    &["extras"],
];

/// Files as they are printed after "wrote", with their pages on a disk.
fn delivered(folder: &Path, output: &Output) -> Vec<(String, u64)> {
    let printed = printed(output);
    let files = printed.lines().filter_map(|line| line.strip_prefix("wrote "));
    files
        .map(|file| {
            let size = fs::metadata(folder.join(file)).unwrap().len();
            let name = Path::new(file).file_name().unwrap().to_str().unwrap().to_owned();
            (name, size.div_ceil(PAGE))
        })
        .collect()
}

#[test]
fn whichever_file_finds_no_room_is_named_and_nothing_is_left() {
    let folder = plan_and_log();
    let mut kinds = BTreeSet::new();
    let mut refused = 0;
    for verb in VERBS {
        let whole = perchline(folder.path(), &[*verb, &["--out", "whole"]].concat());
        assert!(whole.status.success(), "{verb:?}: {}", said(&whole));
        let files = delivered(folder.path(), &whole);
        assert!(!files.is_empty(), "{verb:?}");
        let mut before = 0;
        for (index, (name, pages)) in files.iter().enumerate() {
            // Room for all before it, and for half of it: at the same time, for a PDF is
            // a few bytes longer or shorter at another.
            let room = before + pages / 2;
            before += pages;
            // The man pages are all alike.
            if room == 0 || (name.ends_with(".1") && index % 8 > 0) {
                continue;
            }
            // One after the other, to know which finds none; every third time on all
            // threads too, where it is any of them.
            let ways: &[&str] = if refused % 3 == 2 {
                &["RAYON_NUM_THREADS=1 ", ""]
            } else {
                &["RAYON_NUM_THREADS=1 "]
            };
            for threads in ways {
                let script = format!(
                    "mount -t tmpfs -o size={}k none disk && SOURCE_DATE_EPOCH=1790000000 {threads}{} {} --out disk/out; code=$?; find disk -mindepth 1; exit $code",
                    room * PAGE / 1024,
                    env!("CARGO_BIN_EXE_perchline"),
                    verb.iter().map(|word| format!("'{word}'")).collect::<Vec<_>>().join(" "),
                );
                let Some(output) = on_a_disk(folder.path(), &script) else { return };
                let words = said(&output);
                assert_eq!(output.status.code(), Some(1), "{verb:?}, {name}: {words}");
                assert_eq!(printed(&output), "", "{verb:?}, {name}: {words}");
                assert!(
                    words.contains("there is no room left on the disk"),
                    "{verb:?}, {name}: {words}"
                );
                assert!(!words.contains("os error") && !words.contains("panicked"), "{words}");
                let named = words
                    .lines()
                    .find_map(|line| line.strip_prefix("disk/out/"))
                    .unwrap_or_else(|| panic!("{verb:?}, {name}: no file is named:\n{words}"));
                let named = named.split(": cannot be written").next().unwrap();
                // What GDAL writes has to leave a little room, so one before it may be named.
                let known = files.iter().position(|(known, _)| known == named).unwrap();
                if !threads.is_empty() {
                    assert!(known <= index, "{verb:?}: {named} is named, not {name}");
                    kinds.insert(named.rsplit('.').next().unwrap().to_owned());
                }
            }
            refused += 1;
        }
    }
    let all = [
        "png", "geojson", "tif", "json", "txt", "html", "pdf", "kml", "kmz", "gpx", "gpkg", "csv",
        "svg", "md",
    ];
    for kind in all {
        assert!(kinds.contains(kind), "no {kind} was refused: {kinds:?}");
    }
    assert!(refused > 25, "{refused}");
}

/// What is printed goes into a file on a full disk: that is an error, and the
/// results are not delivered either.
#[test]
fn standard_output_on_a_full_disk_is_an_error() {
    let folder = plan_and_log();
    let verbs: &[&[&str]] = &[
        &["check", "plan.toml"],
        &["rank", "plan.toml", "--channel", "Event", "--maps", "none", "--out", "out"],
        &["rank", "plan.toml", "--channel", "Event", "--maps", "none", "--json"],
        &["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1", "--out", "out"],
        &["coverage", "plan.toml", "--site", "Hotel", "--json", "--out", "out"],
        &["direct", "plan.toml"],
        &["extras", "--out", "usage"],
        &["--help"],
        &["--version"],
        &["rank", "--help"],
    ];
    for verb in verbs {
        let words = verb.iter().map(|word| format!("'{word}'")).collect::<Vec<_>>().join(" ");
        let script = format!(
            "mount -t tmpfs -o size=64k none disk && (cat /dev/zero > disk/fill 2>/dev/null; {} {words} > disk/printed; code=$?; find disk -name printed -size +0; exit $code)",
            env!("CARGO_BIN_EXE_perchline"),
        );
        let Some(output) = on_a_disk(folder.path(), &script) else { return };
        let told = said(&output);
        assert_eq!(output.status.code(), Some(1), "{verb:?}: {told}");
        assert!(
            told.contains("standard output: cannot be written: there is no room left on the disk"),
            "{verb:?}: {told}"
        );
        assert!(!told.contains("os error") && !told.contains("panicked"), "{told}");
        assert_eq!(printed(&output), "", "{verb:?}");
        assert!(!folder.path().join("out").exists(), "{verb:?}");
    }
}

/// A device that is always full is no file: results do not wait for it.
#[test]
fn a_full_device_is_an_error_after_the_results() {
    let folder = plan_and_log();
    let Ok(full) = fs::OpenOptions::new().write(true).open("/dev/full") else {
        return Wanted::Linux.is_missing("there is no /dev/full");
    };
    let output = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(["rank", "plan.toml", "--channel", "Event", "--maps", "none", "--out", "out"])
        .current_dir(folder.path())
        .stdout(Stdio::from(full))
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(said(&output).contains("standard output: cannot be written"), "{}", said(&output));
    assert!(folder.path().join("out/ranking.json").exists());
}

/// A reader that goes away has had enough: that is no error.
#[test]
fn a_closed_pipe_is_no_error() {
    let folder = plan_and_log();
    let mut child = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(["rank", "plan.toml", "--maps", "none", "--json"])
        .current_dir(folder.path())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "{}", said(&output));
}
