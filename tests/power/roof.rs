//! Shared roofs, intermodulation products and exposure, held to what stands outside of
//! the project: published tables, textbook cases, enumeration by brute force.

use crate::support;
use crate::support::powered::{DIGIPEATER, PACKET, RELAY};
use std::collections::BTreeSet;
use std::f64::consts::PI;
use std::path::Path;

use approx::{assert_abs_diff_eq, assert_relative_eq};
use perchline::link::RoofNoise;
use perchline::plan::{self, ExposureStandard, Plan, Stands};
use perchline::power::exposure::{
    People, Reflection, exposures, far_field_distance, limit, power_density,
};
use perchline::power::isolation::{Separation, slant};
use perchline::power::mast::wind_loads;
use perchline::power::products::{
    Emitter, HIGHEST_HARMONIC, Listener, ORDERS, emitters, formula, harmonics, listeners, products,
    smallest_change,
};
use perchline::power::sharing::{TOLERATED, duplexer_needs, roof_noise, roofs};
use perchline::units::{Db, Dbi, Megahertz, Metres};
use proptest::prelude::*;

// --- exposure ------------------------------------------------------------------

/// A row of a table of distances: antenna gain in dBi, MHz, watts, and metres
/// for controlled and for uncontrolled exposure.
type Row = (f64, f64, f64, f64, f64);

/// FCC OET Bulletin 65, Supplement B (amateur stations), tables of distances by
/// antenna, computed there with the ground's reflection and printed to 0.1 m
/// (from memory): a quarter-wave ground plane at 146 MHz, a 5/8-wave ground
/// plane at 446 MHz, a Yagi of 17 elements at 144 MHz.
const TABLE: [Row; 6] = [
    (1.0, 146.0, 10.0, 0.5, 1.1),
    (1.0, 146.0, 50.0, 1.1, 2.5),
    (1.0, 146.0, 150.0, 2.0, 4.4),
    (4.0, 446.0, 10.0, 0.6, 1.3),
    (4.0, 446.0, 50.0, 1.3, 2.9),
    (16.8, 144.0, 10.0, 3.1, 7.0),
];

#[test]
fn distances_are_those_of_the_bulletin() {
    let mut worst = 0.0f64;
    for (gain, mhz, watts, controlled, uncontrolled) in TABLE {
        let eirp = watts * 10f64.powf(gain / 10.0);
        for (people, printed) in
            [(People::Controlled, controlled), (People::Uncontrolled, uncontrolled)]
        {
            let limit = limit(ExposureStandard::Oet65, people, Megahertz::new(mhz)).unwrap();
            let found = far_field_distance(eirp, limit, Reflection::Ground).value();
            // Half of the table's last place.
            assert_abs_diff_eq!(found, printed, epsilon = 0.0501);
            worst = worst.max((found / printed - 1.0).abs() * 100.0);
        }
    }
    println!("figure oet65_worst_percent {worst:.1} %");
}

/// OET 65, equation 10 (from memory): S = 33.4 ERP / R² in µW/cm² with ERP in
/// watts over a half-wave dipole and R in metres, with the reflection of 1.6.
#[test]
fn power_density_is_that_of_the_bulletin_s_shorthand() {
    let (erp, metres) = (1000.0, 20.0);
    // 1 W/m² is 100 µW/cm²; a dipole has 1.64 over an isotropic radiator.
    let density = power_density(erp * 1.64, Metres::new(metres), Reflection::Ground) * 100.0;
    assert_relative_eq!(density, 33.4 * erp / (metres * metres), max_relative = 1e-3);
    // Without reflection: equation 4, EIRP over the sphere.
    let free = power_density(1.0, Metres::new(1.0), Reflection::None);
    assert_relative_eq!(free, 1.0 / (4.0 * PI), max_relative = 1e-12);
}

