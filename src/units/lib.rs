//! Quantities that carry their unit, and positions on the earth.
//!
//! Only arithmetic that means something is defined: a level in dBm plus a
//! ratio in dB is a level, two levels differ by a ratio, and two levels are
//! never added.

mod position;
mod shown;
mod text;

pub use energy::{
    AmpereHours, Amperes, Celsius, Hours, KILOGRAMS_PER_POUND, Kilograms, KilogramsPerSquareMetre,
    MetresPerSecond, Ohms, Seconds, Volts, WattHours, Watts,
};
pub use position::{Position, PositionOutOfRange};
pub use shown::{is_noncharacter, is_unprintable, listed, printable, shown};
pub use text::{QuantityError, parse_quantity};

use std::fmt;
use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

use serde::Serialize;

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $symbol:literal) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, PartialOrd, Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(f64);

        impl $name {
            /// Wraps a number that is already in this unit.
            #[must_use]
            pub const fn new(value: f64) -> Self {
                Self(value)
            }

            /// The bare number in this unit.
            #[must_use]
            pub const fn value(self) -> f64 {
                self.0
            }

            /// The smaller of two values.
            #[must_use]
            pub const fn min(self, other: Self) -> Self {
                Self(self.0.min(other.0))
            }

            /// The larger of two values.
            #[must_use]
            pub const fn max(self, other: Self) -> Self {
                Self(self.0.max(other.0))
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                let mut text = match f.precision() {
                    Some(p) => format!("{:.p$}", self.0),
                    None => self.0.to_string(),
                };
                // What rounds to nothing has no sign.
                if text.starts_with('-') && text.bytes().all(|b| matches!(b, b'-' | b'0' | b'.')) {
                    text.remove(0);
                }
                let plus = if f.sign_plus() && !text.starts_with('-') { "+" } else { "" };
                write!(f, "{plus}{text} {}", $symbol)
            }
        }
    };
}

macro_rules! linear {
    ($name:ident) => {
        impl Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self(self.0 + other.0)
            }
        }
        impl AddAssign for $name {
            fn add_assign(&mut self, other: Self) {
                self.0 += other.0;
            }
        }
        impl Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self(self.0 - other.0)
            }
        }
        impl Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self(-self.0)
            }
        }
        impl Mul<f64> for $name {
            type Output = Self;
            fn mul(self, factor: f64) -> Self {
                Self(self.0 * factor)
            }
        }
        impl Div<f64> for $name {
            type Output = Self;
            fn div(self, divisor: f64) -> Self {
                Self(self.0 / divisor)
            }
        }
    };
}

// Below the macros that it uses.
mod energy;

quantity!(
    /// A ratio in decibels: a loss, a gain or a margin.
    Db, "dB"
);
quantity!(
    /// A power level in decibels over one milliwatt.
    Dbm, "dBm"
);
quantity!(
    /// An antenna's gain in decibels over an isotropic radiator.
    Dbi, "dBi"
);
quantity!(
    /// A length, height or distance in metres.
    Metres, "m"
);
quantity!(
    /// A frequency in megahertz.
    Megahertz, "MHz"
);
quantity!(
    /// A bandwidth in kilohertz.
    Kilohertz, "kHz"
);
quantity!(
    /// An angle in degrees.
    Degrees, "°"
);

quantity!(
    /// A small angle in thousandths of a radian.
    Milliradians, "mrad"
);
quantity!(
    /// A share of time or of places, in percent.
    Percent, "%"
);
quantity!(
    /// Refractivity of the air in N-units, parts in a million of its refractive
    /// index over 1 (ITU-R P.453).
    Refractivity, "N"
);
quantity!(
    /// How fast the refractivity of the air falls with height, in N-units per
    /// kilometre; positive where it falls (ITU-R P.453).
    RefractivityLapse, "N/km"
);

linear!(Db);
linear!(Metres);
linear!(Degrees);

impl Add<Db> for Dbm {
    type Output = Dbm;
    fn add(self, ratio: Db) -> Dbm {
        Dbm(self.0 + ratio.0)
    }
}

impl Sub<Db> for Dbm {
    type Output = Dbm;
    fn sub(self, ratio: Db) -> Dbm {
        Dbm(self.0 - ratio.0)
    }
}

impl Sub for Dbm {
    type Output = Db;
    fn sub(self, other: Dbm) -> Db {
        Db(self.0 - other.0)
    }
}

