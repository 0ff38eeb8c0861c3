//! Relations of results to how a plan is written, through the program.

use std::fs;

use serde_json::Value;
use tempfile::TempDir;

use crate::support::{PLAN, perchline, said, write_plan_raster};

/// A folder with hilly terrain in it.
fn folder() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |column, row| {
        let (x, y) = (f64::from(column as u32), f64::from(row as u32));
        (150.0 + 90.0 * (x / 11.0).sin() * (y / 16.0).cos()) as f32
    });
    folder
}

/// What a verb says of this plan, as JSON.
fn result(folder: &TempDir, plan: &str, arguments: &[&str]) -> Value {
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    let (verb, more) = arguments.split_first().unwrap();
    let mut all = vec![*verb, "plan.toml", "--json"];
    all.extend(more);
    let output = perchline(folder.path(), &all);
    assert!(output.status.success(), "{}", said(&output));
    let mut document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"].take()
}

fn rank(folder: &TempDir, plan: &str) -> Vec<Value> {
    let ranked = result(folder, plan, &["rank", "--maps", "none"]);
    ranked["rankings"].as_array().unwrap().clone()
}

/// Radios so weak that posts are in doubt.
fn weak() -> String {
    let plan = PLAN.replace("power = \"5 W\"", "power = \"20 dBm\"");
    plan.replace("power = \"25 W\"", "power = \"32 dBm\"")
}

/// A table of an array of tables, such as a post, as a plan writes it.
fn post(name: &str, at: &str) -> String {
    format!("\n[[post]]\nname = \"{name}\"\nat = \"{at}\"\n")
}

fn site(name: &str, at: &str, roof: &str) -> String {
    format!("\n[[site]]\nname = \"{name}\"\nat = \"{at}\"\nroof = \"{roof}\"\nmast = \"3 m\"\n")
}

/// By the name of a site and of a post, all that the ranking of a channel says
/// of the two.
fn links(ranking: &Value) -> Vec<(String, String, Value)> {
    let name = |value: &Value, key: &str| value[key].as_str().unwrap().to_owned();
    let sites = ranking["sites"].as_array().unwrap();
    let mut links: Vec<_> = sites
        .iter()
        .flat_map(|site| {
            let posts = site["posts"].as_array().unwrap();
            posts.iter().map(move |post| (name(site, "site"), name(post, "post"), post.clone()))
        })
        .collect();
    links.sort_by(|a, b| (&a.0, &a.1).cmp(&(&b.0, &b.1)));
    links
}

/// A post more or less says nothing about the others, to the bit, as long as the
/// window of terrain stays the same: this one lies between the others.
#[test]
fn a_post_less_changes_no_other_post() {
    let folder = folder();
    let between = post("Between", "47.0050, -34.8930");
    let with = rank(&folder, &(weak() + &between));
    let without = rank(&folder, &weak());
    let mut kept = links(&with[0]);
    kept.retain(|(_, post, _)| post != "Between");
    assert_eq!(kept.len(), 4);
    assert_eq!(kept, links(&without[0]));
}

/// A post on the rim widens the window: cells keep their places on the earth,
/// and links their verdicts and, but for rounding, their margins.
#[test]
fn a_wider_window_changes_no_verdict() {
    let folder = folder();
    let rim = post("Rim", "46.9920, -34.9120");
    let with = rank(&folder, &(weak() + &rim));
    let without = rank(&folder, &weak());
    let mut kept = links(&with[0]);
    kept.retain(|(_, post, _)| post != "Rim");
    for ((_, _, one), (_, _, other)) in kept.iter().zip(links(&without[0])) {
        assert_eq!(one["outcome"], other["outcome"]);
        let margin = |link: &Value| link["governing_margin_db"].as_f64().unwrap();
        let off = (margin(one) - margin(&other)).abs();
        assert!(off < 0.02, "{off} dB");
    }
}

/// A plan's tables in another order: the same ranking, each link to the bit.
#[test]
fn the_order_of_a_plans_tables_does_not_show() {
    let folder = folder();
    let more = post("Aid 3", "47.0035, -34.8960")
        + &site("Barn", "47.0020, -34.8990", "9 m above ground")
        + "\n[[channel]]\nname = \"Packet\"\nkind = \"packet\"\nfrequency = \"144.8 MHz\"\ncarried = \"hand-held\"\nstation = \"relay\"\n";
    let plan = weak() + &more;
    // Head of the plan, then its arrays of tables, last first.
    let first = plan.find("[[").unwrap();
    let (head, tables) = plan.split_at(first);
    let tables: Vec<String> =
        tables.split("\n[[").map(|t| format!("[[{}\n", t.trim_start_matches("[["))).collect();
    let turned = head.to_owned() + &tables.into_iter().rev().collect::<String>();
    let (one, other) = (rank(&folder, &plan), rank(&folder, &turned));
    let channel =
        |all: &[Value], name: &str| all.iter().find(|r| r["channel"] == name).unwrap().clone();
    for name in ["Event", "Packet"] {
        let (one, other) = (channel(&one, name), channel(&other, name));
        assert_eq!(links(&one), links(&other), "{name}");
        let order = |ranking: &Value| -> Vec<(Value, Value)> {
            let sites = ranking["sites"].as_array().unwrap();
            sites.iter().map(|s| (s["site"].clone(), s["posts_covered"].clone())).collect()
        };
        assert_eq!(order(&one), order(&other), "{name}");
        let share = |ranking: &Value, k: usize| {
            ranking["sites"][k]["weighted_probability"].as_f64().unwrap()
        };
        for k in 0..3 {
            // Summed in another order.
            assert!((share(&one, k) - share(&other, k)).abs() < 1e-12);
        }
    }
}

