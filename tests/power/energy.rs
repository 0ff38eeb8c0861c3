//! Energy budgets: the digipeater that dies early in the cold, hand-worked
//! cases, and what must hold for any pack and any load.

use std::path::Path;

use approx::{assert_abs_diff_eq, assert_relative_eq};
use perchline::plan::{Chemistry, Converter, Currents, Extra, Pack, Traffic};
use perchline::power::discharge::{Discharge, Ledger, Rundown, Steady, Stop, Surroundings};
use perchline::power::{Battery, Load};
use perchline::units::{AmpereHours, Amperes, Celsius, Hours, Ohms, Volts, Watts};
use proptest::prelude::*;

fn pack(chemistry: Chemistry, cells: u32, capacity: f64, age_years: f64) -> Pack {
    Pack {
        name: "pack".to_owned(),
        chemistry,
        cells,
        strings: 1,
        capacity: AmpereHours::new(capacity),
        age_years,
        weight: None,
    }
}

/// Transmit, receive and standby currents in amperes, the share of time keyed,
/// and the share listening.
fn load(
    [transmit, receive, standby]: [f64; 3],
    [keyed, listening]: [f64; 2],
    extra: f64,
    converter: Option<Converter>,
) -> Load {
    let currents = Currents {
        transmit: Amperes::new(transmit),
        receive: Amperes::new(receive),
        standby: Amperes::new(standby),
    };
    let extras = [Extra { name: "modem".to_owned(), current: Amperes::new(extra), share: 1.0 }];
    let extras = if extra > 0.0 { &extras[..] } else { &[] };
    let traffic = Traffic { keyed, listening, beacons_an_hour: None, is_counted: false };
    Load::new(&currents, &traffic, extras, converter)
}

fn run(battery: Battery, load: &Load, cutoff: f64, celsius: f64, longest: f64) -> Discharge {
    let rundown =
        Rundown { battery, load: load.clone(), lead: Ohms::new(0.0), cutoff: Volts::new(cutoff) };
    rundown.run(&Steady(Celsius::new(celsius)), Hours::new(longest))
}

// --- the digipeater -----------------------------------------------------------

/// The day's afternoon and evening: 7 °C when the digipeater goes up, 4 °C at
/// tear-down.
struct Falling {
    wanted: f64,
}

impl Surroundings for Falling {
    fn temperature(&self, after: Hours) -> Celsius {
        Celsius::new(7.0 - 3.0 * (after.value() / self.wanted).min(1.0))
    }
    fn solar(&self, _: Hours) -> Watts {
        Watts::new(0.0)
    }
}

/// A hand-held as digipeater: 5 W draws 1.4 A, squelched 60 mA, receiving
/// 200 mA, a modem 30 mA; 120 packets of 0.9 s heard and 80 repeated an hour;
/// two lithium-ion cells of 1.5 Ah, two years old; it drops out at 6.4 V.
/// (Typical of data sheets, from memory.)
fn digipeater() -> Load {
    load([1.4, 0.2, 0.06], [80.0 * 0.9 / 3600.0, 120.0 * 0.9 / 3600.0], 0.03, None)
}

const DAY: f64 = 9.0;

fn cold(battery: Battery, load: &Load) -> Discharge {
    let rundown =
        Rundown { battery, load: load.clone(), lead: Ohms::new(0.0), cutoff: Volts::new(6.4) };
    rundown.run(&Falling { wanted: DAY }, Hours::new(DAY + 12.0))
}

/// The digipeater's own pack: two years old.
fn own_pack() -> Battery {
    Battery::of(&pack(Chemistry::LithiumIon, 2, 1.5, 2.0), 1)
}

