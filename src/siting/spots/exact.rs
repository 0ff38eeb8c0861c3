//! Spots scored on exact paths, as a ranking scores sites.

use rayon::prelude::*;

use super::demand::DemandPoint;
use perchline_link::Propagator;
use perchline_profile::Profile;
use perchline_terrain::{PlaceError, Terrain};
use perchline_units::{Metres, Position};

/// A spot to be scored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Spot {
    pub at: Position,
    /// Antenna above the ground.
    pub antenna: Metres,
    pub stands: Stands,
}

/// What a spot stands on, by number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Stands {
    /// A cell of the searched part of the map.
    Cell(usize),
    /// A roof.
    Roof(usize),
}

/// What a spot comes to on the demand points.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Worth {
    /// Weighted probability, 0 to 1.
    pub probability: f64,
    /// Whether every must-have post works.
    pub must_met: bool,
}

impl Worth {
    /// Both in one number: who meets every must-have post comes first.
    pub fn value(self) -> f64 {
        self.probability + f64::from(u8::from(self.must_met))
    }
}

/// A spot as far as it was scored.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Scored {
    /// On every demand point.
    Whole(Worth),
    /// Given up: its value lies below the floor that was asked for.
    Below,
}

/// What every spot is scored with.
pub(super) struct Scorer<'a> {
    pub terrain: &'a Terrain,
    pub propagator: &'a Propagator,
    pub demand: &'a [DemandPoint],
}

impl Scorer<'_> {
    /// Scores every spot; one whose value cannot reach `floor` is given up as
    /// soon as that is sure. The order is that of `spots`.
    ///
    /// # Errors
    /// [`PlaceError`] when the projection fails.
    pub fn score(&self, spots: &[Spot], floor: f64) -> Result<Vec<Scored>, PlaceError> {
        spots
            .par_iter()
            .map_init(Profile::default, |profile, spot| self.one(spot, floor, profile))
            .collect()
    }

    fn one(&self, spot: &Spot, floor: f64, profile: &mut Profile) -> Result<Scored, PlaceError> {
        let mut tracer = match self.terrain.tracer(spot.at) {
            Ok(tracer) => tracer,
            Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => return Ok(Scored::Below),
            Err(other) => return Err(other),
        };
        let (mut sure, mut rest, mut must_met) = (0.0, 1.0, true);
        for DemandPoint { model, weight, must } in self.demand {
            let carried = model.carried();
            let (probability, works) = match tracer.trace(carried.at, profile) {
                Ok(()) => {
                    let propagator = self.propagator.between(spot.at, carried.at);
                    let model = model.at(carried.at);
                    let model = model.at_station_height(spot.antenna);
                    let losses = model.losses(&propagator, profile);
                    let assessment = model.assess(&losses);
                    (model.probability(&assessment), model.outcome(&assessment).works())
                }
                // What is not known counts as not working.
                Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => (0.0, false),
                Err(other) => return Err(other),
            };
            sure += weight * probability;
            rest -= weight;
            must_met &= works || !must;
            let most = Worth { probability: sure + rest.max(0.0), must_met };
            if most.value() < floor {
                return Ok(Scored::Below);
            }
        }
        Ok(Scored::Whole(Worth { probability: sure, must_met }))
    }
}
