//! The ranking, through the program, on land made so that the answer is known:
//! level ground with a wall a kilometre high along a meridian. What lies on one
//! side works with plenty in hand, what lies on the other has no contact.

use std::fs;
use std::path::Path;

use crate::support::{perchline_long, plan_head, printed, said, write_plan_raster};
use approx::assert_abs_diff_eq;
use serde_json::Value;

/// The wall's column; its foot is a cell wide on either side.
const WALL: usize = 75;

/// Easting of the wall's crest, UTM zone 25 N, as the plan's raster lies.
const CREST: f64 = 353_800.0 + (WALL as f64 + 0.5) * 30.0;

/// Northing of the middle of the raster.
const MIDDLE: f64 = 5_207_550.0;

/// A position `east` metres east of the crest and `north` metres north of the middle.
fn at(east: f64, north: f64) -> String {
    format!("25 north {:.0} {:.0}", CREST + east, MIDDLE + north)
}

/// What every plan here starts with.
fn head() -> String {
    let changed = |text: String, from: &str, to: &str| {
        assert!(text.contains(from), "{from} is not in the plan");
        text.replacen(from, to, 1)
    };
    let text = changed(plan_head().to_owned(), "Test run", "Wall");
    let text = changed(text, "[\"terrain.tif\"]", "[\"terrain.tif\"]\nheight_unit = \"m\"");
    let text = changed(text, "\"100 m\"", "\"100 m\"\ncell = \"150 m\"");
    let text = changed(text, "\"collinear\"", "\"dipole\"");
    let text = changed(text, "feed_line = { type = \"RG-213\", length = \"10 m\" }\n", "");
    // Which site serves which side is asked here, not how sure that is.
    text + SMALL + "\n[prediction]\nmodel_error = \"0 dB\"\n"
}

/// A second radio to carry.
const SMALL: &str = r#"
[[radio]]
name = "small"
power = "0.5 W"
antenna = { gain = "-8 dBd", pattern = "dipole" }
sensitivity = "0.25 uV"
bandwidth = "12.5 kHz"
carry = "head"
"#;

fn post(name: &str, (east, north): (f64, f64), more: &str) -> String {
    format!("\n[[post]]\nname = \"{name}\"\nat = \"{}\"\n{more}\n", at(east, north))
}

fn site(name: &str, (east, north): (f64, f64), mast: f64, more: &str) -> String {
    format!(
        "\n[[site]]\nname = \"{name}\"\nat = \"{}\"\nroof = \"20 m above ground\"\nmast = \"{mast} m\"\n{more}\n",
        at(east, north)
    )
}

/// Three posts west of the wall, two east of it.
fn posts(east_more: &str) -> String {
    [
        post("West 1", (-600.0, 300.0), ""),
        post("West 2", (-900.0, 0.0), ""),
        post("West 3", (-600.0, -300.0), ""),
        post("East 1", (600.0, 300.0), east_more),
        post("East 2", (700.0, -200.0), ""),
    ]
    .concat()
}

/// The ranked sites of a plan over the wall.
fn ranked(plan: &str) -> Vec<Value> {
    ranked_over(write_wall, plan)
}

fn ranked_over(write_land: impl Fn(&Path), plan: &str) -> Vec<Value> {
    ranking_over(write_land, plan)["sites"].as_array().unwrap().clone()
}

/// The last ranking of a plan: of its only channel, or of the packet channel after it.
fn ranking_over(write_land: impl Fn(&Path), plan: &str) -> Value {
    let folder = tempfile::tempdir().unwrap();
    write_land(folder.path());
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    let output = perchline_long(folder.path(), &["rank", "plan.toml", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"]["rankings"].as_array().unwrap().last().unwrap().clone()
}

fn write_wall(folder: &Path) {
    write_plan_raster(
        &folder.join("terrain.tif"),
        |column, _| {
            if column == WALL { 1050.0 } else { 50.0 }
        },
    );
}

fn names(sites: &[Value]) -> Vec<&str> {
    sites.iter().map(|s| s["site"].as_str().unwrap()).collect()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap_or_else(|| panic!("not a number: {value}"))
}

/// The entry named `name` of a site's posts, areas or routes.
fn entry<'a>(site: &'a Value, list: &str, key: &str, name: &str) -> &'a Value {
    site[list].as_array().unwrap().iter().find(|e| e[key] == name).unwrap()
}

