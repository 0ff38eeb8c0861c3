//! The losses of one path in both directions.

use crate::plan::Prediction;
use crate::propagation::clearance::{TakeOff, take_off};
use crate::propagation::{
    EffectiveEarth, Path, PathLoss, Profile, default_method, free_space, method,
};
use crate::units::{Db, Megahertz, Metres, Polarization};

/// Loss of a path at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Free-space part.
    pub free_space: Db,
    /// What the propagation method adds.
    pub diffraction: Db,
}

impl Loss {
    /// Both parts.
    #[must_use]
    pub fn total(self) -> Db {
        self.free_space + self.diffraction
    }
}

/// Losses of a path in both directions, the station at its transmitting end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathLosses {
    /// At the frequency on which the carried radio transmits.
    pub talk_in: Loss,
    /// At the frequency on which the station transmits.
    pub talk_out: Loss,
    /// Angles at which the path leaves both antennas.
    pub take_off: TakeOff,
}

/// A propagation method with the earth and polarization that a plan asks for.
#[derive(Clone, Copy)]
pub struct Propagator {
    /// The method.
    pub method: &'static dyn PathLoss,
    /// The effective earth.
    pub earth: EffectiveEarth,
    /// Polarization of both antennas.
    pub polarization: Polarization,
}

impl Propagator {
    /// What the plan asks for; its method's name was checked when it was read.
    #[must_use]
    pub fn new(prediction: &Prediction) -> Self {
        Self {
            method: method(&prediction.method).unwrap_or_else(default_method),
            earth: EffectiveEarth::from_k_factor(prediction.k_factor),
            polarization: prediction.polarization,
        }
    }

    /// The path over `profile`, the station's antenna over its first point.
    #[must_use]
    pub fn path<'a>(
        &self,
        profile: &'a Profile,
        station: Metres,
        carried: Metres,
        frequency: Megahertz,
    ) -> Path<'a> {
        Path::new(profile, station, carried, frequency)
            .with_earth(self.earth)
            .with_polarization(self.polarization)
    }

    /// Losses over `profile` with antennas at these heights above ground, for
    /// the (talk-in, talk-out) frequencies. Loss is the same both ways at one
    /// frequency, so talk-in is computed from the station's end too.
    #[must_use]
    pub fn losses(
        &self,
        profile: &Profile,
        station: Metres,
        carried: Metres,
        (input, output): (Megahertz, Megahertz),
    ) -> PathLosses {
        let path = self.path(profile, station, carried, output);
        let slant = path.slant_distance();
        let loss = |path: &Path<'_>| Loss {
            free_space: free_space::loss(path.frequency(), slant),
            diffraction: self.method.diffraction(path, &mut |_| {}),
        };
        let talk_out = loss(&path);
        let talk_in = if input == output { talk_out } else { loss(&path.with_frequency(input)) };
        PathLosses { talk_in, talk_out, take_off: take_off(&path) }
    }
}
