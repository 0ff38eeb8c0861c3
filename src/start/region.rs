//! What a place says of the region that it is in.

use geoconvert::{LatLon, UtmUps};
use jiff::tz::TimeZone;
use perchline_plan::UnitSystem;
use perchline_units::Position;
use tzf_rs::EmbeddedFinder;

use super::StartError;

/// Time zones of the United States, whose people count in feet and miles. (The
/// zones' own table, `zone.tab`, country code US; from memory.)
const FEET: &[&str] = &[
    "America/Adak",
    "America/Anchorage",
    "America/Boise",
    "America/Chicago",
    "America/Denver",
    "America/Detroit",
    "America/Indiana/",
    "America/Juneau",
    "America/Kentucky/",
    "America/Los_Angeles",
    "America/Menominee",
    "America/Metlakatla",
    "America/New_York",
    "America/Nome",
    "America/North_Dakota/",
    "America/Phoenix",
    "America/Sitka",
    "America/Yakutat",
    "Pacific/Honolulu",
];

/// What is known of the region.
pub(super) struct Region {
    /// IANA name of its time zone.
    pub zone_name: String,
    pub zone: TimeZone,
    pub units: UnitSystem,
    /// Zone and half of the UTM grid, such as "25 north"; `None` near the poles.
    pub utm: Option<String>,
}

impl Region {
    /// Of a place, with these units where a person asked for them.
    pub fn of(at: Position, units: Option<UnitSystem>) -> Result<Self, StartError> {
        let (latitude, longitude) = (at.latitude().value(), at.longitude().value());
        let found = EmbeddedFinder::new().get_tz_name(longitude, latitude).to_owned();
        // Of a place that no zone claims the hours are those of the meridian.
        let zone_name = if found.is_empty() { nautical(longitude) } else { found };
        let zone =
            TimeZone::get(&zone_name).map_err(|_| StartError::Zone { name: zone_name.clone() })?;
        let feet = FEET.iter().any(|name| match name.strip_suffix('/') {
            Some(_) => zone_name.starts_with(name),
            None => zone_name == *name,
        });
        let own = if feet { UnitSystem::Us } else { UnitSystem::Metric };
        Ok(Self { zone_name, zone, units: units.unwrap_or(own), utm: utm(latitude, longitude) })
    }
}

/// Height of a short mast, as a plan has it.
#[must_use]
pub const fn short_mast(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => "6 m",
        UnitSystem::Us => "20 ft",
    }
}

/// A roof that is none, as a plan has it.
#[must_use]
pub const fn on_the_ground(units: UnitSystem) -> &'static str {
    match units {
        UnitSystem::Metric => "0 m above ground",
        UnitSystem::Us => "0 ft above ground",
    }
}

/// The zone of hours at sea, by the meridian.
fn nautical(longitude: f64) -> String {
    match (longitude / 15.0).round() as i32 {
        0 => "Etc/UTC".to_owned(),
        // These names count the other way round.
        east @ 1.. => format!("Etc/GMT-{east}"),
        west => format!("Etc/GMT+{}", -west),
    }
}

fn utm(latitude: f64, longitude: f64) -> Option<String> {
    let place = LatLon::create(latitude, longitude).ok()?;
    let grid = UtmUps::from_latlon(&place);
    let half = if grid.is_north() { "north" } else { "south" };
    (grid.zone() > 0).then(|| format!("{} {half}", grid.zone()))
}

#[cfg(test)]
mod tests {
    use perchline_units::Degrees;

    use super::*;

    fn of(latitude: f64, longitude: f64) -> Region {
        let at = Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap();
        Region::of(at, None).unwrap()
    }

    #[test]
    fn places_have_their_zone_and_their_units() {
        for (latitude, longitude, zone, units, utm) in [
            (46.99, -34.90, "Etc/GMT+2", UnitSystem::Metric, Some("25 north")),
            (40.36, -105.70, "America/Denver", UnitSystem::Us, Some("13 north")),
            (39.77, -86.16, "America/Indiana/Indianapolis", UnitSystem::Us, Some("16 north")),
            (45.42, -75.70, "America/Toronto", UnitSystem::Metric, Some("18 north")),
            (-33.87, 151.2, "Australia/Sydney", UnitSystem::Metric, Some("56 south")),
            // The zone that is wider than the rule has it.
            (60.39, 5.32, "Europe/Oslo", UnitSystem::Metric, Some("32 north")),
            (-85.0, 10.0, "Etc/GMT-1", UnitSystem::Metric, None),
        ] {
            let region = of(latitude, longitude);
            if latitude > -80.0 {
                assert_eq!(region.zone_name, zone);
            }
            assert_eq!(region.units, units, "{zone}");
            assert_eq!(region.utm.as_deref(), utm, "{zone}");
        }
    }

    #[test]
    fn hours_at_sea_follow_the_meridian() {
        assert_eq!(nautical(-34.9), "Etc/GMT+2");
        assert_eq!(nautical(151.2), "Etc/GMT-10");
        assert_eq!(nautical(3.0), "Etc/UTC");
        for longitude in -180..=180 {
            let name = nautical(f64::from(longitude));
            assert!(TimeZone::get(&name).is_ok(), "{name}");
        }
    }

    #[test]
    fn what_a_person_asked_for_holds() {
        let at = Position::new(Degrees::new(40.36), Degrees::new(-105.70)).unwrap();
        let region = Region::of(at, Some(UnitSystem::Metric)).unwrap();
        assert_eq!(region.units, UnitSystem::Metric);
    }
}
