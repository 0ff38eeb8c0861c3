//! The main job end to end, through the program, on the sample plan.

use std::fs;
use std::path::Path;

use crate::support::{PLAN, perchline, perchline_long, printed, rolling, said, write_plan_raster};
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

/// Power that leaves a post a few decibels short over two kilometres of flat ground.
const WEAK: &str = "\"4 dBm\"";

fn json(text: &[u8]) -> Value {
    serde_json::from_slice(text).unwrap()
}

#[test]
fn the_sample_plan_ranks_and_draws() {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline_long(folder.path(), &["rank", SAMPLE, "--out", "out", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let document = json(&output.stdout);
    assert_eq!(document, json(&fs::read(folder.path().join("out/ranking.json")).unwrap()));
    let rankings = document["result"]["rankings"].as_array().unwrap();
    assert_eq!(rankings.len(), 2, "the relay and the digipeater");
    for ranking in rankings {
        let sites = ranking["sites"].as_array().unwrap();
        assert_eq!(sites.len(), 6);
        let shares: Vec<f64> =
            sites.iter().map(|s| s["weighted_probability"].as_f64().unwrap()).collect();
        assert!(shares.iter().all(|s| (0.0..=1.0).contains(s)));
        assert!(sites.iter().all(|s| s["posts"].as_array().unwrap().len() >= 12));
        // Nothing hopeless, nothing trivial: some post fails from some site,
        // and the best site serves most of the weight.
        assert!(shares[0] > 0.6, "{shares:?}");
        let fails = |p: &Value| !p["remedy"].is_null();
        assert!(sites.iter().any(|s| s["posts"].as_array().unwrap().iter().any(fails)));
    }
    assert!(!document["provenance"]["inputs"].as_array().unwrap().is_empty());
    let names = fs::read_dir(folder.path().join("out")).unwrap();
    let names: Vec<String> = names.map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
    let ending = |end: &str| names.iter().filter(|name| name.ends_with(end)).count();
    let strips = ending("-routes.png");
    assert_eq!(ending(".png") - strips, 2, "the best site's map for each channel");
    assert_eq!(strips, 2, "and its routes from end to end");
}

/// A post that fails says how much is missing, and the mast that would fix it
/// does: the plan is run again with that mast.
#[test]
fn the_extra_mast_of_a_remedy_makes_the_post_work() {
    let folder = tempfile::tempdir().unwrap();
    // Little power over flat ground: a few decibels short, which height fixes.
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    let weak = PLAN.replace("\"5 W\"", WEAK);
    fs::write(folder.path().join("plan.toml"), &weak).unwrap();
    let rank = |plan: &str| {
        let output = perchline_long(folder.path(), &["rank", plan, "--json", "--maps", "none"]);
        assert!(output.status.success(), "{}", said(&output));
        json(&output.stdout)["result"]["rankings"][0]["sites"].clone()
    };
    let mut fixed = 0;
    for site in rank("plan.toml").as_array().unwrap() {
        for post in site["posts"].as_array().unwrap() {
            let Some(extra) = post["remedy"]["extra_mast_m"].as_f64() else { continue };
            let name = site["site"].as_str().unwrap();
            let raised = raise(&weak, name, extra);
            fs::write(folder.path().join("raised.toml"), raised).unwrap();
            let again = rank("raised.toml");
            let site = again.as_array().unwrap().iter().find(|s| s["site"] == name).unwrap();
            let post = site["posts"].as_array().unwrap().iter().find(|p| p["post"] == post["post"]);
            assert!(post.unwrap()["remedy"].is_null(), "{name} with {extra} m more");
            fixed += 1;
        }
    }
    assert!(fixed > 0, "no remedy to try: the case must be made harder");
    // A line just beyond the reach of the planned masts, 7.55 m, refuses half a metre
    // more, and so every longer mast.
    let lined = weak.replace("mast = \"3 m\"", "mast = \"3 m\"\npower_line = \"7.6 m\"");
    fs::write(folder.path().join("lined.toml"), lined).unwrap();
    let mut refused = 0;
    for site in rank("lined.toml").as_array().unwrap() {
        for post in site["posts"].as_array().unwrap() {
            let remedy = &post["remedy"];
            assert!(remedy["extra_mast_m"].is_null(), "{remedy}");
            refused += usize::from(remedy["refused_by_line_m"].as_f64().is_some());
        }
    }
    assert_eq!(refused, fixed);
}

/// `plan` with `extra` metres more mast at `site`; every mast is 3 m before.
fn raise(plan: &str, site: &str, extra: f64) -> String {
    let (before, after) = plan.split_at(plan.find(&format!("\"{site}\"")).unwrap());
    format!(
        "{before}{}",
        after.replacen("mast = \"3 m\"", &format!("mast = \"{} m\"", 3.0 + extra), 1)
    )
}

fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|e| {
            let path = e.unwrap().path();
            (path.file_name().unwrap().to_str().unwrap().to_owned(), fs::read(&path).unwrap())
        })
        .collect();
    files.sort();
    files
}

