//! Machines that are set up oddly: locales, narrow terminals, no home, no place
//! for temporary files, clocks from other times. Every result is the same.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::process::{Command, Output};

use crate::support::{plan_and_log, printed, said};

const VERBS: &[&[&str]] = &[
    &["check", "plan.toml"],
    &["rank", "plan.toml"],
    &["brief", "plan.toml", "--site", "Hotel", "--paper", "a4"],
    &["direct", "plan.toml"],
    &["debrief", "plan.toml", "log.csv", "--site", "Hotel", "--channel", "Event"],
    &["rank", "plan.toml", "--maps", "none", "--json"],
];

/// Runs a verb into a fresh `out`, as `change` sets the machine up.
fn run(folder: &Path, verb: &[&str], change: impl FnOnce(&mut Command)) -> Output {
    drop(fs::remove_dir_all(folder.join("out")));
    let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
    command.args(verb).args(["--out", "out"]).current_dir(folder);
    command.env("SOURCE_DATE_EPOCH", "1790000000");
    change(&mut command);
    command.output().unwrap()
}

fn results(folder: &Path, output: &Output) -> BTreeMap<String, Vec<u8>> {
    assert!(output.status.success(), "{}", said(output));
    let mut found = BTreeMap::from([("printed".to_owned(), output.stdout.clone())]);
    for entry in fs::read_dir(folder.join("out")).unwrap() {
        let path = entry.unwrap().path();
        let name = path.file_name().unwrap().to_str().unwrap().to_owned();
        found.insert(name, fs::read(path).unwrap());
    }
    found
}

#[test]
fn results_are_the_same_on_every_machine() {
    type Setting = (&'static str, fn(&mut Command));
    let settings: [Setting; 9] = [
        ("Turkish", |c| {
            c.env("LC_ALL", "tr_TR.UTF-8").env("LANG", "tr_TR.UTF-8");
        }),
        ("commas", |c| {
            c.env("LC_ALL", "de_DE.UTF-8").env("LC_NUMERIC", "de_DE.UTF-8");
        }),
        ("plain", |c| {
            c.env("LC_ALL", "C").env("LANG", "C");
        }),
        ("no such locale", |c| {
            c.env("LC_ALL", "xx_YY.nothing").env("LANG", "\u{1F4FB}").env("LANGUAGE", ":::");
        }),
        ("narrow", |c| {
            c.env("COLUMNS", "20").env("LINES", "1").env("TERM", "dumb");
        }),
        ("no width", |c| {
            c.env("COLUMNS", "0").env("TERM", "");
        }),
        ("no home", |c| {
            c.env_remove("HOME").env_remove("XDG_CACHE_HOME").env_remove("USER");
        }),
        ("no place for temporary files", |c| {
            c.env_remove("HOME").env("TMPDIR", "/nonexistent/nowhere").env("TMP", "/nonexistent");
        }),
        ("nothing at all", |c| {
            let time = "1790000000";
            c.env_clear().env("SOURCE_DATE_EPOCH", time);
        }),
    ];
    let folder = plan_and_log();
    for verb in VERBS {
        let usual = run(folder.path(), verb, |_| {});
        let usual = results(folder.path(), &usual);
        for (what, setting) in settings {
            let output = run(folder.path(), verb, setting);
            let found = results(folder.path(), &output);
            let names: Vec<_> = found.keys().collect();
            assert_eq!(names, usual.keys().collect::<Vec<_>>(), "{what}: {verb:?}");
            for (name, bytes) in &found {
                assert!(bytes == &usual[name], "{what}: {verb:?}: {name} differs");
            }
        }
    }
}

/// Whatever year the clock says, results are made, and say it.
#[test]
fn any_year_will_do() {
    let folder = plan_and_log();
    let years = [
        ("-86400", "1969-12-31T00:00:00Z"),
        ("0", "1970-01-01T00:00:00Z"),
        ("315532799", "1979-12-31T23:59:59Z"),
        ("4354819200", "2108-01-01T00:00:00Z"),
        ("250000000000", "9892-"),
    ];
    for verb in VERBS {
        for (seconds, made) in years {
            let output = run(folder.path(), verb, |c| {
                c.env("SOURCE_DATE_EPOCH", seconds);
            });
            let found = results(folder.path(), &output);
            let json = found.iter().find(|(name, _)| name.ends_with(".json")).unwrap().1;
            assert!(String::from_utf8_lossy(json).contains(made), "{seconds}: {verb:?}");
        }
    }
}

/// Help fits itself to any width.
#[test]
fn help_is_told_at_any_width() {
    let folder = plan_and_log();
    for columns in ["1", "20", "0", "-5", "many", "100000"] {
        let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
        let output = command.arg("--help").env("COLUMNS", columns).current_dir(folder.path());
        let output = output.output().unwrap();
        assert!(output.status.success(), "{}", said(&output));
        assert!(printed(&output).contains("rank"), "{columns}: {}", printed(&output));
    }
}

/// A variable that is set for another PROJ, as some environments do: told in words,
/// with what to do, and nothing of the library's own beside them.
#[test]
fn data_of_another_proj_are_told() {
    let folder = plan_and_log();
    fs::create_dir(folder.path().join("other")).unwrap();
    fs::write(folder.path().join("other/proj.db"), "not a data base").unwrap();
    for variable in ["PROJ_DATA", "PROJ_LIB"] {
        let output = run(folder.path(), &["check", "plan.toml"], |command| {
            command.env_remove("PROJ_DATA").env_remove("PROJ_LIB");
            command.env(variable, folder.path().join("other"));
        });
        assert_eq!(output.status.code(), Some(2), "{}", said(&output));
        let told = said(&output);
        assert!(told.starts_with("PROJ finds no data base of coordinate systems"), "{told}");
        assert!(
            told.contains(&format!("{variable} names ")) && told.contains("unset it"),
            "{told}"
        );
        assert_eq!(told.lines().count(), 1, "{told}");
    }
}
