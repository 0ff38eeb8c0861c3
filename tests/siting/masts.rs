//! How much mast: every height of a family against a run of its own.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use perchline::link::Propagator;
use perchline::plan::{Plan, Site};
use perchline::siting::demand::Demand;
use perchline::siting::masts::{MapShares, MastStudy, heights, mast_study};
use perchline::siting::{RankInputs, score};
use perchline::terrain::Terrain;
use perchline::units::Metres;

use crate::support::{open_plan, perchline_long, plan_text, printed, said, write_plan_raster};

fn hills(column: usize, row: usize) -> f32 {
    let (x, y) = (column as f32 * 0.09, row as f32 * 0.07);
    100.0 + 25.0 * x.sin() * y.cos() + 12.0 * (x * 2.3 + y).sin()
}

fn text() -> String {
    plan_text(|text| {
        text.replace("power = \"5 W\"", "power = \"0.5 W\"")
            .replace("roof = \"20 m above ground\"", "roof = \"2 m above ground\"")
            .replace("roof = \"30 m above ground\"", "roof = \"1 m above ground\"")
    }) + "\n[[area]]\nname = \"Field\"\noutline = [\"47.002, -34.895\", \"47.002, -34.892\", \"47.004, -34.892\"]\n\n[[route]]\nname = \"Course\"\nline = [\"46.996, -34.904\", \"47.006, -34.890\", \"47.009, -34.884\"]\n"
}

fn read(folder: &Path, text: &str) -> (Plan, Terrain) {
    let file = folder.join("plan.toml");
    std::fs::write(&file, text).unwrap();
    open_plan(&file)
}

fn family(plan: &Plan, terrain: &Terrain, site: &Site, tried: &[Metres]) -> MastStudy {
    let propagator = Propagator::new(&plan.prediction);
    let stop = AtomicBool::new(false);
    let task = RankInputs {
        plan,
        terrain,
        propagator: &propagator,
        demand: &Demand::of(plan, terrain),
        grid: terrain.grid(),
        row_done: &|| (),
        stop: &stop,
    };
    mast_study(&task, &plan.channels[0], site, tried, MapShares::Counted).unwrap()
}

#[test]
fn each_height_is_what_a_ranking_of_it_says() {
    for method in ["delta-bullington", "three-edge"] {
        let folder = tempfile::tempdir().unwrap();
        write_plan_raster(&folder.path().join("terrain.tif"), hills);
        let text = text().replace(
            "[map]",
            &format!("[prediction]\nmethod = \"{method}\"\n\n[map]\ncell = \"60 m\""),
        );
        let (plan, terrain) = read(folder.path(), &text);
        let tried = heights(Metres::new(6.0));
        for site in &plan.sites {
            let found = family(&plan, &terrain, site, &tried);
            let propagator = Propagator::new(&plan.prediction);
            let stop = AtomicBool::new(false);
            let inputs = RankInputs {
                plan: &plan,
                terrain: &terrain,
                propagator: &propagator,
                demand: &Demand::of(&plan, &terrain),
                grid: terrain.grid(),
                row_done: &|| (),
                stop: &stop,
            };
            let mut shares = Vec::new();
            for (mast, height) in tried.iter().zip(&found.heights) {
                let with = Site { mast: *mast, ..site.clone() };
                let (alone, _) = score(&inputs, &plan.channels[0], &with).unwrap();
                let off = (alone.weighted_probability - height.weighted_probability).abs();
                assert!(off < 1e-12, "{method} {mast:.0}: {off}");
                assert_eq!(alone.must_posts_met, height.must_posts_met);
                assert_eq!(alone.posts_covered, height.posts_covered);
                // A few cells at the very edge of a class may round otherwise.
                assert!(
                    (alone.map_share.unwrap() - height.map_share.unwrap()).abs() < 5e-4,
                    "{method} {mast:.0}"
                );
                shares.push(height.map_share.unwrap());
            }
            assert!(shares.first() < shares.last(), "{method}: {shares:?}");
            let must = found.all_must_posts_from_m;
            let first = found.heights.iter().find(|h| h.must_posts_met).map(|h| h.mast_m);
            assert_eq!(must, first);
            assert_eq!(must.is_none(), !found.still_missing.is_empty());
        }
    }
}