/// OET 65 appendix A table 1 and ICNIRP 2020, reference levels for whole-body
/// exposure (both from memory), in W/m²; 1 mW/cm² is 10 W/m².
#[test]
fn limits_are_those_printed() {
    let at = |standard, people, mhz| limit(standard, people, Megahertz::new(mhz)).unwrap();
    for (mhz, controlled, uncontrolled) in [
        (50.0, 10.0, 2.0),
        (147.0, 10.0, 2.0),
        (450.0, 15.0, 3.0),
        (1500.0, 50.0, 10.0),
        (5800.0, 50.0, 10.0),
    ] {
        assert_relative_eq!(at(ExposureStandard::Oet65, People::Controlled, mhz), controlled);
        assert_relative_eq!(at(ExposureStandard::Oet65, People::Uncontrolled, mhz), uncontrolled);
    }
    for (mhz, controlled, uncontrolled) in
        [(100.0, 10.0, 2.0), (400.0, 10.0, 2.0), (900.0, 22.5, 4.5), (2000.0, 50.0, 10.0)]
    {
        assert_relative_eq!(at(ExposureStandard::Icnirp2020, People::Controlled, mhz), controlled);
        assert_relative_eq!(
            at(ExposureStandard::Icnirp2020, People::Uncontrolled, mhz),
            uncontrolled
        );
    }
    assert_eq!(limit(ExposureStandard::Oet65, People::Uncontrolled, Megahertz::new(29.0)), None);
}

// --- intermodulation products -------------------------------------------------------------

fn emitter(hertz: i64, deviation: i64) -> Emitter {
    Emitter { name: format!("{hertz}"), hertz, deviation }
}

fn listener(hertz: i64, width: i64) -> Listener {
    Listener { name: format!("{hertz}"), hertz, width }
}

/// What a hit is, however it was found: order, coefficients by emitter with the
/// first of them positive, listener.
type Found = BTreeSet<(u32, Vec<(usize, i64)>, usize)>;

/// Every product by brute force: each emitter's coefficient from -5 to 5, all
/// combinations, no cleverness.
fn brute_force(emitters: &[Emitter], listeners: &[Listener]) -> Found {
    let mut found = BTreeSet::new();
    let span = 11usize;
    for code in 0..span.pow(emitters.len() as u32) {
        let mut rest = code;
        let coefficients: Vec<i64> = emitters
            .iter()
            .map(|_| {
                let coefficient = (rest % span) as i64 - 5;
                rest /= span;
                coefficient
            })
            .collect();
        let order: i64 = coefficients.iter().map(|c| c.abs()).sum();
        let signals = coefficients.iter().filter(|c| **c != 0).count();
        if ![2, 3, 5].contains(&order) || !(2..=3).contains(&signals) {
            continue;
        }
        let hertz: i64 = coefficients.iter().zip(emitters).map(|(c, e)| c * e.hertz).sum();
        let swing: i64 =
            coefficients.iter().zip(emitters).map(|(c, e)| c.abs() * e.deviation).sum();
        for (index, channel) in listeners.iter().enumerate() {
            if (hertz.abs() - channel.hertz).abs() <= channel.width / 2 + swing {
                let mut terms: Vec<_> =
                    coefficients.iter().copied().enumerate().filter(|(_, c)| *c != 0).collect();
                if terms[0].1 < 0 {
                    terms.iter_mut().for_each(|(_, c)| *c = -*c);
                }
                found.insert((order as u32, terms, index));
            }
        }
    }
    found
}

fn exhaustive(emitters: &[Emitter], listeners: &[Listener]) -> Found {
    let hits = products(emitters, listeners);
    let all: Found = hits
        .iter()
        .map(|hit| {
            let terms = hit.terms.iter().map(|(c, i)| (*i, *c)).collect();
            (hit.order, terms, hit.listener)
        })
        .collect();
    assert_eq!(all.len(), hits.len(), "a product is told twice");
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(60))]

    /// Random channels on a raster of 12.5 kHz within four megahertz, where
    /// products are many.
    #[test]
    fn products_are_those_of_brute_force(
        carriers in prop::collection::btree_set(0..320i64, 2..5),
        channels in prop::collection::btree_set(0..320i64, 1..6),
    ) {
        let on_raster = |step: i64| 144_000_000 + step * 12_500;
        let emitters: Vec<_> = carriers.iter().map(|c| emitter(on_raster(*c), 2500)).collect();
        let listeners: Vec<_> = channels.iter().map(|c| listener(on_raster(*c), 12_500)).collect();
        prop_assert_eq!(exhaustive(&emitters, &listeners), brute_force(&emitters, &listeners));
    }
}

