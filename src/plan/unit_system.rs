//! Lengths in the units of the report.

use perchline_units::{METRES_PER_MILE, Metres};

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
}
