//! What two outputs state is stated from one computation: every verb's JSON, for
//! both plans of the sample and for plans drawn at random, says the same of a
//! post, a route, a site, a pack, a roof and a way without the relay.
//! Prints
//!   figure `statements_compared` N statements
//!   figure `statements_differing` 0 statements

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use serde_json::Value;

use crate::support::{PLAN, perchline, said, write_plan_raster};

/// What is said of one thing, and by whom.
#[derive(Default)]
struct Statements {
    said: BTreeMap<String, Vec<(&'static str, Value)>>,
}

impl Statements {
    fn add(&mut self, of: String, by: &'static str, value: &Value) {
        self.said.entry(of).or_default().push((by, value.clone()));
    }

    /// How many statements were made a second time, and which of them differ.
    fn compared(&self) -> (usize, Vec<String>) {
        let mut compared = 0;
        let mut differing = Vec::new();
        for (of, all) in &self.said {
            let Some(((first_by, first), others)) = all.split_first() else { continue };
            for (by, value) in others {
                compared += 1;
                if !alike(first, value) {
                    differing.push(format!("{of}: {first_by} {first}, {by} {value}"));
                }
            }
        }
        (compared, differing)
    }
}

/// The same words, or numbers as near as the 32 bits of a map keep them.
fn alike(one: &Value, other: &Value) -> bool {
    match (one.as_f64(), other.as_f64()) {
        (Some(a), Some(b)) => (a - b).abs() <= 1e-5 * a.abs().max(1.0),
        _ => one == other,
    }
}

/// The result of a verb; nothing where the plan gives it nothing to do.
fn result(folder: &Path, plan: &str, verb: &str, more: &[&str]) -> Option<Value> {
    let arguments = [&[verb, plan, "--json"], more].concat();
    let output = perchline(folder, &arguments);
    if output.status.code() == Some(2) {
        // Refused in words that name what the plan lacks.
        assert!(said(&output).contains("the plan"), "{verb}: {}", said(&output));
        return None;
    }
    assert!(output.status.success(), "{verb}: {}", said(&output));
    let mut document: Value = serde_json::from_slice(&output.stdout).unwrap();
    Some(document["result"].take())
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn text<'a>(value: &'a Value, name: &str) -> &'a str {
    value[name].as_str().unwrap_or_else(|| panic!("no {name} in {value}"))
}

/// A site of a ranking or of `coverage`.
fn site(said: &mut Statements, by: &'static str, channel: &str, site: &Value) {
    let name = text(site, "site");
    for what in ["weighted_probability", "must_posts_met", "posts_covered", "map_share", "ground_m"]
    {
        said.add(format!("{channel}, site {name}: {what}"), by, &site[what]);
    }
    for post in list(&site["posts"]) {
        let of = format!("{channel}, {name} to {}", text(post, "post"));
        for what in ["outcome", "governing_margin_db", "probability_both_ways", "line_of_sight"] {
            said.add(format!("{of}: {what}"), by, &post[what]);
        }
    }
    for part in list(&site["areas"]).chain(list(&site["routes"])) {
        let of = format!("{channel}, {name}, {}", text(part, "name"));
        said.add(format!("{of}: share"), by, &part["share"]);
        said.add(format!("{of}: samples"), by, &part["samples"]);
    }
}

/// A station's budget, wherever it stands.
fn budgets(said: &mut Statements, by: &'static str, stations: &Value) {
    for station in list(stations) {
        let name = text(station, "station");
        for case in ["expected", "poor", "good"] {
            for what in ["dies_at", "run_time_h", "left_at_end"] {
                said.add(format!("{name}, {case}: {what}"), by, &station[case][what]);
            }
        }
        said.add(format!("{name}: average_a"), by, &station["average_a"]);
    }
}

