//! The losses of one path in both directions.

use crate::plan::Prediction;
use crate::propagation::clearance::{TakeOff, take_off};
use crate::propagation::{
    Climate, EffectiveEarth, Excess, Model, Path, PathLoss, Profile, default_method, free_space,
    method,
};
use crate::units::{Db, Degrees, Megahertz, Metres, Polarization, Position};

/// Loss of a path at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Loss {
    /// Free-space part.
    pub free_space: Db,
    /// What the propagation method adds.
    pub diffraction: Db,
    /// Which model that is from.
    pub model: Model,
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

/// A propagation method with the earth, the radio climate and the polarization
/// that a plan asks for.
#[derive(Clone, Copy)]
pub struct Propagator {
    /// The method.
    pub method: &'static dyn PathLoss,
    /// The effective earth.
    pub earth: EffectiveEarth,
    /// The radio climate, each value in its range ([`Climate::check`]); its
    /// latitude is that of the path where [`Propagator::between`] was asked.
    pub climate: Climate,
    /// Polarization of both antennas.
    pub polarization: Polarization,
}

impl Propagator {
    /// What the plan asks for; its method's name and the ranges of its climate
    /// were checked when it was read.
    #[must_use]
    pub fn new(prediction: &Prediction) -> Self {
        Self {
            method: method(&prediction.method).unwrap_or_else(default_method),
            earth: EffectiveEarth::from_k_factor(prediction.k_factor),
            climate: Climate {
                time: prediction.time,
                surface_refractivity: prediction.n0.value(),
                ..Climate::DEFAULT
            },
            polarization: prediction.polarization,
        }
    }

    /// The same with the climate at the latitude of the middle of a path.
    #[must_use]
    pub fn between(mut self, one: Position, other: Position) -> Self {
        // P.1812 is given up to 80 degrees; nothing of it changes beyond 70.
        let middle = (one.latitude() + other.latitude()) / 2.0;
        self.climate.latitude = Degrees::new(middle.value().clamp(-80.0, 80.0));
        self
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
            .in_checked_climate(self.climate)
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
        let [talk_out, talk_in] = self.method.at_both(&path, input);
        let loss = |frequency, Excess { loss, model }| Loss {
            free_space: free_space::loss(frequency, slant),
            diffraction: loss,
            model,
        };
        PathLosses {
            talk_in: loss(input, talk_in),
            talk_out: loss(output, talk_out),
            take_off: take_off(&path),
        }
    }
}
