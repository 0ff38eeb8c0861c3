//! Logs of very many rows: time and memory grow with them and no faster, each
//! counts as it does among few, and there is a bound that is told.

use std::fmt::Write;
use std::fs;

use crate::support::live::copy;
use crate::support::{held, perchline_long, printed, said};
use jiff::SignedDuration;
use perchline::assessment::Assessment;
use perchline::heard::estimate::{
    Evidence, Observation, Prior, Priors, SigmaPrior, cross_validate, estimate,
};
use perchline::heard::log::{self, Defaults, LogError, MOST_REPORTS, MOST_ROWS};
use perchline::units::Db;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::SeedableRng;
use serde_json::Value;

/// A log of so many rows, a second apart, at posts of the plan and at places
/// between them.
fn rows(opened: &Assessment, count: usize) -> String {
    let posts = &opened.plan.posts;
    let mut text = "time,post,position,direction,carry,heard,daq,level\n".to_owned();
    for row in 0..count {
        let (time, post) = (row % 14_400, &posts[row * 7 % posts.len()]);
        let (hour, minute, second) = (18 + time / 3600, time / 60 % 60, time % 60);
        let place = if row % 4 == 0 {
            let other = &posts[row * 5 % posts.len()];
            let part = (row / 4 % 40) as f64 / 40.0;
            let at = post.at.on_the_way(other.at, part).unwrap();
            format!(",\"{:.6}, {:.6}\"", at.latitude().value(), at.longitude().value())
        } else {
            format!("{},", post.name)
        };
        let way = ["in", "out"][row % 2];
        let carry = ["head", "shoulder", "hip"][row / 2 % 3];
        let said = match row / 3 % 5 {
            0 => "yes,,",
            1 => "no,,",
            2 => ",3.4,",
            3 => ",4,",
            _ => ",,-97 dBm",
        };
        // So that no row is the same as another of another day.
        let day = 5 + row / 14_400 % 2;
        let _ = writeln!(
            text,
            "2026-12-{day:02}T{hour}:{minute:02}:{second:02}Z,{place},{way},{carry},{said}"
        );
    }
    text
}

/// The debrief of a log beside the plan.
const DEBRIEF: [&str; 9] =
    ["debrief", "plan.toml", "log.csv", "--site", "Car park", "--channel", "Relay", "--out", "out"];

/// Reports, bytes held if the system tells, and the need that a refusal tells, of
/// a debrief.
fn debriefed(count: usize) -> (Value, Option<f64>, f64) {
    let sample = copy("ferry-lights.toml", |text| text);
    let folder = sample.folder.path();
    let opened = Assessment::read(&sample.plan).unwrap();
    fs::write(folder.join("log.csv"), rows(&opened, count)).unwrap();
    let refused = perchline_long(folder, &[&DEBRIEF[..], &["--memory", "1 MB"]].concat());
    let need = held::needed(&refused);
    let begun = std::time::Instant::now();
    let held = held::by_a_run(folder, &DEBRIEF);
    eprintln!("{count} rows: {:.1?}, {held:?} bytes", begun.elapsed());
    let json = fs::read(folder.join("out/debrief.json")).unwrap();
    (serde_json::from_slice(&json).unwrap(), held, need)
}

#[test]
fn a_row_takes_some_hundred_bytes() {
    const FEW: usize = 2_000;
    const MANY: usize = 28_000;
    let (few, held_few, _) = debriefed(FEW);
    let (many, held_many, need) = debriefed(MANY);
    for (json, count) in [(&few, FEW), (&many, MANY)] {
        assert_eq!(json["result"]["rows"], count);
        assert_eq!(json["result"]["rejected"].as_array().unwrap().len(), 0);
        assert_eq!(json["result"]["reports"].as_array().unwrap().len(), count);
    }
    // A report is compared alike among few and among many.
    for row in [0, 1, 3, 4, 777, FEW - 1] {
        let mut same = many["result"]["reports"][row].clone();
        same["origin"] = few["result"]["reports"][row]["origin"].clone();
        assert_eq!(same, few["result"]["reports"][row], "{row}");
    }
    let (Some(held_few), Some(held_many)) = (held_few, held_many) else { return };
    let by_row = (held_many - held_few) / (MANY - FEW) as f64;
    assert!(by_row < 1000.0, "{by_row} bytes a row");
    assert!(held_many < need + 0.05e9, "{held_many} held, {need} predicted");
}

#[test]
fn more_rows_than_the_bound_are_refused_in_words() {
    let sample = copy("ferry-lights.toml", |text| text);
    let plan = Assessment::read(&sample.plan).unwrap().plan;
    let file = sample.folder.path().join("log.csv");
    let defaults = Defaults { channel: Some(0), site: Some(0), clock_offset: SignedDuration::ZERO };
    let mut text = "post,heard\n".to_owned();
    text.push_str(&"Start,yes\n".repeat(MOST_ROWS));
    fs::write(&file, &text).unwrap();
    let log = log::read(std::slice::from_ref(&file), &plan, &defaults).unwrap();
    assert_eq!((log.rows, log.counted, log.lost()), (MOST_ROWS, 1, 0));
    text.push_str("Start,yes\n");
    fs::write(&file, &text).unwrap();
    let error = log::read(std::slice::from_ref(&file), &plan, &defaults).unwrap_err();
    assert!(matches!(error, LogError::TooMany { .. }), "{error}");
    let told = error.to_string();
    for part in ["log.csv", &MOST_ROWS.to_string(), "split them"] {
        assert!(told.contains(part), "{told}");
    }
    // Two halves in two files are as many.
    let half = "post,heard\n".to_owned() + &"Start,yes\n".repeat(MOST_ROWS / 2 + 1);
    let files = ["a.csv", "b.csv"].map(|name| sample.folder.path().join(name));
    files.iter().for_each(|file| fs::write(file, &half).unwrap());
    assert!(log::read(&files, &plan, &defaults).unwrap_err().to_string().contains("b.csv"));
}

