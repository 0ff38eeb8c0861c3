//! A path: antennas over the ends of a profile, a frequency, an earth.

use super::{Climate, OutOfRange};
use perchline_profile::Profile;
use perchline_units::{Megahertz, Metres, Polarization, RefractivityLapse};

/// The earth with its radius enlarged to stand for refraction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EffectiveEarth {
    radius: Metres,
}

/// Mean radius of the earth used with the k-factor (ITU-R P.310 and P.526: 6371 km).
pub const EARTH_RADIUS: Metres = Metres::new(6_371_000.0);

impl EffectiveEarth {
    /// The effective radius k times 6371 km; k must be above zero, 4/3 is the median.
    #[must_use]
    pub fn from_k_factor(k: f64) -> Self {
        Self { radius: EARTH_RADIUS * k }
    }

    /// The median effective radius where the refractivity of the air falls by
    /// `delta_n` N-units in the lowest kilometre: k = 157 / (157 - delta_n)
    /// (ITU-R P.1812 section 3.5, equation (6)); `delta_n` must be below 157,
    /// and most places lie between 30 and 80.
    ///
    /// ```
    /// # use perchline_propagation::EffectiveEarth;
    /// let radius = EffectiveEarth::from_refractivity_lapse(45.0).radius();
    /// assert!((radius.kilometres() - 8930.8).abs() < 0.1);
    /// ```
    #[must_use]
    pub fn from_refractivity_lapse(delta_n: f64) -> Self {
        Self::from_k_factor(RefractivityLapse::new(delta_n).k_factor())
    }

    /// An effective radius that is known as such.
    #[must_use]
    pub const fn from_radius(radius: Metres) -> Self {
        Self { radius }
    }

    /// The effective radius.
    #[must_use]
    pub const fn radius(self) -> Metres {
        self.radius
    }

    /// How high the curve of the earth stands over the chord of a path of this length,
    /// so far from one end: d (D - d) / (2 a).
    #[must_use]
    pub fn bulge(self, length: Metres, along: Metres) -> Metres {
        let (length, along) = (length.value(), along.value());
        Metres::new(along * (length - along) / (2.0 * self.radius.value()))
    }
}

impl Default for EffectiveEarth {
    fn default() -> Self {
        Self::from_k_factor(4.0 / 3.0)
    }
}

/// Electrical properties of the ground, as ITU-R P.527 gives them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroundConstants {
    /// Relative permittivity, dimensionless, 1 or more.
    pub relative_permittivity: f64,
    /// Conductivity in siemens a metre, 0 or more.
    pub conductivity: f64,
}

impl GroundConstants {
    /// Average land (ITU-R P.526 section 3.1.1 and P.1812: 22 and 0.003 S/m).
    pub const LAND: Self = Self { relative_permittivity: 22.0, conductivity: 0.003 };
    /// Sea water (ITU-R P.526 section 3.1.1 and P.1812: 80 and 5 S/m).
    pub const SEA: Self = Self { relative_permittivity: 80.0, conductivity: 5.0 };
}

/// A radio path: a profile, an antenna over each end, a frequency, an earth.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Path<'a> {
    profile: &'a Profile,
    transmitter_height: f64,
    receiver_height: f64,
    frequency: Megahertz,
    earth: EffectiveEarth,
    ground: GroundConstants,
    polarization: Polarization,
    climate: Climate,
    through_woods: bool,
    without_houses: bool,
}

impl<'a> Path<'a> {
    /// A path with antennas at these heights above the ground at their ends,
    /// over average land, vertically polarized, k = 4/3, in the default climate.
    #[must_use]
    pub fn new(
        profile: &'a Profile,
        transmitter_height: Metres,
        receiver_height: Metres,
        frequency: Megahertz,
    ) -> Self {
        Self {
            profile,
            transmitter_height: transmitter_height.value(),
            receiver_height: receiver_height.value(),
            frequency,
            earth: EffectiveEarth::default(),
            ground: GroundConstants::LAND,
            polarization: Polarization::Vertical,
            climate: Climate::DEFAULT,
            through_woods: false,
            without_houses: false,
        }
    }

    /// The same path over another profile.
    #[must_use]
    pub const fn over(mut self, profile: &'a Profile) -> Self {
        self.profile = profile;
        self
    }

    /// The same path over another effective earth.
    #[must_use]
    pub const fn with_earth(mut self, earth: EffectiveEarth) -> Self {
        self.earth = earth;
        self
    }

    /// The same path with another polarization.
    #[must_use]
    pub const fn with_polarization(mut self, polarization: Polarization) -> Self {
        self.polarization = polarization;
        self
    }

