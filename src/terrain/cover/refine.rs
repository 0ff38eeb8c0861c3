//! The same ground in finer cells.

use ndarray::Array2;
use rayon::prelude::*;

use super::CoverError;
use crate::mosaic::MOST_CELLS;
use crate::tracer::{Sample, Sampler};
use crate::{Grid, Terrain};
use perchline_units::Metres;

/// The terrain's window in cells of at most `cell` (one part in a hundred
/// over), each of its cells cut into the same number of columns and rows.
/// `None` where its own are no larger.
pub(super) fn grid(own: &Grid, cell: Metres) -> Result<Option<Grid>, CoverError> {
    let (across, down) = own.cuts(cell)?;
    if across <= 1.0 && down <= 1.0 {
        return Ok(None);
    }
    let (columns, rows) = (own.columns() as f64 * across, own.rows() as f64 * down);
    if columns * rows > MOST_CELLS as f64 {
        return Err(CoverError::TooFine {
            cell: cell.to_string(),
            columns: columns as u64,
            rows: rows as u64,
            limit: MOST_CELLS / 1_000_000,
        });
    }
    let [x, x_column, x_row, y, y_column, y_row] = own.transform();
    let transform = [x, x_column / across, x_row / down, y, y_column / across, y_row / down];
    Ok(Some(Grid::new(columns as usize, rows as usize, transform, own.crs())?))
}

/// Ground heights at the centres of a finer grid over the same rectangle,
/// bilinear between the terrain's own centres; NaN beside a gap.
pub(super) fn heights(terrain: &Terrain, finer: &Grid) -> Array2<f32> {
    let sampler = Sampler::new(terrain);
    let own = terrain.grid();
    let across = own.columns() as f64 / finer.columns() as f64;
    let down = own.rows() as f64 / finer.rows() as f64;
    let mut fine = Array2::from_elem((finer.rows(), finer.columns()), f32::NAN);
    fine.outer_iter_mut().into_par_iter().enumerate().for_each(|(row, mut cells)| {
        let y = (row as f64 + 0.5) * down;
        for (column, height) in cells.iter_mut().enumerate() {
            let x = (column as f64 + 0.5) * across;
            if let Sample::Height(found) = sampler.height(x, y) {
                *height = terrain.own_height((x, y), found) as f32;
            }
        }
    });
    fine
}