/// Everything that the verbs say of a plan in `folder`.
fn statements(folder: &Path, plan: &str) -> Statements {
    let mut said = Statements::default();
    let ranked = result(folder, plan, "rank", &["--maps", "none"]).unwrap();
    for ranking in list(&ranked["rankings"]) {
        list(&ranking["sites"]).for_each(|s| site(&mut said, "rank", text(ranking, "channel"), s));
    }
    budgets(&mut said, "rank", &ranked["power"]);
    let ranking = &ranked["rankings"][0];
    let (channel, best) = (text(ranking, "channel"), &ranking["sites"][0]);
    let best_name = text(best, "site");

    let covered =
        result(folder, plan, "coverage", &["--site", best_name, "--channel", channel]).unwrap();
    site(&mut said, "coverage", channel, &covered["site"]);
    let works: f64 = list(&covered["shares"])
        .filter(|share| ["strong", "clear"].contains(&share[0].as_str().unwrap()))
        .map(|share| share[1].as_f64().unwrap())
        .sum();
    let unknown: f64 = list(&covered["shares"])
        .filter(|share| share[0] == "unknown")
        .map(|share| share[1].as_f64().unwrap())
        .sum();
    let of_known = works / (1.0 - unknown);
    said.add(
        format!("{channel}, site {best_name}: map_share"),
        "coverage, classes",
        &of_known.into(),
    );

    for post in list(&best["posts"]) {
        let name = text(post, "post");
        let arguments = ["--from", best_name, "--to", name, "--channel", channel];
        let path = result(folder, plan, "path", &arguments).unwrap();
        let of = format!("{channel}, {best_name} to {name}");
        let budgets = &path["budgets"];
        said.add(format!("{of}: outcome"), "path", &budgets["outcome"]);
        said.add(format!("{of}: line_of_sight"), "path", &path["line_of_sight"]);
        said.add(format!("{of}: probability_both_ways"), "path", &budgets["probability_both_ways"]);
        let governing = text(budgets, "governing").replace('-', "_");
        said.add(format!("{of}: governing_margin_db"), "path", &budgets[&governing]["margin_db"]);
    }

    let brief = result(folder, plan, "brief", &["--channel", channel]).unwrap();
    for post in list(&brief["posts"]) {
        let of = format!("{channel}, {best_name} to {}: outcome", text(post, "name"));
        said.add(of, "brief", &post["outcome"]);
    }

    let choice = result(folder, plan, "choose", &["--channel", channel, "--relays", "1"]);
    if let Some(choice) = choice {
        let first = &choice["choice"]["first"];
        let of = format!("{channel}, site {}", first["sites"][0].as_str().unwrap());
        said.add(format!("{of}: weighted_probability"), "choose", &first["weighted_probability"]);
        said.add(format!("{of}: posts_covered"), "choose", &first["posts_covered"]);
    }

    if let Some(masts) = result(folder, plan, "masts", &["--site", best_name, "--channel", channel])
    {
        let site = &masts["sites"][0];
        let planned = list(&site["heights"]).find(|h| h["mast_m"] == site["planned_mast_m"]);
        if let Some(height) = planned {
            for what in ["weighted_probability", "must_posts_met", "posts_covered", "map_share"] {
                let of = format!("{channel}, site {best_name}: {what}");
                said.add(of, "masts", &height[what]);
            }
        }
    }

    if let Some(power) = result(folder, plan, "power", &[]) {
        budgets(&mut said, "power", &power["stations"]);
        for station in list(&power["stations"]).filter(|s| !s["beacons_an_hour"].is_null()) {
            let of = format!("channel {}: beacons an hour", text(station, "channel"));
            said.add(of, "power", &station["beacons_an_hour"]);
        }
    }
    if let Some(trackers) = result(folder, plan, "trackers", &["--site", best_name]) {
        for study in list(&trackers["channels"]) {
            let of = format!("channel {}: beacons an hour", text(study, "channel"));
            said.add(of, "trackers", &study["load"]["packets_an_hour"]);
        }
    }
    roofs(folder, plan, &ranked, &mut said);
    said
}

