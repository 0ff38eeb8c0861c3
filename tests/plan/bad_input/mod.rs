//! Each bad input of a plan is refused with its file, line and field.

mod carried;
mod channels;
mod choose;
mod contacts;
mod event_and_prediction;
mod file;
mod groups;
mod heights;
mod limits;
mod names;
mod place_names;
mod places;
mod power;
mod radios;
mod search;
mod tables;
mod trackers;

use std::path::PathBuf;

use perchline::plan::{self, MAX_PLAN_BYTES, Plan, PlanError};

const MINIMAL: &str = include_str!("../../plans/minimal.toml");
const HILL: &str = include_str!("../../plans/hill.asc");
const METHODS: &[&str] = &["delta-bullington", "free-space"];

/// A folder with an elevation file and a plan of this text.
fn folder(text: impl AsRef<[u8]>) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("hill.asc"), HILL).unwrap();
    let path = folder.path().join("walk.toml");
    std::fs::write(&path, text).unwrap();
    (folder, path)
}

fn read(text: impl AsRef<[u8]>) -> Result<Plan, PlanError> {
    let (_folder, path) = folder(text);
    plan::read(&path, METHODS)
}

/// One problem of a plan, on the line that holds `on`, of this field, with these parts.
#[track_caller]
fn one_problem(text: &str, on: &str, field: &str, parts: &[&str]) {
    let line = 1 + text.lines().position(|l| l.contains(on)).unwrap();
    let error = read(text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!((problem.line(), problem.field()), (Some(line), field), "{error}");
    for part in parts {
        assert!(problem.text().contains(part), "{part:?} is not in: {error}");
    }
}

/// The minimal plan with one passage changed, which must be in it.
fn changed(from: &str, to: &str) -> String {
    assert!(MINIMAL.contains(from), "{from} is not in the plan");
    MINIMAL.replacen(from, to, 1)
}

/// Asserts that the changed plan has exactly one problem, on this line and field,
/// whose text holds every one of `parts`.
#[track_caller]
fn refused(from: &str, to: &str, line: usize, field: &str, parts: &[&str]) {
    let error = read(changed(from, to)).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!((problem.line(), problem.field()), (Some(line), field), "{error}");
    for part in parts {
        assert!(problem.text().contains(part), "{part:?} is not in: {error}");
    }
}

/// Asserts that the changed plan is accepted with a remark.
#[track_caller]
fn remarked(from: &str, to: &str, about: &str, part: &str) {
    let plan = read(changed(from, to)).unwrap();
    let found = plan.remarks.iter().any(|r| r.about == about && r.text.contains(part));
    assert!(found, "{:?}", plan.remarks);
}

#[test]
fn the_minimal_plan_is_good() {
    let plan = read(MINIMAL).unwrap();
    assert_eq!(plan.remarks, []);
    assert_eq!(plan.prediction.method, "delta-bullington");
    assert_eq!(
        (plan.posts.len(), plan.areas.len(), plan.routes.len(), plan.sites.len()),
        (2, 1, 1, 2)
    );
    // -5 dBd is -2.85 dBi; 0.25 uV across 50 ohm is -119.03 dBm; 10 ft is 3.048 m.
    let hand_held = plan.radios.first().unwrap();
    assert!((hand_held.antenna.gain.value() + 2.85).abs() < 1e-9);
    assert!((hand_held.sensitivity.value() + 119.0309).abs() < 1e-3);
    assert!((hand_held.power.value() - 36.9897).abs() < 1e-3);
    assert!((plan.sites.last().unwrap().mast.value() - 3.048).abs() < 1e-12);
    assert_eq!(plan.event.starts.to_string(), "2026-12-05T17:30:00-02:00[Etc/GMT+2]");
    assert_eq!(plan.event.tear_down, plan.event.ends);
    assert_eq!(plan.extent_points().count(), 2 + 2 + 4 + 2);
    assert_eq!(plan.sha256.len(), 64);
}