#[test]
fn every_file_is_the_same_for_one_two_and_eight_threads() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |c, r| rolling(c, r).round());
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    let run = |threads: &str| {
        let out = format!("out-{threads}");
        let output = perchline_long(
            folder.path(),
            &["rank", "plan.toml", "--threads", threads, "--out", &out, "--maps", "all"],
        );
        assert!(output.status.success(), "{}", said(&output));
        files(&folder.path().join(out))
    };
    let one = run("1");
    assert_eq!(one.len(), 10);
    for other in [run("2"), run("8"), run("1")] {
        for ((name, a), (_, b)) in one.iter().zip(&other) {
            assert!(a == b, "{name} differs");
        }
        assert_eq!(one.len(), other.len());
    }
}

#[test]
fn more_power_never_shrinks_coverage() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), rolling);
    let shares = |power: &str| {
        let plan = PLAN.replace("\"5 W\"", power).replace("\"25 W\"", power);
        fs::write(folder.path().join("plan.toml"), plan).unwrap();
        let output =
            perchline_long(folder.path(), &["coverage", "plan.toml", "--site", "Hotel", "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        json(&output.stdout)["result"]["site"]["map_share"].as_f64().unwrap()
    };
    let rising: Vec<f64> =
        ["\"-10 dBm\"", "\"0 dBm\"", "\"10 dBm\"", "\"1 W\"", "\"10 W\""].map(shares).into();
    assert!(rising.is_sorted(), "{rising:?}");
    assert!(rising.first() < rising.last(), "{rising:?}");
}

#[test]
fn every_verb_explains_itself_in_text_and_json() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    let path = ["path", "plan.toml", "--from", "Aid 1", "--to", "Hotel"];
    let text = perchline_long(folder.path(), &path);
    assert!(text.status.success(), "{}", said(&text));
    let text = printed(&text);
    for part in [
        "talk-in: Aid 1 to Hotel at 147.600 MHz",
        "talk-out: Hotel to Aid 1 at 147.000 MHz",
        "noise",
        "margin",
        "Hotel to Aid 1",
    ] {
        assert!(text.contains(part), "no {part:?} in\n{text}");
    }
    let with_json: Vec<_> = path.iter().copied().chain(["--json"]).collect();
    let document = json(&perchline_long(folder.path(), &with_json).stdout);
    assert!(document["result"]["budgets"]["talk_in"]["margin_db"].is_f64());
    let check = perchline_long(folder.path(), &["check", "plan.toml"]);
    assert!(printed(&check).starts_with("No problem found in the plan"), "{}", said(&check));
    let extras = perchline(folder.path(), &["extras", "--out", "extras"]);
    assert!(extras.status.success(), "{}", said(&extras));
    for name in ["perchline.bash", "perchline.1", "perchline-rank.1", "plan.schema.json"] {
        assert!(folder.path().join("extras").join(name).is_file(), "{name}");
    }
}

/// Every method runs the main job.
#[test]
fn every_method_ranks() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |c, _| if c == 80 { 90.0 } else { 50.0 });
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    for method in perchline::propagation::METHODS {
        let arguments = ["rank", "plan.toml", "--method", method.name(), "--json"];
        let output = perchline_long(folder.path(), &arguments);
        assert!(output.status.success(), "{}", said(&output));
        assert_eq!(json(&output.stdout)["provenance"]["method"], method.name());
    }
}

/// The plan that the README calls enough has thirty-five lines, and is.
#[test]
fn the_readme_s_plan_is_enough() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(root.join("README.md")).unwrap();
    let (_, from) = readme.split_once("```toml\n").unwrap();
    let (plan, _) = from.split_once("```").unwrap();
    assert_eq!(plan.lines().count(), 35);
    let folder = tempfile::tempdir().unwrap();
    let terrain = root.join("sample-terrain/ostlers-ferry.tif");
    let plan = plan.replace("sample-terrain/ostlers-ferry.tif", terrain.to_str().unwrap());
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    for verb in ["check", "rank", "brief", "ready"] {
        let output = perchline_long(folder.path(), &[verb, "plan.toml"]);
        assert!(output.status.success(), "{verb}: {}", said(&output));
    }
    let ready = printed(&perchline_long(folder.path(), &["ready", "plan.toml"]));
    for lacking in ["says nothing of its station's battery", "no simplex channel"] {
        let said = ready.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(said.contains(lacking), "no {lacking:?} in\n{ready}");
    }
}

/// The answer that the README shows is the one that the sample gives.
#[test]
fn the_readme_s_answer_is_the_sample_s() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = fs::read_to_string(root.join("README.md")).unwrap();
    let (_, from) = readme.split_once("```text\n").unwrap();
    let (shown, _) = from.split_once("```").unwrap();
    let output = perchline(root, &["rank", SAMPLE, "--maps", "none"]);
    assert!(output.status.success(), "{}", said(&output));
    assert!(shown.lines().count() == 3, "{shown}");
    assert!(printed(&output).starts_with(shown), "{}", printed(&output));
}
