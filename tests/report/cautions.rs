//! docs/cautions.md is held to what the verbs print for both plans of the sample, and
//! for a plan of a hot evening with lead-acid packs: each caution stands where the
//! table says and nowhere else, once, with its source where it has one.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use crate::support::{perchline_long, printed, said};

/// What the table says of one caution.
struct Row {
    text: String,
    source: String,
    outputs: Vec<String>,
}

fn table() -> Vec<Row> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs/cautions.md");
    let text = fs::read_to_string(file).unwrap();
    let rows: Vec<Row> = text
        .lines()
        .filter(|line| {
            line.starts_with("| ") && !line.starts_with("| caution") && !line.contains("---")
        })
        .map(|line| {
            let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
            let &[_, text, source, _, outputs] = cells.as_slice() else { panic!("{line}") };
            let outputs = outputs.split(", ").map(str::to_owned).collect();
            Row { text: text.to_owned(), source: source.to_owned(), outputs }
        })
        .collect();
    assert!(rows.len() > 20, "{} rows", rows.len());
    rows
}

/// A text on one line with one blank between words.
fn in_a_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain")
}

/// What each output of a plan says, by the name that the table has for it.
fn outputs(plan: &str) -> BTreeMap<&'static str, String> {
    let made = tempfile::tempdir().unwrap();
    let out = |name: &str| made.path().join(name).display().to_string();
    let log = made.path().join("log.csv");
    fs::write(&log, "post,direction,heard\nStart,in,yes\nStart,out,yes\n").unwrap();
    let log = log.display().to_string();
    let (brief, cosite) = (out("brief"), out("cosite"));
    let runs: [(&'static str, Vec<&str>); 13] = [
        ("rank", vec!["rank", plan, "--maps", "none"]),
        ("choose", vec!["choose", plan]),
        ("coverage", vec!["coverage", plan, "--site", "Hospital"]),
        ("trackers", vec!["trackers", plan, "--site", "Hospital"]),
        ("masts", vec!["masts", plan, "--site", "Hotel"]),
        ("search", vec!["search", plan]),
        ("path", vec!["path", plan, "--from", "Hospital", "--to", "Start"]),
        ("direct", vec!["direct", plan]),
        ("power", vec!["power", plan]),
        ("cosite", vec!["cosite", plan, "--out", &cosite]),
        ("rehearse", vec!["rehearse", plan]),
        ("debrief", vec!["debrief", plan, &log, "--site", "Hospital"]),
        ("brief", vec!["brief", plan, "--out", &brief]),
    ];
    let mut all = BTreeMap::new();
    for (name, arguments) in runs {
        let run = perchline_long(&folder(), &arguments);
        assert!(run.status.success(), "{name}: {}", said(&run));
        all.insert(name, in_a_line(&printed(&run)));
    }
    let read = |file: &str| in_a_line(&fs::read_to_string(made.path().join(file)).unwrap());
    all.insert("channels.html", read("cosite/channels.html").replace("&#39;", "'"));
    let brief = all.remove("brief").unwrap();
    let (one, two) = brief.split_once("For the radio crew").unwrap();
    all.insert("brief (page one)", one.to_owned());
    all.insert("brief (page two)", two.to_owned());
    all
}

/// The words of a caution that stand wherever it does: where its name stands before
/// it, what follows a colon.
fn core(row: &Row) -> &str {
    match row.text.split_once(": ") {
        Some((head, rest)) if head.len() < 14 && !head.contains("formula") => rest,
        _ => &row.text,
    }
}

fn held(plan: &str, absent: &[&str]) {
    let said = outputs(plan);
    for row in table() {
        let applies = !absent.iter().any(|part| row.text.contains(part));
        for (output, text) in &said {
            // The crew is told of the power that the sites have to which it goes.
            let of_the_sites = match row.text.as_str() {
                text if text.starts_with("Mains outdoors") => "mains power there",
                text if text.starts_with("A generator runs") => "no power there",
                _ => "",
            };
            let applies = applies && (*output != "brief (page two)" || text.contains(of_the_sites));
            let listed = row.outputs.iter().any(|name| name == output) && applies;
            // Nobody changes packs by this plan but by what `power` says of all.
            if *output == "brief (page two)" && row.text.starts_with("Every change of packs") {
                continue;
            }
            let times = text.matches(core(&row)).count();
            // Each card has its own.
            let most = if *output == "direct" { 99 } else { 1 };
            assert!(
                if listed { (1..=most).contains(&times) } else { times == 0 },
                "{plan}, {output}: {times} times, listed {listed}: {}",
                row.text
            );
            let short = row.source.split("; the rest").next().unwrap();
            if listed && !row.source.starts_with("common practice") {
                assert!(text.contains(&format!("({short})")), "{output}: no source {short}");
            }
        }
    }
}

#[test]
fn the_sample_shows_what_the_table_lists() {
    held("ferry-lights.toml", &["Heat:", "Lead-acid:"]);
}

#[test]
fn the_town_shows_what_the_table_lists() {
    held("ferry-lights-town.toml", &["Heat:", "Lead-acid:"]);
}

/// At 30 °C nobody is told of cold or ice, but of heat; lead-acid packs are told of.
#[test]
fn a_hot_evening_with_lead_is_told_of_heat_and_acid() {
    let text = fs::read_to_string(folder().join("ferry-lights.toml")).unwrap();
    let hot: Vec<String> = text
        .lines()
        .map(|line| {
            if line.trim_start().starts_with("\"7 °C\"") {
                format!("  {}", "\"30 °C\", ".repeat(12))
            } else {
                line.replace("chemistry = \"lifepo4\"", "chemistry = \"agm\"")
                    .replace("cells = 4", "cells = 6")
            }
        })
        .collect();
    let beside = tempfile::tempdir().unwrap();
    for file in fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path()) {
        fs::copy(&file, beside.path().join(file.file_name().unwrap())).unwrap();
    }
    fs::write(beside.path().join("hot.toml"), hot.join("\n")).unwrap();
    let run = perchline_long(beside.path(), &["power", "hot.toml"]);
    assert!(run.status.success(), "{}", said(&run));
    let told = in_a_line(&printed(&run));
    assert!(told.contains("Heat: packs and people") && told.contains("Lead-acid: upright"));
    assert!(!told.contains("Cold takes capacity") && !told.contains("Ice on roof"), "{told}");
}