/// A cable that grows with the mast takes what the plan's cable table says.
#[test]
fn a_longer_cable_costs_what_it_loses() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let tried = heights(Metres::new(10.0));
    let (plan, terrain) = read(folder.path(), &text());
    let fixed = family(&plan, &terrain, &plan.sites[0], &tried);
    let grows = text().replace("[map]", "[masts]\nfeed_line_grows = true\n\n[map]");
    let (plan, _) = read(folder.path(), &grows);
    let growing = family(&plan, &terrain, &plan.sites[0], &tried);
    let planned = plan.sites[0].mast;
    for (a, b) in fixed.heights.iter().zip(&growing.heights) {
        let (a, b, mast) = (a.weighted_probability, b.weighted_probability, b.mast_m);
        assert!(
            if mast > planned {
                b < a
            } else if mast < planned {
                b > a
            } else {
                b == a
            },
            "{mast:.0}: {a} {b}"
        );
    }
}

/// A line 15 m away refuses every mast that reaches it, or half as far again, in its
/// fall: 10 m is refused (1.5 x 10 = 15), 9 m is not (9 + 1.5 + 3.05 = 13.55); with a
/// line at 4 m not even an antenna on the roof itself stands.
#[test]
fn a_power_line_refuses_the_masts_that_reach_it() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let with =
        |away: &str| text().replacen("mast = ", &format!("power_line = \"{away}\"\nmast = "), 1);
    let tried = heights(Metres::new(15.0));
    let (plan, terrain) = read(folder.path(), &with("15 m"));
    let study = family(&plan, &terrain, &plan.sites[0], &tried);
    let highest = study.heights.last().unwrap().mast_m;
    assert_eq!((highest, study.refused_from_m), (Metres::new(9.0), Some(Metres::new(10.0))));
    assert!(study.knee_m <= highest && study.all_must_posts_from_m.is_none_or(|m| m <= highest));
    let free = family(&plan, &terrain, &plan.sites[1], &tried);
    assert_eq!((free.heights.len(), free.refused_from_m), (16, None));
    std::fs::write(folder.path().join("plan.toml"), with("4 m")).unwrap();
    let run = perchline_long(folder.path(), &["masts", "plan.toml"]);
    assert!(run.status.success(), "{}", said(&run));
    let told = printed(&run);
    assert!(told.contains("REFUSED from 0.0 m on"), "{told}");
    // A cell that is too wide goes on in the next line.
    let words = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(words.contains("no mast at all: a power line is too near"), "{told}");
}

#[test]
fn the_verb_writes_a_plot_a_table_and_json() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), hills);
    let text = text().replace("[map]", "[masts]\nhighest = \"8 m\"\n\n[map]");
    std::fs::write(folder.path().join("plan.toml"), text).unwrap();
    let run = perchline_long(folder.path(), &["masts", "plan.toml", "--out", "out"]);
    assert!(run.status.success(), "{}", said(&run));
    assert!(printed(&run).contains("The knee is the least height"));
    let json = std::fs::read_to_string(folder.path().join("out/masts.json")).unwrap();
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["result"]["sites"].as_array().unwrap().len(), 2);
    assert_eq!(json["result"]["sites"][0]["heights"].as_array().unwrap().len(), 9);
    let svg = std::fs::read_to_string(folder.path().join("out/masts.svg")).unwrap();
    assert!(svg.contains("Hotel") && svg.contains("Silo"));
    let alone = perchline_long(folder.path(), &["masts", "plan.toml", "--site", "silo", "--json"]);
    let json: serde_json::Value = serde_json::from_str(&printed(&alone)).unwrap();
    assert_eq!(json["result"]["sites"].as_array().unwrap().len(), 1);
    let wrong = perchline_long(folder.path(), &["masts", "plan.toml", "--site", "Tower"]);
    assert_eq!(wrong.status.code(), Some(2));
}