fn of_site<'a>(sites: &'a [Value], name: &str) -> &'a Value {
    sites.iter().find(|s| s["site"] == name).unwrap()
}

fn works(site: &Value, post: &str) -> bool {
    let outcome = &entry(site, "posts", "post", post)["outcome"];
    outcome == "clear" || outcome == "strong"
}

/// Probabilities of a site's posts added up; what is not known adds nothing.
fn of_posts(site: &Value) -> f64 {
    let posts = site["posts"].as_array().unwrap();
    posts.iter().filter_map(|p| p["probability_both_ways"].as_f64()).sum()
}

/// How far from nothing or all a post's probability may be here: the wall costs
/// some 26 dB more than there is, which one spot in a thousand makes up for.
const ALL_BUT: f64 = 1e-3;

const WEST: (f64, f64) = (-500.0, 0.0);
const EAST: (f64, f64) = (500.0, 0.0);

/// The wall does what the other tests here build on.
#[test]
fn each_side_serves_its_own() {
    let plan = head() + &posts("") + &site("West", WEST, 3.0, "") + &site("East", EAST, 3.0, "");
    let sites = ranked(&plan);
    assert_eq!(names(&sites), ["West", "East"]);
    for (site, own) in [("West", "West"), ("East", "East")] {
        let site = of_site(&sites, site);
        for post in ["West 1", "West 2", "West 3", "East 1", "East 2"] {
            assert_eq!(works(site, post), post.starts_with(own), "{post}");
            let entry = entry(site, "posts", "post", post);
            assert_eq!(entry["line_of_sight"], post.starts_with(own), "{post}");
            assert_eq!(entry["remedy"].is_null(), post.starts_with(own), "{post}");
        }
    }
    assert_abs_diff_eq!(number(&sites[0]["weighted_probability"]), 0.6, epsilon = ALL_BUT);
    assert_abs_diff_eq!(number(&sites[1]["weighted_probability"]), 0.4, epsilon = ALL_BUT);
    assert_eq!(sites[0]["posts_covered"], 3);
    assert_eq!(sites[1]["posts_covered"], 2);
}

#[test]
fn a_site_that_may_not_be_used_comes_last_however_good() {
    let plan = head()
        + &posts("")
        + &site("West", WEST, 3.0, "available = false")
        + &site("East", EAST, 3.0, "");
    let sites = ranked(&plan);
    assert_eq!(names(&sites), ["East", "West"]);
    assert!(number(&sites[1]["weighted_probability"]) > number(&sites[0]["weighted_probability"]));
    assert_eq!(sites[1]["available"], false);
}

#[test]
fn a_must_post_outweighs_the_share() {
    let plan = head()
        + &posts("must = true")
        + &site("West", WEST, 3.0, "")
        + &site("East", EAST, 3.0, "");
    let sites = ranked(&plan);
    assert_eq!(names(&sites), ["East", "West"]);
    assert!(number(&sites[1]["weighted_probability"]) > number(&sites[0]["weighted_probability"]));
    assert_eq!(sites[0]["must_posts_met"], true);
    assert_eq!(sites[1]["must_posts_met"], false);
}

/// Weight 3 for one eastern post makes the east worth 4 of 7.
#[test]
fn weights_move_the_order() {
    let plan =
        head() + &posts("weight = 3") + &site("West", WEST, 3.0, "") + &site("East", EAST, 3.0, "");
    let sites = ranked(&plan);
    assert_eq!(names(&sites), ["East", "West"]);
    assert_abs_diff_eq!(number(&sites[0]["weighted_probability"]), 4.0 / 7.0, epsilon = ALL_BUT);
    assert_abs_diff_eq!(number(&sites[1]["weighted_probability"]), 3.0 / 7.0, epsilon = ALL_BUT);
}