/// Common practice, no source: a digipeater on its hand-held's pack that lasted
/// the day indoors died about 45 minutes before tear-down at 4 to 7 °C; a
/// separate pack of 3 Ah was enough. The currents are typical of data sheets and
/// the length of the day is ours, so what is held here is the order of the three
/// and the size of the shortfall, not its minutes.
#[test]
fn a_digipeater_that_lasted_indoors_dies_before_tear_down_in_the_cold() {
    let day = Hours::new(DAY);
    let indoors = run(own_pack(), &digipeater(), 6.4, 20.0, DAY);
    assert_eq!(indoors.stopped, None, "indoors it lasts the day");
    let (died, _) = cold(own_pack(), &digipeater()).stopped.unwrap();
    let shortfall = (day - died).value() * 60.0;
    assert!((30.0..=60.0).contains(&shortfall), "{shortfall} minutes");
    let separate = cold(Battery::of(&pack(Chemistry::LithiumIon, 2, 3.0, 0.0), 1), &digipeater());
    assert!(separate.runs_at(day));
    assert!(separate.left(day) > 0.3, "{}", separate.left(day));
    println!("figure digipeater_shortfall_minutes {shortfall:.0} minutes");
}

/// The order does not hang on the currents taken: over the range of what
/// hand-helds and modems draw, a day that the pack lasts indoors with a tenth to
/// spare is too long for it in the cold, and 3 Ah are enough.
#[test]
fn the_order_holds_for_any_plausible_currents() {
    let mut shortfalls = Vec::new();
    for transmit in [1.2, 1.4, 1.6] {
        for standby in [0.045, 0.06, 0.08] {
            for modem in [0.02, 0.03, 0.05] {
                for repeated in [40.0, 80.0, 160.0] {
                    let keyed = repeated * 0.9 / 3600.0;
                    let load = load([transmit, 0.2, standby], [keyed, 1.5 * keyed], modem, None);
                    let (indoors, _) = run(own_pack(), &load, 6.4, 20.0, 48.0).stopped.unwrap();
                    let day = indoors * 0.9;
                    let rundown = |battery| Rundown {
                        battery,
                        load: load.clone(),
                        lead: Ohms::new(0.0),
                        cutoff: Volts::new(6.4),
                    };
                    let falling = Falling { wanted: day.value() };
                    let (died, _) =
                        rundown(own_pack()).run(&falling, Hours::new(48.0)).stopped.unwrap();
                    assert!(died < day, "{transmit} {standby} {modem} {repeated}");
                    shortfalls.push((day - died).value() * 60.0);
                    let separate = Battery::of(&pack(Chemistry::LithiumIon, 2, 3.0, 0.0), 1);
                    assert_eq!(rundown(separate).run(&falling, day).stopped, None);
                }
            }
        }
    }
    let least = shortfalls.iter().copied().fold(f64::INFINITY, f64::min);
    let most = shortfalls.iter().copied().fold(0.0, f64::max);
    println!("figure digipeater_least_shortfall_minutes {least:.0} minutes");
    println!("figure digipeater_most_shortfall_minutes {most:.0} minutes");
}

// --- by hand --------------------------------------------------------------------

/// By hand: 1 A out of 7 Ah at 25 °C lasts 7 h where neither rate nor voltage
/// ends it before (LiFePO4, no Peukert; low-voltage cutoff far below).
#[test]
fn a_steady_drain_lasts_capacity_over_current() {
    let battery = Battery::of(&pack(Chemistry::LithiumIronPhosphate, 4, 7.0, 0.0), 1);
    let discharge = run(battery, &load([1.0; 3], [0.2, 0.2], 0.0, None), 1.0, 25.0, 20.0);
    let (at, why) = discharge.stopped.unwrap();
    assert_eq!(why, Stop::Empty);
    assert_abs_diff_eq!(at.value(), 7.0, epsilon = 1e-9);
    assert_abs_diff_eq!(discharge.left(Hours::new(3.5)), 0.5, epsilon = 1e-9);
}

/// By hand: capacity at freezing is 0.82 of that at 25 °C for LiFePO4 (the
/// table in docs/power.md), so 7 Ah at 1 A last 5.74 h.
#[test]
fn the_cold_shortens_it_by_the_table() {
    let battery = Battery::of(&pack(Chemistry::LithiumIronPhosphate, 4, 7.0, 0.0), 1);
    let discharge = run(battery, &load([1.0; 3], [0.2, 0.2], 0.0, None), 1.0, 0.0, 20.0);
    assert_abs_diff_eq!(discharge.stopped.unwrap().0.value(), 5.74, epsilon = 1e-9);
}