/// Other names: the same results under them, to the bit.
#[test]
fn names_do_not_show() {
    let folder = folder();
    let renamed = weak()
        .replace("\"Hotel\"", "\"A roof\"")
        .replace("\"Aid 1\"", "\"Zebra\"")
        .replace("\"Event\"", "\"Kanal 7\"");
    let back = |value: &Value| {
        let text = value.to_string();
        let text = text.replace("A roof", "Hotel").replace("Zebra", "Aid 1");
        serde_json::from_str::<Value>(&text.replace("Kanal 7", "Event")).unwrap()
    };
    let one = rank(&folder, &weak());
    let other: Vec<Value> = rank(&folder, &renamed).iter().map(back).collect();
    assert_eq!(one, other);
}

/// The same quantities in other units, to the rounding of what is typed.
#[test]
fn units_do_not_show() {
    let folder = folder();
    let metric = weak();
    // 1 ft is 0.3048 m, 1 dBd is 2.15 dBi, 0.1 W is 20 dBm, -119.03 dBm is
    // 0.25 uV at 50 ohm.
    let other = [
        ("power = \"20 dBm\"", "power = \"0.1 W\""),
        ("power = \"32 dBm\"", "power = \"1.584893192 W\""),
        ("gain = \"3 dBd\"", "gain = \"5.15 dBi\""),
        ("gain = \"-5 dBd\"", "gain = \"-2.85 dBi\""),
        ("\"20 m above ground\"", "\"65.6167979 ft above ground\""),
        ("\"30 m above ground\"", "\"98.4251969 ft above ground\""),
        ("mast = \"3 m\"", "mast = \"9.8425197 ft\""),
        ("sensitivity = \"0.25 uV\"", "sensitivity = \"-119.0308999 dBm\""),
        ("length = \"10 m\"", "length = \"32.8083990 ft\""),
        ("input = \"147.6 MHz\"", "input = \"147600 kHz\""),
        ("output = \"147.0 MHz\"", "output = \"0.147 GHz\""),
        ("margin = \"100 m\"", "margin = \"0.1 km\""),
    ]
    .iter()
    .fold(metric.clone(), |plan, (from, to)| {
        assert!(plan.contains(from), "{from}");
        plan.replace(from, to)
    });
    let (one, two) = (rank(&folder, &metric), rank(&folder, &other));
    let (one, two) = (links(&one[0]), links(&two[0]));
    assert_eq!(one.len(), two.len());
    for ((_, _, one), (_, _, two)) in one.iter().zip(&two) {
        assert_eq!(one["outcome"], two["outcome"]);
        for key in ["governing_margin_db", "distance_m"] {
            let off = one[key].as_f64().unwrap() - two[key].as_f64().unwrap();
            // dBd are told to a hundredth: an isotropic antenna is 2.15 or 2.1508 dB below.
            assert!(off.abs() < 0.002, "{key}: {off}");
        }
    }
}

/// One candidate more never lowers what the best set reaches, nor does one relay.
#[test]
fn one_candidate_or_relay_more_never_lowers_what_choose_reaches() {
    let folder = folder();
    let asked = |text: String| text.replace("must = true", "");
    let base = asked(weak()) + &post("Aid 3", "47.0035, -34.8960");
    let more = [
        site("Barn", "47.0020, -34.8990", "9 m above ground"),
        site("Tower", "47.0075, -34.8935", "25 m above ground"),
        site("Shed", "47.0005, -34.8890", "2 m above ground"),
    ];
    let reached = |plan: &str, relays: &str| {
        let found = result(&folder, plan, &["choose", "--relays", relays, "--whole-area"]);
        found["choice"]["first"]["weighted_probability"].as_f64().unwrap()
    };
    let (mut plan, mut before) = (base, [0.0; 2]);
    for next in [String::new()].into_iter().chain(more) {
        plan += &next;
        let after = ["1", "2"].map(|relays| reached(&plan, relays));
        assert!(after[1] >= after[0] - 1e-9, "{after:?}");
        for (before, after) in before.iter().zip(after) {
            // The solver may stop a hair below the best, and says by how much.
            assert!(after >= *before - 1e-6, "{before} {after}: {next}");
        }
        before = after;
    }
}
