//! Posts among themselves: reciprocity, what a hill does to a net, and the
//! `direct` verb through the program.

use std::fs;
use std::path::Path;

use crate::support::{PLAN, open_plan, perchline_long, printed, said, write_plan_raster};
use perchline::link::{Outcome, Propagator};
use perchline::plan::Plan;
use perchline::propagation::METHODS;
use perchline::siting::direct::{DirectNet, Held, Way, direct_net};
use perchline::terrain::Terrain;
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

fn net(plan: &Plan, terrain: &Terrain) -> DirectNet {
    let channel = plan.channels.iter().find(|c| !c.has_station()).unwrap();
    direct_net(plan, terrain, &Propagator::new(&plan.prediction), channel, Held::Fallback).unwrap()
}

/// Reciprocity: between equal radios in equal noise both ways come to the same,
/// and it does not matter which end is listed first.
#[test]
fn equal_radios_hear_each_other_alike() {
    let (mut plan, terrain) = open_plan(Path::new(SAMPLE));
    let mut worst = 0.0_f64;
    let mut compared = 0;
    for method in METHODS {
        plan.prediction.method = method.name().to_owned();
        for post in &mut plan.posts {
            (post.environment, post.radio, post.carry) = (None, None, None);
        }
        let forth = net(&plan, &terrain);
        plan.posts.reverse();
        let back = net(&plan, &terrain);
        plan.posts.reverse();
        for pair in forth.pairs.iter() {
            let turned =
                back.pairs.iter().find(|p| p.from == pair.to && p.to == pair.from).unwrap();
            let margins = [
                pair.forth_margin_db,
                pair.back_margin_db,
                turned.forth_margin_db,
                turned.back_margin_db,
            ]
            .map(|m| m.unwrap().value());
            let least = margins.iter().copied().fold(f64::INFINITY, f64::min);
            let most = margins.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            // The two ways of one listing are one path: equal to the bit.
            assert!((margins[0] - margins[1]).abs() < 1e-9, "{} {pair:?}", method.name());
            worst = worst.max(most - least);
            compared += 1;
        }
    }
    println!("figure direct_reciprocity_worst_db {worst:.3} dB");
    assert!(compared >= 120 * METHODS.len());
    assert!(worst < 0.05, "{worst}");
}

/// A plan of four posts in a row, a wall of rock across the middle of it.
fn row(wall: f32, marked: &str) -> (tempfile::TempDir, Plan, Terrain) {
    let folder = tempfile::tempdir().unwrap();
    // The raster's columns are 30 m wide; the posts lie 300 m apart from
    // 34.906 W on eastwards, columns 26 to 56.
    write_plan_raster(&folder.path().join("terrain.tif"), |column, _| {
        if (55..59).contains(&column) { wall } else { 50.0 }
    });
    let posts: String = [(1, 34.9059), (2, 34.9030), (3, 34.8960), (4, 34.8931)]
        .iter()
        .map(|(n, west)| {
            let control = if marked == format!("Post {n}") { "net_control = true\n" } else { "" };
            format!("[[post]]\nname = \"Post {n}\"\nat = \"47.005, -{west}\"\ncarry = \"head\"\n{control}\n")
        })
        .collect();
    let (before, rest) = PLAN.split_once("[[post]]").unwrap();
    let (_, sites) = rest.split_once("[[site]]").unwrap();
    let simplex = "[[channel]]\nname = \"Side\"\nkind = \"simplex\"\nfrequency = \"146.55 MHz\"\ncarried = \"hand-held\"\n\n";
    let text = format!("{before}{simplex}{posts}[[site]]{sites}");
    let path = folder.path().join("plan.toml");
    fs::write(&path, text).unwrap();
    let (plan, terrain) = open_plan(&path);
    (folder, plan, terrain)
}