#[test]
fn products_of_a_crowded_event_agree_with_brute_force() {
    let emitters: Vec<_> = [144_800_000, 146_550_000, 146_580_000, 147_000_000, 147_600_000]
        .map(|hertz| emitter(hertz, 2500))
        .into();
    let mut listeners: Vec<_> =
        (0..400).map(|i| listener(143_000_000 + i * 12_500, 12_500)).collect();
    listeners.push(listener(294_600_000, 12_500));
    listeners.push(listener(2_200_000, 12_500));
    let (mine, brute) = (exhaustive(&emitters, &listeners), brute_force(&emitters, &listeners));
    assert!(mine.len() > 200, "{}", mine.len());
    let agree = mine.intersection(&brute).count();
    let all = mine.union(&brute).count();
    let percent = 100.0 * agree as f64 / all as f64;
    assert_eq!(mine, brute);
    println!("figure intermod_brute_force_agreement_percent {percent:.0} %");
}

/// The textbook's two-tone test: carriers at 100 and 101 MHz give 1 and 201 in
/// second order, 99, 102, 301 and 302 in third, 98 and 103 among those of fifth.
#[test]
fn two_tones_give_the_textbook_s_products() {
    let emitters = [emitter(100_000_000, 0), emitter(101_000_000, 0)];
    let at = |order: u32, mhz: i64| {
        let hits = products(&emitters, &[listener(mhz * 1_000_000, 2)]);
        hits.iter().any(|hit| hit.order == order && hit.inside)
    };
    for (order, falls) in
        [(2, [1, 201, 1, 201]), (3, [99, 102, 301, 302]), (5, [98, 103, 502, 503])]
    {
        for mhz in falls {
            assert!(at(order, mhz), "order {order} at {mhz} MHz");
        }
    }
    assert!(!at(3, 98) && !at(2, 99) && !at(5, 96));
    let hit = &products(&emitters, &[listener(99_000_000, 2)])[0];
    assert_eq!(formula(hit, &emitters), "2 x 100000000 - 101000000");
    assert_eq!(ORDERS, [2, 3, 5]);
}

/// The third harmonic of 147 MHz is 441 MHz: by definition.
#[test]
fn harmonics_are_whole_multiples() {
    let emitters = [emitter(147_000_000, 2500)];
    let hits =
        harmonics(&emitters, &[listener(441_000_000, 12_500), listener(150_000_000, 12_500)]);
    assert_eq!(hits.len(), 1);
    assert_eq!((hits[0].order, hits[0].listener, hits[0].inside), (3, 0, true));
    // Its swing is three times the deviation: 7.5 kHz, so 13 kHz off it still reaches in.
    let near = harmonics(&emitters, &[listener(441_013_000, 12_500)]);
    assert!(!near[0].inside);
    assert!(harmonics(&emitters, &[listener(441_014_000, 12_500)]).is_empty());
    // The last that is looked for, and none beyond it.
    let at = |n: u32| harmonics(&emitters, &[listener(147_000_000 * i64::from(n), 12_500)]).len();
    assert_eq!((at(HIGHEST_HARMONIC), at(HIGHEST_HARMONIC + 1)), (1, 0));
}

// --- plans -----------------------------------------------------------------------

/// A relay and a digipeater on one roof, both on one pack.
fn stations() -> String {
    let pack = r#"
[[pack]]
name = "box"
chemistry = "lifepo4"
cells = 4
capacity = "20 Ah"
"#;
    let supply = r#"supply = { pack = "box", cutoff = "11 V", kept_at = "5 °C" }"#;
    let relay = r#"roof = { duplexer = "120 dB" }"#;
    let digipeater = r#"roof = { east = "30 m", receive_filter = "40 dB", transmit_filter = "20 dB", noise_below_carrier = "100 dB", rejection = "90 dB" }"#;
    format!("{PACKET}{pack}{RELAY}{supply}\n{relay}\n{DIGIPEATER}{supply}\n{digipeater}\n")
}