/// Gain of a half-wave dipole over an isotropic radiator (ITU-R P.341, 2.15 dB).
pub const DIPOLE_GAIN: Dbi = Dbi(2.15);

impl Dbi {
    /// The gain as a plain ratio over the isotropic radiator.
    #[must_use]
    pub const fn over_isotropic(self) -> Db {
        Db(self.0)
    }

    /// The gain over a half-wave dipole (dBd).
    #[must_use]
    pub const fn over_dipole(self) -> Db {
        Db(self.0 - DIPOLE_GAIN.0)
    }
}

impl Dbm {
    /// The level of a power in watts; the power must be above zero.
    #[must_use]
    pub fn from_watts(watts: f64) -> Self {
        Self(10.0 * (watts * 1e3).log10())
    }

    /// The power in watts.
    #[must_use]
    pub fn watts(self) -> f64 {
        10f64.powf(self.0 / 10.0) / 1e3
    }

    /// The level that a voltage in microvolts gives across 50 ohms.
    #[must_use]
    pub fn from_microvolts(microvolts: f64) -> Self {
        let volts = microvolts * 1e-6;
        Self::from_watts(volts * volts / 50.0)
    }

    /// The level of two uncorrelated powers together.
    #[must_use]
    pub fn power_sum(self, other: Dbm) -> Dbm {
        let (high, low) = if self.0 >= other.0 { (self.0, other.0) } else { (other.0, self.0) };
        Dbm(high + 10.0 * (10f64.powf((low - high) / 10.0)).ln_1p() / std::f64::consts::LN_10)
    }
}

/// Metres in one international foot (exact by definition).
pub const METRES_PER_FOOT: f64 = 0.3048;

/// Metres in one international mile (exact by definition: 5280 feet).
pub const METRES_PER_MILE: f64 = 1609.344;

impl Metres {
    /// Wraps a length given in international feet.
    #[must_use]
    pub const fn from_feet(feet: f64) -> Self {
        Self(feet * METRES_PER_FOOT)
    }

    /// The length in international feet.
    #[must_use]
    pub const fn feet(self) -> f64 {
        self.0 / METRES_PER_FOOT
    }

    /// The length in kilometres.
    #[must_use]
    pub const fn kilometres(self) -> f64 {
        self.0 / 1e3
    }
}

impl RefractivityLapse {
    /// The effective-earth factor, 157 / (157 - lapse) (ITU-R P.1812 section
    /// 3.5, equation (6)); the lapse must be below 157.
    #[must_use]
    pub const fn k_factor(self) -> f64 {
        157.0 / (157.0 - self.0)
    }
}

/// Speed of light in vacuum, m/s (exact by definition of the metre).
pub const SPEED_OF_LIGHT: f64 = 299_792_458.0;

impl Megahertz {
    /// The wavelength in vacuum.
    #[must_use]
    pub const fn wavelength(self) -> Metres {
        Metres(SPEED_OF_LIGHT / (self.0 * 1e6))
    }
}

/// Polarization of both antennas.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Polarization {
    /// Electric field upright, as on every hand-held.
    Vertical,
    /// Electric field level.
    Horizontal,
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    #[test]
    fn a_quantity_prints_its_sign_when_asked_and_none_for_nothing() {
        assert_eq!(format!("{:+.1}", Db::new(5.04)), "+5.0 dB");
        assert_eq!(format!("{:+.1}", Db::new(-5.04)), "-5.0 dB");
        assert_eq!(format!("{:.1}", Db::new(-0.04)), "0.0 dB");
        assert_eq!(Metres::new(2.5).to_string(), "2.5 m");
    }

    /// Source: definitions; 0.25 uV across 50 ohms is 1.25 fW, -119.03 dBm.
    #[test]
    fn levels_follow_their_definitions() {
        assert_abs_diff_eq!(Dbm::from_watts(1.0).value(), 30.0, epsilon = 1e-12);
        assert_abs_diff_eq!(Dbm::from_microvolts(0.25).value(), -119.03, epsilon = 0.005);
        assert_abs_diff_eq!(Dbm::from_watts(25.0).watts(), 25.0, epsilon = 1e-9);
        let twice = Dbm::new(-100.0).power_sum(Dbm::new(-100.0));
        assert_abs_diff_eq!(twice.value(), -96.9897, epsilon = 1e-4);
    }
}