#[test]
fn a_wall_of_rock_parts_the_net() {
    let (_folder, plan, terrain) = row(50.0, "Post 1");
    let open = net(&plan, &terrain);
    assert_eq!(open.parts.len(), 1, "{:?}", open.pairs);
    assert!(open.net_control.stated && open.net_control.post == "Post 1");
    assert!(open.chains.iter().all(|c| c.way == Way::Works));

    let (_folder, plan, terrain) = row(400.0, "Post 1");
    let parted = net(&plan, &terrain);
    assert_eq!(parted.parts, [["Post 1", "Post 2"], ["Post 3", "Post 4"]]);
    let ways: Vec<_> = parted.chains.iter().map(|c| c.way).collect();
    assert_eq!(ways, [Way::Works, Way::Nothing, Way::Nothing]);
    assert_eq!(parted.reaching(), 1);
    let across = parted.pairs.iter().find(|p| p.from == "Post 2" && p.to == "Post 3").unwrap();
    assert_eq!(across.outcome, Outcome::NoContact);
}

/// Without a mark the best connected post is proposed and said to be.
#[test]
fn net_control_is_proposed_where_the_plan_names_none() {
    let (folder, ..) = row(50.0, "");
    let output = perchline_long(folder.path(), &["direct", "plan.toml", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(document["result"]["nets"][0]["net_control"]["stated"], false);
    let text = printed(&perchline_long(folder.path(), &["direct", "plan.toml"]));
    assert!(text.contains("proposed: the best connected post"), "{text}");
    assert!(text.contains("(proposed, not in the plan)"), "{text}");
}

/// The cards of the sample: everybody finds the first channel and themselves.
#[test]
fn the_sample_s_cards_name_every_post() {
    let folder = tempfile::tempdir().unwrap();
    let arguments = ["direct", SAMPLE, "--json", "--out", "out"];
    let output = perchline_long(folder.path(), &arguments);
    assert!(output.status.success(), "{}", said(&output));
    let out = folder.path().join("out");
    assert_eq!(output.stdout, fs::read(out.join("direct.json")).unwrap());
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    let nets = document["result"]["nets"].as_array().unwrap();
    assert_eq!(nets.len(), 1, "the medical channel is its group's");
    assert_eq!(nets[0]["pairs"].as_array().unwrap().len(), 120);
    let read = |name: &str| -> String {
        let card = fs::read_to_string(out.join(name)).unwrap();
        // Line ends may fall into a name.
        card.split_whitespace().collect()
    };
    let whose = |group: &str| [format!("{group}-head"), format!("{group}-everybody-else")];
    let groups = [whose("medical"), whose("route-marshals")].concat();
    let names: Vec<String> =
        ["net-control", "simplex", "medical-bridge"].iter().map(|n| (*n).to_owned()).collect();
    let names = [names, groups].concat();
    let cards: Vec<String> = names.iter().map(|name| read(&format!("card-{name}.txt"))).collect();
    for (name, card) in names.iter().zip(&cards) {
        assert!(card.contains("146.5575MHz"), "{name}: {card}");
        assert!(name == "net-control" || card.contains("heldatthehead"), "{name}: {card}");
    }
    let control = &cards[0];
    assert!(control.contains("NetControl:listenonSimplexassoonastherelayissilent"), "{control}");
    for post in nets[0]["posts"].as_array().unwrap() {
        let name: String = post.as_str().unwrap().split_whitespace().collect();
        assert!(control.contains(&name), "{name} is not on the card:\n{control}");
        let others = cards.iter().skip(1).filter(|card| card.contains(&name)).count();
        assert!(others > 0, "{name} has no card");
    }
    let medical = read("card-medical-everybody-else.txt");
    assert!(medical.contains("Then:workonMedicalsimplex,146.5875MHz:callMedicaltent"), "{medical}");
    let looks = concat!(env!("CARGO_MANIFEST_DIR"), "/target/looks");
    fs::create_dir_all(looks).unwrap();
    let pictures: Vec<_> = fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|x| x == "png"))
        .collect();
    assert!(pictures.len() >= names.len());
    for picture in pictures {
        let size = image::image_dimensions(&picture).unwrap();
        assert_eq!(size, (1011, 638));
        fs::copy(&picture, Path::new(looks).join(picture.file_name().unwrap())).unwrap();
    }
}

