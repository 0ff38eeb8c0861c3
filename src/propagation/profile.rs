//! The profile between two antennas, and the path that is laid over it.

use crate::units::{Megahertz, Metres, Polarization};

/// Ground heights along a geodesic: the first point is under the transmitter,
/// the last under the receiver.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Profile {
    distance: Vec<f64>,
    height: Vec<f64>,
}

/// A list of points that is not a profile.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProfileError {
    /// Fewer than two points.
    #[error("a profile needs at least 2 points, this one has {0}")]
    TooShort(usize),
    /// The two columns differ in length.
    #[error("a profile needs as many heights as distances: {distances} against {heights}")]
    Uneven {
        /// Number of distances.
        distances: usize,
        /// Number of heights.
        heights: usize,
    },
    /// A distance that does not grow, does not start at zero, or a value that is not a number.
    #[error(
        "profile point {index}: distance {distance} m, height {height} m: distances start at 0 and grow, and every value is finite"
    )]
    BadPoint {
        /// Index of the point from 0.
        index: usize,
        /// Its distance in metres.
        distance: f64,
        /// Its height in metres.
        height: f64,
    },
}

impl Profile {
    /// A profile from distances from the transmitter and ground heights above
    /// sea level, both in metres.
    ///
    /// # Errors
    /// [`ProfileError`] when the columns differ in length, hold fewer than two
    /// points, do not start at 0, do not grow strictly, or are not finite.
    pub fn new(distance: Vec<f64>, height: Vec<f64>) -> Result<Self, ProfileError> {
        let profile = Self { distance, height };
        profile.check()?;
        Ok(profile)
    }

    fn check(&self) -> Result<(), ProfileError> {
        if self.distance.len() != self.height.len() {
            return Err(ProfileError::Uneven {
                distances: self.distance.len(),
                heights: self.height.len(),
            });
        }
        if self.distance.len() < 2 {
            return Err(ProfileError::TooShort(self.distance.len()));
        }
        let mut last = f64::NEG_INFINITY;
        for (index, (&distance, &height)) in self.distance.iter().zip(&self.height).enumerate() {
            let starts = index > 0 || distance == 0.0;
            if !(starts && distance > last && distance.is_finite() && height.is_finite()) {
                return Err(ProfileError::BadPoint { index, distance, height });
            }
            last = distance;
        }
        Ok(())
    }

    /// Empties both columns and lets `fill` write them anew, so that one
    /// allocation serves many paths.
    ///
    /// # Errors
    /// [`ProfileError`] as for [`Profile::new`]; the profile is then empty of meaning.
    pub fn refill(
        &mut self,
        fill: impl FnOnce(&mut Vec<f64>, &mut Vec<f64>),
    ) -> Result<(), ProfileError> {
        self.distance.clear();
        self.height.clear();
        fill(&mut self.distance, &mut self.height);
        self.check()
    }

    /// Distances from the transmitter in metres.
    #[must_use]
    pub fn distances(&self) -> &[f64] {
        &self.distance
    }

    /// Ground heights above sea level in metres.
    #[must_use]
    pub fn heights(&self) -> &[f64] {
        &self.height
    }

    /// Number of points, both ends included.
    #[must_use]
    pub fn len(&self) -> usize {
        self.distance.len()
    }

    /// Whether there are no points (only of a default value).
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.distance.is_empty()
    }

    /// The length of the path along the ground.
    #[must_use]
    pub fn length(&self) -> Metres {
        Metres::new(self.distance.last().copied().unwrap_or_default())
    }

    /// The same ground seen from the other end.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let length = self.length().value();
        Self {
            distance: self.distance.iter().rev().map(|d| length - d).collect(),
            height: self.height.iter().rev().copied().collect(),
        }
    }
}

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
}

impl Default for EffectiveEarth {
    fn default() -> Self {
        Self::from_k_factor(4.0 / 3.0)
    }
}

/// Electrical properties of the ground, as ITU-R P.527 gives them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ground {
    /// Relative permittivity, dimensionless, 1 or more.
    pub relative_permittivity: f64,
    /// Conductivity in siemens a metre, 0 or more.
    pub conductivity: f64,
}

impl Ground {
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
    ground: Ground,
    polarization: Polarization,
}

impl<'a> Path<'a> {
    /// A path with antennas at these heights above the ground at their ends,
    /// over average land, vertically polarized, k = 4/3.
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
            ground: Ground::LAND,
            polarization: Polarization::Vertical,
        }
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
    pub const fn with_ground(mut self, ground: Ground) -> Self {
        self.ground = ground;
        self
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
    pub const fn ground(&self) -> Ground {
        self.ground
    }

    /// The polarization.
    #[must_use]
    pub const fn polarization(&self) -> Polarization {
        self.polarization
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
    fn columns_that_are_no_profile_are_refused_and_say_where() {
        let new = |d: &[f64], h: &[f64]| Profile::new(d.to_vec(), h.to_vec());
        assert_eq!(new(&[0.0], &[1.0]), Err(ProfileError::TooShort(1)));
        assert_eq!(
            new(&[0.0, 1.0], &[1.0]),
            Err(ProfileError::Uneven { distances: 2, heights: 1 })
        );
        for (d, bad) in [([1.0, 2.0, 3.0], 0), ([0.0, 0.0, 3.0], 1), ([0.0, 2.0, 1.0], 2)] {
            let found = new(&d, &[0.0; 3]);
            assert!(
                matches!(found, Err(ProfileError::BadPoint { index, .. }) if index == bad),
                "{d:?}: {found:?}"
            );
        }
        for odd in [f64::NAN, f64::INFINITY] {
            assert!(new(&[0.0, odd], &[0.0, 0.0]).is_err());
            assert!(new(&[0.0, 1.0], &[0.0, odd]).is_err());
        }
    }

    #[test]
    fn refilling_checks_like_making() {
        let mut profile = Profile::new(vec![0.0, 10.0], vec![1.0, 2.0]).unwrap();
        let filled = profile.refill(|d, h| {
            d.extend([0.0, 5.0, 9.0]);
            h.extend([3.0, 4.0, 5.0]);
        });
        assert_eq!(filled, Ok(()));
        assert_eq!(profile, Profile::new(vec![0.0, 5.0, 9.0], vec![3.0, 4.0, 5.0]).unwrap());
        assert!(profile.refill(|d, _| d.push(0.0)).is_err());
    }

    #[test]
    fn a_profile_reversed_twice_is_itself() {
        let there = Profile::new(vec![0.0, 3.0, 10.0], vec![1.0, 7.0, 2.0]).unwrap();
        let back = there.reversed();
        assert_eq!(back, Profile::new(vec![0.0, 7.0, 10.0], vec![2.0, 7.0, 1.0]).unwrap());
        assert_eq!(back.reversed(), there);
    }

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
