//! What each chemistry does in the cold, under load and with age.
//!
//! Every curve here is what makers of such cells typically print (typical,
//! from memory); cells of one chemistry differ by a tenth and more. The range
//! that goes with every run time is there for that.

use perchline_plan::Chemistry;
use perchline_units::{Celsius, Volts};

/// Points of a curve, in rising order of the first number.
type Curve = &'static [(f64, f64)];

/// The curves of one chemistry.
#[derive(Debug)]
pub(super) struct Traits {
    /// Resting voltage of a cell by depth of discharge.
    resting: Curve,
    /// Capacity over that at 25 °C by temperature, at a five-hour rate
    /// (twenty-hour for lead-acid).
    capacity: Curve,
    /// Inner resistance over that at 25 °C by temperature.
    resistance: Curve,
    /// Inner resistance of a cell of 1 Ah at 25 °C in ohms, connectors and
    /// protection included; it falls as capacity grows.
    ohm_ampere_hours: f64,
    /// Peukert's exponent and the hours of discharge for which capacity is rated.
    pub(super) peukert: Option<(f64, f64)>,
    /// Share of capacity lost in a year, stored warm and half used.
    pub(super) fade_a_year: f64,
    /// Energy of a pack with its case, Wh/kg.
    pub(super) watt_hours_a_kilogram: f64,
    /// Coldest temperature at which it may be charged.
    pub(super) charges_from: Celsius,
    /// Share of the charge put in that comes out.
    pub(super) charge_efficiency: f64,
}

/// Lithium-ion: 0.90 to 0.95 of capacity at 5 °C, 0.85 at freezing, 0.55 at
/// -20 °C; resistance doubles and more by freezing (typical, from memory).
static LITHIUM_ION: Traits = Traits {
    resting: &[
        (0.0, 4.18),
        (0.1, 4.06),
        (0.2, 3.95),
        (0.3, 3.86),
        (0.4, 3.78),
        (0.5, 3.72),
        (0.6, 3.67),
        (0.7, 3.62),
        (0.8, 3.54),
        (0.9, 3.42),
        (0.95, 3.30),
        (1.0, 3.00),
    ],
    capacity: &[
        (-40.0, 0.10),
        (-30.0, 0.35),
        (-20.0, 0.55),
        (-10.0, 0.70),
        (0.0, 0.85),
        (10.0, 0.93),
        (25.0, 1.0),
        (40.0, 1.0),
    ],
    resistance: &[
        (-40.0, 20.0),
        (-20.0, 6.0),
        (-10.0, 3.5),
        (0.0, 2.3),
        (10.0, 1.6),
        (25.0, 1.0),
        (40.0, 0.85),
    ],
    ohm_ampere_hours: 0.15,
    peukert: None,
    fade_a_year: 0.05,
    watt_hours_a_kilogram: 150.0,
    charges_from: Celsius::new(0.0),
    charge_efficiency: 0.99,
};

/// LiFePO4: a flat resting voltage, 0.82 of capacity at freezing, 0.45 at
/// -20 °C; no charging below freezing (typical, from memory).
static LITHIUM_IRON_PHOSPHATE: Traits = Traits {
    resting: &[
        (0.0, 3.40),
        (0.05, 3.34),
        (0.2, 3.32),
        (0.4, 3.30),
        (0.6, 3.28),
        (0.8, 3.24),
        (0.9, 3.18),
        (0.95, 3.08),
        (1.0, 2.60),
    ],
    capacity: &[
        (-40.0, 0.05),
        (-30.0, 0.25),
        (-20.0, 0.45),
        (-10.0, 0.65),
        (0.0, 0.82),
        (10.0, 0.92),
        (25.0, 1.0),
        (40.0, 1.0),
    ],
    resistance: &[
        (-40.0, 30.0),
        (-20.0, 10.0),
        (-10.0, 5.0),
        (0.0, 3.0),
        (10.0, 1.8),
        (25.0, 1.0),
        (40.0, 0.85),
    ],
    ohm_ampere_hours: 0.08,
    peukert: None,
    fade_a_year: 0.03,
    watt_hours_a_kilogram: 95.0,
    charges_from: Celsius::new(0.0),
    charge_efficiency: 0.99,
};