fn read(edit: impl Fn(String) -> String) -> Plan {
    let folder = tempfile::tempdir().unwrap();
    support::write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 50.0);
    let path = folder.path().join("plan.toml");
    let text = edit(support::PLAN.to_owned() + &stations());
    std::fs::write(&path, text).unwrap();
    plan::read(Path::new(&path), &["delta-bullington"]).unwrap()
}

/// By hand, relay into digipeater: 43.98 dBm less two lines of 10 m RG-213 and
/// two filters of 1.5 dB; antennas of 5.15 dBi 30 m apart at 147.0 MHz, whose
/// wavelength is 2.0394 m: 22 + 20 log 14.710 - 10.3 = 35.05 dB.
#[test]
fn desense_by_hand() {
    let plan = read(|t| t);
    let roofs = roofs(&plan);
    assert_eq!(roofs.len(), 1);
    assert_eq!(roofs[0].stations, ["Relay", "Digipeater"]);
    assert_eq!(roofs[0].site.as_deref(), Some("Hotel"));
    assert!(roofs[0].settled);
    let pair = roofs[0].pairs.iter().find(|p| p.from == "Relay" && p.to == "Digipeater").unwrap();
    assert_abs_diff_eq!(pair.isolation_db.value(), 35.05, epsilon = 0.02);
    let cable = plan::Cable::named("RG-213").unwrap();
    let line = |mhz| cable.loss(Metres::new(10.0), Megahertz::new(mhz)).value();
    let arrives = 43.979 - line(147.0) - 1.5 - 35.05 - line(144.8) - 1.5;
    // The digipeater's filter takes 40 dB off the carrier, but nothing off the
    // relay's noise; that is 148 to 153 dB under it in 1 Hz, straight over the
    // logarithm of the offset between 1 and 3 MHz, in 7.8 kHz.
    assert_abs_diff_eq!(pair.level_dbm.value(), arrives - 40.0, epsilon = 0.02);
    let below = 148.0 + 5.0 * (2.2f64).ln() / 3f64.ln() - 10.0 * 7800f64.log10();
    assert_abs_diff_eq!(pair.noise_dbm.value(), arrives - below, epsilon = 0.02);
    assert_abs_diff_eq!(pair.blocking_dbm.value(), arrives - 40.0 - 90.0, epsilon = 0.02);
    let added = pair.noise_dbm.power_sum(pair.blocking_dbm);
    let ratio = 10f64.powf((added - pair.quiet_dbm).value() / 10.0);
    assert_abs_diff_eq!(pair.desense_db.value(), 10.0 * (1.0 + ratio).log10(), epsilon = 1e-6);
    // The other way the plan states both figures.
    let back = roofs[0].pairs.iter().find(|p| p.from == "Digipeater" && p.to == "Relay").unwrap();
    assert_eq!(
        back.separation,
        Some(Separation { along_m: Metres::new(30.0), height_m: Metres::new(0.0) })
    );
    assert!(
        back.noise_dbm < back.blocking_dbm,
        "its transmit filter and 100 dB keep its noise low"
    );
}

/// What is said to fix a pair does: with the loss that is missing, with the
/// distance, and with the height, the desense is the tolerated one or less.
#[test]
fn what_mends_a_pair_mends_it() {
    let east = |plan: &Plan, east: f64| {
        let mut plan = plan.clone();
        plan.power.stations[1].roof.east = Metres::new(east);
        plan
    };
    let base = read(|t| {
        let better = "duplexer = \"120 dB\", noise_below_carrier = \"125 dB\"";
        t.replace("duplexer = \"120 dB\"", better)
    });
    let near = east(&base, 10.0);
    let of = |plan: &Plan| {
        roofs(plan)[0]
            .pairs
            .iter()
            .find(|p| p.from == "Relay" && p.to == "Digipeater")
            .unwrap()
            .clone()
    };
    let pair = of(&near);
    assert!(pair.desense_db > TOLERATED, "{pair:?}");
    let along = pair.move_along_m.unwrap();
    assert!(of(&east(&base, 10.0 + along.value())).desense_db <= TOLERATED);
    assert!(of(&east(&base, 10.0 + along.value() - 0.5)).desense_db > TOLERATED);
    let up = pair.move_up_m.unwrap();
    let mut higher = near.clone();
    higher.power.stations[1].roof.antenna = Some(Metres::new(3.0) + up);
    assert!(of(&higher).desense_db <= TOLERATED);
    // Filters where they are asked for, on top of those that are there.
    let mut filtered = near;
    filtered.power.stations[0].roof.transmit_filter = pair.transmit_filter_db;
    filtered.power.stations[1].roof.receive_filter =
        Some(Db::new(40.0) + pair.receive_filter_db.unwrap());
    assert!(of(&filtered).desense_db <= TOLERATED + Db::new(1e-6));
}

