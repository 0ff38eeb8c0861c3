//! Single cells by a profile of their own: where gaps or the rim of the
//! terrain leave the rays in doubt, and right at the antenna.

use std::sync::{Mutex, PoisonError};

use super::cells::CellLosses;
use crate::link::{PathLosses, Propagator};
use crate::propagation::{Profile, clearance};
use crate::terrain::{Grid, PlaceError, Projector, Terrain, Tracer};
use crate::units::{Megahertz, Metres, Position};

/// Computes single cells.
pub(super) struct Exact<'a> {
    pub terrain: &'a Terrain,
    pub grid: &'a Grid,
    pub at: Position,
    pub masts: &'a [Metres],
    pub carried: &'a [Metres],
    pub frequencies: (Megahertz, Megahertz),
    pub propagator: &'a Propagator,
    /// The first failure that was not a matter of the cell.
    pub failed: Mutex<Option<PlaceError>>,
}

/// What one thread needs for it, made at first use.
#[derive(Default)]
pub(super) struct Tools<'a> {
    made: Option<(Projector, Tracer<'a>)>,
    profile: Profile,
}

impl<'a> Exact<'a> {
    /// A cell's losses for every mast and carried antenna, mast by mast;
    /// `None` where terrain is missing on the way.
    pub(super) fn cell(
        &self,
        tools: &mut Tools<'a>,
        column: usize,
        row: usize,
    ) -> Option<Vec<CellLosses>> {
        self.try_cell(tools, column, row).unwrap_or_else(|error| {
            let mut failed = self.failed.lock().unwrap_or_else(PoisonError::into_inner);
            failed.get_or_insert(error);
            None
        })
    }

    fn try_cell(
        &self,
        tools: &mut Tools<'a>,
        column: usize,
        row: usize,
    ) -> Result<Option<Vec<CellLosses>>, PlaceError> {
        let (projector, tracer) = match &mut tools.made {
            Some(made) => made,
            none => none.insert((self.grid.projector()?, self.terrain.tracer(self.at)?)),
        };
        let place = projector.to_position(column as f64 + 0.5, row as f64 + 0.5)?;
        match tracer.trace(place, &mut tools.profile) {
            Ok(()) => Ok(Some(self.losses(&tools.profile, place))),
            Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => Ok(None),
            Err(other) => Err(other),
        }
    }

    fn losses(&self, profile: &Profile, place: Position) -> Vec<CellLosses> {
        let propagator = self.propagator.between(self.at, place);
        let pairs = self.masts.iter().flat_map(|m| self.carried.iter().map(move |c| (*m, *c)));
        pairs
            .map(|(mast, carried)| {
                let losses = propagator.losses(profile, mast, carried, self.frequencies);
                let path = propagator.path(profile, mast, carried, self.frequencies.1);
                of(&losses, clearance::line_of_sight(&path))
            })
            .collect()
    }
}

fn of(losses: &PathLosses, sight: bool) -> CellLosses {
    let slope = |angle: crate::units::Degrees| angle.value().to_radians().tan() as f32;
    CellLosses {
        talk_in: losses.talk_in.total().value() as f32,
        talk_out: losses.talk_out.total().value() as f32,
        up: slope(losses.take_off.at_transmitter),
        back: slope(losses.take_off.at_receiver),
        sight,
    }
}
