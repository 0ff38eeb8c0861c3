//! `path --method all`, and the radio climate of a plan, through the program.

use std::fs;
use std::process::Output;

use crate::support::{PLAN, perchline_long, printed, said, write_plan_raster};
use perchline::propagation::METHODS;
use serde_json::Value;

/// A ridge of 60 m across the middle of the raster, between all posts and Silo.
fn folder(plan: &str) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |c, _| {
        50.0 + 60.0 * (-((c as f32 - 60.0) / 4.0).powi(2)).exp()
    });
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    folder
}

fn path(folder: &tempfile::TempDir, arguments: &[&str]) -> Output {
    let all: Vec<_> = ["path", "plan.toml"].iter().chain(arguments).copied().collect();
    let output = perchline_long(folder.path(), &all);
    assert!(output.status.success(), "{}", said(&output));
    output
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}

const ENDS: [&str; 4] = ["--from", "Silo", "--to", "Aid 2"];

/// Every line of the comparison is what the method says when asked alone.
#[test]
fn each_method_says_what_it_says_alone() {
    let folder = folder(PLAN);
    let with = |method: &str| {
        let all: Vec<_> = ENDS.iter().chain(&["--method", method, "--json"]).copied().collect();
        json(&path(&folder, &all))["result"].clone()
    };
    let all = with("all");
    let methods = all["comparison"]["methods"].as_array().unwrap();
    assert_eq!(methods.len(), METHODS.len());
    let number = |value: &Value| value.as_f64().unwrap();
    let mut totals = Vec::new();
    for (line, method) in methods.iter().zip(METHODS) {
        assert_eq!(line["method"], method.name(), "in the order in which they are listed");
        let alone = with(method.name());
        let total = number(&alone["free_space_db"]) + number(&alone["diffraction_db"]);
        assert!((total - number(&line["talk_out_loss_db"])).abs() < 1e-9, "{}", method.name());
        let budgets = &alone["budgets"];
        let margin =
            number(&budgets["talk_in"]["margin_db"]).min(number(&budgets["talk_out"]["margin_db"]));
        assert!((margin - number(&line["governing_margin_db"])).abs() < 1e-9);
        assert_eq!(line["outcome"], budgets["outcome"]);
        assert_eq!(line["talk_out_model"], budgets["talk_out"]["model"]);
        assert!(alone["comparison"].is_null());
        if method.name() != "free-space" {
            totals.push(total);
        }
    }
    let (least, most) =
        totals.iter().fold((f64::INFINITY, 0.0f64), |(a, b), t| (a.min(*t), b.max(*t)));
    assert!((number(&all["comparison"]["spread_db"]) - (most - least)).abs() < 1e-9);
    // The budgets and the plot stay those of the plan's own method.
    assert_eq!(all["budgets"], with("delta-bullington")["budgets"]);
}

#[test]
fn a_ridge_is_told_in_one_line_and_the_plot_is_drawn() {
    let folder = folder(PLAN);
    let all: Vec<_> = ENDS.iter().chain(&["--method", "all", "--out", "out"]).copied().collect();
    let text = printed(&path(&folder, &all));
    for method in METHODS {
        let lines =
            text.lines().filter(|l| l.trim_start().starts_with(&format!("{} ", method.name())));
        assert_eq!(lines.count(), 1, "{}:\n{text}", method.name());
    }
    let told: Vec<_> = text.lines().filter(|l| l.contains("Free space aside")).collect();
    let [line] = told.as_slice() else { panic!("{text}") };
    for part in ["they differ by", "one ridge", "from Silo", "dB", "Plan for the worst"] {
        assert!(line.contains(part), "no {part:?} in: {line}");
    }
    assert!(folder.path().join("out/path-silo-to-aid-2.png").is_file());
}

/// Within 200 m of its site a post's figure is not P.1812's own, and every place
/// that shows it says so.
#[test]
fn a_short_path_names_the_model_that_stands_in() {
    let plan = PLAN
        .replace("47.000, -34.900", "47.0048, -34.890")
        .replace("[terrain]", "[prediction]\nmethod = \"p1812\"\n\n[terrain]");
    let folder = folder(&plan);
    let ends = ["--from", "Hotel", "--to", "Aid 1"];
    let text = printed(&path(&folder, &ends));
    let near = |text: &str| text.contains("two-ray");
    assert!(text.contains("Propagation method p1812, here"), "{text}");
    assert!(text.contains("terrain (two-ray)"), "{text}");
    let json_ends: Vec<_> = ends.iter().chain(&["--json"]).copied().collect();
    let document = json(&path(&folder, &json_ends));
    assert!(near(document["result"]["budgets"]["talk_out"]["model"].as_str().unwrap()));
    let ranked = perchline_long(folder.path(), &["rank", "plan.toml", "--maps", "none"]);
    let ranked = printed(&ranked);
    let lines: Vec<_> = ranked.lines().filter(|l| l.contains("a short path: method")).collect();
    assert!(lines.len() == 1 && lines[0].contains("Aid 1") && near(lines[0]), "{ranked}");
    // Asked for another method, nothing stands in.
    let other: Vec<_> = ends.iter().chain(&["--method", "bullington"]).copied().collect();
    assert!(printed(&path(&folder, &other)).contains("Propagation method bullington.\n"));
}

/// A simplex channel has one frequency, and a line has one loss.
#[test]
fn one_frequency_is_one_column() {
    let simplex = PLAN.replace(
        "[[post]]\nname = \"Aid 1\"",
        "[[channel]]\nname = \"Direct\"\nkind = \"simplex\"\nfrequency = \"146.52 MHz\"\ncarried = \"hand-held\"\n\n[[post]]\nname = \"Aid 1\"",
    );
    let folder = folder(&simplex);
    let text = printed(&path(&folder, &["--from", "Aid 1", "--to", "Aid 2", "--method", "all"]));
    let head = text.lines().find(|line| line.trim_start().starts_with("Method ")).unwrap();
    assert_eq!(head.matches("either").count(), 1, "{text}");
    assert_eq!(text.matches("146.520").count(), 1, "{text}");
    assert!(!text.contains("talk-"), "{text}");
}

#[test]
fn only_path_compares() {
    let folder = folder(PLAN);
    let output = perchline_long(folder.path(), &["rank", "plan.toml", "--method", "all"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("'all'"), "{}", said(&output));
}

/// The climate is refused with its line and range, and told where it does not count.
#[test]
fn the_radio_climate_is_checked_and_told() {
    let with = |lines: &str| {
        let plan = PLAN.replace("[terrain]", &format!("[prediction]\n{lines}\n\n[terrain]"));
        let folder = folder(&plan);
        perchline_long(folder.path(), &["check", "plan.toml"])
    };
    let line = PLAN.lines().position(|l| l == "[terrain]").unwrap() + 2;
    for (bad, field, range) in [
        ("n0 = \"200 N\"", "n0", "250 to 400 N"),
        ("delta_n = \"157 N/km\"", "delta_n", "0 to 120 N/km"),
        ("time_percent = \"90 %\"", "time_percent", "1 to 50 %"),
    ] {
        let output = with(bad);
        assert_eq!(output.status.code(), Some(2), "{bad}");
        for part in [&format!("plan.toml:{line}"), field, range] {
            assert!(said(&output).contains(part), "no {part:?} in {}", said(&output));
        }
    }
    let told = |lines: &str| printed(&with(lines)).contains("count with method p1812 alone");
    assert!(told("time_percent = \"10 %\""));
    assert!(!told("method = \"p1812\"\ntime_percent = \"10 %\""));
    assert!(!told("delta_n = \"45 N/km\""));
}
