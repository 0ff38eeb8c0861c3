//! Single cells by a profile of their own: where gaps or the rim of the
//! terrain leave the rays in doubt, and right at the antenna.

use std::sync::atomic::Ordering;
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::cells::{CellLosses, Losses};
use super::lane::LANES;
use super::run::{Taker, Task};
use super::verdict::Verdict;
use super::walk::Place;
use crate::link::PathLosses;
use crate::propagation::{Profile, clearance};
use crate::terrain::{PlaceError, Projector, Tracer};
use crate::units::Position;

/// Computes single cells of a task.
pub(super) struct Exact<'a> {
    task: &'a Task<'a>,
    /// The first failure that was not a matter of the cell.
    failed: Mutex<Option<PlaceError>>,
}

/// What one thread needs for it, made at first use.
#[derive(Default)]
pub(super) struct Tools<'a> {
    made: Option<(Projector, Tracer<'a>)>,
    profile: Profile,
}

impl<'a> Exact<'a> {
    pub(super) fn new(task: &'a Task<'a>) -> Self {
        Self { task, failed: Mutex::new(None) }
    }

    /// Whether all went well.
    pub(super) fn done(self) -> Result<(), PlaceError> {
        match self.failed.into_inner().unwrap_or_else(PoisonError::into_inner) {
            Some(error) => Err(error),
            None => Ok(()),
        }
    }

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
            none => {
                none.insert((self.task.grid.projector()?, self.task.terrain.tracer(self.task.at)?))
            }
        };
        let place = projector.to_position(column as f64 + 0.5, row as f64 + 0.5)?;
        match tracer.trace(place, &mut tools.profile) {
            Ok(()) => Ok(Some(self.losses(&tools.profile, place))),
            Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => Ok(None),
            Err(other) => Err(other),
        }
    }

    fn losses(&self, profile: &Profile, place: Position) -> Vec<CellLosses> {
        let Task { masts, carried, frequencies, .. } = *self.task;
        let propagator = self.task.propagator.between(self.task.at, place);
        let pairs = masts.iter().flat_map(|m| carried.iter().map(move |c| (*m, *c)));
        pairs
            .map(|(mast, carried)| {
                let losses = propagator.losses(profile, mast, carried, frequencies);
                let path = propagator.path(profile, mast, carried, frequencies.1);
                of(&losses, clearance::line_of_sight(&path))
            })
            .collect()
    }
}

/// Every cell of a task by a profile of its own, rows in parallel, handed to
/// `taker` as the sweep does.
///
/// # Errors
/// [`PlaceError`] when the antenna is off the terrain or a cell can't be projected.
pub(super) fn every_cell(task: &Task<'_>, taker: &impl Taker) -> Result<(), PlaceError> {
    let exact = Exact::new(task);
    let (rows, columns) = (task.grid.rows(), task.grid.columns());
    let pairs: Vec<_> =
        (0..task.masts.len()).flat_map(|m| (0..task.carried.len()).map(move |c| (m, c))).collect();
    (0..rows).into_par_iter().for_each_init(Tools::default, |tools, row| {
        for column in 0..columns {
            if task.stop.load(Ordering::Relaxed) {
                return;
            }
            let place = Place { first: row * columns + column, step: 1, count: 1 };
            let known = exact.cell(tools, column, row);
            for (number, pair) in pairs.iter().enumerate() {
                match known.as_ref().and_then(|all| all.get(number)) {
                    Some(cell) => {
                        let losses = Losses::of_one(cell);
                        taker.take(*pair, place, &[Verdict::Known; LANES], &losses);
                    }
                    None => taker.take(*pair, place, &[Verdict::Lost; LANES], &Losses::EMPTY),
                }
            }
        }
        (task.row_done)();
    });
    exact.done()
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
