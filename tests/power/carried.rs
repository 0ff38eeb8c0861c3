//! Sites as places where people work and what goes up to them, each against numbers
//! worked out by hand.

use std::path::Path;

use approx::assert_abs_diff_eq;
use perchline::plan::{Hindrance, Plan};
use perchline::power::crew_needs;
use perchline::power::kit::{MOST_TRIPS, StationKit, station_kits};
use perchline::power::place::{SiteFact, SitePlace, site_place};

const MINIMAL: &str = include_str!("../plans/minimal.toml");

const STATION: &str = r#"
[forecast]
from = 2026-12-05T15:00:00
hourly = ["6 °C", "4 °C"]
gust = "45 km/h"

[[pack]]
name = "box"
chemistry = "lifepo4"
cells = 4
capacity = "20 Ah"
weight = "2.6 kg"

[[station]]
name = "Relay"
channel = "Net"
site = "Elevator"
on = 2026-12-05T17:00:00
off = 2026-12-05T21:30:00
currents = { transmit = "6 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "10 %" }
supply = { pack = "box", cutoff = "11 V" }
carriers = 2
mast = { weight = "9 kg", ballast = "60 kg" }
[[station.item]]
name = "relay with duplexer"
weight = "17 kg"
[[station.item]]
name = "feed line and antenna"
weight = "4 kg"
[[station.item]]
name = "tools and rope"
weight = "6 kg"
"#;

fn plan(changes: &[(&str, &str)]) -> Plan {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    let mut text = format!("{MINIMAL}{STATION}");
    for (from, to) in changes {
        assert!(text.contains(from), "{from} is not in the plan");
        text = text.replacen(from, to, 1);
    }
    perchline::assessment::read_text(&folder.join("minimal.toml"), &text).unwrap()
}

fn kit(changes: &[(&str, &str)]) -> StationKit {
    station_kits(&plan(changes)).remove(0)
}

/// The relay on the elevator, with these lines in its table.
fn place(lines: &str) -> SitePlace {
    let plan = plan(&[("mast = \"3 m\"\n", &format!("mast = \"3 m\"\n{lines}\n"))]);
    let budgets = perchline::power::station_budgets(&plan).unwrap();
    let station = plan.power.stations.first();
    site_place(&plan, ("Net", station), &plan.sites[0], budgets.first())
}

/// By hand, two people and 20 kg a trip, the heaviest first: 17 + 2.6, 15 + 4, 15, 15,
/// 15, 9 + 6 kg are six loads, three trips of two. In all 98.6 kg: 9 of mast, 60 of
/// ballast in four bags, 27 of the rest and 2.6 of the pack; over 0.45359237 that is
/// 217.4 lb.
#[test]
fn what_goes_up_by_person_and_by_trip() {
    let kit = kit(&[]);
    assert_abs_diff_eq!(kit.weight_kg.value(), 98.6, epsilon = 1e-9);
    assert_abs_diff_eq!(kit.weight_kg.pounds(), 217.4, epsilon = 0.05);
    let loads: Vec<_> = kit
        .loads
        .iter()
        .map(|l| (l.trip, l.carriers.as_slice(), (l.weight_kg.value() * 10.0).round() / 10.0))
        .collect();
    assert_eq!(
        loads,
        [
            (1, &[1][..], 19.6),
            (1, &[2][..], 19.0),
            (2, &[1][..], 15.0),
            (2, &[2][..], 15.0),
            (3, &[1][..], 15.0),
            (3, &[2][..], 15.0),
        ]
    );
    assert_eq!((kit.trips, kit.can_be_carried(), kit.not_counted.len()), (3, true, 0));
    let carried: f64 = kit.loads.iter().map(|l| l.weight_kg.value()).sum();
    assert_abs_diff_eq!(carried, kit.weight_kg.value(), epsilon = 1e-9);
}

/// Ten bags of 15 kg, a mast, a relay: 17 loads of one person are more trips than are
/// made; a block of 34 kg is more than two lift; one of 30 kg goes up between two.
#[test]
fn what_nobody_carries_is_told() {
    let many = kit(&[("carriers = 2", "carriers = 1"), ("\"60 kg\"", "\"150 kg\"")]);
    assert!(many.trips > MOST_TRIPS && many.too_heavy.is_empty() && !many.can_be_carried());
    let block = "mast = { weight = \"9 kg\", ballast = \"68 kg\", piece = \"34 kg\" }";
    let mast = "mast = { weight = \"9 kg\", ballast = \"60 kg\" }";
    let heavy = kit(&[(mast, block)]);
    assert_eq!((heavy.too_heavy.len(), heavy.can_be_carried()), (2, false));
    let shared = kit(&[(mast, &block.replace("34 kg", "30 kg").replace("68", "60"))]);
    let pairs: Vec<_> = shared.loads.iter().filter(|l| l.carriers.len() == 2).collect();
    assert_eq!((pairs.len(), shared.too_heavy.len()), (2, 0));
    // What is not stated is not counted, and said.
    let silent = kit(&[(mast, "")]);
    assert_eq!(silent.not_counted, ["mast, guys and ballast"]);
    assert_abs_diff_eq!(silent.weight_kg.value(), 29.6, epsilon = 1e-9);
}

/// By hand: 12.5 m/s on 0.05 x 3 + 0.05 = 0.2 m² is 0.5 x 1.29 x 156.25 x 0.2 x 1.2 =
/// 24.19 N; 3 m up, with 1.5 in hand, over 0.6 m and 9.80665 m/s²: 18.50 kg. With a
/// mast of 9 kg on 1.44 m² that is 19.1 kg/m² or 0.187 kPa; 60 kg of ballast are 47.9.
#[test]
fn ballast_follows_the_wind_and_presses_on_the_roof() {
    let silent = kit(&[(", ballast = \"60 kg\"", "")]);
    let ballast = silent.ballast.as_ref().unwrap();
    assert_eq!((ballast.stated_kg, ballast.short()), (None, None));
    assert_abs_diff_eq!(ballast.carried().value(), 18.50, epsilon = 0.01);
    let low = kit(&[("\"60 kg\"", "\"10 kg\"")]);
    let short = low.ballast.as_ref().unwrap().short().unwrap();
    assert_abs_diff_eq!(short.value(), 8.50, epsilon = 0.01);

    let stated = place("roof_load = \"40 kg/m2\"").roof.unwrap();
    assert_abs_diff_eq!(stated.load.value(), 69.0 / 1.44, epsilon = 1e-9);
    assert!(stated.is_too_much && !place("roof_load = \"50 kg/m2\"").roof.unwrap().is_too_much);
    let unknown = place("");
    assert!(!unknown.roof.unwrap().is_too_much);
    assert!(unknown.not_stated.contains(&SiteFact::RoofLoad));
    let plan = plan(&[(", ballast = \"60 kg\"", "")]);
    let roof = site_place(&plan, ("Net", plan.power.stations.first()), &plan.sites[0], None).roof;
    assert_abs_diff_eq!(roof.unwrap().load.value(), 19.1, epsilon = 0.05);
    assert_abs_diff_eq!(roof.unwrap().kilopascals(), 0.187, epsilon = 0.001);
}

/// The station is on from 17:00 to 21:30, the event is taken down at its end, 21:00.
#[test]
fn hours_against_the_station_s() {
    use Hindrance::{ClosedWhenSwitchedOn, ClosesWhileOn, OpensLate};
    let hours = |from: &str, until: &str| {
        let field = |name: &str, time: &str| match time {
            "" => String::new(),
            time => format!("{name} = 2026-12-{time}:00\n"),
        };
        place(&(field("open_from", from) + &field("open_until", until))).access.hindrances
    };
    assert_eq!(hours("", ""), []);
    assert_eq!(hours("05T17:00", "05T21:30"), []);
    assert_eq!(hours("05T17:30", ""), [OpensLate]);
    assert_eq!(hours("05T08:00", "05T16:00"), [ClosedWhenSwitchedOn]);
    assert_eq!(hours("05T18:00", "05T21:00"), [OpensLate, ClosesWhileOn]);
    // Switched off at 20:00, closed at 20:30, tear-down at the event's end.
    let plan = plan(&[
        ("off = 2026-12-05T21:30:00", "off = 2026-12-05T20:00:00"),
        ("mast = \"3 m\"\n", "mast = \"3 m\"\nopen_until = 2026-12-05T20:30:00\n"),
    ]);
    let station = plan.power.stations.first();
    let access = plan.site_access(&plan.sites[0], station);
    assert_eq!(access.hindrances, [Hindrance::ClosedAtTearDown]);
    assert!(!access.open_throughout());
    // Without a station the event's own times count.
    assert!(plan.site_access(&plan.sites[1], None).open_throughout());
}

/// A pack of a fifth of the size has to be changed again and again: none of the changes
/// after 19:00 can be made where the doors close then.
#[test]
fn changes_of_packs_behind_a_closed_door() {
    let small = [("capacity = \"20 Ah\"", "capacity = \"4 Ah\"")];
    let missed = |until: &str| {
        let hours = format!("mast = \"3 m\"\nopen_until = 2026-12-05T{until}:00\n");
        let plan = plan(&[small[0], ("mast = \"3 m\"\n", &hours)]);
        let budget = perchline::power::station_budgets(&plan).unwrap().remove(0);
        let place =
            site_place(&plan, ("Net", plan.power.stations.first()), &plan.sites[0], Some(&budget));
        (budget.changes.len(), place.changes_missed.len())
    };
    let (all, none) = missed("22:00");
    assert!(all > 1 && none == 0, "{all} {none}");
    let (all, some) = missed("19:00");
    assert!(some > 0 && some < all, "{some} of {all}");
}

/// Source: 29 CFR 1910.29(b)(1), 42 in, and 1910.333(c)(3), 10 ft (both from memory):
/// a rail of 1.0 m is low, one of 1.1 m is not; a mast of
/// 3 m with half an antenna of 1.5 m stands 7.55 m from a line.
#[test]
fn edges_and_power_lines() {
    assert!(place("guardrail = \"1.0 m\"").guardrail_is_low);
    assert!(place("guardrail = \"0 m\"").guardrail_is_low);
    assert!(!place("guardrail = \"1.1 m\"").guardrail_is_low);
    assert!(!place("guardrail = \"3.5 ft\"").guardrail_is_low);
    let near = place("power_line = \"7.5 m\"");
    assert_abs_diff_eq!(near.clear_of_lines_m.value(), 7.55, epsilon = 1e-9);
    assert!(near.line_is_near && !place("power_line = \"7.6 m\"").line_is_near);
    let told = perchline::report::place_words::mind(&near, perchline::plan::UnitSystem::Metric);
    assert!(told.iter().any(|line| line.contains("power line 7.5 m away")), "{told:?}");
}

/// By hand, at 25 °C: a phone of 15 Wh, two years old (5 % a year), gives 15 x 0.9025
/// x 0.986 x 0.9 = 12.01 Wh in the poor case and uses 1.8 x 1.25 x 5.5 = 12.375: each
/// of two lacks 0.362. Two banks of 0.5 Wh give 0.5 x 0.986 x 0.9 x 0.7 x 2 = 0.621 of
/// these 0.724: 0.103 are still missing. Two of 37 Wh give 45.97.
#[test]
fn power_banks_give_what_items_lack() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    let bank = |holds: &str| {
        let text = include_str!("../plans/full.toml")
            .replace("kept_at = \"12 °C\"", "kept_at = \"25 °C\"")
            .replace(
                "holds = \"37 Wh\"\nrecharges = [\"phone\"]",
                &format!("holds = \"{holds}\"\nrecharges = [\"phone\"]"),
            );
        let plan = perchline::assessment::read_text(&folder.join("full.toml"), &text).unwrap();
        let lines = crew_needs(&plan).unwrap().remove(0).lines;
        let phone = lines.iter().find(|line| line.what == "phone").unwrap().short_wh.unwrap();
        assert_abs_diff_eq!(phone.value(), 0.362, epsilon = 5e-3);
        lines.iter().find(|line| line.what == "power bank").unwrap().recharges.clone().unwrap()
    };
    let small = bank("0.5 Wh");
    assert_abs_diff_eq!(small.gives_wh.value(), 0.621, epsilon = 1e-3);
    assert_abs_diff_eq!(small.short_wh.unwrap().value(), 0.103, epsilon = 5e-3);
    let large = bank("37 Wh");
    assert_abs_diff_eq!(large.gives_wh.value(), 45.97, epsilon = 0.01);
    assert_eq!((large.short_wh, large.items), (None, vec!["phone".to_owned()]));
}

