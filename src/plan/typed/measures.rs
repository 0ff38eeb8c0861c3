//! Kinds of field that several tables share.

use crate::field::{Choice, Measure, Number, Refusal, Units, measure, number};
use crate::{Carry, ClutterClass, Environment};
use perchline_units::{
    Amperes, Celsius, DIPOLE_GAIN, Db, Dbi, Dbm, KILOGRAMS_PER_POUND, Kilograms,
    KilogramsPerSquareMetre, METRES_PER_FOOT, METRES_PER_MILE, Megahertz, Metres, Seconds, Volts,
};

/// Units of a length.
const LENGTHS: Units = &[("m", |v| v), ("ft", |v| v * METRES_PER_FOOT)];

/// Units of a longer distance.
const DISTANCES: Units = &[
    ("m", |v| v),
    ("km", |v| v * 1000.0),
    ("ft", |v| v * METRES_PER_FOOT),
    ("mi", |v| v * METRES_PER_MILE),
];

/// A length from `least` to `most` metres.
pub(super) const fn length(least: f64, most: f64) -> Measure<Metres> {
    measure(LENGTHS, least, most, Metres::new)
}

/// A longer distance from `least` to `most` metres.
pub(super) const fn distance(least: f64, most: f64) -> Measure<Metres> {
    measure(DISTANCES, least, most, Metres::new)
}

/// A ratio from `least` to `most` decibels.
pub(super) const fn decibels(least: f64, most: f64) -> Measure<Db> {
    measure(&[("dB", |v| v)], least, most, Db::new)
}

/// A number from `least` to `most` of one unit of which the model has no type.
pub(super) const fn bare(units: Units, least: f64, most: f64) -> Measure<f64> {
    measure(units, least, most, |v| v)
}

/// A share from `least` to `most` percent, as 0 to 1.
pub(super) const fn share(least: f64, most: f64) -> Measure<f64> {
    measure(&[("%", |v| v)], least, most, |percent| percent / 100.0)
}

/// A voltage from `least` to `most` volts.
pub(super) const fn voltage(least: f64, most: f64) -> Measure<Volts> {
    measure(&[("V", |v| v)], least, most, Volts::new)
}

/// A time from `least` to `most` seconds.
pub(super) const fn seconds(units: Units, least: f64, most: f64) -> Measure<Seconds> {
    measure(units, least, most, Seconds::new)
}

/// An antenna's gain.
pub(super) const GAIN: Measure<Dbi> =
    measure(&[("dBi", |v| v), ("dBd", |v| v + DIPOLE_GAIN.value())], -30.0, 25.0, Dbi::new);

/// A radio frequency for which the methods hold.
pub(super) const FREQUENCY: Measure<Megahertz> = measure(FREQUENCIES, 25.0, 6000.0, Megahertz::new)
    .refused(|typed, _, least, most| {
        format!("{typed} is out of range; the methods here hold from {least} to {most} MHz")
    });
const FREQUENCIES: Units = &[("MHz", |v| v), ("kHz", |v| v * 1e-3), ("GHz", |v| v * 1e3)];

/// A transmitter's output.
pub(super) const OUTPUT: Measure<Dbm> =
    measure(OUTPUTS, -30.0, 70.0, Dbm::new).in_unit("dBm").refused(|typed, dbm, least, most| {
        // Watts of zero and below have no level.
        if !dbm.is_finite() {
            return format!("{typed} is no power to transmit with; it must be above zero");
        }
        let watts = |dbm| Dbm::new(dbm).watts();
        format!(
            "{typed} is out of range; {least} dBm ({:.0} microwatt) to {most} dBm ({:.0} kW) is \
             allowed",
            watts(least) * 1e6,
            watts(most) / 1e3,
        )
    });
const OUTPUTS: Units = &[("W", |v| Dbm::from_watts(v).value()), ("dBm", |v| v)];

/// A receiver's level for 12 dB SINAD, across 50 ohm.
pub(super) const SENSITIVITY: Measure<Dbm> =
    measure(LEVELS, -140.0, -80.0, Dbm::new).in_unit("dBm").refused(|typed, dbm, least, most| {
        if !dbm.is_finite() {
            return format!("{typed} is no level; it must be above zero, such as \"0.25 uV\"");
        }
        format!(
            "{typed} is {dbm:.1} dBm; {least} to {most} dBm (0.02 to 22 uV) is allowed, and most \
             receivers have about -119 dBm (0.25 uV)"
        )
    });
