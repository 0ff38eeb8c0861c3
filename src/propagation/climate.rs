//! The radio climate of a path: what P.1812 wants to know beside the ground.

use super::range::{OutOfRange, within};
use perchline_profile::Profile;
use perchline_units::{Db, Degrees, Metres, Percent};

/// For which share of the places around the receiver a loss is to hold.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Locations {
    /// Half of them: the median, with no allowance.
    #[default]
    Median,
    /// This share, where losses are spread normally in decibels.
    Share {
        /// The share of places where the loss is not exceeded, 1 to 99 %.
        percent: Percent,
        /// Standard deviation of the loss among places, 0 dB or more, such as
        /// [`location_deviation`](super::p1812::location_deviation) gives.
        deviation: Db,
    },
}

/// Land at this height or above is inland (P.1812 section 3.5), metres.
const INLAND_HEIGHT: f64 = 100.0;

/// So is land as far as this from the sea, metres.
const INLAND_DISTANCE: f64 = 50_000.0;

/// Climate, time and coast along a path (ITU-R P.1812 sections 3.1 to 3.5).
///
/// How fast the air's refractivity falls with height is not here: the
/// effective earth of the path says it, see
/// [`EffectiveEarth::from_refractivity_lapse`](super::EffectiveEarth::from_refractivity_lapse).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Climate {
    /// Share of an average year for which the loss is not exceeded, 1 to 50 %.
    pub time: Percent,
    /// Share of places for which it is not exceeded.
    pub locations: Locations,
    /// Latitude of the middle of the path, -80 to 80 degrees.
    pub latitude: Degrees,
    /// Refractivity of the air at sea level in N-units, 250 to 400.
    pub surface_refractivity: f64,
    /// Share of the path that lies over the sea, 0 to 1.
    pub sea_share: f64,
    /// Longest stretch of the path over land, coast included; `None`: all of it.
    pub longest_land: Option<Metres>,
    /// Longest stretch over inland, more than 50 km from the sea or 100 m above it;
    /// `None`: all of it.
    pub longest_inland: Option<Metres>,
    /// Distance from the transmitter to the coast along the path, 0 m or more.
    pub transmitter_to_coast: Metres,
    /// Distance from the receiver to the coast along the path, 0 m or more.
    pub receiver_to_coast: Metres,
    /// Whether the receiver is on the sea, where all places around it are alike.
    pub receiver_at_sea: bool,
}

impl Climate {
    /// Half of the time and places, inland, at 50 degrees, 325 N-units.
    pub const DEFAULT: Self = Self {
        time: Percent::new(50.0),
        locations: Locations::Median,
        latitude: Degrees::new(50.0),
        surface_refractivity: 325.0,
        sea_share: 0.0,
        longest_land: None,
        longest_inland: None,
        transmitter_to_coast: Metres::new(500_000.0),
        receiver_to_coast: Metres::new(500_000.0),
        receiver_at_sea: false,
    };

    /// The same with the coast that a profile knows; as it is where it knows no sea.
    /// Land is inland where it is 100 m high or more, or 50 km from the sea along the
    /// path.
    #[must_use]
    pub fn along(self, profile: &Profile) -> Self {
        let sea = profile.sea();
        if !sea.contains(&true) {
            return self;
        }
        let length = profile.length().value();
        let over: Vec<(f64, f64)> =
            profile.stretches().filter(|(.., sea)| *sea).map(|(from, to, _)| (from, to)).collect();
        let land = profile.stretches().filter(|(.., sea)| !sea).map(|(from, to, _)| to - from);
        let off = |at: f64| {
            let gap = |(from, to): &(f64, f64)| (from - at).max(at - to).max(0.0);
            over.iter().map(gap).fold(f64::INFINITY, f64::min)
        };
        let (mut longest, mut since) = (0.0f64, None);
        for ((&at, &height), &sea) in profile.distances().iter().zip(profile.heights()).zip(sea) {
            let inland = !sea && (height >= INLAND_HEIGHT || off(at) >= INLAND_DISTANCE);
            since = if inland { since.or(Some(at)) } else { None };
            longest = longest.max(at - since.unwrap_or(at));
        }
        Self {
            sea_share: profile.sea_share(),
            longest_land: Some(Metres::new(land.fold(0.0, f64::max))),
            longest_inland: Some(Metres::new(longest)),
            transmitter_to_coast: Metres::new(off(0.0)),
            receiver_to_coast: Metres::new(off(length)),
            receiver_at_sea: sea.last() == Some(&true),
            ..self
        }
    }

