//! No output promises what another one denies: `rank`, `path` and `coverage` read one
//! assessment, and what is told in several places has one number there.

use std::fs;
use std::path::{Path, PathBuf};

use serde_json::Value;

use crate::support::{PLAN, rolling, write_plan_raster};
use crate::support::{as_printed, changed, perchline, perchline_long, printed, said};

fn sample() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain")
}

fn text(folder: &Path, arguments: &[&str]) -> String {
    let output = perchline(folder, arguments);
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    printed(&output)
}

fn result(folder: &Path, arguments: &[&str]) -> Value {
    let output = perchline(folder, &[arguments, &["--json"]].concat());
    assert!(output.status.success(), "{arguments:?}: {}", said(&output));
    serde_json::from_slice::<Value>(&output.stdout).unwrap()["result"].take()
}

fn named<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_else(|| panic!("no {name} in {value}"))
}

/// Whether a post works from the sites that `rank` puts first, and from those that it
/// proposes, is told alike by `path`: a site whose roof is taken serves nobody.
#[test]
fn a_path_says_what_the_ranking_says() {
    const FILE: &str = "ferry-lights.toml";
    let ranked = result(&sample(), &["rank", FILE, "--maps", "none"]);
    let (mut working, mut failing, mut denied) = (0, 0, 0);
    for ranking in ranked["rankings"].as_array().unwrap() {
        let channel = named(ranking, "channel");
        let taken = ranked["roof_conflicts"].as_array().unwrap();
        let taken = taken.iter().find(|conflict| conflict["channel"] == channel);
        for site in ranking["sites"].as_array().unwrap().iter().take(2) {
            let name = named(site, "site");
            let on_it = taken.filter(|conflict| conflict["site"] == name);
            for post in site["posts"].as_array().unwrap().iter().step_by(3) {
                let ends = ["--from", name, "--to", named(post, "post"), "--channel", channel];
                let told = text(&sample(), &[&["path", FILE][..], &ends].concat());
                let first = told.lines().next().unwrap();
                let works = ["strong", "clear"].contains(&named(post, "outcome"));
                if let Some(conflict) = on_it {
                    let instead = named(conflict, "instead");
                    assert!(first.starts_with(&format!("NOT on {name}: ")), "{told}");
                    assert!(told.lines().nth(2).unwrap().contains(instead), "{told}");
                    denied += 1;
                } else if works {
                    assert!(first.contains(": should work in "), "{told}");
                    working += 1;
                } else {
                    assert!(first.contains(": falls short, "), "{told}");
                    failing += 1;
                }
            }
        }
    }
    assert!(working > 5 && failing > 0 && denied > 3, "{working} {failing} {denied}");
}

/// What keeps a station off a site is the same in `rank`, `path` and `coverage`, and is
/// not there on the site to which it goes.
#[test]
fn a_taken_roof_is_told_by_every_verb() {
    const FILE: &str = "ferry-lights.toml";
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().to_str().unwrap();
    let told = text(&sample(), &["rank", FILE, "--out", out]);
    let ranked = fs::read_to_string(folder.path().join("ranking.json")).unwrap();
    let ranked = serde_json::from_str::<Value>(&ranked).unwrap()["result"].take();
    let conflict = &ranked["roof_conflicts"][0];
    let (site, instead) = (named(conflict, "site"), named(conflict, "instead"));
    for at in [site, instead] {
        let wanted = if at == site { conflict } else { &Value::Null };
        let covered = result(&sample(), &["coverage", FILE, "--site", at, "--channel", "Packet"]);
        assert_eq!(&covered["against"]["conflict"], wanted);
        let ends = ["--from", at, "--to", "Aid 1", "--channel", "Packet"];
        let path = result(&sample(), &[&["path", FILE][..], &ends].concat());
        assert_eq!(&path["against"]["conflict"], wanted);
        let tracked = result(&sample(), &["trackers", FILE, "--site", at]);
        assert_eq!(&tracked["kept_off"][0]["conflict"], wanted);
        let pictured = tracked["pictures"][0].as_str().unwrap();
        assert_eq!(pictured.contains(&format!("NOT on {at}: there ")), at == site, "{pictured}");
        let drawn = folder.path().join(at);
        let drawn = drawn.to_str().unwrap();
        let told = text(&sample(), &["trackers", FILE, "--site", at, "--out", drawn]);
        let denied = told.starts_with(&format!("NOT on {at}: there "));
        assert_eq!(denied, at == site, "{told}");
        assert_eq!(told.contains(&format!("To do: take {instead} ")), at == site, "{told}");
    }
    // The relay keeps its roof.
    let ends = ["--from", site, "--to", "Aid 1", "--channel", "Relay"];
    let path = result(&sample(), &[&["path", FILE][..], &ends].concat());
    assert!(path["against"]["conflict"].is_null(), "{path}");
    // The first line names where each station goes, and the maps are of those sites.
    assert_eq!(ranked["proposed"][1]["site"], *instead);
    assert!(
        told.starts_with(&format!("Best: relay on {site}; digipeater on {instead} (")),
        "{told}"
    );
    assert!(
        told.contains(&format!("The maps show Relay from {site}, Packet from {instead}.")),
        "{told}"
    );
    let stem = |name: &str| name.to_lowercase().replace(' ', "-");
    let map = |name: &str| folder.path().join(format!("packet-{}.png", stem(name))).is_file();
    assert!(map(instead) && !map(site));
}

