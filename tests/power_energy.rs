//! Energy budgets: the digipeater that dies early in the cold, hand-worked
//! cases, and what must hold for any pack and any load.

use approx::assert_abs_diff_eq;
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
    Load::new(&currents, &Traffic { keyed, listening }, extras, converter)
}

fn run(battery: Battery, load: &Load, cut_out: f64, celsius: f64, longest: f64) -> Discharge {
    let rundown =
        Rundown { battery, load: load.clone(), lead: Ohms::new(0.0), cut_out: Volts::new(cut_out) };
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
        Rundown { battery, load: load.clone(), lead: Ohms::new(0.0), cut_out: Volts::new(6.4) };
    rundown.run(&Falling { wanted: DAY }, Hours::new(DAY + 12.0))
}

#[test]
fn probe() {
    for ah in [1.5, 1.8, 3.0] {
        let b = Battery::of(&pack(Chemistry::LithiumIon, 2, ah, 2.0), 1);
        let warm = run(b, &digipeater(), 6.4, 20.0, 40.0);
        let c = cold(b, &digipeater());
        println!(
            "{ah} avg {} warm {:?} cold {:?}",
            digipeater().average_amperes(),
            warm.stopped,
            c.stopped
        );
    }
}
