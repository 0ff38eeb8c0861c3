//! A picture at a fraction of the cells first, to be refined.

use std::sync::atomic::AtomicBool;

use super::cover::cover_with;
use super::task::Options;
use crate::{Coverage, plain};
use perchline_link::{LinkModel, Propagator};
use perchline_terrain::{Grid, PlaceError, Terrain};

/// Coverage of every `every`-th cell of `grid` across and down, on a grid of
/// cells so much larger: for `every` = 4 a sixteenth of the cells, from a
/// quarter of the rays. Rows and columns at the far end that do not fill such a
/// cell are left out. Every point of every ray is still
/// looked at, so no ridge is passed over.
///
/// Cells are as the rays tell them: those near the boundary of a class are not
/// looked at again as [`crate::cover`] does, and for `every` = 1 that is all that
/// differs.
///
/// Meant for interactive use: show this, then 2, then [`crate::cover`],
/// and set `stop` as soon as the answer is no longer wanted; a run ends within
/// milliseconds of it.
///
/// # Errors
/// [`PlaceError`] as for [`crate::cover`].
pub fn cover_coarsely(
    terrain: &Terrain,
    grid: &Grid,
    every: usize,
    model: &LinkModel,
    propagator: &Propagator,
    stop: &AtomicBool,
) -> Result<Coverage, PlaceError> {
    let every = every.clamp(1, grid.columns().min(grid.rows()));
    let [x, xc, xr, y, yc, yr] = grid.transform();
    let wide = every as f64;
    let transform = [x, xc * wide, xr * wide, y, yc * wide, yr * wide];
    let grid = Grid::new(grid.columns() / every, grid.rows() / every, transform, grid.crs())?;
    let options = Options { ray_gap: (every > 1).then_some(2.0 * wide), ..Options::default() };
    let options = (&options, false);
    let swept = cover_with(terrain, &grid, &[model], propagator, options, &|| (), stop)?;
    match swept.and_then(|mut one| one.pop()) {
        Some(coverage) => Ok(coverage),
        None => plain::cover(terrain, &grid, model, propagator, &|| (), stop),
    }
}
