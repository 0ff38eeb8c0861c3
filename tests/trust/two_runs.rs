//! Runs that write into one folder at the same time: one after the other, each
//! whole.

use std::collections::BTreeMap;
use std::fs;
use std::io::{BufRead, BufReader, Read};
use std::path::Path;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::support::{PLAN, perchline, rolling, said, write_plan_raster};

/// A ranking that takes some seconds: a method without a swept form takes a
/// profile a cell.
fn planned() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), rolling);
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    let mut sites = String::new();
    for number in 0..6 {
        sites += &format!(
            "\n[[site]]\nname = \"Roof {number}\"\nat = \"47.00{number}, -34.892\"\nroof = \"{} m above ground\"\nmast = \"3 m\"\n",
            8 + number
        );
    }
    let slow = PLAN.replace("[map]", "[prediction]\nmethod = \"p1812\"\n\n[map]");
    fs::write(folder.path().join("slow.toml"), format!("{slow}{sites}")).unwrap();
    folder
}

fn start(folder: &Path, arguments: &[&str], time: u64) -> Child {
    Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(arguments)
        .current_dir(folder)
        .env("SOURCE_DATE_EPOCH", time.to_string())
        .stdout(Stdio::null())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap()
}

fn files(folder: &Path) -> BTreeMap<String, Vec<u8>> {
    let entries = fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries
        .map(|path| {
            (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(path).unwrap())
        })
        .collect()
}

/// Waits until a run works in its folder.
fn at_work(out: &Path) {
    let begun = Instant::now();
    while fs::read_dir(out).map_or(0, Iterator::count) == 0 {
        assert!(begun.elapsed() < Duration::from_secs(60), "it never began");
        std::thread::sleep(Duration::from_millis(2));
    }
}

/// The line in which a run says that it waits.
fn waits(child: &mut Child) -> BufReader<std::process::ChildStderr> {
    let mut told = BufReader::new(child.stderr.take().unwrap());
    let mut line = String::new();
    told.read_line(&mut line).unwrap();
    assert!(line.contains("out: another run writes into this folder"), "{line}");
    told
}

#[test]
fn the_second_waits_for_the_first_and_the_folder_is_the_seconds() {
    let folder = planned();
    let slow = ["rank", "slow.toml", "--maps", "none", "--out", "out"];
    let mut first = start(folder.path(), &slow, 1);
    at_work(&folder.path().join("out"));
    let mut second = start(folder.path(), &slow, 2);
    let mut told = waits(&mut second);
    assert!(first.try_wait().unwrap().is_none(), "it was to be at work still");
    assert!(first.wait().unwrap().success());
    assert!(second.wait().unwrap().success());
    let mut rest = String::new();
    told.read_to_string(&mut rest).unwrap();
    let alone = start(folder.path(), &["rank", "slow.toml", "--maps", "none", "--out", "alone"], 2)
        .wait_with_output()
        .unwrap();
    assert!(alone.status.success(), "{}", said(&alone));
    assert!(files(&folder.path().join("out")) == files(&folder.path().join("alone")), "{rest}");
}

#[test]
fn a_killed_run_holds_nobody_up() {
    let folder = planned();
    let slow = ["rank", "slow.toml", "--maps", "none", "--out", "deep/out"];
    let mut first = start(folder.path(), &slow, 1);
    at_work(&folder.path().join("deep/out"));
    let quick = ["check", "plan.toml", "--out", "deep/out"];
    let mut second = start(folder.path(), &quick, 2);
    let _told = waits(&mut second);
    first.kill().unwrap();
    first.wait().unwrap();
    assert!(second.wait().unwrap().success());
    let names: Vec<String> = files(&folder.path().join("deep/out")).into_keys().collect();
    assert_eq!(names, ["check.json"]);
}

/// Many at once into a folder that is not there, some of which fail and take it
/// away again: what lies there in the end is one run's.
#[test]
fn of_many_runs_at_once_the_folder_holds_one_runs_files() {
    let folder = planned();
    fs::write(folder.path().join("bad.toml"), "[event]\nname = 3\n").unwrap();
    let run = |plan: &str, out: &str, time| {
        start(folder.path(), &["coverage", plan, "--site", "Hotel", "--out", out], time)
    };
    let whole: Vec<_> = (1..=6)
        .map(|time| {
            let out = format!("whole-{time}");
            assert!(run("plan.toml", &out, time).wait().unwrap().success());
            files(&folder.path().join(out))
        })
        .collect();
    for round in 0..3 {
        let out = format!("deep-{round}/out");
        let runs: Vec<(bool, Child)> = (1..=6)
            .flat_map(|time| [("bad.toml", time), ("plan.toml", time)])
            .map(|(plan, time)| (plan == "plan.toml", run(plan, &out, time)))
            .collect();
        for (good, child) in runs {
            let output = child.wait_with_output().unwrap();
            assert_eq!(output.status.code(), Some(if good { 0 } else { 2 }), "{}", said(&output));
        }
        let found = files(&folder.path().join(out));
        assert!(whole.contains(&found), "round {round}: a mix of runs");
    }
}

/// The folder is there before the plan is read, and gone if nothing came of it.
#[test]
fn a_folder_that_was_made_for_nothing_goes_again() {
    let folder = planned();
    fs::create_dir(folder.path().join("there")).unwrap();
    fs::write(folder.path().join("bad.toml"), "[event]\nname = 3\n").unwrap();
    for out in ["deep/er/out", "there", "there/out"] {
        let refused = perchline(folder.path(), &["rank", "bad.toml", "--out", out]);
        assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
        assert!(!folder.path().join("deep").exists());
        assert_eq!(fs::read_dir(folder.path().join("there")).unwrap().count(), 0);
    }
    for signal in ["-INT", "-TERM"] {
        let slow = ["rank", "slow.toml", "--maps", "none", "--out", "deep/er/out"];
        let mut child = start(folder.path(), &slow, 1);
        at_work(&folder.path().join("deep/er/out"));
        let id = child.id().to_string();
        assert!(Command::new("kill").args([signal, &id]).status().unwrap().success());
        assert!(!child.wait().unwrap().success());
        assert!(!folder.path().join("deep").exists(), "{signal}");
    }
}