/// Held at the head at DAQ 3.0 more posts reach net control than as worn with the
/// relay, the report compares both, and every heading says which it is.
#[test]
fn how_radios_are_held_is_said_and_counts() {
    let folder = tempfile::tempdir().unwrap();
    let direct = |more: &[&str]| {
        let output = perchline_long(folder.path(), &[&["direct", SAMPLE][..], more].concat());
        assert!(output.status.success(), "{}", said(&output));
        output
    };
    let text = printed(&direct(&[]));
    let line = text.lines().find(|l| l.starts_with("Held so")).unwrap();
    let words = line.split_whitespace().map(|word| word.trim_end_matches([',', ':', ';']));
    let counts: Vec<usize> = words.filter_map(|word| word.parse().ok()).collect();
    let [held, of, worn] = counts[..] else { panic!("{line}") };
    assert!(worn < held && held <= of && of == 15, "{worn} {held} {of}");
    assert!(line.contains("at DAQ 3.4,"), "{line}");
    for part in ["voice at DAQ 3.0 in 95.0 %", "146.5575 MHz, DAQ 3.0, radios held at the head"] {
        assert!(text.contains(part), "no {part} in {text}");
    }
    let json = |more: &[&str]| -> Value {
        let output = direct(&[&["--json", "--channel", "simplex"], more].concat());
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let reaching = |document: &Value| {
        let chains = document["result"]["nets"][0]["chains"].as_array().unwrap().iter();
        chains.filter(|chain| chain["way"] == "works").count()
    };
    let hip = json(&["--carry", "hip"]);
    assert_eq!(hip["result"]["nets"][0]["terms"]["held"], "worn on the hip");
    assert!(reaching(&hip) < held && reaching(&json(&["--carry", "head"])) == held);
    assert_eq!(hip["result"]["first_channel"]["channel"], "Simplex");
    assert_eq!(json(&[])["result"]["reaching_as_with_relay"][0], worn);
}

/// Without groups a post that states its own carry keeps it, as the heading says.
#[test]
fn a_post_that_states_its_own_carry_keeps_it() {
    let (folder, ..) = row(50.0, "Post 1");
    let plan = fs::read_to_string(folder.path().join("plan.toml")).unwrap();
    let stated = plan.replacen("carry = \"head\"\n\n[[post]]", "carry = \"hip\"\n\n[[post]]", 1);
    assert!(stated != plan);
    fs::write(folder.path().join("plan.toml"), stated).unwrap();
    let run = |more: &[&str]| -> Value {
        let arguments = [&["direct", "plan.toml", "--json"][..], more].concat();
        serde_json::from_slice(&perchline_long(folder.path(), &arguments).stdout).unwrap()
    };
    let margin = |document: &Value| {
        document["result"]["nets"][0]["pairs"][0]["forth_margin_db"].as_f64().unwrap()
    };
    let own = run(&[]);
    let but_at = own["result"]["nets"][0]["terms"]["but_at"].as_array().unwrap();
    assert_eq!(but_at.len(), 1, "{but_at:?}");
    // 8 dB of body and what the lower antenna costs.
    assert!(margin(&run(&["--carry", "head"])) - margin(&own) > 7.0);
    let text = printed(&perchline_long(folder.path(), &["direct", "plan.toml"]));
    assert!(text.contains("radios held at the head, worn on the hip at Post "), "{text}");
}

#[test]
fn what_is_no_simplex_channel_is_refused() {
    let (folder, ..) = row(50.0, "Post 1");
    for (arguments, part) in [
        (vec!["direct", "plan.toml", "--channel", "Event"], "name a simplex channel"),
        (vec!["direct", "plan.toml", "--channel", "Sidee"], "Did you mean \"Side\"?"),
    ] {
        let output = perchline_long(folder.path(), &arguments);
        assert_eq!(output.status.code(), Some(2));
        assert!(said(&output).contains(part), "{}", said(&output));
    }
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    fs::write(folder.path().join("none.toml"), PLAN).unwrap();
    let output = perchline_long(folder.path(), &["direct", "none.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("kind \"simplex\""), "{}", said(&output));
}
