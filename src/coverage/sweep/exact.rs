//! Single cells by a terrain profile of their own: where gaps or the rim of the
//! terrain leave the rays in doubt, and right at the station.

use std::sync::atomic::Ordering;
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use super::geometry::{BatchLosses, CellLosses};
use super::registers::LANES;
use super::task::{CellProfiles, CellSpan, Combination, LossSink, Task};
use perchline_link::PathLosses;
use perchline_propagation::{Profile, clearance};
use perchline_terrain::{PlaceError, Projector, Tracer};
use perchline_units::{Degrees, Position};

/// Computes single cells of a task on many threads.
pub(super) struct Exact<'a> {
    task: &'a Task<'a>,
    /// The first failure that was not a matter of the cell.
    failed: Mutex<Option<PlaceError>>,
}

/// One thread's share of it. Its tools are made at first use.
pub(super) struct ExactCells<'a> {
    exact: &'a Exact<'a>,
    tools: Option<(Projector, Tracer<'a>)>,
    profile: Profile,
}

impl<'a> Exact<'a> {
    pub(super) fn new(task: &'a Task<'a>) -> Self {
        Self { task, failed: Mutex::new(None) }
    }

    /// What one thread works with.
    pub(super) fn cells(&'a self) -> ExactCells<'a> {
        ExactCells { exact: self, tools: None, profile: Profile::default() }
    }

    /// The first error that was not a matter of the cell, if there was one.
    pub(super) fn error(&self) -> Option<PlaceError> {
        self.failed.lock().unwrap_or_else(PoisonError::into_inner).take()
    }
}

impl CellProfiles for ExactCells<'_> {
    fn losses(&mut self, cell: usize) -> Option<Vec<CellLosses>> {
        self.try_losses(cell).unwrap_or_else(|error| {
            let mut failed = self.exact.failed.lock().unwrap_or_else(PoisonError::into_inner);
            failed.get_or_insert(error);
            None
        })
    }
}

impl ExactCells<'_> {
    fn try_losses(&mut self, cell: usize) -> Result<Option<Vec<CellLosses>>, PlaceError> {
        let task = self.exact.task;
        let (projector, tracer) = match &mut self.tools {
            Some(tools) => tools,
            none => none.insert((task.grid.projector()?, task.terrain.tracer(task.at)?)),
        };
        let columns = task.grid.columns();
        let (column, row) = (cell % columns, cell / columns);
        let place = projector.to_position(column as f64 + 0.5, row as f64 + 0.5)?;
        match tracer.trace(place, &mut self.profile) {
            Ok(()) => Ok(Some(losses(task, &self.profile, place))),
            Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => Ok(None),
            Err(other) => Err(other),
        }
    }
}

/// The losses over a profile for every combination, mast by mast.
fn losses(task: &Task<'_>, profile: &Profile, place: Position) -> Vec<CellLosses> {
    let Task { masts, receivers, channels, .. } = *task;
    let propagator = task.propagator.between(task.at, place);
    let pairs = masts.iter().flat_map(|m| receivers.iter().map(move |r| (*m, *r)));
    let all = pairs.flat_map(|(m, r)| channels.iter().map(move |c| (m, r, *c)));
    all.map(|(mast, receiver, frequencies)| {
        // The sweep has no way along streets, so that its layers are of one kind.
        let losses = propagator.slice(profile, mast, receiver, frequencies);
        let path = propagator.path(profile, mast, receiver, frequencies.1);
        cell_losses(&losses, clearance::line_of_sight(&path))
    })
    .collect()
}

fn cell_losses(losses: &PathLosses, line_of_sight: bool) -> CellLosses {
    let slope = |angle: Degrees| angle.value().to_radians().tan() as f32;
    CellLosses {
        talk_in: losses.talk_in.total().value() as f32,
        talk_out: losses.talk_out.total().value() as f32,
        station_take_off: slope(losses.take_off.at_transmitter),
        receiver_take_off: slope(losses.take_off.at_receiver),
        line_of_sight,
    }
}

/// Computes a cell by its own profile and hands it to `sink` for every combination.
pub(super) fn hand_over(
    task: &Task<'_>,
    profiles: &mut dyn CellProfiles,
    cell: usize,
    sink: &dyn LossSink,
) {
    let known = profiles.losses(cell);
    let span = CellSpan::single(cell);
    let (receivers, channels) = (task.receivers.len(), task.channels.len());
    for number in 0..task.masts.len() * receivers * channels {
        let pair = number / channels;
        let (mast, receiver, channel) = (pair / receivers, pair % receivers, number % channels);
        let losses = known.as_ref().and_then(|all| all.get(number));
        let known = [losses.is_some(); LANES];
        let losses = losses.map_or(BatchLosses::EMPTY, BatchLosses::of_one);
        sink.take(Combination { mast, receiver, channel }, span, &known, &losses);
    }
}

/// Every cell of a task by a profile of its own, rows in parallel, handed to
/// `sink` as the sweep does.
///
/// # Errors
/// [`PlaceError`] when the station is off the terrain or a cell can't be projected.
pub(super) fn every_cell(task: &Task<'_>, sink: &dyn LossSink) -> Result<(), PlaceError> {
    let exact = Exact::new(task);
    let (rows, columns) = (task.grid.rows(), task.grid.columns());
    (0..rows).into_par_iter().for_each_init(
        || exact.cells(),
        |profiles, row| {
            for column in 0..columns {
                if task.stop.load(Ordering::Relaxed) {
                    return;
                }
                hand_over(task, profiles, row * columns + column, sink);
            }
            (task.row_done)();
        },
    );
    exact.error().map_or(Ok(()), Err)
}