const LEVELS: Units = &[("uV", |v| Dbm::from_microvolts(v).value()), ("dBm", |v| v)];

/// A noise floor at a receiver's input.
pub(super) const NOISE: Measure<Dbm> =
    measure(&[("dBm", |v| v)], -140.0, -30.0, Dbm::new).in_unit("dBm");

/// So many in an hour.
pub(super) const HOURLY: Units = &[("/h", |v| v)];

/// A current that something draws.
pub(super) const CURRENT: Measure<Amperes> =
    measure(&[("A", |v| v), ("mA", |v| v * 1e-3)], 0.0, 200.0, Amperes::new)
        .above_least()
        .refused(NO_CURRENT);
const NO_CURRENT: Refusal = |typed, amperes, least, most| {
    if amperes > least {
        return format!("{typed} is out of range; up to {most} A is allowed");
    }
    format!(
        "{typed} is no current to draw; whatever is switched on draws some: look in the radio's \
         data sheet or measure it"
    )
};

/// A weight that somebody can carry.
pub(super) const WEIGHT: Measure<Kilograms> = weight(0.0, 200.0);

/// A weight from `least` to `most` kilograms.
pub(super) const fn weight(least: f64, most: f64) -> Measure<Kilograms> {
    measure(WEIGHTS, least, most, Kilograms::new)
}

/// What a roof bears on each square metre, beside snow: up to what an industrial
/// floor does.
pub(super) const ROOF_LOAD: Measure<KilogramsPerSquareMetre> =
    measure(LOADS, 5.0, 5000.0, KilogramsPerSquareMetre::new);
const LOADS: Units = &[
    ("kg/m2", |v| v),
    ("kg/m²", |v| v),
    ("lb/ft2", |v| v * (KILOGRAMS_PER_POUND / (METRES_PER_FOOT * METRES_PER_FOOT))),
    ("lb/ft²", |v| v * (KILOGRAMS_PER_POUND / (METRES_PER_FOOT * METRES_PER_FOOT))),
    ("kN/m2", |v| v * (1000.0 / STANDARD_GRAVITY)),
    ("kN/m²", |v| v * (1000.0 / STANDARD_GRAVITY)),
];

/// Standard acceleration of gravity, m/s² (exact by definition).
const STANDARD_GRAVITY: f64 = 9.806_65;

const WEIGHTS: Units = &[
    ("kg", |v| v),
    ("g", |v| v * 1e-3),
    ("lb", |v| v * KILOGRAMS_PER_POUND),
    ("oz", |v| v * (KILOGRAMS_PER_POUND / 16.0)),
];

/// An air temperature: outside of these it is a slip of the unit or of the sign.
pub(crate) const TEMPERATURE: Measure<Celsius> = measure(TEMPERATURES, -60.0, 60.0, Celsius::new);
const TEMPERATURES: Units =
    &[("°C", |v| v), ("C", |v| v), ("°F", |v| (v - 32.0) / 1.8), ("F", |v| (v - 32.0) / 1.8)];

/// Weight of a place in the ranking.
pub(super) const RANKED: Number<f64> =
    number(0.0, 1e6, |v| v).above_least().refused(|typed, _, least, most| {
        format!("{typed} is out of range; a weight is above {least}, up to {most}")
    });

/// Radio noise around a place.
pub(super) const ENVIRONMENT: Choice<Environment> = Choice(&[
    (Environment::City.word(), Environment::City),
    (Environment::Residential.word(), Environment::Residential),
    (Environment::Rural.word(), Environment::Rural),
    (Environment::QuietRural.word(), Environment::QuietRural),
]);

/// Where a person wears a radio.
pub(super) const CARRY: Choice<Carry> = Choice(&[
    (Carry::Head.word(), Carry::Head),
    (Carry::Shoulder.word(), Carry::Shoulder),
    (Carry::Hip.word(), Carry::Hip),
]);

/// What stands around a place.
pub(super) const CLUTTER: Choice<ClutterClass> = Choice(&[
    (ClutterClass::Open.word(), ClutterClass::Open),
    (ClutterClass::Village.word(), ClutterClass::Village),
    (ClutterClass::Suburb.word(), ClutterClass::Suburb),
    (ClutterClass::Town.word(), ClutterClass::Town),
]);

/// Height of the roofs of a class.
pub(super) const ROOF_HEIGHT: Measure<Metres> = length(2.0, 100.0);

/// Width of the streets of a class.
pub(super) const STREET_WIDTH: Measure<Metres> = length(5.0, 100.0);