/// AGM lead-acid: 0.85 of capacity at freezing, 0.60 at -20 °C; Peukert's
/// exponent 1.15 on a twenty-hour rating (typical, from memory). Peukert's law:
/// W. Peukert, Elektrotechnische Zeitschrift 20 (1897).
static LEAD_ACID: Traits = Traits {
    resting: &[(0.0, 2.14), (0.2, 2.10), (0.4, 2.06), (0.6, 2.02), (0.8, 1.97), (1.0, 1.91)],
    capacity: &[
        (-40.0, 0.35),
        (-20.0, 0.60),
        (-10.0, 0.73),
        (0.0, 0.85),
        (10.0, 0.92),
        (25.0, 1.0),
        (40.0, 1.03),
    ],
    resistance: &[(-40.0, 3.0), (-20.0, 2.0), (0.0, 1.4), (25.0, 1.0), (40.0, 0.9)],
    ohm_ampere_hours: 0.05,
    peukert: Some((1.15, 20.0)),
    fade_a_year: 0.06,
    watt_hours_a_kilogram: 33.0,
    charges_from: Celsius::new(-15.0),
    charge_efficiency: 0.85,
};

/// NiMH: 0.88 of capacity at freezing, 0.55 at -20 °C (typical, from memory).
static NICKEL_METAL_HYDRIDE: Traits = Traits {
    resting: &[
        (0.0, 1.38),
        (0.1, 1.31),
        (0.3, 1.28),
        (0.5, 1.26),
        (0.7, 1.24),
        (0.9, 1.18),
        (0.95, 1.12),
        (1.0, 1.00),
    ],
    capacity: &[
        (-40.0, 0.10),
        (-20.0, 0.55),
        (-10.0, 0.75),
        (0.0, 0.88),
        (10.0, 0.95),
        (25.0, 1.0),
        (40.0, 0.97),
    ],
    resistance: &[(-40.0, 8.0), (-20.0, 3.5), (0.0, 1.7), (25.0, 1.0), (40.0, 0.9)],
    ohm_ampere_hours: 0.06,
    peukert: None,
    fade_a_year: 0.08,
    watt_hours_a_kilogram: 60.0,
    charges_from: Celsius::new(0.0),
    charge_efficiency: 0.7,
};

/// The curves of `chemistry`.
pub(super) const fn traits(chemistry: Chemistry) -> &'static Traits {
    match chemistry {
        Chemistry::LithiumIon => &LITHIUM_ION,
        Chemistry::LithiumIronPhosphate => &LITHIUM_IRON_PHOSPHATE,
        Chemistry::LeadAcid => &LEAD_ACID,
        Chemistry::NickelMetalHydride => &NICKEL_METAL_HYDRIDE,
    }
}

/// Resting voltage of one cell at `depth` of discharge, 0 full to 1 empty.
#[must_use]
pub fn resting_cell(chemistry: Chemistry, depth: f64) -> Volts {
    Volts::new(along(traits(chemistry).resting, depth))
}

/// Capacity at `temperature` over that at 25 °C.
#[must_use]
pub fn capacity_share(chemistry: Chemistry, temperature: Celsius) -> f64 {
    along(traits(chemistry).capacity, temperature.value())
}

/// Inner resistance at `temperature` over that at 25 °C.
#[must_use]
pub fn resistance_factor(chemistry: Chemistry, temperature: Celsius) -> f64 {
    along(traits(chemistry).resistance, temperature.value())
}

/// Inner resistance at 25 °C of a cell of `ampere_hours`, in ohms.
pub(super) fn cell_ohms(chemistry: Chemistry, ampere_hours: f64) -> f64 {
    traits(chemistry).ohm_ampere_hours / ampere_hours
}

/// By how much faster a drain empties the pack than its rated one would, at
/// `current` amperes from a pack of `rated` ampere-hours: Peukert's law,
/// (I / I rated)^(k - 1) above the rated current; 1 for chemistries without it.
#[must_use]
pub fn rate_factor(chemistry: Chemistry, current: f64, rated: f64) -> f64 {
    match traits(chemistry).peukert {
        Some((exponent, hours)) => (current * hours / rated).max(1.0).powf(exponent - 1.0),
        None => 1.0,
    }
}

