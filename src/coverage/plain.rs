//! The plain engine: a terrain profile of its own for every cell.

use std::sync::atomic::{AtomicBool, Ordering};

use ndarray::{Array2, Axis};
use rayon::prelude::*;

use perchline_link::{Chances, LinkModel, Outcome, Propagator};
use perchline_propagation::{Profile, clearance};
use perchline_terrain::{Grid, PlaceError, Terrain};

use super::Coverage;

/// What one cell comes to.
#[derive(Debug, Clone, Copy)]
struct Cell {
    talk_in_margin: f32,
    talk_out_margin: f32,
    probability: f32,
    line_of_sight: bool,
    outcome: Outcome,
}

impl Cell {
    const UNKNOWN: Self = Self {
        talk_in_margin: f32::NAN,
        talk_out_margin: f32::NAN,
        probability: f32::NAN,
        line_of_sight: false,
        outcome: Outcome::Unknown,
    };
}

/// Computes the coverage of the station of `model` on every cell of `grid`,
/// the carried radio at each cell's centre.
///
/// Rows run in parallel and each cell is computed alone, so the result does
/// not depend on the number of threads. `row_done` is called once a row;
/// setting `stop` ends the run early with whatever is done, the rest unknown.
///
/// # Errors
/// [`PlaceError`] when the station is off the terrain or the grid can't be
/// projected. Gaps on the way to a cell are no error: the cell is unknown.
pub fn cover(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Coverage, PlaceError> {
    terrain.ground(model.station().at)?;
    let chances = model.chances();
    let rows = (0..grid.rows())
        .into_par_iter()
        .map(|row| {
            let cells = if stop.load(Ordering::Relaxed) {
                vec![Cell::UNKNOWN; grid.columns()]
            } else {
                cover_row(terrain, grid, model, &chances, propagator, row)?
            };
            row_done();
            Ok(cells)
        })
        .collect::<Result<Vec<_>, PlaceError>>()?;
    Ok(gather(grid, model, &rows))
}

fn cover_row(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    chances: &Chances,
    propagator: &Propagator,
    row: usize,
) -> Result<Vec<Cell>, PlaceError> {
    let centres: Vec<_> =
        (0..grid.columns()).map(|column| (column as f64 + 0.5, row as f64 + 0.5)).collect();
    let places = grid.projector()?.to_positions(&centres)?;
    let mut tracer = terrain.tracer(model.station().at)?;
    let mut profile = Profile::default();
    places
        .into_iter()
        .map(|place| match tracer.trace(place, &mut profile) {
            Ok(()) => {
                let here = propagator.between(model.station().at, place);
                Ok(assess(&profile, &model.at(place), chances, &here))
            }
            Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => Ok(Cell::UNKNOWN),
            Err(other) => Err(other),
        })
        .collect()
}

fn assess(
    profile: &Profile,
    model: &LinkModel,
    chances: &Chances,
    propagator: &Propagator,
) -> Cell {
    let (station, carried) = (model.station().antenna, model.carried().antenna);
    let assessment = model.assess(&model.losses(propagator, profile));
    let (_, output) = model.frequencies();
    let path = propagator.path(profile, station, carried, output);
    let talk_in_margin = assessment.talk_in_margin.value() as f32;
    let talk_out_margin = assessment.talk_out_margin.value() as f32;
    let (probability, outcome) = if assessment.spread == chances.spread() {
        chances.of(talk_in_margin, talk_out_margin)
    } else {
        // What comes along streets, or into other houses, scatters in its own way.
        (model.probability(&assessment) as f32, model.outcome(&assessment))
    };
    Cell {
        talk_in_margin,
        talk_out_margin,
        probability,
        line_of_sight: clearance::line_of_sight(&path),
        outcome,
    }
}

fn gather(grid: &Grid, model: &LinkModel, rows: &[Vec<Cell>]) -> Coverage {
    fn layer<T: Clone>(
        grid: &Grid,
        rows: &[Vec<Cell>],
        blank: T,
        value: impl Fn(&Cell) -> T,
    ) -> Array2<T> {
        let mut layer = Array2::from_elem((grid.rows(), grid.columns()), blank);
        for (mut out, row) in layer.axis_iter_mut(Axis(0)).zip(rows) {
            for (out, cell) in out.iter_mut().zip(row) {
                *out = value(cell);
            }
        }
        layer
    }
    let outcome = layer(grid, rows, Outcome::Unknown, |c| c.outcome);
    Coverage {
        grid: grid.clone(),
        talk_in_margin: layer(grid, rows, f32::NAN, |c| c.talk_in_margin),
        talk_out_margin: layer(grid, rows, f32::NAN, |c| c.talk_out_margin),
        talk_out_wanted: model.talk_out_wanted(),
        reliability: model.reliability(),
        probability: layer(grid, rows, f32::NAN, |c| c.probability),
        line_of_sight: layer(grid, rows, false, |c| c.line_of_sight),
        unknown_cells: outcome.iter().filter(|o| **o == Outcome::Unknown).count(),
        outcome,
    }
}