/// By how much one station desenses another on the roof of a site, whose noise
/// counts too; a site that is still open has the plan's.
fn roofs(folder: &Path, plan: &str, ranked: &Value, said: &mut Statements) {
    let of = |site: &Value, pair: &Value| {
        format!("on {site} {} desenses {}", text(pair, "from"), text(pair, "to"))
    };
    let Some(cosite) = result(folder, plan, "cosite", &[]) else { return };
    for roof in list(&cosite["roofs"]) {
        for pair in list(&roof["pairs"]) {
            said.add(of(&roof["site"], pair), "cosite", &pair["desense_db"]);
        }
    }
    for conflict in list(&ranked["roof_conflicts"]) {
        said.add(of(&conflict["site"], conflict), "rank", &conflict["desense_db"]);
    }
    let Some(choice) = result(folder, plan, "choose", &[]) else { return };
    for refused in list(&choice["choice"]["digipeater"]["refused"]) {
        let why = &refused["why"]["deafened"];
        if !why.is_null() {
            said.add(of(&refused["site"], why), "choose", &why["desense_db"]);
        }
    }
}

/// Small plans over hills, with heights, places, powers and a simplex channel
/// drawn at random.
fn drawn(folder: &Path, number: u64) {
    let mut random = Pcg64Mcg::seed_from_u64(number);
    let mut draw = |from: f64, to: f64| {
        from + (to - from) * (random.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    };
    let mut text = PLAN.to_owned();
    for (old, new) in [
        (
            "roof = \"20 m above ground\"",
            format!("roof = \"{:.0} m above ground\"", draw(3.0, 40.0)),
        ),
        ("power = \"25 W\"", format!("power = \"{:.0} W\"", draw(2.0, 50.0))),
        (
            "at = \"47.000, -34.900\"",
            format!("at = \"{:.4}, {:.4}\"", draw(46.998, 47.012), draw(-34.905, -34.885)),
        ),
        (
            "at = \"47.010, -34.885\"",
            format!("at = \"{:.4}, {:.4}\"", draw(46.998, 47.012), draw(-34.905, -34.885)),
        ),
        ("margin = \"100 m\"", "margin = \"100 m\"\ncell = \"90 m\"".to_owned()),
        ("must = true", format!("weight = {:.1}", draw(0.5, 3.0))),
    ] {
        assert!(text.contains(old), "{old}");
        text = text.replacen(old, &new, 1);
    }
    text += &format!(
        "\n[[route]]\nname = \"Course\"\nline = [\"47.001, -34.899\", \"{:.4}, -34.893\", \"47.009, -34.887\"]\n",
        draw(46.999, 47.012)
    );
    text += "\n[[channel]]\nname = \"Direct\"\nkind = \"simplex\"\nfrequency = \"146.55 MHz\"\ncarried = \"hand-held\"\n";
    fs::write(folder.join("plan.toml"), text).unwrap();
    let (high, wide) = (draw(5.0, 60.0), draw(8.0, 30.0));
    write_plan_raster(&folder.join("terrain.tif"), |column, row| {
        let (x, y) = (column as f64 / wide, row as f64 / (wide * 0.8));
        (80.0 + high * (x.sin() * y.cos())) as f32
    });
}

#[test]
fn what_is_stated_twice_is_stated_alike() {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let (mut compared, mut differing) = (0, Vec::new());
    let mut count = |whose: String, said: &Statements| {
        let (more, wrong) = said.compared();
        compared += more;
        differing.extend(wrong.into_iter().map(|line| format!("{whose}: {line}")));
    };
    for plan in ["ferry-lights.toml", "ferry-lights-town.toml"] {
        count(plan.to_owned(), &statements(&sample, plan));
    }
    for number in 0..20 {
        let folder = tempfile::tempdir().unwrap();
        drawn(folder.path(), number);
        count(format!("drawn plan {number}"), &statements(folder.path(), "plan.toml"));
    }
    println!("figure statements_compared {compared} statements");
    println!("figure statements_differing {} statements", differing.len());
    assert!(differing.is_empty(), "{}", differing.join("\n"));
    assert!(compared >= 300, "only {compared} were compared");
}