    /// Whether every value is in its range.
    ///
    /// # Errors
    /// [`OutOfRange`] for the first value that is not.
    pub fn check(&self) -> Result<(), OutOfRange> {
        let stretch = |length: Option<Metres>| length.unwrap_or(Metres::new(0.0)).value();
        let (percent, deviation) = match self.locations {
            Locations::Median => (50.0, 0.0),
            Locations::Share { percent, deviation } => (percent.value(), deviation.value()),
        };
        let all = 0.0..=f64::INFINITY;
        within("climate: share of time", self.time.value(), 1.0..=50.0, "%")?;
        within("climate: share of places", percent, 1.0..=99.0, "%")?;
        within("climate: deviation among places", deviation, 0.0..=50.0, "dB")?;
        within("climate: latitude", self.latitude.value(), -80.0..=80.0, "degrees")?;
        within("climate: refractivity", self.surface_refractivity, 250.0..=400.0, "N-units")?;
        within("climate: share of sea", self.sea_share, 0.0..=1.0, "of the path")?;
        within("climate: longest land", stretch(self.longest_land), all.clone(), "m")?;
        within("climate: longest inland", stretch(self.longest_inland), all.clone(), "m")?;
        let (from, to) = (self.transmitter_to_coast.value(), self.receiver_to_coast.value());
        within("climate: transmitter to coast", from, all.clone(), "m")?;
        within("climate: receiver to coast", to, all, "m")?;
        Ok(())
    }
}

impl Default for Climate {
    fn default() -> Self {
        Self::DEFAULT
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_coast_is_read_off_the_profile() {
        let distance: Vec<f64> = (0..=10).map(|i| f64::from(i) * 1000.0).collect();
        let height = vec![5.0, 5.0, 120.0, 130.0, 120.0, 5.0, 0.0, 0.0, 0.0, 0.0, 0.0];
        let sea: Vec<bool> = (0..=10).map(|i| i >= 6).collect();
        let profile = Profile::new(distance, height).unwrap().with_sea(sea);
        let found = Climate::DEFAULT.along(&profile);
        assert!((found.sea_share - 0.45).abs() < 1e-12);
        assert_eq!(found.transmitter_to_coast, Metres::new(5500.0));
        assert_eq!(found.receiver_to_coast, Metres::new(0.0));
        assert_eq!(found.longest_land, Some(Metres::new(5500.0)));
        assert_eq!(found.longest_inland, Some(Metres::new(2000.0)));
        assert!(found.receiver_at_sea && found.check().is_ok());
        let dry = profile.with_sea(Vec::new());
        assert_eq!(Climate::DEFAULT.along(&dry), Climate::DEFAULT);
    }

    #[test]
    fn each_value_out_of_range_is_named() {
        assert_eq!(Climate::default().check(), Ok(()));
        let seldom = Climate { time: Percent::new(0.5), ..Climate::DEFAULT };
        let said = seldom.check().unwrap_err().to_string();
        assert_eq!(said, "climate: share of time: 0.5 %; allowed are 1 to 50 %");
        for (climate, named) in [
            (Climate { latitude: Degrees::new(91.0), ..Climate::DEFAULT }, "latitude"),
            (Climate { surface_refractivity: f64::NAN, ..Climate::DEFAULT }, "refractivity"),
            (Climate { sea_share: 1.5, ..Climate::DEFAULT }, "sea"),
            (Climate { longest_land: Some(Metres::new(-1.0)), ..Climate::DEFAULT }, "land"),
            (Climate { receiver_to_coast: Metres::new(-1.0), ..Climate::DEFAULT }, "coast"),
        ] {
            let error = climate.check().unwrap_err();
            assert!(error.quantity.contains(named), "{error}");
        }
        let locations = Locations::Share { percent: Percent::new(100.0), deviation: Db::new(5.5) };
        assert!(Climate { locations, ..Climate::DEFAULT }.check().is_err());
    }
}
