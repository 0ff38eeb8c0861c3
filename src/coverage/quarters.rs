//! Cells of a map that lie among other houses than the rest of the plan.

use rayon::prelude::*;

use perchline_link::{LinkModel, Outcome, Propagator, Spread};
use perchline_propagation::Profile;
use perchline_terrain::{Grid, PlaceError, Terrain};
use perchline_units::{Db, Position};

use super::Coverage;

/// Takes a map on which every cell has the loss that the houses stated for the whole
/// plan add at its end to one with the rows of houses on the way and the houses that
/// areas of the plan state of their own.
///
/// # Errors
/// [`PlaceError`] when the grid cannot be projected.
pub(super) fn among_houses(
    mut coverage: Coverage,
    terrain: &Terrain,
    model: &LinkModel,
    propagator: &Propagator,
) -> Result<Coverage, PlaceError> {
    if !model.has_quarters() && model.rows().is_none() {
        return Ok(coverage);
    }
    let grid = coverage.grid.clone();
    let changes = (0..grid.rows())
        .into_par_iter()
        .map(|row| changes_of_row(terrain, &grid, model, propagator, row))
        .collect::<Result<Vec<_>, PlaceError>>()?;
    for (row, changes) in changes.into_iter().enumerate() {
        for (column, change) in changes.into_iter().enumerate() {
            coverage.shift((row, column), &change, model.reliability());
        }
    }
    Ok(coverage)
}

/// What changes at a cell.
struct Change {
    /// By how much margins of (talk-in, talk-out) grow.
    by: [Db; 2],
    /// The spread there.
    spread: Spread,
    /// What is kept back for it.
    allowance: Db,
}

/// What changes at each cell of a row.
fn changes_of_row(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    row: usize,
) -> Result<Vec<Change>, PlaceError> {
    let centres: Vec<_> =
        (0..grid.columns()).map(|column| (column as f64 + 0.5, row as f64 + 0.5)).collect();
    let places = grid.projector()?.to_positions(&centres)?;
    let height = |centre| {
        let (x, y) = terrain.grid().cell_of(grid, centre);
        let cell = (y.max(0.0) as usize, x.max(0.0) as usize);
        terrain.heights().get(cell).map_or(f64::NAN, |height| f64::from(*height))
    };
    let start = terrain.ground(model.station().at)?.value();
    let change = |(place, centre): (Position, (f64, f64))| {
        let here = model.at(place);
        let distance = model.station().at.distance(place).value().max(1.0);
        // Of a cell without a height nothing is known anyway.
        let ends = Profile::new(vec![0.0, distance], vec![start, height(centre)]);
        let rows = ends.map_or([Db::new(0.0); 2], |ends| here.rows_over(propagator, &ends));
        let ([over_in, over_out], [rows_in, rows_out]) = (here.margins_over(model), rows);
        let by = [over_in - rows_in, over_out - rows_out];
        Change { by, spread: here.spread(), allowance: here.allowance() }
    };
    Ok(places.into_iter().zip(centres).map(change).collect())
}

impl Coverage {
    /// Changes the margins of a known cell and what follows of them, where the share
    /// `reliability` of spots is wanted.
    fn shift(&mut self, cell: (usize, usize), change: &Change, reliability: f64) {
        let margins = [&mut self.talk_in_margin, &mut self.talk_out_margin];
        let mut over = [Db::new(f64::NAN); 2];
        for ((layer, by), over) in margins.into_iter().zip(change.by).zip(&mut over) {
            let Some(margin) = layer.get_mut(cell).filter(|margin| !margin.is_nan()) else {
                return;
            };
            *margin += by.value() as f32;
            *over = Db::new(f64::from(*margin)) + change.allowance;
        }
        let [talk_in, talk_out] = over;
        let probability = change.spread.both_ways(talk_in, talk_out);
        if let Some(known) = self.probability.get_mut(cell) {
            *known = probability as f32;
        }
        if let Some(known) = self.outcome.get_mut(cell) {
            *known = Outcome::of(probability, talk_in.max(talk_out), reliability);
        }
    }
}