/// The isolation that a duplexer is said to need is just enough.
#[test]
fn the_duplexer_asked_for_is_just_enough() {
    let mut plan = read(|t| t);
    let need = duplexer_needs(&plan);
    assert_eq!(need.len(), 1, "a digipeater on one frequency needs none");
    // Common practice, no source: 25 W on a split of 600 kHz takes 75 to 100 dB.
    let needed = need[0].needed_db.value();
    assert!((75.0..=100.0).contains(&needed), "{needed}");
    let own = |plan: &Plan| {
        roofs(plan)[0].pairs.iter().find(|p| p.from == p.to).unwrap().desense_db.value()
    };
    plan.power.stations[0].roof.duplexer = Some(need[0].needed_db);
    assert_abs_diff_eq!(own(&plan), TOLERATED.value(), epsilon = 1e-6);
}

/// Roof noise enters a site's talk-in only where the plan puts both stations there.
#[test]
fn only_a_shared_roof_makes_noise() {
    let plan = read(|t| t.replace("roof = { duplexer = \"120 dB\" }\n", ""));
    let relay = &plan.channels[0];
    let heard = |of: &Plan, name: &str| {
        let site = plan.sites.iter().find(|s| s.name == name).unwrap();
        roof_noise(of, relay, site) != RoofNoise::default()
    };
    assert!(heard(&plan, "Hotel"));
    // They stay together wherever the relay is tried.
    assert!(heard(&plan, "Silo"));
    let mut apart = plan.clone();
    apart.power.stations[1].stands = Stands::On(1);
    assert!(!heard(&apart, "Hotel"));
    assert!(heard(&apart, "Silo"), "tried where the digipeater is");
    let mut open = plan.clone();
    open.power.stations[0].stands = Stands::Anywhere;
    open.power.stations[1].stands = Stands::Anywhere;
    assert!(!heard(&open, "Hotel"));
    // Open stations are looked at as if they shared a roof, and that is said.
    let together = roofs(&open);
    assert_eq!(together.len(), 1);
    assert!(!together[0].settled);
    assert_eq!(together[0].pairs.len(), 2);
}

/// By hand: 80 packets of 0.9 s an hour are 2 % of the time, so the digipeater
/// does not set the relay's floor; from a tenth of the time on it does. The
/// relay itself is on the air for a quarter and desenses the digipeater always,
/// and through its own duplexer itself, however seldom it speaks.
#[test]
fn who_transmits_seldom_makes_noise_at_times() {
    let noise =
        |plan: &Plan, channel: usize| roof_noise(plan, &plan.channels[channel], &plan.sites[0]);
    let channel_of = |plan: &Plan, name: &str| {
        let station = plan.power.stations.iter().find(|s| s.name == name).unwrap();
        station.channel
    };
    let mut plan = read(|t| t.replace("roof = { duplexer = \"120 dB\" }\n", ""));
    let (relay, packet) = (channel_of(&plan, "Relay"), channel_of(&plan, "Digipeater"));
    let pair = roofs(&plan)[0].pairs.iter().find(|p| p.to == "Relay").unwrap().clone();
    let at_times = noise(&plan, relay).at_times.unwrap();
    assert_abs_diff_eq!(at_times.share, 0.02, epsilon = 1e-12);
    assert_abs_diff_eq!(at_times.level.value(), pair.added().value(), epsilon = 1e-9);
    assert_eq!(noise(&plan, relay).always, None);
    assert!(noise(&plan, packet).always.is_some());
    assert_eq!(noise(&plan, packet).at_times, None);
    let digipeater = plan.power.stations.iter().position(|s| s.name == "Digipeater").unwrap();
    for (keyed, seldom) in [(0.0999, true), (0.1, false)] {
        plan.power.stations[digipeater].traffic.keyed = keyed;
        assert_eq!(noise(&plan, relay).at_times.is_some(), seldom, "{keyed}");
        assert_eq!(noise(&plan, relay).always.is_none(), seldom, "{keyed}");
    }
    let own = plan.power.stations.iter().position(|s| s.name == "Relay").unwrap();
    plan.power.stations[digipeater].traffic.keyed = 0.02;
    plan.power.stations[own].traffic.keyed = 0.02;
    plan.power.stations[own].roof.duplexer = Some(Db::new(60.0));
    assert!(noise(&plan, relay).always.is_some() && noise(&plan, relay).at_times.is_some());
}

