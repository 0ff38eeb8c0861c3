//! `power` and `cosite` through the program: text, JSON, files, and what they
//! say when something is missing.

use std::fs;

use crate::support::powered::{DIGIPEATER, PACKET, RELAY};
use crate::support::{PLAN, perchline_long, printed, said, write_plan_raster};
use serde_json::Value;

const SAMPLE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain/ferry-lights.toml");

fn json(text: &[u8]) -> Value {
    serde_json::from_slice(text).unwrap()
}

/// The sample's digipeater lasts no evening on its own pack, and the relay does.
#[test]
fn the_sample_s_digipeater_dies_and_says_what_would_do() {
    let folder = tempfile::tempdir().unwrap();
    let text = perchline_long(folder.path(), &["power", SAMPLE]);
    assert!(text.status.success(), "{}", said(&text));
    let text = printed(&text);
    for part in [
        "DIES at",
        "while it transmits",
        "Bring a pack of at least 3.0 Ah",
        "loading list",
        "to change in by",
        "guardrail or parapet",
    ] {
        assert!(text.contains(part), "no {part:?} in\n{text}");
    }
    let output = perchline_long(folder.path(), &["power", SAMPLE, "--json", "--out", "out"]);
    let document = json(&output.stdout);
    assert_eq!(document, json(&fs::read(folder.path().join("out/power.json")).unwrap()));
    let stations = document["result"]["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 2);
    assert!(stations[0]["expected"]["margin_h"].as_f64().is_none_or(|m| m > 0.0));
    let digipeater = &stations[1];
    let margin = digipeater["expected"]["margin_h"].as_f64().unwrap();
    // 2 runners every 2 min, 4 medics every 90 s, a car every 60 s.
    assert_eq!(digipeater["beacons_an_hour"], 280.0);
    // Nothing says where it stands: nobody can say what it does not hear.
    assert_eq!(digipeater["expected_beacons_an_hour"], 280.0);
    assert!((-4.5..-3.0).contains(&margin), "{margin}");
    // Poor is never better than expected, good never worse.
    for station in stations {
        let hours = |case: &str| station[case]["run_time_h"].as_f64().unwrap_or(f64::INFINITY);
        assert!(hours("poor") <= hours("expected") && hours("expected") <= hours("good"));
    }
    assert_eq!(digipeater["enough"]["capacity_ah"], 3.0);
    assert!(digipeater["enough"]["left_at_end"].as_f64().unwrap() >= 0.3);
    let ledger = &digipeater["ledger"];
    let of = |part: &str| ledger[part].as_f64().unwrap();
    let out = of("load_wh") + of("converter_wh") + of("lead_wh") + of("pack_wh");
    assert!((of("from_cells_wh") + of("from_sun_wh") - out).abs() < 1e-9);
}

/// The sample in a folder of its own, changed; its files stay where they are.
fn sample_in(folder: &std::path::Path, changes: &[(&str, &str)]) {
    for entry in fs::read_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/sample-terrain")).unwrap() {
        let file = entry.unwrap().path();
        if ["tif", "geojson"].iter().any(|kind| file.extension().is_some_and(|e| e == *kind)) {
            fs::copy(&file, folder.join(file.file_name().unwrap())).unwrap();
        }
    }
    let text = crate::support::changed(&fs::read_to_string(SAMPLE).unwrap(), changes);
    fs::write(folder.join("plan.toml"), text).unwrap();
}