/// Whether a row of a ranking is one on a screen or in the whole text, it says the same,
/// the share of the map among it; a screen has it for every site that it shows.
#[test]
fn a_screen_has_the_maps_of_the_sites_that_it_shows() {
    for file in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        let rows = |told: &str| -> Vec<String> {
            let words = |line: &str| line.split_whitespace().collect::<Vec<_>>().join(" ");
            let is_row = |line: &&str| line.matches(" %").count() == 2 && line.contains(" dB");
            told.lines().filter(is_row).map(words).collect()
        };
        let short = rows(&text(&sample(), &["rank", file]));
        let long = perchline_long(&sample(), &["rank", file]);
        let long = rows(&printed(&long));
        assert!(short.len() >= 5 && long.len() == 12, "{short:?} {long:?}");
        assert!(short.len() < long.len(), "{short:?}");
        for row in &short {
            assert!(long.contains(row), "{row} is not in {long:?}");
        }
    }
}

/// A mast that a power line forbids is denied before anything is said of its coverage.
#[test]
fn no_verb_promises_a_mast_beside_a_power_line() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), rolling);
    let lined = changed(PLAN, &[("mast = \"3 m\"\n", "mast = \"3 m\"\npower_line = \"4 m\"\n")]);
    let closed = changed(PLAN, &[("mast = \"3 m\"\n", "mast = \"3 m\"\navailable = false\n")]);
    for (plan, wanted) in [(lined, "NO MAST as planned on "), (closed, "Silo is NOT AVAILABLE")] {
        fs::write(folder.path().join("plan.toml"), plan).unwrap();
        for verb in [
            &["path", "plan.toml", "--from", "Silo", "--to", "Aid 1"][..],
            &["coverage", "plan.toml", "--site", "Silo"],
        ] {
            let told = text(folder.path(), verb);
            assert!(told.starts_with(wanted), "{verb:?}: {told}");
        }
    }
}

/// What a post lacks is the margin that stands beside it; what both ways lack at once is
/// told where it reads as another number.
#[test]
fn what_is_lacking_is_the_margin() {
    for plan in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        let ranked = result(&sample(), &["rank", plan, "--maps", "none"]);
        let (mut lacking, mut both_told) = (0, 0);
        for ranking in ranked["rankings"].as_array().unwrap() {
            let sites = ranking["sites"].as_array().unwrap();
            for post in sites.iter().flat_map(|site| site["posts"].as_array().unwrap()) {
                let Some(missing) = post["remedy"]["missing_db"].as_f64() else { continue };
                let margin = post["governing_margin_db"].as_f64().unwrap();
                let reason = named(post, "reason");
                if margin < 0.0 {
                    let alone = format!("{:.1} dB", -margin);
                    assert!(reason.contains(&format!(" lacks {alone}")), "{margin}: {reason}");
                    lacking += 1;
                    let both = format!("{missing:.1} dB");
                    let told = format!(", both ways at once {both}");
                    assert_eq!(reason.contains(&told), both != alone, "{missing}: {reason}");
                    both_told += usize::from(both != alone);
                }
            }
        }
        assert!(lacking > 5 && both_told > 0, "{plan}: {lacking}, {both_told}");
    }
}

/// The loss of a town has one number wherever it stands.
#[test]
fn the_loss_of_a_town_is_one_number() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let one = perchline::plan::TOWN_LOSS;
    for file in ["README.md", "docs/methods.md"] {
        let told = fs::read_to_string(root.join(file)).unwrap();
        assert!(told.contains(one) && !told.contains("10 dB and more"), "{file}");
    }
    let heading = text(&sample(), &["check", "ferry-lights.toml"]);
    assert!(heading.contains(&format!("in a town expect {one} less")), "{heading}");
    let folder = tempfile::tempdir().unwrap();
    let begun = ["start", "begun", "--centre", "46.99, -34.90", "--radius", "3 km"];
    text(folder.path(), &begun);
    let plans = fs::read_dir(folder.path().join("begun")).unwrap();
    let mut plans = plans.map(|entry| entry.unwrap().path());
    let plan = plans.find(|path| path.extension().is_some_and(|x| x == "toml")).unwrap();
    let plan = fs::read_to_string(plan).unwrap();
    assert!(plan.contains(&format!("a town takes {one}")), "{plan}");
}

/// Frequencies of a budget are those of the plan, to the last figure.
#[test]
fn a_frequency_is_the_plan_s() {
    let ends = ["--from", "Car park", "--to", "Aid 6"];
    let told = text(&sample(), &[&["path", "ferry-lights.toml"][..], &ends].concat());
    assert!(told.contains("talk-in: Aid 6 to Car park at 147.6075 MHz"), "{told}");
}

/// Into a pipe go the lines that a terminal shows.
#[test]
fn a_pipe_has_lines_of_eighty_columns() {
    let output = perchline_long(&sample(), &["check", "ferry-lights-town.toml"]);
    let (folded, whole) = (as_printed(&output), printed(&output));
    assert!(folded.lines().all(|line| perchline::report::columns(line) <= 80), "{folded}");
    assert!(whole.lines().any(|line| line.starts_with("note: ") && line.len() > 100), "{whole}");
}
