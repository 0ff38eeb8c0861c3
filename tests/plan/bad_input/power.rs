//! Forecasts, packs, stations, crews and other channels.

use super::*;

const TABLES: &str = r#"
[forecast]
from = 2026-12-05T15:00:00
hourly = ["6 °C", "?", "4 °C"]

[[pack]]
name = "box"
chemistry = "agm"
cells = 6
capacity = "7 Ah"

[[station]]
name = "Relay"
channel = "Net"
currents = { transmit = "8 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "10 %" }
supply = { pack = "box", cutoff = "10.8 V" }

[[crew]]
name = "Posts"
people = 12
currents = { transmit = "1.5 A", receive = "250 mA", standby = "70 mA" }
traffic = { heard = "12 /h", repeated = "8 /h", packet = "1 s" }
cutoff = "9 V"
pack = "box"

[[other_channel]]
name = "Rescue"
receive = "152.4 MHz"
bandwidth = "12.5 kHz"
"#;

fn powered(from: &str, to: &str) -> String {
    let text = format!("{MINIMAL}{TABLES}");
    let (before, tables) = text.split_at(MINIMAL.len());
    assert!(tables.contains(from), "{from} is not in the tables");
    format!("{before}{}", tables.replacen(from, to, 1))
}

/// One problem, on the line that holds `on`, of this field, with these parts.
#[track_caller]
fn wrong(from: &str, to: &str, on: &str, field: &str, parts: &[&str]) {
    one_problem(&powered(from, to), on, field, parts);
}

#[test]
fn the_tables_are_good_as_they_stand() {
    let plan = read(powered("box", "box")).unwrap();
    assert_eq!(plan.remarks, []);
    assert_eq!((plan.power.packs.len(), plan.power.stations.len()), (1, 1));
    let station = &plan.power.stations[0];
    assert_eq!(station.on, plan.event.starts);
    assert_eq!(station.off, plan.event.tear_down);
    // 8 packets of a second an hour.
    let crew = &plan.power.crews[0];
    assert!((crew.traffic.keyed - 8.0 / 3600.0).abs() < 1e-12);
    assert!((crew.shift.value() - 3.5).abs() < 1e-12);
    assert_eq!(plan.power.forecast.unwrap().hourly.len(), 3);
}

#[test]
fn zero_and_negative_current() {
    for bad in ["0 A", "-400 mA"] {
        wrong(
            "standby = \"400 mA\"",
            &format!("standby = \"{bad}\""),
            bad,
            "station \"Relay\": currents.standby",
            &["no current", "data sheet"],
        );
    }
    wrong("\"8 A\"", "8", "transmit = 8", "station \"Relay\": currents.transmit", &["A, mA"]);
    wrong("\"8 A\"", "\"800 A\"", "800 A", "station \"Relay\": currents.transmit", &["200 A"]);
}

#[test]
fn a_cutoff_above_the_pack() {
    wrong(
        "cutoff = \"10.8 V\"",
        "cutoff = \"12 V\"",
        "cutoff = \"12 V\"",
        "station \"Relay\": supply.cutoff",
        &["12.0 V", "6 cells", "never run"],
    );
    wrong(
        "cutoff = \"9 V\"",
        "cutoff = \"13 V\"",
        "13 V",
        "crew \"Posts\": cutoff",
        &["\"box\"", "never run"],
    );
}

#[test]
fn a_forecast_without_any_temperature() {
    wrong(
        "[\"6 °C\", \"?\", \"4 °C\"]",
        "[\"?\", \"?\"]",
        "hourly",
        "forecast: hourly",
        &["at least one"],
    );
    wrong("\"6 °C\"", "\"60 K\"", "60 K", "forecast: hourly[0]", &["°C", "°F"]);
    wrong("\"6 °C\"", "\"99 °C\"", "99 °C", "forecast: hourly[0]", &["-60 to 60"]);
    wrong("\"6 °C\"", "6", "hourly", "forecast: hourly[0]", &["bare number"]);
}

#[test]
fn traffic_that_does_not_fit() {
    wrong(
        "keyed = \"25 %\"",
        "keyed = \"95 %\"",
        "95 %",
        "station \"Relay\": traffic",
        &["more than all"],
    );
    wrong(
        ", listening = \"10 %\"",
        "",
        "keyed = \"25 %\"",
        "station \"Relay\": traffic",
        &["keyed", "heard"],
    );
    wrong(
        "repeated = \"8 /h\"",
        "repeated = \"80 /h\"",
        "80 /h",
        "crew \"Posts\": traffic.repeated",
        &["no more than it hears"],
    );
}

/// A station without traffic, and trackers to count, is told with all else that is
/// wrong with it.
#[test]
fn traffic_that_nobody_states_or_sends() {
    let text = powered("traffic = { keyed = \"25 %\", listening = \"10 %\" }\n", "")
        .replace("\"8 A\"", "\"800 A\"");
    let error = read(&text).unwrap_err();
    let mut fields: Vec<_> = error.problems().iter().map(|p| p.field()).collect();
    fields.sort();
    assert_eq!(fields, ["station \"Relay\": currents.transmit", "station \"Relay\": traffic"]);
    assert!(error.to_string().contains("no trackers on its channel"), "{error}");
}

#[test]
fn names_that_lead_nowhere() {
    wrong(
        "pack = \"box\", ",
        "pack = \"boxx\", ",
        "boxx",
        "station \"Relay\": supply.pack",
        &["not a pack of this plan", "Did you mean \"box\"?"],
    );
    wrong(
        "channel = \"Net\"",
        "channel = \"Nett\"",
        "Nett",
        "station \"Relay\": channel",
        &["Did you mean \"Net\"?"],
    );
    wrong(
        "channel = \"Net\"",
        "channel = \"Net\"\nsite = \"Mast\"",
        "\"Mast\"",
        "station \"Relay\": site",
        &["not a site", "Elevator"],
    );
    wrong(
        "channel = \"Net\"",
        "channel = \"Net\"\nbeside = \"Relay\"",
        "beside",
        "station \"Relay\": beside",
        &["itself"],
    );
    wrong(
        "channel = \"Net\"",
        "channel = \"Net\"\nbeside = \"Relay\"\nsite = \"Hotel\"",
        "beside",
        "station \"Relay\": beside",
        &["not both"],
    );
}

#[test]
fn times_that_run_backwards() {
    wrong(
        "channel = \"Net\"",
        "channel = \"Net\"\noff = 2026-12-05T17:00:00",
        "off = ",
        "station \"Relay\": off",
        &["17:00", "17:30"],
    );
    wrong(
        "channel = \"Net\"",
        "channel = \"Net\"\non = 2026-10-05T17:00:00",
        "on = 2026-10",
        "station \"Relay\": on",
        &["31 days"],
    );
}

#[test]
fn misspelt_and_missing_fields() {
    wrong(
        "capacity = \"7 Ah\"",
        "capacity = \"7 A\"",
        "\"7 A\"",
        "pack \"box\": capacity",
        &["Ah, mAh"],
    );
    wrong(
        "capacity = \"7 Ah\"",
        "capasity = \"7 Ah\"\ncapacity = \"7 Ah\"",
        "capasity",
        "pack \"box\": capasity",
        &["Did you mean \"capacity\"?"],
    );
    wrong("cells = 6", "cells = 0", "cells = 0", "pack \"box\": cells", &["1 to 40"]);
    wrong("cells = 6", "cells = \"6\"", "cells = \"6\"", "pack \"box\": cells", &["whole number"]);
    wrong("\"agm\"", "\"acid\"", "acid", "pack \"box\": chemistry", &["lifepo4"]);
    wrong("people = 12\n", "", "[[crew]]", "crew \"Posts\": people", &["missing"]);
    wrong(
        "bandwidth = \"12.5 kHz\"\n",
        "bandwidth = \"0 kHz\"\n",
        "\"0 kHz\"",
        "other_channel \"Rescue\": bandwidth",
        &["1 to 20000"],
    );
}

/// The name of another's channel may not be that of one of the event's.
#[test]
fn a_name_taken_twice() {
    wrong("\"Rescue\"", "\"net\"", "\"net\"", "other_channel \"net\": name", &["already"]);
}