/// A curve's value at `x`, straight between its points, level beyond its ends.
fn along(curve: Curve, x: f64) -> f64 {
    let after = curve.partition_point(|(at, _)| *at <= x);
    match (after.checked_sub(1).and_then(|i| curve.get(i)), curve.get(after)) {
        (Some((x0, y0)), Some((x1, y1))) => y0 + (y1 - y0) * (x - x0) / (x1 - x0),
        (Some((_, y)), None) | (None, Some((_, y))) => *y,
        (None, None) => f64::NAN,
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    #[test]
    fn curves_rise_and_fall_as_they_must() {
        for chemistry in Chemistry::all() {
            let t = traits(chemistry);
            for curve in [t.resting, t.capacity, t.resistance] {
                assert!(curve.windows(2).all(|w| w[0].0 < w[1].0), "{chemistry:?}");
            }
            assert!(t.resting.windows(2).all(|w| w[0].1 > w[1].1), "{chemistry:?}");
            assert!(t.resistance.windows(2).all(|w| w[0].1 > w[1].1), "{chemistry:?}");
            assert_relative_eq!(capacity_share(chemistry, Celsius::new(25.0)), 1.0);
            assert_relative_eq!(resistance_factor(chemistry, Celsius::new(25.0)), 1.0);
            let below: Vec<_> = t.capacity.iter().filter(|(c, _)| *c <= 25.0).collect();
            assert!(below.windows(2).all(|w| w[0].1 < w[1].1), "{chemistry:?}");
        }
    }

    /// Typical makers' figures (from memory): a lithium-ion cell keeps 80 to
    /// 90 % at freezing and 50 to 60 % at -20 °C; an AGM battery 85 % at
    /// freezing and 60 to 65 % at -20 °C.
    #[test]
    fn the_cold_takes_what_makers_say() {
        let at = |c, t| capacity_share(c, Celsius::new(t));
        assert!((0.8..=0.9).contains(&at(Chemistry::LithiumIon, 0.0)));
        assert!((0.5..=0.6).contains(&at(Chemistry::LithiumIon, -20.0)));
        assert_relative_eq!(at(Chemistry::LeadAcid, 0.0), 0.85);
        assert!((0.6..=0.65).contains(&at(Chemistry::LeadAcid, -20.0)));
    }

    /// Resting voltage of a full and an empty cell as the trade has them
    /// (typical, from memory), and half way down.
    #[test]
    fn resting_voltages_are_the_trade_s() {
        let volts = |c, d| resting_cell(c, d).value();
        assert!((4.1..=4.2).contains(&volts(Chemistry::LithiumIon, 0.0)));
        assert!((3.65..=3.8).contains(&volts(Chemistry::LithiumIon, 0.5)));
        // 12.8 V full, 11.5 V empty for a battery of six cells.
        assert!((12.7..=12.9).contains(&(6.0 * volts(Chemistry::LeadAcid, 0.0))));
        assert!((11.3..=11.7).contains(&(6.0 * volts(Chemistry::LeadAcid, 1.0))));
        assert!((13.0..=13.3).contains(&(4.0 * volts(Chemistry::LithiumIronPhosphate, 0.5))));
    }

    /// Peukert's law worked by hand: 100 Ah in twenty hours are 5 A; at 20 A
    /// and k = 1.15 it lasts 20 (5/20)^1.15 = 4.061 h and not 5 h.
    #[test]
    fn peukert_by_hand() {
        let hours = 100.0 / 20.0 / rate_factor(Chemistry::LeadAcid, 20.0, 100.0);
        assert_relative_eq!(hours, 20.0 * (5.0f64 / 20.0).powf(1.15), max_relative = 1e-12);
        assert_relative_eq!(hours, 4.061, max_relative = 1e-3);
        // Slower than rated earns nothing.
        assert_relative_eq!(rate_factor(Chemistry::LeadAcid, 1.0, 100.0), 1.0);
        assert_relative_eq!(rate_factor(Chemistry::LithiumIon, 20.0, 10.0), 1.0);
    }
}
