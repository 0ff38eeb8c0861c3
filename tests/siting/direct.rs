//! Posts among themselves: reciprocity, what a hill does to a net, and the
//! `direct` verb through the program.

use std::fs;
use std::path::Path;

use crate::support::{PLAN, open_plan, perchline, printed, said, write_plan_raster};
use perchline::link::{Outcome, Propagator};
use perchline::plan::Plan;
use perchline::propagation::METHODS;
use perchline::siting::direct::{DirectNet, Way, direct_net};
use perchline::terrain::Terrain;
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

fn net(plan: &Plan, terrain: &Terrain) -> DirectNet {
    let channel = plan.channels.iter().find(|c| !c.has_station()).unwrap();
    direct_net(plan, terrain, &Propagator::new(&plan.prediction), channel, None).unwrap()
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
        for pair in &forth.pairs {
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
    let output = perchline(folder.path(), &["direct", "plan.toml", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(document["result"]["nets"][0]["net_control"]["stated"], false);
    let text = printed(&perchline(folder.path(), &["direct", "plan.toml"]));
    assert!(text.contains("proposed: the best connected post"), "{text}");
    assert!(text.contains("(proposed, not in the plan)"), "{text}");
}

/// The sample's posts wear their radios on the hip: held at the head more of
/// them reach net control, and the card says so. Every post is on the card.
#[test]
fn the_sample_s_card_names_every_post() {
    let folder = tempfile::tempdir().unwrap();
    let arguments =
        ["direct", SAMPLE, "--channel", "simplex", "--carry", "head", "--json", "--out", "out"];
    let output = perchline(folder.path(), &arguments);
    assert!(output.status.success(), "{}", said(&output));
    let out = folder.path().join("out");
    assert_eq!(output.stdout, fs::read(out.join("direct.json")).unwrap());
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    let nets = document["result"]["nets"].as_array().unwrap();
    assert_eq!(nets.len(), 1);
    assert_eq!(nets[0]["pairs"].as_array().unwrap().len(), 120);
    let card = fs::read_to_string(out.join("card-simplex.txt")).unwrap();
    // Line ends may fall into a name.
    let card: String = card.split_whitespace().collect();
    for post in nets[0]["posts"].as_array().unwrap() {
        let name: String = post.as_str().unwrap().split_whitespace().collect();
        assert!(card.contains(&name), "{name} is not on the card:\n{card}");
    }
    assert!(card.contains("146.550MHz") && card.contains("heldatthehead"), "{card}");
    let looks = concat!(env!("CARGO_MANIFEST_DIR"), "/target/looks");
    fs::create_dir_all(looks).unwrap();
    let pictures: Vec<_> = fs::read_dir(&out)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|x| x == "png"))
        .collect();
    assert!(!pictures.is_empty());
    for picture in pictures {
        let size = image::image_dimensions(&picture).unwrap();
        assert_eq!(size, (1011, 638));
        fs::copy(&picture, Path::new(looks).join(picture.file_name().unwrap())).unwrap();
    }
    let reaching = |text: &str| {
        let line = text.lines().find(|l| l.starts_with("As carried")).unwrap().to_owned();
        let numbers = line.split(|c: char| !c.is_ascii_digit()).filter_map(|n| n.parse().ok());
        numbers.collect::<Vec<usize>>()
    };
    let text = printed(&perchline(folder.path(), &["direct", SAMPLE, "--channel", "Simplex"]));
    let [worn, of, held] = reaching(&text)[..] else { panic!("{text}") };
    assert!(worn < held && held <= of && of == 15, "{worn} {held} {of}");
}

#[test]
fn what_is_no_simplex_channel_is_refused() {
    let (folder, ..) = row(50.0, "Post 1");
    for (arguments, part) in [
        (vec!["direct", "plan.toml", "--channel", "Event"], "name a simplex channel"),
        (vec!["direct", "plan.toml", "--channel", "Sidee"], "Did you mean \"Side\"?"),
    ] {
        let output = perchline(folder.path(), &arguments);
        assert_eq!(output.status.code(), Some(2));
        assert!(said(&output).contains(part), "{}", said(&output));
    }
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    fs::write(folder.path().join("none.toml"), PLAN).unwrap();
    let output = perchline(folder.path(), &["direct", "none.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("kind \"simplex\""), "{}", said(&output));
}
