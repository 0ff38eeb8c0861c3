//! What several outputs tell of one thing they tell in the same words: a station's
//! battery and what keeps it on the air, the gaps of a route, what the plan lacks.

use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::support::{perchline, perchline_long, printed, said};

const PLANS: [&str; 2] = ["ferry-lights.toml", "ferry-lights-town.toml"];

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain")
}

/// All that a verb prints, on one line.
fn told(arguments: &[&str]) -> String {
    let output = perchline_long(&folder(), arguments);
    assert!(output.status.success(), "{}", said(&output));
    in_a_line(&printed(&output))
}

fn in_a_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn result(arguments: &[&str]) -> Value {
    let output = perchline(&folder(), &[arguments, &["--json"]].concat());
    assert!(output.status.success(), "{}", said(&output));
    let mut document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"].take()
}

fn text(value: &Value) -> &str {
    value.as_str().unwrap_or_else(|| panic!("no text: {value}"))
}

fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap()
}

/// `ready`, `power` and the crew's page have one sentence on a battery and one on what to
/// bring; the organiser's times have the same hours.
#[test]
fn a_battery_and_its_remedy_are_one_sentence_everywhere() {
    let hour = |sentence: &str, before: &str| -> String {
        let (_, rest) = sentence.split_once(before).unwrap_or_else(|| panic!("{sentence}"));
        rest.chars().take(5).collect()
    };
    for plan in PLANS {
        let ready = result(&["ready", plan]);
        let brief = result(&["brief", plan]);
        let power = told(&["power", plan]);
        let batteries = list(&brief["crew"])
            .iter()
            .find(|section| text(&section["title"]).starts_with("Batteries"))
            .unwrap();
        let mut stations = 0;
        for reason in list(&ready["said"]["reasons"]).iter().filter(|r| r["verb"] == "power") {
            let (name, sentence) = text(&reason["says"]).split_once(": ").unwrap();
            if !sentence.starts_with("its pack DIES") {
                continue;
            }
            let fix = text(&reason["fix"]);
            let crew = list(&batteries["entries"]).iter().find(|e| e["head"] == name).unwrap();
            for part in [sentence, fix] {
                assert!(text(&crew["body"]).contains(part), "{plan}, crew: no {part:?}");
                let end = part.get(1..).unwrap();
                assert!(power.contains(end), "{plan}, power: no {end:?} in {power}");
            }
            if name == "Relay" {
                let until = list(&brief["times"])
                    .iter()
                    .find(|entry| entry["head"] == "Relay on the air until")
                    .unwrap();
                let until = text(&until["body"]);
                for hour in [
                    hour(sentence, "DIES at "),
                    hour(sentence, "switched off at "),
                    hour(fix, "change in by "),
                ] {
                    assert!(until.contains(&hour), "{plan}: no {hour} in {until}");
                }
            }
            stations += 1;
        }
        assert_eq!(stations, 2, "{plan}: relay and digipeater die in the poor case");
    }
}

/// All gaps together are never less than the longest of them, and `coverage`, `ready`
/// and the briefing tell the longest in the same figures.
#[test]
fn gaps_of_a_route_are_told_in_one_way() {
    for (plan, site) in PLANS.into_iter().zip(["Ridge overlook", "Car park"]) {
        let coverage = ["coverage", plan, "--site", site];
        let route = result(&coverage)["site"]["routes"][0].clone();
        let metres = |value: &Value| value.as_f64().unwrap();
        let length = |gap: &Value| metres(&gap["to_m"]) - metres(&gap["from_m"]);
        let all: f64 = list(&route["gaps"]).iter().map(length).sum();
        let longest = &route["longest_gap"];
        assert!(all >= length(longest) && all > 0.0, "{all}");
        let shown = |metres: f64| {
            if metres < 1000.0 {
                format!("{metres:.0} m")
            } else {
                format!("{:.2} km", metres / 1e3)
            }
        };
        let (from, to) = (shown(metres(&longest["from_m"])), shown(metres(&longest["to_m"])));
        let gap = shown(length(longest));
        let row = format!("{} {gap} {from} {to}", shown(all));
        let table = told(&coverage);
        assert!(table.contains(&row), "{plan}: no {row:?} in {table}");
        let ready = told(&["ready", plan, "--site", site]);
        let sentence = format!("the longest gap is {gap}, from {from} to {to} along it");
        assert!(ready.contains(&sentence), "{plan}: no {sentence:?} in {ready}");
        let brief = told(&["brief", plan, "--site", site]);
        let (before, after) = (format!("{gap} ("), format!("from {from} on"));
        let told = brief.split("; ").any(|part| part.contains(&before) && part.contains(&after));
        assert!(told, "{plan}: no {before} .. {after} in {brief}");
    }
}

/// Both sheets of paper say that no buildings are known where none are, as the texts do.
#[test]
fn sheets_say_that_no_buildings_are_known() {
    for (plan, lacks) in PLANS.into_iter().zip([true, false]) {
        let made = tempfile::tempdir().unwrap();
        let out = made.path().display().to_string();
        for (verb, files) in
            [("brief", &["brief-a4.pdf", "brief-letter.pdf"][..]), ("ready", &["ready-a4.pdf"])]
        {
            let more: &[&str] = if verb == "brief" { &["--paper", "both"] } else { &[] };
            let spoken = told(&[&[verb, plan, "--out", &out][..], more].concat());
            assert_eq!(spoken.contains("No buildings in this plan"), lacks, "{plan}, {verb}");
            for file in files {
                let document = lopdf::Document::load(made.path().join(file)).unwrap();
                let first = document.extract_text(&[1]).unwrap();
                let first: String = first.split_whitespace().collect();
                assert_eq!(first.contains("Nobuildingsinthisplan"), lacks, "{plan}, {file}");
            }
        }
    }
}

/// Cards of a role tell nobody to call, answer or telephone the post at which they stand,
/// net control among the members of a group.
#[test]
fn no_card_has_its_reader_call_themselves() {
    let beside = tempfile::tempdir().unwrap();
    for file in std::fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path()) {
        std::fs::copy(&file, beside.path().join(file.file_name().unwrap())).unwrap();
    }
    let plan = std::fs::read_to_string(folder().join("ferry-lights.toml")).unwrap();
    let head = "posts = [\"Mill Lane crossing\", \"Level crossing\"";
    assert!(plan.contains(head));
    let plan =
        plan.replace(head, "posts = [\"Net Control\", \"Mill Lane crossing\", \"Level crossing\"");
    std::fs::write(beside.path().join("plan.toml"), plan).unwrap();
    let run = perchline_long(beside.path(), &["direct", "plan.toml", "--out", "out"]);
    assert!(run.status.success(), "{}", said(&run));
    let card = |name: &str| {
        let file = beside.path().join("out").join(format!("card-{name}.txt"));
        in_a_line(&std::fs::read_to_string(file).unwrap())
    };
    for role in ["head", "bridge"] {
        let card = card(&format!("medical-{role}"));
        assert!(card.contains("run the net") || card.contains("runs the net"), "{card}");
        assert!(!card.contains("call Medical tent"), "{card}");
    }
    let marshals = card("route-marshals-everybody-else");
    assert!(!marshals.contains("answer Net Control"), "{marshals}");
    assert!(!marshals.contains("telephone Net Control"), "{marshals}");
    let head = card("route-marshals-head");
    assert!(!head.contains("call Level crossing, which"), "{head}");
    // Whoever only calls is told whom.
    assert!(card("simplex").contains("answer Net Control"));
    assert!(card("medical-everybody-else").contains("call Medical tent, which runs the net"));
}
