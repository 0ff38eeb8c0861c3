//! Where the station and the map's cells lie on the terrain's raster.

use super::transform::{PolynomialTransform, StationFrame};
use super::wedge::MapGrid;
use perchline_terrain::{Grid, PlaceError, Terrain};
use perchline_units::{Degrees, Metres, Position};

/// The polynomials must keep within this share of a cell of the map projection.
const TOLERANCE: f64 = 0.02;

/// The frame of a station for all places up to `radius` away, as far as the
/// terrain reaches, and how far in metres that is; `None` where the map
/// projection bends too much for it.
///
/// # Errors
/// [`PlaceError`] when the terrain's rim has no place on the earth.
pub(super) fn station_frame(
    terrain: &Terrain,
    at: Position,
    radius: Metres,
) -> Result<Option<(StationFrame, f64)>, PlaceError> {
    let projector = terrain.grid().projector()?;
    let origin = projector.to_cell(at)?;
    let (columns, rows) = (terrain.grid().columns() as f64, terrain.grid().rows() as f64);
    let corners = [(0.0, 0.0), (columns, 0.0), (0.0, rows), (columns, rows)];
    let mut reach = 0.0f64;
    for corner in projector.to_positions(&corners)? {
        reach = reach.max(at.distance(corner).value());
    }
    let reach = reach.min(radius.value()) * 1.02 + 4.0 * terrain.spacing().value();
    let mut points = Vec::with_capacity(BEARINGS * RINGS);
    for (bearing, share) in
        (0..BEARINGS).flat_map(|bearing| (1..=RINGS).map(move |ring| (bearing, ring)))
    {
        // Neighbouring bearings are probed at different distances.
        let share = (share as f64 - 0.5 * (bearing % 2) as f64) / RINGS as f64;
        let (bearing, distance) = (bearing as f64 * 360.0 / BEARINGS as f64, share * reach);
        let place = at.destination(Degrees::new(bearing), Metres::new(distance));
        // Beyond the projection's reach there is no terrain either.
        let Ok((column, row)) = projector.to_cell(place) else { return Ok(None) };
        let (sin, cos) = bearing.to_radians().sin_cos();
        points.push(((distance * sin, distance * cos), (column - origin.0, row - origin.1)));
    }
    let inverse: Vec<_> = points.iter().map(|(earth, cell)| (*cell, *earth)).collect();
    let (Some(to_cell), Some(to_earth)) =
        (PolynomialTransform::fit(&points), PolynomialTransform::fit(&inverse))
    else {
        return Ok(None);
    };
    let spacing = terrain.spacing().value();
    let holds = points.iter().all(|(earth, cell)| {
        let (column, row) = to_cell.at(earth.0, earth.1);
        let (east, north) = to_earth.at(cell.0, cell.1);
        (column - cell.0).hypot(row - cell.1) <= TOLERANCE
            && (east - earth.0).hypot(north - earth.1) <= TOLERANCE * spacing
    });
    Ok(holds.then_some((StationFrame { origin, to_cell, to_earth }, reach)))
}

/// Bearings and distances at which the projection is probed.
const BEARINGS: usize = 40;
const RINGS: usize = 5;

/// Where the cells of `grid` lie on the terrain's; `None` where they do not
/// run along the terrain's columns and rows.
pub(super) fn map_grid(terrain: &Grid, grid: &Grid) -> Option<MapGrid> {
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
    (straight && proper).then(|| MapGrid {
        columns: grid.columns(),
        rows: grid.rows(),
        scale: (tidy(scale.0), tidy(scale.1)),
        offset: (tidy(offset.0), tidy(offset.1)),
    })
}
