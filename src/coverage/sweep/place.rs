//! From terrain, map and antenna to what the sweep works on.

use super::frame::{Frame, Warp};
use super::wedge::MapCells;
use crate::terrain::{Grid, PlaceError, Terrain};
use crate::units::{Degrees, Metres, Position};

/// The polynomials must keep within this share of a cell of the projection.
const TOLERANCE: f64 = 0.02;

/// The frame of an antenna for all places up to `radius` away, as far as the
/// terrain reaches; `None` where the projection bends too much for it.
///
/// # Errors
/// [`PlaceError`] when the terrain's rim has no place on the earth.
pub(super) fn frame(
    terrain: &Terrain,
    at: Position,
    radius: Metres,
) -> Result<Option<(Frame, f64)>, PlaceError> {
    let projector = terrain.grid().projector()?;
    let origin = projector.to_cell(at)?;
    let (columns, rows) = (terrain.grid().columns() as f64, terrain.grid().rows() as f64);
    let corners = [(0.0, 0.0), (columns, 0.0), (0.0, rows), (columns, rows)];
    let mut reach = 0.0f64;
    for corner in projector.to_positions(&corners)? {
        reach = reach.max(at.distance(corner).value());
    }
    let reach = reach.min(radius.value()) * 1.02 + 4.0 * terrain.spacing().value();
    let mut pairs = Vec::with_capacity(RAYS * RINGS);
    for (bearing, share) in (0..RAYS).flat_map(|ray| (1..=RINGS).map(move |ring| (ray, ring))) {
        // Neighbouring rays are probed at different distances.
        let share = (share as f64 - 0.5 * (bearing % 2) as f64) / RINGS as f64;
        let (bearing, distance) = (bearing as f64 * 360.0 / RAYS as f64, share * reach);
        let place = at.destination(Degrees::new(bearing), Metres::new(distance));
        // Beyond the projection's reach there is no terrain either.
        let Ok((column, row)) = projector.to_cell(place) else { return Ok(None) };
        let (sin, cos) = bearing.to_radians().sin_cos();
        pairs.push(((distance * sin, distance * cos), (column - origin.0, row - origin.1)));
    }
    let turned: Vec<_> = pairs.iter().map(|(earth, cell)| (*cell, *earth)).collect();
    let (Some(to_cell), Some(to_earth)) = (Warp::fit(&pairs), Warp::fit(&turned)) else {
        return Ok(None);
    };
    let spacing = terrain.spacing().value();
    let holds = pairs.iter().all(|(earth, cell)| {
        let (column, row) = to_cell.at(earth.0, earth.1);
        let (east, north) = to_earth.at(cell.0, cell.1);
        (column - cell.0).hypot(row - cell.1) <= TOLERANCE
            && (east - earth.0).hypot(north - earth.1) <= TOLERANCE * spacing
    });
    Ok(holds.then_some((Frame { origin, to_cell, to_earth }, reach)))
}

/// Bearings and distances at which the projection is probed.
const RAYS: usize = 40;
const RINGS: usize = 5;

/// Where the cells of `grid` lie on the terrain's; `None` where they do not
/// run along the terrain's columns and rows.
pub(super) fn map_cells(terrain: &Grid, grid: &Grid) -> Option<MapCells> {
    if terrain.crs() != grid.crs() {
        return None;
    }
    let [offset, right, down] =
        [(0.0, 0.0), (1.0, 0.0), (0.0, 1.0)].map(|corner| terrain.cell_of(grid, corner));
    let scale = (right.0 - offset.0, down.1 - offset.1);
    let skew = (right.1 - offset.1).abs().max((down.0 - offset.0).abs());
    let straight = skew * grid.columns().max(grid.rows()) as f64 <= 1e-3;
    let proper = scale.0.is_finite() && scale.1.is_finite() && scale.0 > 0.0 && scale.1 > 0.0;
    // A grid made from the other one differs by rounding alone.
    let tidy = |v: f64| if (v - v.round()).abs() < 1e-6 { v.round() } else { v };
    (straight && proper).then(|| MapCells {
        columns: grid.columns(),
        rows: grid.rows(),
        scale: (tidy(scale.0), tidy(scale.1)),
        offset: (tidy(offset.0), tidy(offset.1)),
    })
}