/// Peukert's law by hand: an AGM battery of 7 Ah in twenty hours at 3.5 A, ten
/// times the rated current, lasts 20 (0.35 / 3.5)^1.15 = 1.416 h, not 2 h.
#[test]
fn lead_acid_follows_peukert() {
    let battery = Battery::of(&pack(Chemistry::LeadAcid, 6, 7.0, 0.0), 1);
    let discharge = run(battery, &load([3.5; 3], [0.2, 0.2], 0.0, None), 1.0, 25.0, 20.0);
    let (at, _) = discharge.stopped.unwrap();
    assert_abs_diff_eq!(at.value(), 20.0 * 0.1f64.powf(1.15), epsilon = 1e-9);
}

/// By hand: 74 W at 88 % are 84.1 W from the pack. Four LiFePO4 cells rest at
/// 13.04 V on average (the area under the table in docs/power.md) and lose 0.3 %
/// in themselves (6.4 A through 6.4 mΩ), so 50 Ah last 50 x 13.04 x 0.997 / 84.1 h.
#[test]
fn a_converter_draws_constant_power() {
    let converter = Converter { output: Volts::new(7.4), efficiency: 0.88 };
    let battery = Battery::of(&pack(Chemistry::LithiumIronPhosphate, 4, 50.0, 0.0), 1);
    let load = load([10.0; 3], [0.2, 0.2], 0.0, Some(converter));
    let (at, _) = run(battery, &load, 8.0, 25.0, 20.0).stopped.unwrap();
    assert_abs_diff_eq!(at.value(), 50.0 * 13.04 * 0.997 / 84.1, epsilon = 0.02);
}

/// A load that the pack can't carry at all stops at once, for its sag.
#[test]
fn too_heavy_a_load_stops_at_once() {
    let battery = Battery::of(&pack(Chemistry::LithiumIon, 2, 1.0, 0.0), 1);
    let discharge = run(battery, &load([10.0, 0.1, 0.1], [0.1, 0.1], 0.0, None), 6.4, -10.0, 9.0);
    assert_eq!(discharge.stopped, Some((Hours::new(0.0), Stop::Sag)));
    // The same load that is never keyed runs.
    let idle = run(battery, &load([10.0, 0.1, 0.1], [0.0, 0.1], 0.0, None), 6.4, 20.0, 2.0);
    assert_eq!(idle.stopped, None);
}

/// A sun that gives this many watts at a steady temperature.
struct Sun {
    celsius: f64,
    watts: f64,
}

impl Surroundings for Sun {
    fn temperature(&self, _: Hours) -> Celsius {
        Celsius::new(self.celsius)
    }
    fn solar(&self, _: Hours) -> Watts {
        Watts::new(self.watts)
    }
}

/// Source: makers of lithium cells forbid charging below freezing (from
/// memory). There the sun carries the load but charges nothing.
#[test]
fn the_sun_carries_the_load_and_charges_only_what_is_warm_enough() {
    let battery = Battery::of(&pack(Chemistry::LithiumIronPhosphate, 4, 10.0, 0.0), 1);
    let rundown = Rundown {
        battery,
        load: load([1.0; 3], [0.2, 0.2], 0.0, None),
        lead: Ohms::new(0.0),
        cutoff: Volts::new(10.0),
    };
    let after = |celsius, watts| {
        rundown.run(&Sun { celsius, watts }, Hours::new(5.0)).left(Hours::new(5.0))
    };
    assert_abs_diff_eq!(after(25.0, 0.0), 0.5, epsilon = 1e-9);
    // Half of the current comes from the sun: 6.6 W at about 13.2 V.
    assert_abs_diff_eq!(after(25.0, 6.6), 0.75, epsilon = 0.01);
    // More than the load: it stays full, and no fuller.
    assert_abs_diff_eq!(after(25.0, 50.0), 1.0, epsilon = 1e-9);
    assert_abs_diff_eq!(after(-5.0, 50.0), 1.0, epsilon = 1e-9);
}

// --- what must hold for any pack and any load ------------------------------------