/// Equal shares: the higher mast has the better worst margin, whatever the
/// names and the plan's order say; with that equal too the name decides.
#[test]
fn the_worst_margin_then_the_name_break_a_tie() {
    let two = |first: (&str, f64), second: (&str, f64)| {
        head()
            + &posts("")
            + &site(first.0, WEST, first.1, "")
            + &site(second.0, WEST, second.1, "")
    };
    let sites = ranked(&two(("Alder", 3.0), ("Zinc", 25.0)));
    assert_eq!(names(&sites), ["Zinc", "Alder"]);
    let worst = |site: &Value| {
        let posts = site["posts"].as_array().unwrap();
        let margin = |p: &Value| number(&p["governing_margin_db"]);
        let worst = posts.iter().min_by(|a, b| margin(a).total_cmp(&margin(b))).unwrap();
        assert_eq!(site["worst_post"], worst["post"]);
        margin(worst)
    };
    assert!(worst(&sites[0]) > worst(&sites[1]));
    assert_abs_diff_eq!(number(&sites[0]["weighted_probability"]), 0.6, epsilon = ALL_BUT);
    assert_abs_diff_eq!(number(&sites[1]["weighted_probability"]), 0.6, epsilon = ALL_BUT);
    let sites = ranked(&two(("Zinc", 3.0), ("Alder", 3.0)));
    assert_eq!(names(&sites), ["Alder", "Zinc"]);
    assert_eq!(worst(&sites[0]), worst(&sites[1]));
}

#[test]
fn a_failing_post_is_told_the_usable_sites_that_reach_it_best_first() {
    let plan = head()
        + &posts("weight = 0.5")
        + &site("East low", EAST, 3.0, "")
        + &site("East high", EAST, 20.0, "")
        + &site("East shut", EAST, 30.0, "available = false")
        + &site("West", WEST, 3.0, "")
        + &site("West too", WEST, 10.0, "");
    let sites = ranked(&plan);
    assert_eq!(names(&sites), ["West too", "West", "East high", "East low", "East shut"]);
    let remedy = |name: &str, post: &str| entry(of_site(&sites, name), "posts", "post", post);
    assert_eq!(
        remedy("West", "East 1")["remedy"]["other_sites"],
        serde_json::json!(["East high", "East low"])
    );
    assert_eq!(
        remedy("East low", "West 2")["remedy"]["other_sites"],
        serde_json::json!(["West too", "West"])
    );
    // No mast of a size that is tried sees over a wall of a kilometre.
    assert!(remedy("West", "East 1")["remedy"]["extra_mast_m"].is_null());
    let entry = remedy("West", "East 1");
    // The other way fails by itself too, now and then: a hair more is missing
    // than the limiting direction lacks.
    assert_abs_diff_eq!(
        number(&entry["remedy"]["missing_db"]),
        -number(&entry["governing_margin_db"]),
        epsilon = 1e-3
    );
}

/// A route that is two thirds west of the wall. Its western part has a corner
/// every 15 m, two of which are more than one spot stands for, so shares by number
/// of spots instead of length would give 0.77.
#[test]
fn a_route_is_shared_by_its_length() {
    let corners: Vec<_> = (0..=80)
        .map(|i| at(-1200.0 + 15.0 * f64::from(i), 100.0))
        .chain([at(600.0, 100.0)])
        .map(|p| format!("\"{p}\""))
        .collect();
    let route = format!("\n[[route]]\nname = \"Course\"\nline = [{}]\n", corners.join(", "));
    let plan =
        head() + &posts("") + &route + &site("West", WEST, 3.0, "") + &site("East", EAST, 3.0, "");
    let sites = ranked(&plan);
    // The wall's foot, 30 m either way of 1800 m, may go to either side.
    let foot = 30.0 / 1800.0;
    for (name, share) in [("West", 2.0 / 3.0), ("East", 1.0 / 3.0)] {
        let site = of_site(&sites, name);
        let course = entry(site, "routes", "name", "Course");
        assert_abs_diff_eq!(number(&course["share"]), share, epsilon = foot + 0.005);
        assert_eq!(course["unknown"], 0);
        assert!(number(&course["samples"]) >= 80.0 + 600.0 / 25.0);
    }
    // Five posts and the route, each of weight one.
    let west = of_site(&sites, "West");
    let course = number(&entry(west, "routes", "name", "Course")["probability_both_ways"]);
    let sum = of_posts(west) + course;
    assert_abs_diff_eq!(number(&west["weighted_probability"]), sum / 6.0, epsilon = 1e-12);
}

