//! How much memory a run takes, told before it is taken, and kept to.

use std::fs;
use std::path::Path;

use crate::support::{
    PLAN, SIMPLEX, UTM_25N, held, perchline, printed, rolling, said, utm_transform,
    write_plan_raster, write_raster,
};
use serde_json::Value;

/// Cells along a side: large enough that what grows with them is most of it.
const SIDE: usize = 3000;

fn write(folder: &Path) {
    let reach = SIDE as f64 / 2.0 * 5.0;
    write_raster(
        &folder.join("terrain.tif"),
        (SIDE, SIDE),
        utm_transform(356_000.0 - reach, 5_207_500.0 + reach, 5.0),
        Some(UTM_25N),
        None,
        |c, r| 60.0 + 30.0 * (c as f32 / 190.0).sin() * (r as f32 / 260.0).cos(),
    );
}

/// [`PLAN`] with all of the raster around it.
fn plan(terrain: &str, map: &str) -> String {
    PLAN.replace("files = [\"terrain.tif\"]\n", &format!("files = [\"terrain.tif\"]\n{terrain}"))
        .replace("margin = \"100 m\"\n", &format!("margin = \"7 km\"\n{map}"))
}

/// What was held, bytes, and what had been predicted; `None` where the system does
/// not tell.
fn held_and_predicted(folder: &Path, arguments: &[&str]) -> Option<(f64, f64)> {
    // What does not fit is refused with what it needs.
    let refused = perchline(folder, &[arguments, &["--memory", "1 MB"]].concat());
    let words = said(&refused);
    assert!(words.contains("plan.toml") && words.contains("--memory"), "{words}");
    let predicted = held::needed(&refused);
    let held = held::by_a_run(folder, &[arguments, &["--memory", "8 GB"]].concat());
    held.map(|held| (held, predicted))
}

#[test]
fn what_is_held_is_what_was_predicted() {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path());
    let file = folder.path().join("plan.toml");
    let cases: [(&str, &str, &[&str]); 7] = [
        ("", "cell = \"50 m\"\n", &["check", "plan.toml"]),
        ("", "", &["coverage", "plan.toml", "--site", "Hotel", "--out", "out"]),
        ("", "", &["rank", "plan.toml", "--maps", "all", "--out", "out"]),
        ("fill_gaps = true\n", "cell = \"20 m\"\n", &["brief", "plan.toml", "--out", "out"]),
        ("cell = \"15 m\"\n", "", &["coverage", "plan.toml", "--site", "Silo", "--out", "out"]),
        // Means are made and maps are small.
        ("cell = \"10 m\"\n", "cell = \"100 m\"\n", &["coverage", "plan.toml", "--site", "Silo"]),
        ("", "cell = \"20 m\"\n", &["direct", "plan.toml", "--out", "out"]),
    ];
    for (terrain, map, arguments) in cases {
        fs::write(&file, plan(terrain, map) + SIMPLEX).unwrap();
        let Some((held, predicted)) = held_and_predicted(folder.path(), arguments) else {
            return;
        };
        eprintln!("{arguments:?}: {:.2} GB held, {:.2} GB predicted", held / 1e9, predicted / 1e9);
        // Told to a tenth of a gigabyte.
        assert!(held <= predicted + 0.05e9, "{arguments:?}: {held} held, {predicted} predicted");
        assert!(
            predicted <= 2.5 * held + 0.1e9,
            "{arguments:?}: {held} held, {predicted} predicted"
        );
    }
}

/// What a refusal says would fit does.
#[test]
fn what_would_fit_is_told_and_fits() {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path());
    let file = folder.path().join("plan.toml");
    fs::write(&file, plan("", "")).unwrap();
    let memory = ["--memory", "0.4 GB"];
    let refused = perchline(
        folder.path(),
        &[&["coverage", "plan.toml", "--site", "Hotel"][..], &memory].concat(),
    );
    assert_eq!(refused.status.code(), Some(2));
    let words = said(&refused);
    let quoted = |before: &str| {
        let rest = words.split(before).nth(1).unwrap_or_else(|| panic!("{before}: {words}"));
        rest.split('"').next().unwrap().to_owned()
    };
    let terrain = format!("cell = \"{}\"\n", quoted("[terrain] cell = \""));
    let map = format!("cell = \"{}\"\n", quoted("[map] cell = \""));
    for (terrain, map) in [(terrain.as_str(), ""), ("", map.as_str())] {
        fs::write(&file, plan(terrain, map)).unwrap();
        let output = perchline(
            folder.path(),
            &[&["coverage", "plan.toml", "--site", "Hotel"][..], &memory].concat(),
        );
        assert!(output.status.success(), "{terrain}{map}: {}", said(&output));
    }
    // And `check` tells it beforehand.
    fs::write(&file, plan("", "")).unwrap();
    let check = perchline(folder.path(), &["check", "plan.toml"]);
    assert!(printed(&check).contains("memory: about 0."), "{}", printed(&check));
    let json = perchline(folder.path(), &["check", "plan.toml", "--json"]);
    let json: Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(json["result"]["memory_bytes"].as_f64().unwrap() > 0.4e9);
}

