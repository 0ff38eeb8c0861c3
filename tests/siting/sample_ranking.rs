//! The sample's story, as docs/sample.md tells it: which site serves what, and
//! by how much. A change of method, noise or quality that turns the story has
//! to be seen, and the story told anew.

use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::AtomicBool;

use approx::assert_abs_diff_eq;
use perchline::assessment::Assessment;
use perchline::link::Propagator;
use perchline::plan::{self, Plan};
use perchline::propagation::METHODS;
use perchline::siting::demand::Demand;
use perchline::siting::{Keep, RankInputs, rank};
use perchline::terrain::{Extent, Terrain};
use perchline::units::Metres;
use serde_json::Value;

fn sample() -> Plan {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml");
    let methods: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
    plan::read(&file, &methods).unwrap()
}

/// The ranked sites of a channel, as they go into the JSON. The map is coarse:
/// no figure of a post depends on it.
fn ranked(plan: &Plan, channel: &str) -> Vec<Value> {
    let extent = Extent::around(plan.extent_points(), plan.map.margin).unwrap();
    let terrain = Terrain::open(&plan.terrain, extent).unwrap();
    let inputs = RankInputs {
        plan,
        terrain: &terrain,
        propagator: &Propagator::new(&plan.prediction),
        demand: &Demand::of(plan, &terrain),
        grid: &terrain.grid().coarser(Metres::new(1000.0)).unwrap(),
        row_done: &|| {},
        stop: &AtomicBool::new(false),
    };
    let channel = plan.channels.iter().find(|c| c.name == channel).unwrap();
    let (ranking, _) = rank(&inputs, channel, Keep::None).unwrap();
    serde_json::to_value(&ranking).unwrap()["sites"].as_array().unwrap().clone()
}

/// Posts of a site that do not work both ways.
fn missed(site: &Value) -> Vec<&str> {
    let posts = site["posts"].as_array().unwrap();
    let fails = posts.iter().filter(|p| !p["remedy"].is_null());
    fails.map(|p| p["post"].as_str().unwrap()).collect()
}

/// A site's name, the posts that it misses, its worst post and that post's margin in dB.
type Told = (&'static str, &'static [&'static str], &'static str, f64);

/// Half a decibel: less than a person would act on, more than a rounding moves.
const MARGIN: f64 = 0.5;

/// What the sites are told to come to, where so many of the 16 posts count.
fn tells(sites: &[Value], counted: usize, story: &[Told]) {
    assert_eq!(sites.len(), story.len());
    for (site, (name, misses, worst, margin)) in sites.iter().zip(story) {
        assert_eq!(site["site"], *name);
        assert_eq!(missed(site), *misses, "{name}");
        assert_eq!(site["posts_covered"], counted - misses.len(), "{name}");
        assert_eq!(site["worst_post"], *worst, "{name}");
        assert_eq!(site["must_posts_met"], true, "{name}");
        let posts = site["posts"].as_array().unwrap();
        assert_eq!(posts.len(), 16);
        let post = posts.iter().find(|p| p["post"] == *worst).unwrap();
        let found = post["governing_margin_db"].as_f64().unwrap();
        assert_abs_diff_eq!(found, *margin, epsilon = MARGIN);
    }
}

/// The ridge overlook has 14 of 16 posts, all but the landing and, by a hair, Aid
/// 6; the car park has 13. What each misses decides the order: 83 of 100 spots at
/// the landing and 93 at Aid 6 against 88 and 65 (docs/sample.md).
#[test]
fn voice_is_a_choice_between_aid_6_and_the_landing() {
    let sites = ranked(&sample(), "Relay");
    tells(
        &sites,
        16,
        &[
            ("Ridge overlook", &["Safety boat landing", "Aid 6"], "Safety boat landing", -4.9),
            ("Car park", &["Safety boat landing", "Brook crossing", "Aid 6"], "Aid 6", -9.4),
            ("Hotel", &["Safety boat landing", "Brook crossing", "Aid 6"], "Aid 6", -11.0),
            ("Hospital", &["Aid 3", "Brook crossing", "Aid 6"], "Aid 6", -13.5),
            (
                "College library",
                &["Safety boat landing", "Brook crossing", "Aid 6"],
                "Aid 6",
                -15.9,
            ),
            ("Grain elevator", &["Safety boat landing", "Brook crossing", "Aid 6"], "Aid 6", -13.8),
        ],
    );
    let missed_chance = |site: usize, post: &str| {
        let posts = sites[site]["posts"].as_array().unwrap();
        let post = posts.iter().find(|p| p["post"] == post).unwrap();
        post["probability_both_ways"].as_f64().unwrap()
    };
    assert_abs_diff_eq!(missed_chance(0, "Safety boat landing"), 0.839, epsilon = 0.02);
    assert_abs_diff_eq!(missed_chance(0, "Aid 6"), 0.930, epsilon = 0.02);
    assert_abs_diff_eq!(missed_chance(1, "Aid 6"), 0.650, epsilon = 0.03);
    // The landing is reached from the hospital, which nothing else speaks for.
    let others = |site: &str, post: &str| {
        let site = sites.iter().find(|s| s["site"] == site).unwrap();
        let posts = site["posts"].as_array().unwrap();
        posts.iter().find(|p| p["post"] == post).unwrap()["remedy"]["other_sites"].clone()
    };
    assert_eq!(others("Car park", "Brook crossing"), serde_json::json!(["Ridge overlook"]));
    assert_eq!(others("Ridge overlook", "Safety boat landing"), serde_json::json!(["Hospital"]));
    assert_eq!(others("Car park", "Aid 6"), serde_json::json!([]));
}

/// Packet takes less carrier over noise: two sites have every post that trackers pass.
/// The landing and the medical tent lie off the route.
#[test]
fn packet_reaches_further() {
    tells(
        &ranked(&sample(), "Packet"),
        14,
        &[
            ("Ridge overlook", &[], "Aid 6", 9.2),
            ("Car park", &[], "Aid 6", 0.4),
            ("Hotel", &["Aid 6"], "Aid 6", -1.6),
            ("Grain elevator", &["Brook crossing", "Aid 6"], "Aid 6", -4.0),
            ("Hospital", &["Brook crossing", "Aid 6"], "Aid 6", -4.1),
            ("College library", &["Aid 6"], "Aid 6", -6.1),
        ],
    );
}

/// Both rankings begin with one roof, on which the relay desenses the digipeater.
/// Another site is named unless the plan keeps the two beside each other.
#[test]
fn the_conflict_on_the_roof_names_another_site_unless_kept_together() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let station = "name = \"Digipeater\"\nchannel = \"Packet\"\n";
    assert!(text.contains(station));
    let beside = text.replace(station, &format!("{station}beside = \"Relay\"\n"));
    let conflict = |text: &str| {
        let plan = perchline::assessment::read_text(&file, text).unwrap();
        let assessment = Assessment::new(plan, &[]).unwrap();
        let grid = assessment.terrain.grid().coarser(Metres::new(1000.0)).unwrap();
        let stop = AtomicBool::new(false);
        let inputs = assessment.rank_inputs(&grid, &|| {}, &stop);
        let stations = assessment.plan.channels.iter().filter(|c| c.has_station());
        let ranked: Vec<_> = stations
            .map(|channel| assessment.ranking(&inputs, channel, Keep::None).unwrap())
            .collect();
        let again = assessment.plan.channels.iter().find(|c| c.has_station()).unwrap();
        let again = assessment.ranking(&inputs, again, Keep::None).unwrap();
        assert!(Arc::ptr_eq(&again, &ranked[0]), "ranked once");
        let mut rankings: Vec<_> = ranked.iter().map(|r| r.ranking.clone()).collect();
        // Beside the relay the digipeater hears it from every roof; ask of one.
        let best = rankings[0].sites[0].site.clone();
        rankings[1].sites.sort_by_key(|site| site.site != best);
        let rankings: Vec<_> = rankings.iter().collect();
        let conflicts = assessment.roof_conflicts(&rankings);
        assert_eq!(conflicts.len(), 1);
        conflicts[0].clone()
    };
    let (apart, together) = (conflict(&text), conflict(&beside));
    assert_eq!((apart.kept_together, together.kept_together), (false, true));
    assert!(apart.instead.is_some());
    assert_eq!(together.instead, None);
    // More than the 1 dB that is accepted.
    assert!(apart.desense_db.value() > 1.0 && together.desense_db.value() > 1.0);
    let line = perchline::report::tables::roof_conflict_lines(&[together]);
    assert!(line.contains("keeps the two beside each other"), "{line}");
}

