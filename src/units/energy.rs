//! Quantities of batteries, of the weather on them, and of what is carried.

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use serde::Serialize;

quantity!(
    /// An electric voltage in volts.
    Volts, "V"
);
quantity!(
    /// An electric current in amperes.
    Amperes, "A"
);
quantity!(
    /// An electric resistance in ohms.
    Ohms, "ohm"
);
quantity!(
    /// A charge in ampere-hours: what a battery's label states.
    AmpereHours, "Ah"
);
quantity!(
    /// A power in watts.
    Watts, "W"
);
quantity!(
    /// An energy in watt-hours.
    WattHours, "Wh"
);
quantity!(
    /// A temperature in degrees Celsius.
    Celsius, "°C"
);
quantity!(
    /// A mass in kilograms.
    Kilograms, "kg"
);
quantity!(
    /// A load on a surface in kilograms on a square metre, at standard gravity.
    KilogramsPerSquareMetre, "kg/m²"
);
quantity!(
    /// A stretch of time in hours.
    Hours, "h"
);
quantity!(
    /// A stretch of time in seconds.
    Seconds, "s"
);
quantity!(
    /// A speed in metres a second.
    MetresPerSecond, "m/s"
);

linear!(Amperes);
linear!(AmpereHours);
linear!(Watts);
linear!(WattHours);
linear!(Kilograms);
linear!(Hours);
linear!(Seconds);

/// Kilograms in one international avoirdupois pound (exact by definition).
pub const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;

impl Kilograms {
    /// The same in international avoirdupois pounds.
    #[must_use]
    pub const fn pounds(self) -> f64 {
        self.0 / KILOGRAMS_PER_POUND
    }
}

impl Mul<Amperes> for Volts {
    type Output = Watts;
    fn mul(self, current: Amperes) -> Watts {
        Watts(self.0 * current.0)
    }
}

impl Mul<Hours> for Watts {
    type Output = WattHours;
    fn mul(self, time: Hours) -> WattHours {
        WattHours(self.0 * time.0)
    }
}

impl Mul<Hours> for Amperes {
    type Output = AmpereHours;
    fn mul(self, time: Hours) -> AmpereHours {
        AmpereHours(self.0 * time.0)
    }
}

impl Seconds {
    /// The stretch in minutes.
    #[must_use]
    pub const fn minutes(self) -> f64 {
        self.0 / 60.0
    }
}

impl Hours {
    /// Hours and minutes as `7 h 05 min`, to the nearest minute; a negative
    /// stretch keeps its sign.
    #[must_use]
    pub fn clock(self) -> String {
        let minutes = (self.0.abs() * 60.0).round();
        let sign = if self.0 < 0.0 && minutes > 0.0 { "-" } else { "" };
        let (hours, rest) = ((minutes / 60.0).floor(), minutes % 60.0);
        if hours < 1.0 {
            format!("{sign}{rest:.0} min")
        } else {
            format!("{sign}{hours:.0} h {rest:02.0} min")
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn hours_read_as_on_a_clock() {
        assert_eq!(Hours::new(7.083_333).clock(), "7 h 05 min");
        assert_eq!(Hours::new(0.75).clock(), "45 min");
        assert_eq!(Hours::new(-0.75).clock(), "-45 min");
        assert_eq!(Hours::new(-0.001).clock(), "0 min");
        assert_eq!(Hours::new(1.999_9).clock(), "2 h 00 min");
    }

    /// Source: definitions of the units.
    #[test]
    fn power_and_energy_follow_their_definitions() {
        let power = Volts::new(12.0) * Amperes::new(2.0);
        assert_eq!(power, Watts::new(24.0));
        assert_eq!(power * Hours::new(3.0), WattHours::new(72.0));
        assert_eq!(Amperes::new(2.0) * Hours::new(3.0), AmpereHours::new(6.0));
    }
}