/// Many sites against many posts: what is found of them is most of what is held,
/// and is foreseen. What nobody reads is not written either.
#[test]
fn what_is_found_of_many_sites_and_posts_was_predicted() {
    const SITES: usize = 60;
    const POSTS: usize = 400;
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), rolling);
    let mut text = PLAN.replace("margin = \"100 m\"\n", "margin = \"100 m\"\ncell = \"300 m\"\n");
    text += SIMPLEX;
    let place = |number: usize, of: usize| {
        let share = number as f64 / of as f64;
        let along = (share * 37.0).fract();
        format!("{:.6}, {:.6}", 47.0 + 0.01 * share, -34.905 + 0.02 * along)
    };
    for post in 0..POSTS {
        text += &format!(
            "\n[[post]]\nname = \"Marshal at crossing {post}\"\nat = \"{}\"\n",
            place(post, POSTS)
        );
    }
    for site in 0..SITES {
        text += &format!(
            "\n[[site]]\nname = \"Roof number {site}\"\nat = \"{}\"\nroof = \"9 m above ground\"\nmast = \"3 m\"\n",
            place(site, SITES)
        );
    }
    fs::write(folder.path().join("plan.toml"), &text).unwrap();
    fs::write(folder.path().join("small.toml"), PLAN).unwrap();
    let verbs: [&[&str]; 3] = [
        &["rank", "--maps", "none", "--out", "out"],
        &["direct", "--out", "out"],
        &["choose", "--relays", "2", "--out", "out"],
    ];
    for verb in verbs {
        let with = |plan: &str| -> Vec<String> {
            let mut words: Vec<String> = verb.iter().map(|w| (*w).to_owned()).collect();
            words.insert(1, plan.to_owned());
            words
        };
        let arguments = with("plan.toml");
        let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
        let Some((held, predicted)) = held_and_predicted(folder.path(), &arguments) else {
            return;
        };
        eprintln!("{verb:?}: {:.3} GB held, {:.3} GB predicted", held / 1e9, predicted / 1e9);
        assert!(held <= predicted + 0.05e9, "{verb:?}: {held} held, {predicted} predicted");
        // It is told to a tenth of a gigabyte.
        assert!(predicted <= 2.5 * held + 0.15e9, "{verb:?}: {held} held, {predicted} predicted");
    }
    // Nobody reads budgets line by line of sites that are not among the best.
    let written = fs::metadata(folder.path().join("out/ranking.json")).unwrap().len();
    assert!(written < (SITES * POSTS) as u64 * 2000, "{written}");
    let json: Value =
        serde_json::from_slice(&fs::read(folder.path().join("out/ranking.json")).unwrap()).unwrap();
    let sites = json["result"]["rankings"][0]["sites"].as_array().unwrap();
    let in_full = |site: &Value| site["posts"][7]["budgets"]["talk_in"]["lines"].is_array();
    assert_eq!(sites.len(), SITES + 2);
    assert!(in_full(&sites[0]) && !in_full(&sites[SITES]));
    for site in sites {
        let post = &site["posts"][7];
        assert!(post["governing_margin_db"].is_number() && post["reason"].is_string(), "{post}");
        let others = &post["remedy"]["other_sites"];
        assert!(others.is_null() || others.as_array().unwrap().len() <= 10, "{others}");
    }
    let told = json["remarks"].as_array().unwrap();
    assert!(told.iter().any(|r| r["about"] == "ranking.json"), "{told:?}");
    // A run for which there is not room enough is refused with what would fit.
    let tight = perchline(folder.path(), &["direct", "plan.toml", "--memory", "300 MB"]);
    assert_eq!(tight.status.code(), Some(2), "{}", said(&tight));
    let words = said(&tight);
    assert!(words.contains("posts") && words.contains("fewer sites or posts"), "{words}");
    // And `check` tells it beforehand.
    let check = perchline(folder.path(), &["check", "plan.toml"]);
    assert!(printed(&check).contains("for what is found of"), "{}", printed(&check));
}