/// A rectangle of which a third lies east of the wall, and a triangle whose
/// share differs from that of the rectangle around it (one half).
#[test]
fn an_area_is_shared_by_its_surface() {
    let area = |name: &str, corners: &[(f64, f64)]| {
        let corners: Vec<_> = corners.iter().map(|(e, n)| format!("\"{}\"", at(*e, *n))).collect();
        format!("\n[[area]]\nname = \"{name}\"\noutline = [{}]\nweight = 2\n", corners.join(", "))
    };
    let plan = head()
        + &posts("")
        + &area("Field", &[(-800.0, 0.0), (400.0, 0.0), (400.0, 400.0), (-800.0, 400.0)])
        + &area("Corner", &[(-400.0, 0.0), (400.0, 0.0), (400.0, 800.0)])
        + &site("West", WEST, 3.0, "")
        + &site("East", EAST, 3.0, "");
    let sites = ranked(&plan);
    let share = |site: &str, name: &str| {
        number(&entry(of_site(&sites, site), "areas", "name", name)["share"])
    };
    // The wall's foot is 30 m of 1200 m; spots are 30 m apart here.
    assert_abs_diff_eq!(share("West", "Field"), 2.0 / 3.0, epsilon = 0.05);
    assert_abs_diff_eq!(share("East", "Field"), 1.0 / 3.0, epsilon = 0.05);
    // West of the wall lies a quarter of the triangle: (400 x 400) of (800 x 800).
    assert_abs_diff_eq!(share("West", "Corner"), 0.25, epsilon = 0.05);
    assert_abs_diff_eq!(share("East", "Corner"), 0.75, epsilon = 0.07);
    let west = of_site(&sites, "West");
    let chance = |name: &str| number(&entry(west, "areas", "name", name)["probability_both_ways"]);
    let sum = of_posts(west) + 2.0 * (chance("Field") + chance("Corner"));
    assert_abs_diff_eq!(number(&west["weighted_probability"]), sum / 9.0, epsilon = 1e-12);
}

/// What a budget's line adds or takes; the label begins with `start`.
fn line(post: &Value, direction: &str, start: &str) -> f64 {
    let lines = post["budgets"][direction]["lines"].as_array().unwrap();
    let line = lines.iter().find(|l| l["label"].as_str().unwrap().starts_with(start));
    number(&line.unwrap_or_else(|| panic!("no {start}"))["change_db"])
}

/// A post's own radio, carry and environment replace the channel's, the radio's
/// and the plan's; nothing else changes. Posts stand around the site at one
/// distance on level ground, so their paths are alike.
#[test]
fn a_posts_own_radio_carry_and_environment_are_used() {
    let plan = head()
        + &post("Plain", (-900.0, 0.0), "")
        + &post("Own radio", (-500.0, 400.0), "radio = \"small\"")
        + &post("On the hip", (-500.0, -400.0), "carry = \"hip\"")
        + &post("In the city", (-740.0, 320.0), "environment = \"city\"")
        + &site("West", WEST, 3.0, "");
    let sites = ranked(&plan);
    let post = |name: &str| entry(&sites[0], "posts", "post", name);
    let (plain, own, hip, city) =
        (post("Plain"), post("Own radio"), post("On the hip"), post("In the city"));
    let budget = |post: &Value, way: &str, field: &str| number(&post["budgets"][way][field]);

    // 5 W is 36.99 dBm, 0.5 W ten decibels less.
    assert_abs_diff_eq!(budget(plain, "talk_in", "power_dbm"), 36.99, epsilon = 0.005);
    assert_abs_diff_eq!(budget(own, "talk_in", "power_dbm"), 26.99, epsilon = 0.005);
    assert_abs_diff_eq!(budget(own, "talk_out", "power_dbm"), 43.98, epsilon = 0.005);
    // docs/link.md: at the head 4 dB, at the shoulder 7 dB, on the hip 12 dB.
    for way in ["talk_in", "talk_out"] {
        assert_abs_diff_eq!(line(plain, way, "body"), -7.0);
        assert_abs_diff_eq!(line(own, way, "body"), -4.0);
        assert_abs_diff_eq!(line(hip, way, "body"), -12.0);
        assert_abs_diff_eq!(line(city, way, "body"), -7.0);
    }
    // On the hip the antenna is lower too: more is lost over the ground.
    assert!(line(hip, "talk_out", "terrain") < line(plain, "talk_out", "terrain"));
    // By hand at 147.0 MHz (P.372): city 16.765 and the sky 2.150 make 16.913,
    // residential 12.465 and the sky 12.852; at the post and not at the relay.
    let outside =
        |post: &Value, way: &str| number(&post["budgets"][way]["noise"]["environment_dbm"]);
    assert_abs_diff_eq!(
        outside(city, "talk_out") - outside(plain, "talk_out"),
        4.061,
        epsilon = 1e-3
    );
    assert_abs_diff_eq!(outside(city, "talk_in"), outside(plain, "talk_in"), epsilon = 1e-9);
}

