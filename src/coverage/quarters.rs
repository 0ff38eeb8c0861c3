//! Cells of a map that lie among other houses than the rest of the plan.

use ndarray::Array2;
use rayon::prelude::*;

use perchline_link::{LinkModel, Margins, Outcome, Propagator};
use perchline_propagation::Profile;
use perchline_terrain::{PlaceError, Terrain};
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
    let rows = (0..grid.rows())
        .into_par_iter()
        .map(|row| row_among_houses(&coverage, terrain, model, propagator, row))
        .collect::<Result<Vec<_>, PlaceError>>()?;
    for (row, cells) in rows.into_iter().enumerate() {
        for (column, found) in cells.into_iter().enumerate() {
            coverage.put((row, column), found);
        }
    }
    Ok(coverage)
}

/// What a cell comes to among its houses.
struct Found {
    /// Margins of talk-in and talk-out, dB.
    margins: [f32; 2],
    probability: f32,
    outcome: Outcome,
}

/// What the known cells of a row come to; nothing of a cell that is not.
fn row_among_houses(
    coverage: &Coverage,
    terrain: &Terrain,
    model: &LinkModel,
    propagator: &Propagator,
    row: usize,
) -> Result<Vec<Option<Found>>, PlaceError> {
    let grid = &coverage.grid;
    let centres: Vec<_> =
        (0..grid.columns()).map(|column| (column as f64 + 0.5, row as f64 + 0.5)).collect();
    let places = grid.projector()?.to_positions(&centres)?;
    let height = |centre| {
        let (x, y) = terrain.grid().cell_of(grid, centre);
        let cell = (y.max(0.0) as usize, x.max(0.0) as usize);
        terrain.heights().get(cell).map_or(f64::NAN, |height| f64::from(*height))
    };
    let start = terrain.ground(model.station().at)?.value();
    let among = |column: usize, place: Position, centre: (f64, f64)| {
        let before = [&coverage.talk_in_margin, &coverage.talk_out_margin]
            .map(|layer| layer.get((row, column)).copied().unwrap_or(f32::NAN));
        if before.iter().any(|margin| margin.is_nan()) {
            return None;
        }
        let here = model.at(place);
        let distance = model.station().at.distance(place).value().max(1.0);
        // Of a cell without a height nothing is known anyway.
        let ends = Profile::new(vec![0.0, distance], vec![start, height(centre)]);
        let rows = ends.map_or([Db::new(0.0); 2], |ends| here.rows_over(propagator, &ends));
        let [over_in, over_out] = here.margins_over(model);
        let [rows_in, rows_out] = rows;
        let [talk_in, talk_out] = before.map(|margin| Db::new(f64::from(margin)));
        let talk_out = talk_out + over_out - rows_out;
        let margins = Margins {
            talk_in_margin: talk_in + over_in - rows_in,
            talk_out_margin: talk_out,
            talk_out_signal: here.talk_out_wanted() + talk_out,
            spread: here.spread(),
        };
        Some(Found {
            margins: [margins.talk_in_margin, talk_out].map(|margin| margin.value() as f32),
            probability: here.probability(&margins) as f32,
            outcome: here.outcome(&margins),
        })
    };
    let cells = places.into_iter().zip(centres).enumerate();
    Ok(cells.map(|(column, (place, centre))| among(column, place, centre)).collect())
}

impl Coverage {
    /// Writes what a cell comes to, if it was found.
    fn put(&mut self, cell: (usize, usize), found: Option<Found>) {
        fn set<T>(layer: &mut Array2<T>, cell: (usize, usize), value: T) {
            if let Some(known) = layer.get_mut(cell) {
                *known = value;
            }
        }
        let Some(Found { margins: [talk_in, talk_out], probability, outcome }) = found else {
            return;
        };
        set(&mut self.talk_in_margin, cell, talk_in);
        set(&mut self.talk_out_margin, cell, talk_out);
        set(&mut self.probability, cell, probability);
        set(&mut self.outcome, cell, outcome);
    }
}