/// By hand: 180 beacons of 0.5 s and 36 of others of 0.9 s an hour are 122.4 s, 3.4 %.
/// Alone a digipeater hears and sends that. Two that hear each other, with two hops,
/// send each twice and hear the other's besides: 6.8 % and 10.2 %.
#[test]
fn digipeaters_that_repeat_each_other_are_busier() {
    let packet = |hops: u32, more: bool| {
        let station = |name: &str| {
            format!(
                "\n[[station]]\nname = \"{name}\"\nchannel = \"Packet\"\ncurrents = {{ transmit = \"1.4 A\", receive = \"200 mA\", standby = \"60 mA\" }}\nsupply = {{ pack = \"box\", cutoff = \"11 V\" }}\n"
            )
        };
        let text = format!(
            "{MINIMAL}\n[[channel]]\nname = \"Packet\"\nkind = \"packet\"\nfrequency = \"144.8 MHz\"\nstation = \"relay\"\ncarried = \"hand-held\"\nbackground = \"36 /h\"\nhops = {hops}\n\n[[tracker]]\nname = \"Sweep\"\nroute = \"Walk\"\ncount = 3\nevery = \"60 s\"\npace = \"10:00 min/km\"\npacket = \"0.5 s\"\n{STATION}{}{}",
            station("One"),
            if more { station("Two") } else { String::new() }
        );
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
        let plan = perchline::assessment::read_text(&folder.join("minimal.toml"), &text).unwrap();
        plan.power.stations.iter().find(|s| s.name == "One").unwrap().traffic
    };
    for (hops, more, keyed, listening) in [
        (1, false, 0.034, 0.034),
        (2, false, 0.034, 0.034),
        (1, true, 0.034, 0.068),
        (2, true, 0.068, 0.102),
    ] {
        let traffic = packet(hops, more);
        assert_eq!(traffic.beacons_an_hour.map(f64::round), Some(216.0));
        assert_abs_diff_eq!(traffic.keyed, keyed, epsilon = 1e-9);
        assert_abs_diff_eq!(traffic.listening, listening, epsilon = 1e-9);
    }
}
