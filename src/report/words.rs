//! Outcomes, lengths and places in words that need no radio knowledge.

use crate::link::{Direction, Outcome};
use crate::plan::{Service, UnitSystem};
use crate::units::{Megahertz, Metres};

/// What a class of ground means to someone who stands on it; `station` is
/// what the radios talk through, as [`station`] names it.
pub fn legend(outcome: Outcome, station: &str) -> String {
    match outcome {
        Outcome::Strong => "Clear both ways, with room to spare".to_owned(),
        Outcome::Clear => "Clear both ways".to_owned(),
        Outcome::Patchy => "Patchy: move a few steps and try again".to_owned(),
        Outcome::HearsOnly => format!("You hear the {station}, it may not hear you"),
        Outcome::NoContact => "No contact expected".to_owned(),
        Outcome::Unknown => "Not known: gap in the terrain file".to_owned(),
    }
}

/// The same in the room of a table's cell.
pub const fn short(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "Clear, room to spare",
        Outcome::Clear => "Clear",
        Outcome::Patchy => "Patchy",
        Outcome::HearsOnly => "Hears only",
        Outcome::NoContact => "No contact",
        Outcome::Unknown => "Not known",
    }
}

/// Whether a message gets through in both directions as reliably as was asked for.
pub const fn works(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Clear | Outcome::Strong)
}

/// The station's name in a sentence.
pub const fn station(service: Service) -> &'static str {
    match service {
        Service::Relay { .. } => "relay",
        Service::Simplex { .. } => "station",
        Service::Packet { .. } => "digipeater",
    }
}

/// A direction for someone who holds a radio.
pub const fn direction(direction: Direction) -> &'static str {
    match direction {
        Direction::TalkIn => "talk-in, the carried radio heard by the station",
        Direction::TalkOut => "talk-out, the station heard by the carried radio",
    }
}

/// A height in whole metres or feet.
pub fn height(height: Metres, units: UnitSystem) -> String {
    match units {
        UnitSystem::Metric => format!("{:.0} m", height.value()),
        UnitSystem::Us => format!("{:.0} ft", height.feet()),
    }
}

/// Metres in a statute mile (exact: 5280 international feet).
pub const METRES_PER_MILE: f64 = 1_609.344;

/// A distance in kilometres or miles; short ones in metres or feet.
pub fn distance(distance: Metres, units: UnitSystem) -> String {
    let m = distance.value();
    match units {
        UnitSystem::Metric if m < 1_000.0 => format!("{m:.0} m"),
        UnitSystem::Metric => format!("{:.1} km", m / 1_000.0),
        UnitSystem::Us if m < 0.25 * METRES_PER_MILE => format!("{:.0} ft", distance.feet()),
        UnitSystem::Us => format!("{:.1} mi", m / METRES_PER_MILE),
    }
}

/// A distance to ten metres or a hundredth of a mile, where places lie close together.
pub fn fine_distance(distance: Metres, units: UnitSystem) -> String {
    match units {
        UnitSystem::Metric => format!("{:.2} km", distance.kilometres()),
        UnitSystem::Us => format!("{:.2} mi", distance.value() / METRES_PER_MILE),
    }
}

/// A frequency as a radio shows it: three decimals, four where the raster of
/// channels needs them.
pub fn megahertz(frequency: Megahertz) -> String {
    let f = frequency.value();
    let on_kilohertz = ((f * 1e3).round() - f * 1e3).abs() < 0.05;
    if on_kilohertz { format!("{f:.3}") } else { format!("{f:.4}") }
}

/// A share from 0 to 1 in whole percent. Nothing but all is 100, nothing but none is 0.
pub fn percent(share: f64) -> String {
    let rounded = (share * 100.0).round();
    let whole = if share < 1.0 { rounded.min(99.0) } else { rounded };
    let whole = if share > 0.0 { whole.max(1.0) } else { whole };
    format!("{whole:.0} %")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_share_is_never_rounded_to_all_or_nothing() {
        assert_eq!(percent(0.9999), "99 %");
        assert_eq!(percent(0.0001), "1 %");
        assert_eq!(percent(1.0), "100 %");
        assert_eq!(percent(0.0), "0 %");
        assert_eq!(percent(0.625), "63 %");
    }

    #[test]
    fn frequencies_read_as_on_a_radio() {
        assert_eq!(megahertz(Megahertz::new(147.0)), "147.000");
        assert_eq!(megahertz(Megahertz::new(446.006_25)), "446.0063");
        assert_eq!(megahertz(Megahertz::new(145.6)), "145.600");
    }

    #[test]
    fn distances_follow_the_units_of_the_report() {
        assert_eq!(distance(Metres::new(850.0), UnitSystem::Metric), "850 m");
        assert_eq!(distance(Metres::new(3_218.688), UnitSystem::Us), "2.0 mi");
        assert_eq!(height(Metres::from_feet(120.0), UnitSystem::Us), "120 ft");
    }
}