/// A beacon that did not come is a report too.
#[test]
fn beacons_that_did_not_come_count_towards_the_bound() {
    let sample = copy("ferry-lights.toml", |text| text);
    let plan = Assessment::read(&sample.plan).unwrap().plan;
    let tracker = plan.trackers.iter().find(|t| t.count == 1).unwrap();
    let every = tracker.every.value();
    let start = plan.event.starts.timestamp();
    let log = |beacons: usize| {
        let mut text = "time,tracker,position\n".to_owned();
        for beacon in 0..beacons {
            let at = start + SignedDuration::from_secs_f64(beacon as f64 * every * 11.0);
            let _ = writeln!(text, "{at},{},\"47.0, -34.9\"", tracker.name);
        }
        let file = sample.folder.path().join("log.csv");
        fs::write(&file, text).unwrap();
        let defaults =
            Defaults { channel: None, site: Some(0), clock_offset: SignedDuration::ZERO };
        log::read(&[file], &plan, &defaults)
    };
    let whole = log(1000).unwrap();
    assert_eq!((whole.reports.len(), whole.missing_beacons), (1000 + 9990, 9990));
    let error = log(MOST_REPORTS / 11 + 2).unwrap_err();
    let told = error.to_string();
    assert!(told.contains("beacons that should have come") && told.contains("split"), "{told}");
}

/// Rejected rows are listed to a bound in the text; all are in the JSON.
#[test]
fn of_very_many_rejected_rows_the_first_are_listed() {
    let sample = copy("ferry-lights.toml", |text| text);
    let folder = sample.folder.path();
    let mut text = "time,post,heard\n17:00,Start,yes\n".to_owned();
    for row in 0..5_000 {
        let _ = writeln!(text, "17:00,Nowhere {row},yes");
    }
    fs::write(folder.join("log.csv"), text).unwrap();
    let output = perchline_long(folder, &DEBRIEF);
    assert!(output.status.success(), "{}", said(&output));
    let told = printed(&output);
    assert!(told.contains("5000 rejected") && told.contains("and 4000 more, in debrief.json"));
    assert!(told.len() < 400_000, "{}", told.len());
    let json = fs::read(folder.join("out/debrief.json")).unwrap();
    let json: Value = serde_json::from_slice(&json).unwrap();
    assert_eq!(json["result"]["rejected"].as_array().unwrap().len(), 5_000);
}

/// Reports that say the same are worked on once, and count as often as they are.
#[test]
fn reports_that_say_the_same_count_each() {
    let prior = |sd| Prior { mean: Db::new(0.0), sd: Db::new(sd) };
    let priors = Priors {
        offsets: vec![prior(4.0), prior(4.0)],
        bodies: vec![prior(3.0)],
        sigma: SigmaPrior { median: Db::new(5.0), ln_sd: 0.3 },
    };
    let mut random = Pcg64::seed_from_u64(8);
    // A hair apart, no two say the same; the differences are far below what counts.
    let made = |apart: f64, random: &mut Pcg64| -> Vec<Observation> {
        (0..6_000)
            .map(|number| {
                let z: f64 = StandardNormal.sample(random);
                let margin = (number % 13) as f64 - 6.0;
                Observation {
                    class: number % 2,
                    carry: (number % 3 == 0).then_some(0),
                    margin: Db::new(margin + apart * number as f64),
                    local: Db::new(2.0),
                    evidence: match number % 4 {
                        0 => Evidence::Level {
                            excess: Db::new((z * 5.0).round() - 3.0),
                            spread: Db::new(2.0),
                        },
                        _ => Evidence::Works(margin - 3.0 + 5.0 * z > 0.0),
                    },
                }
            })
            .collect()
    };
    let alike = made(0.0, &mut random);
    let mut random = Pcg64::seed_from_u64(8);
    let apart = made(1e-12, &mut random);
    let (one, other) = (estimate(&alike, &priors).unwrap(), estimate(&apart, &priors).unwrap());
    assert_eq!(one.reports, other.reports);
    let parts = |found: &perchline::heard::estimate::Estimate| {
        let all = found.offsets.iter().chain(&found.bodies).chain([&found.sigma]);
        all.flat_map(|part| [part.value.value(), part.sd.value()]).collect::<Vec<_>>()
    };
    for (one, other) in parts(&one).iter().zip(parts(&other)) {
        assert!((one - other).abs() < 1e-8, "{one} {other}");
    }
    let (one, other) =
        (cross_validate(&alike, &priors, 5).unwrap(), cross_validate(&apart, &priors, 5).unwrap());
    assert!((one.gain - other.gain).abs() < 1e-9, "{one:?} {other:?}");
    // In any order, and all of them together however they are cut into blocks.
    let mut turned = apart.clone();
    turned.reverse();
    let back = estimate(&turned, &priors).unwrap();
    for (one, other) in parts(&estimate(&apart, &priors).unwrap()).iter().zip(parts(&back)) {
        assert!((one - other).abs() < 1e-8, "{one} {other}");
    }
}
