//! Hours of sites, what goes up to stations, and what others send on a packet
//! channel.

use super::*;

const STATION: &str = r#"
[[pack]]
name = "box"
chemistry = "agm"
cells = 6
capacity = "7 Ah"

[[station]]
name = "Relay"
channel = "Net"
site = "Elevator"
currents = { transmit = "8 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "10 %" }
supply = { pack = "box", cutoff = "10.8 V", kept_at = "10 °C" }
mast = { weight = "9 kg", ballast = "60 kg" }
[[station.item]]
name = "relay"
weight = "11 kg"
[[station.item]]
name = "lamp"
weight = "300 g"
uses = "3 W"
holds = "18 Wh"
[[station.item]]
name = "power bank"
weight = "300 g"
holds = "37 Wh"
recharges = ["lamp"]
"#;

/// One problem, on the line that holds `on`, of this field, with these parts.
#[track_caller]
fn wrong(from: &str, to: &str, on: &str, field: &str, parts: &[&str]) {
    let text = format!("{MINIMAL}{STATION}");
    assert!(text.contains(from), "{from} is not in the plan");
    one_problem(&text.replacen(from, to, 1), on, field, parts);
}

#[test]
fn the_plan_is_good_as_it_stands() {
    let plan = read(format!("{MINIMAL}{STATION}")).unwrap();
    assert_eq!(plan.remarks, []);
    let station = plan.power.stations.first().unwrap();
    assert_eq!((station.carriers, station.trip_load.value()), (2, 20.0));
    assert_eq!(station.mast.unwrap().piece.value(), 15.0);
}

#[test]
fn hours_that_end_before_they_begin() {
    let hours = "mast = \"3 m\"\nopen_from = 2026-12-05T20:00:00\nopen_until = 2026-12-05T18:00:00";
    wrong(
        "mast = \"3 m\"",
        hours,
        "open_until",
        "site \"Elevator\": open_until",
        &["closes at 2026-12-05 18:00 and opens at 2026-12-05 20:00", "the next day's date"],
    );
    let next_day = changed("mast = \"3 m\"", &hours.replace("-05T18", "-06T18"));
    assert!(read(next_day).unwrap().sites[0].open_until.is_some());
    wrong(
        "mast = \"3 m\"",
        "mast = \"3 m\"\nopen_until = 18:00:00",
        "open_until",
        "site \"Elevator\": open_until",
        &["not a date with a time"],
    );
}

#[test]
fn facts_of_a_site_in_their_units() {
    let more = "mast = \"3 m\"\nguardrail = \"42 in\"";
    wrong("mast = \"3 m\"", more, "guardrail", "site \"Elevator\": guardrail", &["m", "ft"]);
    let more = "mast = \"3 m\"\npower = \"solar\"";
    wrong(
        "mast = \"3 m\"",
        more,
        "power = \"solar",
        "site \"Elevator\": power",
        &["mains", "none"],
    );
    let more = "mast = \"3 m\"\nroof_load = \"75 kg\"";
    wrong(
        "mast = \"3 m\"",
        more,
        "roof_load",
        "site \"Elevator\": roof_load",
        &["kg/m2", "lb/ft2"],
    );
    // By hand: a pound is 0.45359237 kg, a foot 0.3048 m: 20 lb/ft2 are 97.65 kg/m².
    let plan =
        read(changed("mast = \"3 m\"", "mast = \"3 m\"\nroof_load = \"20 lb/ft2\"")).unwrap();
    let load = plan.sites[0].roof_load.unwrap().value();
    assert!((load - 97.65).abs() < 0.005, "{load}");
}

#[test]
fn ballast_without_a_mast() {
    // On a site whose mast has no height.
    wrong(
        "mast = \"3 m\"",
        "mast = \"0 m\"",
        "ballast",
        "station \"Relay\": mast.ballast",
        &["holds a mast", "Elevator", "leave ballast out"],
    );
    wrong(
        "mast = { weight = \"9 kg\", ballast = \"60 kg\" }",
        "mast = { ballast = \"60 kg\" }",
        "ballast",
        "station \"Relay\": mast.weight",
        &["missing"],
    );
    wrong(
        "mast = { weight",
        "roof = { antenna = \"0 m\" }\nmast = { weight",
        "ballast",
        "station \"Relay\": mast.ballast",
        &["roof.antenna"],
    );
}

#[test]
fn power_banks_recharge_what_has_a_battery() {
    let field = "station \"Relay\": item[2].recharges[0]";
    wrong("[\"lamp\"]", "[\"relay\"]", "recharges", field, &["no battery of its own"]);
    wrong("[\"lamp\"]", "[\"phone\"]", "recharges", field, &["\"phone\"", "are \"lamp\""]);
    wrong(
        "holds = \"37 Wh\"\n",
        "",
        "recharges",
        "station \"Relay\": item[2].recharges",
        &["holds = \"37 Wh\""],
    );
    wrong(
        "holds = \"37 Wh\"\n",
        "holds = \"37 Wh\"\nuses = \"1 W\"\n",
        "uses = \"1 W\"",
        "station \"Relay\": item[2].uses",
        &["leave uses or recharges out"],
    );
    let lone = "name = \"relay\"\nweight = \"11 kg\"\nholds = \"5 Wh\"";
    wrong(
        "name = \"relay\"\nweight = \"11 kg\"",
        lone,
        "[[station.item]]",
        "station \"Relay\": item[0].uses",
        &["go together"],
    );
}

#[test]
fn only_packet_has_hops_and_a_background() {
    for line in ["hops = 2", "background = \"40 /h\""] {
        let field = line.split(' ').next().unwrap();
        wrong(
            "tone = \"100.0 Hz\"",
            &format!("tone = \"100.0 Hz\"\n{line}"),
            line,
            &format!("channel \"Net\": {field}"),
            &["a relay channel carries no beacons"],
        );
    }
}

/// By hand: three trackers a minute are 180 beacons an hour; 216 is a fifth more and
/// 144 a fifth less. Beyond that both numbers are told.
#[test]
fn traffic_that_contradicts_the_trackers_is_remarked() {
    let with = |heard: u32| {
        let packet = format!(
            r#"
[[channel]]
name = "Packet"
kind = "packet"
frequency = "144.8 MHz"
station = "relay"
carried = "hand-held"

[[tracker]]
name = "Sweep"
route = "Walk"
count = 3
every = "60 s"
pace = "10:00 min/km"
packet = "0.5 s"

[[pack]]
name = "box"
chemistry = "agm"
cells = 6
capacity = "7 Ah"

[[station]]
name = "Digi"
channel = "Packet"
currents = {{ transmit = "1.4 A", receive = "200 mA", standby = "60 mA" }}
traffic = {{ heard = "{heard} /h", repeated = "{heard} /h", packet = "0.5 s" }}
supply = {{ pack = "box", cutoff = "10.8 V", kept_at = "10 °C" }}
"#
        );
        read(format!("{MINIMAL}{packet}")).unwrap().remarks
    };
    for fits in [145, 180, 215] {
        assert_eq!(with(fits), [], "{fits}");
    }
    for (stated, what) in [(140, "leave traffic out to count these"), (220, "background")] {
        let remarks = with(stated);
        let [remark] = remarks.as_slice() else { panic!("{remarks:?}") };
        assert_eq!(remark.about, "station \"Digi\": traffic");
        for part in [&format!("{stated} beacons an hour are stated"), "come to 180", what] {
            assert!(remark.text.contains(part), "{part} not in {}", remark.text);
        }
    }
}