/// A digipeater whose site is settled is expected to hear what `trackers` says of that
/// site; the poor case takes it to hear all, as before, and counts that the plan states
/// are kept.
#[test]
fn a_settled_digipeater_is_expected_to_hear_what_its_site_hears() {
    const STATION: &str = "name = \"Digipeater\"\nchannel = \"Packet\"\n";
    let station = |lines: &str| {
        let folder = tempfile::tempdir().unwrap();
        let weak =
            ("name = \"tracker\"\npower = \"5 W\"", "name = \"tracker\"\npower = \"0.05 W\"");
        sample_in(folder.path(), &[weak, (STATION, &format!("{STATION}{lines}"))]);
        let output = perchline_long(folder.path(), &["power", "plan.toml", "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        let stations = json(&output.stdout)["result"]["stations"].clone();
        (folder, stations[1].clone())
    };
    let (_, open) = station("");
    let (folder, settled) = station("site = \"Hotel\"\n");
    let output =
        perchline_long(folder.path(), &["trackers", "plan.toml", "--site", "Hotel", "--json"]);
    let heard = json(&output.stdout)["result"]["channels"][0]["digipeaters"][0]["heard_an_hour"]
        .as_f64()
        .unwrap();
    assert!((1.0..279.0).contains(&heard), "{heard}");
    let expected = settled["expected_beacons_an_hour"].as_f64().unwrap();
    assert!((expected - heard).abs() < 1e-9, "{expected} {heard}");
    assert_eq!(settled["beacons_an_hour"], 280.0);
    for case in ["run_time_h", "dies_at", "left_at_end"] {
        assert_eq!(settled["poor"][case], open["poor"][case], "{case}");
    }
    let runs = |station: &Value| station["expected"]["run_time_h"].as_f64().unwrap();
    assert!(runs(&settled) > runs(&open), "{} {}", runs(&settled), runs(&open));
    let text = printed(&perchline_long(folder.path(), &["power", "plan.toml"]));
    let line = format!("It hears {heard:.0} of 280 beacons an hour as expected");
    assert!(text.contains(&line), "no {line:?} in\n{text}");

    let stated = "traffic = { heard = \"280 /h\", repeated = \"280 /h\", packet = \"0.9 s\" }\n";
    let (_, stated) = station(&format!("site = \"Hotel\"\n{stated}"));
    assert_eq!(stated["expected_beacons_an_hour"], 280.0);
}

#[test]
fn the_sample_s_roof_and_channels() {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline_long(folder.path(), &["cosite", SAMPLE, "--out", "out"]);
    assert!(output.status.success(), "{}", said(&output));
    let text = printed(&output);
    for part in [
        "If they shared a roof",
        "duplexer",
        "licensee is responsible",
        "all round",
        "OET Bulletin 65",
    ] {
        assert!(text.contains(part), "no {part:?} in\n{text}");
    }
    let out = folder.path().join("out");
    let html = fs::read_to_string(out.join("channels.html")).unwrap();
    for part in ["Ferry Lights half marathon", "147.6075", "100.0 Hz", "All posts, Net Control"] {
        assert!(html.contains(part), "no {part:?} in\n{html}");
    }
    // Read back with a CSV reader: one line a channel, seven columns.
    let mut reader = csv::Reader::from_path(out.join("channels.csv")).unwrap();
    let rows: Vec<_> = reader.records().map(|r| r.unwrap()).collect();
    assert_eq!(rows.len(), 4);
    assert!(rows.iter().all(|r| r.len() == 7));
    // A hand-held listens on the relay's output and speaks on its input.
    assert_eq!((&rows[0][2], &rows[0][3]), ("147.0075", "147.6075"));
    let picture = image::open(out.join("roof-open.png")).unwrap();
    assert!(picture.width() > 1000);
    let looks = concat!(env!("CARGO_MANIFEST_DIR"), "/target/looks");
    fs::create_dir_all(looks).unwrap();
    fs::copy(out.join("roof-open.png"), format!("{looks}/roof.png")).unwrap();
}

/// The relay on a pack that it empties.
fn supply() -> String {
    let pack = r#"
[[pack]]
name = "box"
chemistry = "agm"
cells = 6
capacity = "7 Ah"
"#;
    format!("{pack}{RELAY}supply = {{ pack = \"box\", cutoff = \"10.8 V\" }}\n")
}

fn powered() -> String {
    PLAN.to_owned() + &supply()
}

fn run(plan: &str, arguments: &[&str]) -> std::process::Output {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    perchline_long(folder.path(), arguments)
}

#[test]
fn without_a_forecast_nothing_is_guessed() {
    let output = run(&powered(), &["power", "plan.toml"]);
    assert_eq!(output.status.code(), Some(2));
    let said = said(&output);
    assert!(said.contains("station \"Relay\"") && said.contains("[forecast]"), "{said}");
    // Indoors it needs none.
    let indoors =
        supply().replace("cutoff = \"10.8 V\"", "cutoff = \"10.8 V\", kept_at = \"20 °C\"");
    let output = run(&format!("{PLAN}{indoors}"), &["power", "plan.toml"]);
    assert!(output.status.success());
    // What is known of one is told beside what is not known of the other.
    let both = format!(
        "{PLAN}{indoors}{PACKET}{DIGIPEATER}supply = {{ pack = \"box\", cutoff = \"10.8 V\" }}\n"
    );
    let output = run(&both, &["power", "plan.toml"]);
    assert!(output.status.success());
    let text = printed(&output);
    let known = text.find("In the poor case Relay DIES at").unwrap();
    let unknown = text.find("NOT KNOWN of Digipeater: nothing says how warm the pack is.").unwrap();
    assert!(known < unknown, "{text}");
    assert!(text.contains("note: power: station \"Digipeater\": nothing says"), "{text}");
    let output = run(&both, &["power", "plan.toml", "--json"]);
    let document = json(&output.stdout);
    let stations = document["result"]["stations"].as_array().unwrap();
    assert_eq!(stations.len(), 1);
    assert_eq!(stations[0]["station"], "Relay");
    let picture = document["result"]["picture"].as_str().unwrap();
    assert!(picture.ends_with("NOT KNOWN of Digipeater: nothing says how warm the pack is."));
    // A ranking stands without, and says what it lacks.
    let output = run(&powered(), &["rank", "plan.toml", "--maps", "none"]);
    assert!(output.status.success());
    assert!(printed(&output).contains("note: power: station \"Relay\": nothing says"));
}

#[test]
fn a_plan_without_stations_says_what_to_add() {
    let output = run(PLAN, &["power", "plan.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("[[station]]"), "{}", said(&output));
    // Channels alone are enough for the sheet and the products.
    let output = run(PLAN, &["cosite", "plan.toml"]);
    assert!(output.status.success(), "{}", said(&output));
}

#[test]
fn a_short_forecast_is_told_and_rank_shows_the_margin() {
    let forecast =
        "\n[forecast]\nfrom = 2026-12-05T17:00:00\nhourly = [\"6 °C\", \"?\", \"4 °C\"]\n";
    let plan = format!("{PLAN}{forecast}{}", supply());
    for verb in [&["power", "plan.toml"][..], &["rank", "plan.toml", "--maps", "none"]] {
        let output = run(&plan, verb);
        assert!(output.status.success(), "{}", said(&output));
        let text = printed(&output);
        for part in ["begins at 2026-12-05 17:00", "ends at 2026-12-05 19:00", "not known at 18:00"]
        {
            assert!(text.contains(part), "no {part:?} in\n{text}");
        }
        assert!(text.contains("DIES at"), "{text}");
    }
}

/// Source: the IANA database: in the Azores the clocks go back from 01:00 to
/// 00:00 on 25 October 2026. From 22:00 to 06:00 a station is wanted for nine
/// hours, and times after the change say their offset.
#[test]
fn over_midnight_and_a_change_of_the_clocks() {
    let plan = powered()
        .replace("\"UTC\"", "\"Atlantic/Azores\"")
        .replace("2026-12-05T16:30:00", "2026-10-24T22:00:00")
        .replace("2026-12-05T20:30:00", "2026-10-25T06:00:00")
        .replace("cutoff = \"10.8 V\"", "cutoff = \"10.8 V\", kept_at = \"5 °C\"");
    let text = printed(&run(&plan, &["power", "plan.toml"]));
    assert!(text.contains("9 h 00 min"), "{text}");
    assert!(text.contains("wanted from 22:00 to Sun 25 Oct 06:00 (UTC-01:00)"), "{text}");
}

/// Desense enters talk-in, and the reason says so: a digipeater on the relay's
/// roof without filters, a tenth of the time on the air. At 2 % of the time it
/// leaves margins alone, enters the probability for its share, and is told.
#[test]
fn a_shared_roof_costs_talk_in() {
    let packet = format!(
        "{PACKET}{DIGIPEATER}supply = {{ pack = \"box\", cutoff = \"10.8 V\" }}\nroof = {{ east = \"10 m\" }}\n"
    );
    let link = |plan: &str| {
        let output =
            run(plan, &["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1", "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        json(&output.stdout)["result"]["budgets"].clone()
    };
    let margin = |budgets: &serde_json::Value| {
        let of = |way: &str| budgets[way]["margin_db"].as_f64().unwrap();
        (
            of("talk_in"),
            of("talk_out"),
            budgets["talk_in"]["noise"]["roof_cost_db"].as_f64().unwrap(),
        )
    };
    let seldom = format!("{PLAN}{}{packet}", supply());
    // 400 packets of 0.9 s an hour are 10 % of the time.
    let busy = seldom.replace(
        "heard = \"120 /h\", repeated = \"80 /h\"",
        "heard = \"500 /h\", repeated = \"400 /h\"",
    );
    let (alone, beside) = (link(&powered()), link(&busy));
    let (quiet, desensed) = (margin(&alone), margin(&beside));
    assert_eq!(quiet.2, 0.0);
    assert!(desensed.2 > 10.0, "{desensed:?}");
    assert!((quiet.0 - desensed.0 - desensed.2).abs() < 1e-6, "talk-in loses the desense");
    assert!((quiet.1 - desensed.1).abs() < 1e-9, "talk-out loses nothing");
    let path = ["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1"];
    let text = printed(&run(&busy, &path));
    assert!(text.contains("transmitters on the same roof"), "{text}");
    let rank = ["rank", "plan.toml", "--maps", "none"];
    let ranked = printed(&run(&busy, &rank));
    assert!(ranked.contains("transmitters on its own roof desense the receiver by"), "{ranked}");
    assert!(ranked.contains("(10 % of the time); every result counts it"), "{ranked}");

    let passing = link(&seldom);
    assert_eq!(margin(&passing), quiet);
    assert_eq!(passing["outcome"], alone["outcome"]);
    let at_times = &passing["talk_in"]["noise"]["desense_at_times"];
    assert!((at_times["cost_db"].as_f64().unwrap() - desensed.2).abs() < 1e-6, "{at_times}");
    // 98 % of the one, 2 % of the other; JSON has six places.
    let probability = |b: &serde_json::Value| b["probability_both_ways"].as_f64().unwrap();
    let mean = 0.98 * probability(&alone) + 0.02 * probability(&beside);
    assert!((probability(&passing) - mean).abs() < 1e-5, "{passing} {mean}");
    assert!(probability(&beside) < probability(&passing));
    for verb in [&path[..], &rank[..]] {
        let text = printed(&run(&seldom, verb));
        // Right below the answer.
        let mut top = text.lines().skip_while(|line| !line.is_empty()).take(4);
        let told = top.find(|line| line.contains("your own Digipeater desenses"));
        let told = told.unwrap_or_else(|| panic!("not at the top of\n{text}"));
        assert!(told.contains("while it sends (2 % of the time)"), "{told}");
        assert!(told.contains("filter, or put them on two sites: perchline cosite"), "{told}");
    }
    let filters = "east = \"10 m\", noise_below_carrier = \"120 dB\", transmit_filter = \"30 dB\"";
    let relay = format!("{}roof = {{ receive_filter = \"20 dB\" }}\n", supply());
    let filtered = seldom.replace("east = \"10 m\"", filters).replace(&supply(), &relay);
    let text = printed(&run(&filtered, &rank));
    assert!(
        text.contains("separate them by 18 m more in height, or filter: perchline cosite"),
        "{text}"
    );
    assert!(!printed(&run(&powered(), &rank)).contains("desenses"));
}

/// A noise floor that no receiver can have is refused at its line, and nothing is
/// written; one that may be stands in for the predicted one, on its site alone.
#[test]
fn a_measured_noise_floor_is_held_against_heat_and_signal() {
    let stated = |floor: &str| {
        powered().replace("[[station]]\n", &format!("[[station]]\nnoise_floor = \"{floor}\"\n"))
    };
    for (floor, why) in [("-35 dBm", "above the signal"), ("-138 dBm", "below the thermal noise")] {
        let text = stated(floor);
        let line = 1 + text.lines().position(|line| line.contains("noise_floor")).unwrap();
        let folder = tempfile::tempdir().unwrap();
        write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
        fs::write(folder.path().join("plan.toml"), &text).unwrap();
        let output = perchline_long(folder.path(), &["rank", "plan.toml", "--out", "out"]);
        assert_eq!(output.status.code(), Some(2));
        let said = said(&output);
        let place = format!("plan.toml:{line}: station \"Relay\": noise_floor");
        assert!(said.contains(&place) && said.contains(why), "{place} {why} not in {said}");
        assert!(!folder.path().join("out").exists());
    }
    let nowhere = stated("-115 dBm").replace("site = \"Hotel\"\n", "");
    let refused = run(&nowhere, &["rank", "plan.toml", "--maps", "none"]);
    assert!(said(&refused).contains("say with site where that was"), "{}", said(&refused));

    let noise = |plan: &str, site: &str| {
        let output = run(plan, &["path", "plan.toml", "--from", site, "--to", "Aid 1", "--json"]);
        assert!(output.status.success(), "{}", said(&output));
        let budgets = &json(&output.stdout)["result"]["budgets"];
        (budgets["talk_in"]["noise"].clone(), budgets["talk_in"]["margin_db"].as_f64().unwrap())
    };
    let (predicted, margin) = noise(&powered(), "Hotel");
    let (measured, less) = noise(&stated("-110 dBm"), "Hotel");
    let total = |noise: &Value| noise["total_dbm"].as_f64().unwrap();
    assert_eq!((total(&measured), &measured["measured"]), (-110.0, &Value::Bool(true)));
    // What the floor rises by is what the margin loses.
    assert!((margin - less - (total(&measured) - total(&predicted))).abs() < 1e-6);
    assert_eq!(noise(&powered(), "Silo"), noise(&stated("-110 dBm"), "Silo"));
    let path = ["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1"];
    assert!(printed(&run(&stated("-110 dBm"), &path)).contains("noise as measured"));
}

/// A crowd of 6 dB takes 6 dB of each direction; a post 4 m from the site is told
/// to be nearer than the methods hold.
#[test]
fn a_crowd_takes_its_loss_and_a_near_link_is_told() {
    let margins = |plan: &str| {
        let path = ["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1", "--json"];
        let output = run(plan, &path);
        assert!(output.status.success(), "{}", said(&output));
        let budgets = json(&output.stdout)["result"]["budgets"].clone();
        ["talk_in", "talk_out"].map(|way| budgets[way]["margin_db"].as_f64().unwrap())
    };
    let at = "at = \"47.000, -34.900\"\n";
    let crowd = powered().replace(
        at,
        &format!("{at}extra_loss = \"6 dB\"\nextra_loss_from = 2026-12-05T18:00:00\nextra_loss_to = 2026-12-05T19:00:00\n"),
    );
    let (open, crowded) = (margins(&powered()), margins(&crowd));
    for (open, crowded) in open.iter().zip(crowded) {
        assert!((open - crowded - 6.0).abs() < 1e-6, "{open} {crowded}");
    }
    let path = ["path", "plan.toml", "--from", "Hotel", "--to", "Aid 1"];
    assert!(printed(&run(&crowd, &path)).contains("extra loss, 18:00 to 19:00"));
    let rank = ["rank", "plan.toml", "--maps", "none"];
    let far = printed(&run(&powered(), &rank));
    assert!(!far.contains("nearer than"), "{far}");
    // 0.00004 degrees of latitude are 4.4 m.
    let near = powered().replace("47.000, -34.900", "47.00404, -34.890");
    let near = printed(&run(&near, &rank));
    assert!(near.contains("is nearer than 10 m"), "{near}");
}