prop_compose! {
    fn any_rundown()(
        chemistry in prop::sample::select(Chemistry::all().collect::<Vec<_>>()),
        cells in 2..8u32,
        capacity in 0.5..50.0f64,
        age in 0.0..10.0f64,
        currents in prop::array::uniform3(0.01..8.0f64),
        keyed in 0.0..0.5f64,
        listening in 0.0..0.5f64,
        extra in 0.0..1.0f64,
        lead in 0.0..0.3f64,
        cutoff_share in 0.3..0.95f64,
        converter in prop::option::of((3.0..15.0f64, 0.5..1.0f64)),
    ) -> Rundown {
        let pack = pack(chemistry, cells, capacity, age);
        let converter = converter
            .map(|(output, efficiency)| Converter { output: Volts::new(output), efficiency });
        Rundown {
            battery: Battery::of(&pack, 1),
            load: load(currents, [keyed, listening], extra, converter),
            lead: Ohms::new(lead),
            cutoff: Volts::new(pack.nominal().value() * cutoff_share),
        }
    }
}

/// All the energy that the cells hold at rest, in Wh: the resting voltage over
/// the whole of the rated charge.
fn most_energy(battery: &Battery) -> f64 {
    let steps = 1000;
    let mean: f64 = (0..steps)
        .map(|i| battery.resting((f64::from(i) + 0.5) / f64::from(steps)).value())
        .sum::<f64>()
        / f64::from(steps);
    mean * battery.rated().value()
}

fn sound(ledger: &Ledger) -> bool {
    [ledger.load_wh, ledger.converter_wh, ledger.lead_wh, ledger.pack_wh, ledger.from_sun_wh]
        .iter()
        .all(|part| part.value() >= -1e-12)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    /// Energy out of cells and sun is energy into load, converter, lead and
    /// pack; and no pack gives more than it holds.
    #[test]
    fn energy_is_conserved(rundown in any_rundown(), celsius in -25.0..40.0f64, watts in 0.0..40.0f64) {
        for watts in [0.0, watts] {
            let discharge = rundown.run(&Sun { celsius, watts }, Hours::new(30.0));
            let ledger = &discharge.ledger;
            let scale = ledger.load_wh.value().max(1.0);
            prop_assert!(ledger.imbalance().value().abs() < 1e-9 * scale, "{ledger:?}");
            prop_assert!(sound(ledger), "{ledger:?}");
            // Capacity may be 3 % over the rated one in the heat.
            let most = 1.04 * most_energy(&rundown.battery);
            prop_assert!(ledger.from_cells_wh.value() <= most, "{ledger:?} of {most}");
        }
    }

    /// Charge never grows without sun, and stays between nothing and all.
    #[test]
    fn charge_only_falls(rundown in any_rundown(), celsius in -25.0..40.0f64) {
        let discharge = rundown.run(&Steady(Celsius::new(celsius)), Hours::new(12.0));
        let left: Vec<_> = (0..=720)
            .map(|minute| discharge.left(Hours::new(f64::from(minute) / 60.0)))
            .collect();
        prop_assert!(left.windows(2).all(|w| w[0] >= w[1]));
        prop_assert!(left.iter().all(|l| (0.0..=1.0).contains(l)));
    }

    /// A bigger pack, a warmer one below 25 °C, and a lighter load never stop earlier.
    #[test]
    fn more_never_lasts_less(rundown in any_rundown(), celsius in -25.0..20.0f64, more in 1.0..2.0f64) {
        let longest = Hours::new(30.0);
        let lasts = |rundown: &Rundown, celsius: f64| {
            let stopped = rundown.run(&Steady(Celsius::new(celsius)), longest).stopped;
            stopped.map_or(longest, |(at, _)| at).value()
        };
        let base = lasts(&rundown, celsius);
        let bigger = Rundown { battery: rundown.battery.scaled(more), ..rundown.clone() };
        prop_assert!(lasts(&bigger, celsius) >= base - 1e-9);
        prop_assert!(lasts(&rundown, celsius + 5.0) >= base - 1e-9);
        let lower = Rundown {
            cutoff: Volts::new(rundown.cutoff.value() / more),
            ..rundown.clone()
        };
        prop_assert!(lasts(&lower, celsius) >= base - 1e-9);
    }
}

