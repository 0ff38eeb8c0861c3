//! The `trackers` verb: silence where there is a shadow, and the channel's load.

use std::fs;

use crate::support::{PLAN, perchline_long, printed, said, write_plan_raster};
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

const TRACKERS: &str = r#"
[[channel]]
name = "Beacons"
kind = "packet"
frequency = "144.8 MHz"
station = "relay"
carried = "hand-held"

[[route]]
name = "Walk"
line = ["47.005, -34.9080", "47.005, -34.8870"]

[[tracker]]
name = "Walkers"
route = "Walk"
count = 3
every = "60 s"
pace = "10:00 min/km"
packet = "0.5 s"
"#;

/// The plan with a wall of rock, 355 600 to 355 720 E, across the route.
fn folder(wall: f32) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |column, _| {
        if (60..64).contains(&column) { wall } else { 50.0 }
    });
    // One site in the west of the route, one in the east.
    let plan = PLAN
        .replace("\"47.004, -34.890\"", "\"47.005, -34.8880\"")
        .replace("\"47.008, -34.905\"", "\"47.005, -34.9070\"");
    fs::write(folder.path().join("plan.toml"), format!("{plan}{TRACKERS}")).unwrap();
    folder
}

fn study(folder: &tempfile::TempDir, arguments: &[&str]) -> Value {
    let all = [&["trackers", "plan.toml", "--json"], arguments].concat();
    let output = perchline_long(folder.path(), &all);
    assert!(output.status.success(), "{}", said(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"]["channels"][0].clone()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

#[test]
fn on_level_ground_everything_is_heard() {
    let study = study(&folder(50.0), &["--site", "Silo"]);
    let walkers = &study["trackers"][0];
    assert!(number(&walkers["along"]["heard"]) > 0.98, "{walkers}");
    assert_eq!(walkers["along"]["silences"].as_array().unwrap().len(), 0);
    // 21 thousandths of a degree of longitude at 47.005 N, 1.597 km; at 10 min
    // a kilometre 16 minutes.
    assert!((number(&walkers["route_m"]) - 1597.0).abs() < 5.0, "{walkers}");
    assert!((number(&walkers["underway_s"]) - 958.0).abs() < 5.0);
    // By hand: two others of three, on the air twice, half a second a minute.
    let heard = number(&walkers["along"]["heard"]);
    let lost = 1.0 - f64::exp(-2.0 * 2.0 * 0.5 / 60.0 * (1.0 + heard));
    assert!((number(&study["load"]["lost"][0]) - lost).abs() < 1e-9, "{}", study["load"]);
    let through = number(&walkers["through"]);
    assert!((through - heard * (1.0 - lost)).abs() < 1e-9);
}

/// West of the wall the western site hears, east of it not; the eastern one
/// takes the silence away.
#[test]
fn a_wall_makes_a_silence_that_a_second_digipeater_ends() {
    let folder = folder(400.0);
    let study = study(&folder, &["--site", "Silo"]);
    let along = &study["trackers"][0]["along"];
    let silences = along["silences"].as_array().unwrap();
    assert_eq!(silences.len(), 1, "{along}");
    let (from, to) = (number(&silences[0]["from_m"]), number(&silences[0]["to_m"]));
    // PROJ puts the route's first point at 354 958.6 E: the wall's western edge
    // lies 641 m along it and its eastern one 761 m. Its top is in sight.
    assert!((641.0..=800.0).contains(&from), "{from}");
    assert!((number(&study["trackers"][0]["route_m"]) - to).abs() < 1.0);
    // Pace: ten minutes a kilometre.
    assert!((number(&silences[0]["lasts_s"]) - (to - from) * 0.6).abs() < 1e-6);
    let more = &study["one_more"][0];
    assert_eq!(more["site"], "Hotel");
    assert!(number(&more["heard_gain"]) > 0.3 && number(&more["gain"]) > 0.25, "{more}");
    let left = more["trackers"][0]["along"]["silences"].as_array().unwrap();
    assert!(left.iter().all(|s| number(&s["to_m"]) - number(&s["from_m"]) < 200.0), "{left:?}");

    let both = self::study(&folder, &["--site", "Silo", "--site", "Hotel"]);
    assert_eq!(both["trackers"][0]["along"], more["trackers"][0]["along"]);
    assert!(number(&both["load"]["copies"]) > 1.0);

    let text =
        printed(&perchline_long(folder.path(), &["trackers", "plan.toml", "--site", "Silo"]));
    assert!(text.contains("Walkers: silent for") && text.contains("Hotel"), "{text}");
}

#[test]
fn the_sample_s_trackers_are_told_with_files() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["trackers", SAMPLE, "--site", "Grain elevator", "--out", "out"];
    let output = perchline_long(folder.path(), &arguments);
    assert!(output.status.success(), "{}", said(&output));
    let text = printed(&output);
    for part in [
        "Net Control should hear",
        "One more digipeater on",
        "every tracker beacons once in",
        "G =",
    ] {
        assert!(text.contains(part), "no {part:?} in\n{text}");
    }
    let json = fs::read(folder.path().join("out/trackers.json")).unwrap();
    let document: Value = serde_json::from_slice(&json).unwrap();
    let study = &document["result"]["channels"][0];
    let trackers = study["trackers"].as_array().unwrap();
    assert_eq!(trackers.len(), 3);
    // On a car's roof more is heard than from a hip.
    let heard = |index: usize| number(&trackers[index]["along"]["heard"]);
    assert!(heard(2) > heard(0), "{} {}", heard(2), heard(0));
    for tracker in trackers {
        let most = number(&tracker["heard_at_most"]);
        assert!(most >= number(&tracker["along"]["heard"]) - 1e-12);
    }
    assert_eq!(study["one_more"].as_array().unwrap().len(), 5);
}

#[test]
fn what_cannot_be_asked_is_told() {
    let folder = folder(50.0);
    fs::write(folder.path().join("none.toml"), PLAN).unwrap();
    for (arguments, part) in [
        (vec!["trackers", "plan.toml", "--site", "Silo", "--site", "silo"], "given twice"),
        (vec!["trackers", "plan.toml", "--site", "Sillo"], "Did you mean \"Silo\"?"),
        (vec!["trackers", "none.toml", "--site", "Silo"], "add a [[tracker]]"),
        (vec!["trackers", "plan.toml"], "--site"),
    ] {
        let output = perchline_long(folder.path(), &arguments);
        assert_eq!(output.status.code(), Some(2));
        assert!(said(&output).contains(part), "{}", said(&output));
    }
}