/// A duplexer that the plan does not state is told, and each one that is tried
/// gives what a plan that states it gives.
#[test]
fn an_assumed_duplexer_is_told_and_tried() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml");
    let text = std::fs::read_to_string(&file).unwrap();
    let relay = "lead = \"30 mohm\"\n# With [station.roof]";
    assert!(text.contains(relay));
    let ranking = |text: &str| {
        let plan = perchline::assessment::read_text(&file, text).unwrap();
        let assessment = Assessment::new(plan, &[]).unwrap();
        let grid = assessment.terrain.grid().coarser(Metres::new(1000.0)).unwrap();
        let stop = AtomicBool::new(false);
        let inputs = assessment.rank_inputs(&grid, &|| {}, &stop);
        let ranked = assessment.ranking(&inputs, &assessment.plan.channels[0], Keep::None).unwrap();
        (assessment.foremost().to_vec(), ranked.ranking.clone())
    };
    let (told, silent) = ranking(&text);
    assert!(told.iter().any(|r| r.text.contains("counts as perfect")), "{told:?}");
    assert_eq!(silent.with_duplexers.len(), 2);
    for (with, isolation) in silent.with_duplexers.iter().zip([70.0, 85.0]) {
        assert_eq!(with.isolation_db.value(), isolation);
        let roof = format!(
            "lead = \"30 mohm\"\n[station.roof]\nduplexer = \"{isolation} dB\"\n# With [station.roof]"
        );
        let (told, stated) = ranking(&text.replace(relay, &roof));
        assert!(!told.iter().any(|r| r.text.contains("counts as perfect")), "{told:?}");
        assert!(stated.with_duplexers.is_empty());
        let table = perchline::report::tables::duplexer_table(&stated);
        assert!(table.is_empty(), "{table}");
        for (place, (with, stated)) in with.sites.iter().zip(&stated.sites).enumerate() {
            assert_eq!((with.position, &with.site), (place + 1, &stated.site));
            let off = (with.weighted_probability - stated.weighted_probability).abs();
            assert!(off < 1e-9, "{} with {isolation} dB: {off}", with.site);
            assert_eq!(with.posts_covered, stated.posts_covered, "{}", with.site);
            assert_eq!(with.must_posts_met, stated.must_posts_met, "{}", with.site);
        }
        assert!(with.sites[0].weighted_probability < silent.sites[0].weighted_probability);
    }
    let table = perchline::report::tables::duplexer_table(&silent);
    assert!(table.contains("With 70 dB") && table.contains("With 85 dB"), "{table}");
}