    /// The same path over other ground.
    #[must_use]
    pub const fn with_ground(mut self, ground: GroundConstants) -> Self {
        self.ground = ground;
        self
    }

    /// The same path in another radio climate.
    ///
    /// # Errors
    /// [`OutOfRange`] when a value of the climate is out of its range.
    pub fn with_climate(mut self, climate: Climate) -> Result<Self, OutOfRange> {
        climate.check()?;
        self.climate = climate;
        Ok(self)
    }

    /// The same path in a radio climate whose values were checked before.
    #[must_use]
    pub const fn in_checked_climate(mut self, climate: Climate) -> Self {
        self.climate = climate;
        self
    }

    /// The same path as if the trees on the way obstructed nothing: what they
    /// take from a wave that runs through them is a loss of its own
    /// ([`super::p833`]).
    #[must_use]
    pub const fn through_woods(mut self) -> Self {
        self.through_woods = true;
        self
    }

    /// The same path as if no house stood on the way: what goes around them
    /// ([`super::streets`]) meets hills and trees alone.
    #[must_use]
    pub const fn without_houses(mut self) -> Self {
        self.without_houses = true;
        self
    }

    /// Whether houses obstruct nothing.
    #[must_use]
    pub const fn is_without_houses(&self) -> bool {
        self.without_houses
    }

    /// Whether trees obstruct nothing.
    #[must_use]
    pub const fn is_through_woods(&self) -> bool {
        self.through_woods
    }

    /// The same path at another frequency.
    #[must_use]
    pub const fn with_frequency(mut self, frequency: Megahertz) -> Self {
        self.frequency = frequency;
        self
    }

    /// The profile below the path.
    #[must_use]
    pub const fn profile(&self) -> &'a Profile {
        self.profile
    }

    /// The frequency.
    #[must_use]
    pub const fn frequency(&self) -> Megahertz {
        self.frequency
    }

    /// The effective earth.
    #[must_use]
    pub const fn earth(&self) -> EffectiveEarth {
        self.earth
    }

    /// The electrical ground.
    #[must_use]
    pub const fn ground(&self) -> GroundConstants {
        self.ground
    }

    /// The polarization.
    #[must_use]
    pub const fn polarization(&self) -> Polarization {
        self.polarization
    }

    /// The radio climate; only methods that say so count it.
    #[must_use]
    pub const fn climate(&self) -> &Climate {
        &self.climate
    }

    /// The share of it that lies over the sea, 0 to 1: as its climate states it, else as
    /// its profile does.
    #[must_use]
    pub fn sea_share(&self) -> f64 {
        let stated = self.climate.sea_share;
        if stated > 0.0 { stated } else { self.profile.sea_share() }
    }

    /// Height of the transmitting antenna above its ground.
    #[must_use]
    pub const fn transmitter_height(&self) -> Metres {
        Metres::new(self.transmitter_height)
    }

    /// Height of the receiving antenna above its ground.
    #[must_use]
    pub const fn receiver_height(&self) -> Metres {
        Metres::new(self.receiver_height)
    }

    /// Height of the transmitting antenna above sea level.
    #[must_use]
    pub fn transmitter_altitude(&self) -> Metres {
        Metres::new(
            self.profile.heights().first().copied().unwrap_or_default() + self.transmitter_height,
        )
    }

    /// Height of the receiving antenna above sea level.
    #[must_use]
    pub fn receiver_altitude(&self) -> Metres {
        Metres::new(
            self.profile.heights().last().copied().unwrap_or_default() + self.receiver_height,
        )
    }

    /// Length of the path along the ground.
    #[must_use]
    pub fn length(&self) -> Metres {
        self.profile.length()
    }

    /// Straight-line distance between the antennas, from the ground distance
    /// and the difference of their altitudes.
    #[must_use]
    pub fn slant_distance(&self) -> Metres {
        let rise = self.receiver_altitude() - self.transmitter_altitude();
        Metres::new(self.length().value().hypot(rise.value()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn altitudes_and_the_slant_count_ground_and_antenna() {
        let profile = Profile::new(vec![0.0, 400.0], vec![100.0, 390.0]).unwrap();
        let path = Path::new(&profile, Metres::new(20.0), Metres::new(30.0), Megahertz::new(146.0));
        assert_eq!(path.transmitter_altitude(), Metres::new(120.0));
        assert_eq!(path.receiver_altitude(), Metres::new(420.0));
        // 3-4-5 triangle: 300 m of rise over 400 m.
        assert_eq!(path.slant_distance(), Metres::new(500.0));
    }
}