/// By hand, 15 Wh that use 1.2 W, three years old (5 % a year), kept at 25 °C
/// where nothing is lost to the cold: 15 x 0.857375 / 1.2 = 10.717 h. In the poor
/// case at 22 °C, by the table 0.93 + 0.07 x 12/15 = 0.986, a tenth less and a
/// quarter more use: 15 x 0.857375 x 0.986 x 0.9 / 1.5 = 7.608 h.
#[test]
fn what_has_a_battery_of_its_own_gets_cold_and_old() {
    let text = include_str!("../plans/full.toml");
    let item = "uses = \"1.8 W\"\nholds = \"15 Wh\"\nage = \"2 years\"";
    assert!(text.contains(item));
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    let needs = |kept: &str, age: &str| {
        let text = text
            .replace(item, &format!("uses = \"1.2 W\"\nholds = \"15 Wh\"\nage = \"{age}\""))
            .replace("kept_at = \"12 °C\"", &format!("kept_at = \"{kept} °C\""));
        let plan = perchline::assessment::read_text(&folder.join("full.toml"), &text).unwrap();
        let crew = perchline::power::crew_needs(&plan).unwrap().remove(0);
        crew.lines.iter().find(|line| line.what == "phone").unwrap().clone()
    };
    let line = needs("25", "3 years");
    assert_relative_eq!(line.lasts_h.unwrap().value(), 10.717, max_relative = 1e-3);
    assert_relative_eq!(line.poor_lasts_h.unwrap().value(), 7.608, max_relative = 1e-3);
    // The shift of 5.5 h is within the poor case's reach.
    assert_eq!(line.short_wh, None);
    let cold = needs("-10", "3 years");
    assert!(cold.lasts_h < line.lasts_h && cold.poor_lasts_h < cold.lasts_h);
    // 15 x 0.857375 x along(-13 °C, 0.655) x 0.9 = 7.581 Wh against 1.5 W x 5.5 h.
    assert_relative_eq!(cold.short_wh.unwrap().value(), 8.25 - 7.581, max_relative = 2e-2);
}

/// The poor case leads each verdict.
#[test]
fn a_verdict_is_that_of_the_poor_case() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml");
    let plan = perchline::assessment::read(&file).unwrap();
    let budgets = perchline::power::station_budgets(&plan).unwrap();
    let relay = budgets.iter().find(|b| b.station == "Relay").unwrap();
    let says = |change: &dyn Fn(&mut perchline::power::StationBudget)| {
        let mut budget = relay.clone();
        change(&mut budget);
        let rows = perchline::report::power_tables::power_rows(&[budget]);
        perchline::report::screen::Screen::default().rows(rows).long()
    };
    let margin = Some(Hours::new(2.0));
    let runs_on = |budget: &mut perchline::power::StationBudget, left: f64| {
        (budget.expected.margin_h, budget.expected.left_at_end) = (margin, 0.4);
        (budget.poor.margin_h, budget.poor.left_at_end) = (margin, left);
    };
    let just = says(&|b| runs_on(b, 0.14));
    assert!(
        just.starts_with("power, Relay: only just: the poor case ends with 14 % left"),
        "{just}"
    );
    let fine = says(&|b| runs_on(b, 0.2));
    assert!(fine.contains("should run to the end in the poor case too, with 20 % left"), "{fine}");
    let tired = says(&|b| {
        runs_on(b, 0.0);
        b.poor.margin_h = Some(Hours::new(-1.0));
        b.poor.dies_at = Some(b.on.clone());
    });
    assert!(
        tired.starts_with("power, Relay: its pack DIES at")
            && tired.contains("as expected it should run to the end"),
        "{tired}"
    );
    let dead = says(&|b| {
        b.expected.margin_h = Some(Hours::new(-1.0));
        b.expected.dies_at = Some(b.off.clone());
        b.poor.margin_h = Some(Hours::new(-1.5));
        b.poor.dies_at = Some(b.on.clone());
    });
    assert!(
        dead.contains("its pack DIES at 15:00 in the poor case, ")
            && dead.contains("; as expected at "),
        "{dead}"
    );
}
