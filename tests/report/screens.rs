//! What every verb prints for both plans of the sample, on a terminal of 80 columns and
//! into a pipe alike: no line is wider, and without --long all of it stands on one screen.

use std::fs;
use std::path::{Path, PathBuf};

use perchline::report::screen::LINES;
use perchline::report::{COLUMNS, columns};

use crate::support::{as_printed, perchline, perchline_long, said};

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain")
}

/// Every verb that reads a plan, with what it is asked.
fn verbs<'a>(plan: &'a str, log: &'a str) -> Vec<Vec<&'a str>> {
    let ends = ["--from", "Car park", "--to", "Aid 6"];
    vec![
        vec!["check", plan],
        vec!["ready", plan],
        vec!["rank", plan, "--maps", "none"],
        vec!["choose", plan],
        vec!["coverage", plan, "--site", "Hospital"],
        [&["path", plan][..], &ends].concat(),
        [&["path", plan][..], &ends, &["--method", "all"]].concat(),
        vec!["direct", plan],
        vec!["trackers", plan, "--site", "Grain elevator"],
        vec!["brief", plan],
        vec!["masts", plan],
        vec!["search", plan],
        vec!["power", plan],
        vec!["cosite", plan],
        vec!["rehearse", plan],
        vec!["debrief", plan, log, "--site", "Hospital"],
    ]
}

/// As it is printed; `long` for all of it.
fn shown(arguments: &[&str], long: bool) -> String {
    let run = if long { perchline_long } else { perchline };
    let output = run(&folder(), arguments);
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    as_printed(&output)
}

fn widest(text: &str) -> usize {
    text.lines().map(columns).max().unwrap_or(0)
}

/// What a screen may never lack, where the long text has it.
const LIVES: [(&str, &str); 4] = [
    (
        "A mast stands farther from any power line",
        "No mast within 1.5 x its height of a power line",
    ),
    ("At the first thunder everybody leaves", "Off roof and ridge at the first thunder"),
    ("Nobody alone on a roof", "Nobody alone on a roof"),
    ("Ballast goes up only where the owner", "Ballast only where the owner"),
];

#[test]
fn every_verb_fits_a_screen_of_eighty_columns() {
    let log = tempfile::NamedTempFile::new().unwrap();
    fs::write(log.path(), "post,direction,heard\nStart,in,yes\nStart,out,no\n").unwrap();
    let log = log.path().display().to_string();
    let (mut most, mut widest_line, mut wrong) = (0, 0, Vec::new());
    let looks = Path::new(env!("CARGO_MANIFEST_DIR")).join("target/looks/screens");
    fs::create_dir_all(&looks).unwrap();
    for plan in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        for arguments in verbs(plan, &log) {
            let (short, long) = (shown(&arguments, false), shown(&arguments, true));
            let name = arguments.join(" ").replace(['/', ' '], "_");
            fs::write(looks.join(format!("{name}.txt")), &short).unwrap();
            fs::write(looks.join(format!("{name}_long.txt")), &long).unwrap();
            for text in [&short, &long] {
                let wide = text.lines().filter(|line| columns(line) > COLUMNS);
                wrong.extend(wide.map(|line| format!("{name}: too wide: {line}")));
                widest_line = widest_line.max(widest(text));
            }
            let lines = short.lines().count();
            if lines > LINES {
                wrong.push(format!("{name}: {lines} lines"));
            }
            most = most.max(lines);
            // An empty line stands under the answer: three sentences, folded or not.
            let begins_with_it = !["check", "ready", "brief"].contains(&arguments[0]);
            if begins_with_it && short.lines().take(6).all(|line| !line.is_empty()) {
                wrong.push(format!("{name}: the answer does not end within five lines"));
            }
            // Both begin with the answer and end with what made them.
            assert_eq!(short.lines().next(), long.lines().next(), "{arguments:?}");
            if !["check", "brief"].contains(&arguments[0]) {
                assert_eq!(short.lines().last(), long.lines().last(), "{arguments:?}");
            }
            let long = long.split_whitespace().collect::<Vec<_>>().join(" ");
            for (all, kept) in LIVES {
                if long.contains(all) && !short.contains(kept) {
                    wrong.push(format!("{name}: no {kept:?}"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    println!("figure widest_line_columns {widest_line} columns");
    println!("figure longest_answer_lines {most} lines");
}

/// Names in a script of double width: nothing is lost, and columns stand in line.
#[test]
fn names_in_any_script_stand_in_line() {
    let text = fs::read_to_string(folder().join("ferry-lights.toml")).unwrap();
    let beside = tempfile::tempdir().unwrap();
    for file in fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path()) {
        fs::copy(&file, beside.path().join(file.file_name().unwrap())).unwrap();
    }
    let renamed = text.replace("\"Relay\"", "\"中继台甲\"").replace("\"Car park\"", "\"停车场\"");
    fs::write(beside.path().join("plan.toml"), renamed).unwrap();
    let told = |plan: &str, arguments: &[&str]| {
        let output =
            perchline_long(beside.path(), &[&arguments[..1], &[plan], &arguments[1..]].concat());
        assert!(output.status.success(), "{}", said(&output));
        as_printed(&output)
    };
    // The bar of the station begins in the column in which that of the other name does.
    let begins = |text: &str, name: &str| {
        let line = text.lines().find(|l| l.starts_with(name) && l.contains("==")).unwrap();
        columns(&line[..line.find('=').unwrap()])
    };
    let text = told("plan.toml", &["ready", "--site", "停车场"]);
    assert!(text.contains("停车场") && !text.contains('□'), "{text}");
    assert!(text.lines().all(|line| columns(line) <= COLUMNS), "{text}");
    let plain = told("ferry-lights.toml", &["ready", "--site", "Car park"]);
    assert_eq!(begins(&text, "中继台甲 "), begins(&plain, "Relay "), "{text}");
    // So do the columns of a table behind it.
    let text = told("plan.toml", &["rank", "--maps", "none"]);
    let places: Vec<usize> = text
        .lines()
        .filter(|line| line.contains(" of 16 ") && line.contains('%'))
        .map(|line| columns(&line[..line.find(" of 16 ").unwrap()]))
        .collect();
    assert!(text.contains("停车场") && places.len() >= 6, "{text}");
    assert!(places.iter().take(6).all(|place| *place == places[0]), "{places:?}\n{text}");
}
