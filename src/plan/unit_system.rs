//! Lengths, temperatures and winds in the units of the report.

use perchline_units::{Celsius, METRES_PER_MILE, Metres, MetresPerSecond};

/// Newtons in the force of a pound's weight at standard gravity: 0.453 592 37 kg times
/// 9.806 65 m/s^2 (NIST SP 811, appendix B.8).
const NEWTONS_PER_POUND_FORCE: f64 = 4.448_222;

/// Units that a report is written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum UnitSystem {
    /// Metres and kilometres.
    #[default]
    Metric,
    /// Feet and miles.
    Us,
}

impl UnitSystem {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Metric => "metric",
            Self::Us => "us",
        }
    }

    /// A distance over the ground: kilometres or miles, metres or feet when short.
    #[must_use]
    pub fn distance(self, distance: Metres) -> String {
        let metres = distance.value();
        match self {
            Self::Metric if metres < 1000.0 => format!("{metres:.0} m"),
            Self::Metric => format!("{:.2} km", metres / 1000.0),
            Self::Us if metres < METRES_PER_MILE / 4.0 => format!("{:.0} ft", distance.feet()),
            Self::Us => format!("{:.2} mi", metres / METRES_PER_MILE),
        }
    }

    /// A height: metres with one decimal below ten, or feet.
    #[must_use]
    pub fn height(self, height: Metres) -> String {
        let feet = height.feet();
        // What rounds to nothing has no sign.
        match self {
            Self::Metric if height.value().abs() < 10.0 => format!("{height:.1}"),
            Self::Metric => format!("{height:.0}"),
            Self::Us if feet.abs() < 0.5 => "0 ft".to_owned(),
            Self::Us => format!("{feet:.0} ft"),
        }
    }

    /// A temperature: whole degrees Celsius or Fahrenheit.
    #[must_use]
    pub fn temperature(self, temperature: Celsius) -> String {
        format!("{:.0} {}", self.degrees(temperature), self.degree())
    }

    /// From the coldest temperature to the warmest; one where they read the same.
    #[must_use]
    pub fn temperatures(self, (coldest, warmest): (Celsius, Celsius)) -> String {
        let [low, high] = [coldest, warmest].map(|t| format!("{:.0}", self.degrees(t)));
        if low == high {
            return format!("{low} {}", self.degree());
        }
        format!("{low} to {high} {}", self.degree())
    }

    /// Whole degrees on the scale of the report; what rounds to nothing has no sign.
    fn degrees(self, temperature: Celsius) -> f64 {
        let degrees = match self {
            Self::Metric => temperature.value(),
            Self::Us => temperature.value() * 1.8 + 32.0,
        };
        degrees.round() + 0.0
    }

    const fn degree(self) -> &'static str {
        match self {
            Self::Metric => "°C",
            Self::Us => "°F",
        }
    }

    /// A wind: metres a second or miles an hour.
    #[must_use]
    pub fn wind(self, wind: MetresPerSecond) -> String {
        match self {
            Self::Metric => format!("{wind:.0}"),
            Self::Us => format!("{:.0} mph", wind.value() * 3600.0 / METRES_PER_MILE),
        }
    }

    /// A force in newtons: newtons or pounds.
    #[must_use]
    pub fn force(self, newtons: f64) -> String {
        match self {
            Self::Metric => format!("{newtons:.0} N"),
            Self::Us => format!("{:.0} lbf", newtons / NEWTONS_PER_POUND_FORCE),
        }
    }

    /// An area in square metres: square metres or square feet.
    #[must_use]
    pub fn area(self, square_metres: f64) -> String {
        let feet_a_metre = Metres::new(1.0).feet();
        match self {
            Self::Metric => format!("{square_metres:.2} m²"),
            Self::Us => format!("{:.1} sq ft", square_metres * feet_a_metre * feet_a_metre),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_read_in_the_units_asked_for() {
        assert_eq!(UnitSystem::Metric.distance(Metres::new(740.0)), "740 m");
        assert_eq!(UnitSystem::Metric.distance(Metres::new(2345.0)), "2.35 km");
        assert_eq!(UnitSystem::Us.distance(Metres::new(100.0)), "328 ft");
        assert_eq!(UnitSystem::Us.distance(Metres::new(1609.344)), "1.00 mi");
        assert_eq!(UnitSystem::Metric.height(Metres::new(3.04)), "3.0 m");
        assert_eq!(UnitSystem::Us.height(Metres::new(3.048)), "10 ft");
        for nothing in [-0.04, -0.0, 0.0] {
            assert_eq!(UnitSystem::Metric.height(Metres::new(nothing)), "0.0 m");
            assert_eq!(UnitSystem::Us.height(Metres::new(nothing)), "0 ft");
        }
    }

    #[test]
    fn weather_and_wind_read_in_the_units_asked_for() {
        let both = [UnitSystem::Metric, UnitSystem::Us];
        let [low, high] = [Celsius::new(-10.0), Celsius::new(6.0)];
        assert_eq!(both.map(|units| units.temperature(low)), ["-10 °C", "14 °F"]);
        assert_eq!(
            both.map(|units| units.temperatures((low, high))),
            ["-10 to 6 °C", "14 to 43 °F"]
        );
        assert_eq!(both.map(|units| units.temperatures((low, low))), ["-10 °C", "14 °F"]);
        // -17.8 °C is 0 °F; neither reads as "-0".
        let nothing = [Celsius::new(-0.2), Celsius::new(-17.9)];
        assert_eq!(nothing.map(|t| UnitSystem::Metric.temperature(t)), ["0 °C", "-18 °C"]);
        assert_eq!(nothing.map(|t| UnitSystem::Us.temperature(t)), ["32 °F", "0 °F"]);
        // 20 m/s is 44.7 mph; 100 N is 22.48 lbf; 1 m² is 10.76 sq ft (NIST SP 811,
        // appendix B.8).
        assert_eq!(both.map(|units| units.wind(MetresPerSecond::new(20.0))), ["20 m/s", "45 mph"]);
        assert_eq!(both.map(|units| units.force(100.0)), ["100 N", "22 lbf"]);
        assert_eq!(both.map(|units| units.area(1.0)), ["1.00 m²", "10.8 sq ft"]);
    }
}