/// The ground is at 50 m: 70 m above sea is 20 m above ground, and a roof that
/// comes out a little under the raster's ground stands on it.
#[test]
fn a_roof_above_sea_is_less_the_ground() {
    let at_roof =
        |name: &str, roof: &str| site(name, WEST, 3.0, "").replace("20 m above ground", roof);
    let plan = head()
        + &posts("")
        + &at_roof("Ground", "20 m above ground")
        + &at_roof("Sea", "70 m above sea")
        + &at_roof("Feet", "229.65879265 ft above sea")
        + &at_roof("Low", "49 m above sea");
    let sites = ranked(&plan);
    let height = |name: &str| number(&of_site(&sites, name)["antenna_above_ground_m"]);
    let ground = |name: &str| number(&of_site(&sites, name)["ground_m"]);
    for name in ["Ground", "Sea", "Feet"] {
        assert_abs_diff_eq!(height(name), 23.0, epsilon = 1e-6);
        assert_abs_diff_eq!(ground(name), 50.0, epsilon = 1e-6);
    }
    assert_abs_diff_eq!(height("Low"), 3.0, epsilon = 1e-6);
    let margins = |name: &str| {
        let posts = of_site(&sites, name)["posts"].as_array().unwrap().clone();
        posts.iter().map(|p| number(&p["governing_margin_db"])).collect::<Vec<_>>()
    };
    assert_eq!(margins("Ground"), margins("Sea"));
    assert!(margins("Low") < margins("Sea"));
}

/// The raster has no heights along the meridian: what lies beyond is unknown,
/// counts as not working, and the ranking goes on.
#[test]
fn a_post_beyond_a_gap_is_unknown_and_ranks_as_not_working() {
    let gap =
        |folder: &Path| {
            write_plan_raster(&folder.join("terrain.tif"), |column, _| {
                if column == WALL { -9999.0 } else { 50.0 }
            });
        };
    let route = format!(
        "\n[[route]]\nname = \"Course\"\nline = [\"{}\", \"{}\"]\n",
        at(-900.0, 100.0),
        at(300.0, 100.0)
    );
    let plan = head()
        + &posts("must = true")
        + &route
        + &site("West", WEST, 3.0, "")
        + &site("East", EAST, 3.0, "");
    let sites = ranked_over(gap, &plan);
    assert_eq!(names(&sites), ["East", "West"]);
    let west = of_site(&sites, "West");
    let beyond = entry(west, "posts", "post", "East 1");
    assert_eq!(beyond["outcome"], "unknown");
    for field in
        ["probability_both_ways", "governing_margin_db", "budgets", "line_of_sight", "remedy"]
    {
        assert!(beyond[field].is_null(), "{field}: {}", beyond[field]);
    }
    assert!(beyond["reason"].as_str().unwrap().contains("not known"));
    assert_eq!(west["must_posts_met"], false);
    assert_eq!(west["posts_covered"], 3);
    assert!(west["worst_post"].as_str().unwrap().starts_with("East"));
    let course = entry(west, "routes", "name", "Course");
    assert_abs_diff_eq!(number(&course["share"]), 0.75, epsilon = 60.0 / 1200.0);
    let unknown = number(&course["unknown"]) / number(&course["samples"]);
    assert_abs_diff_eq!(unknown, 0.25, epsilon = 60.0 / 1200.0);
    assert_abs_diff_eq!(
        number(&west["weighted_probability"]),
        (of_posts(west) + number(&course["probability_both_ways"])) / 6.0,
        epsilon = 1e-12
    );
}