/// A made-up simplex channel on a third-order product of the relay and the
/// digipeater: 2 x 147.0 - 144.8 = 149.2 MHz.
#[test]
fn the_smallest_change_clears_the_channels() {
    let add = |t: String, f: &str| {
        format!(
            "{t}\n[[channel]]\nname = \"Side\"\nkind = \"simplex\"\nfrequency = \"{f} MHz\"\ncarried = \"hand-held\"\n"
        )
    };
    let plan = read(|t| add(t, "149.2"));
    let inside = |plan: &Plan| {
        products(&emitters(plan), &listeners(plan)).iter().filter(|h| h.inside).count()
    };
    assert!(inside(&plan) > 0);
    let change = smallest_change(&plan).unwrap();
    assert_eq!(change.left, 0);
    // No smaller step of any channel clears it: one step is the smallest there is.
    assert!(change.shift_khz.value().abs() <= 25.0, "{change:?}");
    let clear = read(|t| add(t, "149.9"));
    assert_eq!(inside(&clear), 0);
    assert_eq!(smallest_change(&clear), None);
}

#[test]
fn exposure_and_masts_of_a_plan() {
    let plan = read(|t| t);
    let around = exposures(&plan);
    assert_eq!(around.len(), 2);
    let relay = &around[0];
    // 25 W less 10 m of RG-213 (0.8 dB) and 1.5 dB, plus 5.15 dBi: about 48 W.
    assert!((45.0..52.0).contains(&relay.eirp_w), "{}", relay.eirp_w);
    assert_abs_diff_eq!(relay.duty, 0.5);
    let d = &relay.uncontrolled;
    // 0.64 EIRP / (pi 2 W/m²), and averaging over half the time takes a root of two.
    assert_abs_diff_eq!(
        d.keep_m.value(),
        (0.64 * relay.eirp_w / (PI * 2.0)).sqrt(),
        epsilon = 1e-9
    );
    assert_relative_eq!(
        d.keyed_reflected_m.value() / d.averaged_reflected_m.value(),
        2f64.sqrt(),
        max_relative = 1e-9
    );
    assert_relative_eq!(
        d.keyed_reflected_m.value() / d.keyed_free_m.value(),
        1.6,
        max_relative = 1e-9
    );
    // Never inside the reactive near field: a wavelength over 2 pi.
    let digi = &around[1];
    let near = Megahertz::new(144.8).wavelength().value() / (2.0 * PI);
    assert!(digi.controlled.averaged_free_m.value() >= near - 1e-12);
    let masts = wind_loads(&plan);
    assert_eq!(masts.len(), 2);
    assert!(!masts[0].gust_is_forecast);
    assert!(masts[0].clear_of_lines_m > masts[0].height_m);
}

proptest! {
    /// More separation never means less loss, in either way alone.
    #[test]
    fn farther_is_never_closer(a in 0.3..200.0f64, b in 0.3..200.0f64, mhz in 30.0..1000.0f64) {
        let (near, far) = (a.min(b), a.max(b));
        let f = Megahertz::new(mhz);
        let gains = (Dbi::new(2.15), Dbi::new(2.15));
        let level = |m: f64| slant(Separation { along_m: Metres::new(m), height_m: Metres::new(0.0) }, f, gains);
        let upright = |m: f64| slant(Separation { along_m: Metres::new(0.0), height_m: Metres::new(m) }, f, gains);
        prop_assert!(level(far) >= level(near));
        prop_assert!(upright(far) >= upright(near));
    }
}