/// The wall keeps each side's posts from the other: by construction the eastern site
/// loses three posts, one of them a must, and gains two, and 600 m of a route whose
/// west is 1200 m long and whose east is 600.
#[test]
fn a_losing_site_is_told_what_it_loses() {
    let route = format!(
        "\n[[route]]\nname = \"Course\"\nline = [\"{}\", \"{}\"]\n",
        at(-1200.0, 100.0),
        at(600.0, 100.0)
    );
    let plan = head() + &posts("") + &site("West", WEST, 3.0, "") + &site("East", EAST, 3.0, "");
    let plan = plan.replacen("name = \"West 2\"", "name = \"West 2\"\nmust = true", 1) + &route;
    let ranking = ranking_over(write_wall, &plan);
    let losses = ranking["losses"].as_array().unwrap();
    assert_eq!(losses.len(), 1);
    let loss = &losses[0];
    assert_eq!((&loss["site"], &loss["available"]), (&"East".into(), &true.into()));
    assert_eq!(loss["must_posts"], serde_json::json!(["West 2"]));
    assert_eq!(loss["posts"]["lost"], serde_json::json!(["West 1", "West 2", "West 3"]));
    assert_eq!(loss["posts"]["gained"], serde_json::json!(["East 1", "East 2"]));
    // The pieces of 25 m at the wall's foot are neither side's.
    assert_abs_diff_eq!(number(&loss["route_m"]), 600.0, epsilon = 60.0);
    let (west, east) = (of_site(ranking["sites"].as_array().unwrap(), "West"), loss);
    let post = east["margin"]["post"].as_str().unwrap();
    assert!(post.starts_with("West"), "{post}");
    let sites = ranking["sites"].as_array().unwrap();
    let margin = |site: &str| {
        number(&entry(of_site(sites, site), "posts", "post", post)["governing_margin_db"])
    };
    assert_abs_diff_eq!(
        number(&loss["margin"]["behind_db"]),
        margin("West") - margin("East"),
        epsilon = 1e-4
    );
    assert_eq!(west["must_posts_met"], true);

    let folder = tempfile::tempdir().unwrap();
    write_wall(folder.path());
    fs::write(folder.path().join("plan.toml"), &plan).unwrap();
    let output = perchline_long(folder.path(), &["rank", "plan.toml", "--maps", "none"]);
    let text = printed(&output);
    let line =
        text.lines().skip_while(|l| *l != "What the others lose against West").nth(1).unwrap();
    for part in [
        "  East: misses must-have West 2; loses 2 other posts (West 1, West 3); gains 2 posts",
        "more of route without contact",
        "less margin at West",
    ] {
        assert!(line.contains(part), "{part:?} not in {line}");
    }
}

/// Trackers go along the east alone: what the west has does not count for the
/// digipeater, and its must-have post is none.
#[test]
fn packet_sites_are_ranked_by_what_trackers_pass() {
    let packet = format!(
        "\n[[channel]]\nname = \"Beacons\"\nkind = \"packet\"\nfrequency = \"144.8 MHz\"\nstation = \"relay\"\ncarried = \"hand-held\"\n\n[[route]]\nname = \"East loop\"\nline = [\"{}\", \"{}\"]\n\n[[route]]\nname = \"West loop\"\nline = [\"{}\", \"{}\"]\n",
        at(600.0, 250.0),
        at(700.0, -150.0),
        at(-600.0, 250.0),
        at(-1200.0, -250.0)
    );
    let plan = head() + &posts("") + &site("West", WEST, 3.0, "") + &site("East", EAST, 3.0, "");
    let plan = plan.replacen("name = \"West 2\"", "name = \"West 2\"\nmust = true", 1) + &packet;
    // Without trackers all counts, and the must-have post decides.
    let all = ranking_over(write_wall, &plan);
    assert_eq!(all["channel"], "Beacons");
    assert_eq!(names(all["sites"].as_array().unwrap()), ["West", "East"]);
    let tracker = "\n[[tracker]]\nname = \"Sweep\"\nroute = \"East loop\"\nevery = \"60 s\"\npace = \"10:00 min/km\"\npacket = \"0.5 s\"\n";
    let tracked = ranking_over(write_wall, &format!("{plan}{tracker}"));
    let sites = tracked["sites"].as_array().unwrap();
    assert_eq!(names(sites), ["East", "West"]);
    let east = &sites[0];
    assert_eq!(
        (&east["posts_covered"], &east["must_posts_met"]),
        (&Value::from(2), &Value::from(true))
    );
    for post in east["posts"].as_array().unwrap() {
        let name = post["post"].as_str().unwrap();
        assert_eq!(post["counts"], name.starts_with("East"), "{name}");
        assert_eq!(post["must"], false, "{name}");
    }
    assert!(number(&east["weighted_probability"]) > 1.0 - ALL_BUT, "{east}");
    // Packet takes less carrier than voice: over the wall a few spots in a hundred.
    assert!(number(&sites[1]["weighted_probability"]) < 0.1, "{}", sites[1]);
    assert_eq!(tracked["losses"][0]["posts"]["lost"], serde_json::json!(["East 1", "East 2"]));
}
