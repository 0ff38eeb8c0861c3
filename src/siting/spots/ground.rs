//! Where a mast may stand: open ground cell by cell, and roofs.

use std::ops::Range;

use geo::{BoundingRect, Contains, Coord, Densify, Euclidean, LineString, Polygon};

use perchline_plan::Plan;
use perchline_power::mast::clear_of_lines;
use perchline_terrain::{Grid, PlaceError, Terrain, TerrainError};
use perchline_units::{Metres, Position};

/// Cells that a mast may stand on.
pub(super) struct OpenGround {
    /// The part of the map around them.
    pub grid: Grid,
    /// Whether each cell, row by row, is open ground inside the area.
    pub open: Vec<bool>,
}

impl OpenGround {
    /// The open cells of `map` inside `area`: the terrain has a height at the
    /// cell's centre and knows no building, tree or water there. `None` where
    /// the area holds no cell of the map.
    ///
    /// # Errors
    /// [`TerrainError`] when the area cannot be projected onto the map.
    pub fn of(
        terrain: &Terrain,
        map: &Grid,
        area: Option<&Polygon>,
    ) -> Result<Option<Self>, TerrainError> {
        let outline = area.map(|area| in_cells(map, area)).transpose()?;
        let (columns, rows) = match outline.as_ref().map(BoundingRect::bounding_rect) {
            None => (0..map.columns(), 0..map.rows()),
            Some(None) => return Ok(None),
            Some(Some(bounds)) => {
                let (low, high) = (bounds.min(), bounds.max());
                (whole(low.x, high.x), whole(low.y, high.y))
            }
        };
        let Some(grid) = map.part(columns.clone(), rows.clone()) else { return Ok(None) };
        let mut open = Vec::with_capacity(grid.columns() * grid.rows());
        for row in 0..grid.rows() {
            for column in 0..grid.columns() {
                let centre = Coord {
                    x: (columns.start + column) as f64 + 0.5,
                    y: (rows.start + row) as f64 + 0.5,
                };
                let inside = outline.as_ref().is_none_or(|o| o.contains(&centre));
                open.push(inside && is_open(terrain, &grid, column, row));
            }
        }
        Ok(Some(Self { grid, open }))
    }

    /// Closes the cells where an antenna at the height `mast` could fall into a power
    /// line that `plan` states for a site near by, and says how many.
    ///
    /// # Errors
    /// [`TerrainError`] when the cells have no place on the earth.
    pub fn keep_off_lines(&mut self, plan: &Plan, mast: Metres) -> Result<usize, TerrainError> {
        if plan.sites.iter().all(|site| site.power_line.is_none()) {
            return Ok(0);
        }
        let columns = self.grid.columns().max(1);
        let cells: Vec<usize> =
            self.open.iter().enumerate().filter(|(_, open)| **open).map(|(at, _)| at).collect();
        let centres: Vec<(f64, f64)> = cells
            .iter()
            .map(|cell| ((cell % columns) as f64 + 0.5, (cell / columns) as f64 + 0.5))
            .collect();
        let places = self.grid.projector()?.to_positions(&centres)?;
        let mut closed = 0;
        for (cell, at) in cells.into_iter().zip(places) {
            if may_reach_a_line(plan, at, mast)
                && let Some(open) = self.open.get_mut(cell)
            {
                *open = false;
                closed += 1;
            }
        }
        Ok(closed)
    }
}

/// Whether an antenna at the height `mast` at a place could fall into a power line that
/// the plan states for a site. Of a line its distance from the site is known and not
/// its direction: it may pass any place that is as far from the site, give or take what
/// the fallen mast has to keep. Where it runs beyond that is not known.
pub(super) fn may_reach_a_line(plan: &Plan, at: Position, mast: Metres) -> bool {
    let keep = clear_of_lines(mast);
    let lines = plan.sites.iter().filter_map(|site| Some((site.at, site.power_line?)));
    let reached = |(site, line): (Position, Metres)| {
        let between = site.distance(at) - line;
        between.max(Metres::new(-between.value())) <= keep
    };
    lines.into_iter().any(reached)
}

/// The whole cells from `low` to `high`.
fn whole(low: f64, high: f64) -> Range<usize> {
    // A cut of a number below zero or not one gives zero.
    low.floor().max(0.0) as usize..high.ceil().max(0.0) as usize
}

/// The outline in columns and rows of the map, its sides as straight as cells
/// can tell.
fn in_cells(map: &Grid, area: &Polygon) -> Result<Polygon, TerrainError> {
    let projector = map.projector()?;
    let ring = |line: &LineString| -> Result<LineString, TerrainError> {
        let cells: Result<Vec<Coord>, TerrainError> = line
            .points()
            .filter_map(|point| Position::from_point(point).ok())
            .map(|at| projector.to_cell(at).map(|(x, y)| Coord { x, y }))
            .collect();
        Ok(LineString::new(cells?))
    };
    // A side of a hundredth of a degree bends by less than a metre.
    let fine = Euclidean.densify(area, 0.01);
    let holes: Result<Vec<LineString>, TerrainError> = fine.interiors().iter().map(ring).collect();
    Ok(Polygon::new(ring(fine.exterior())?, holes?))
}

fn is_open(terrain: &Terrain, grid: &Grid, column: usize, row: usize) -> bool {
    let (x, y) = terrain.grid().cell_of(grid, (column as f64 + 0.5, row as f64 + 0.5));
    if x < 0.0 || y < 0.0 {
        return false;
    }
    // Cells beyond the window are not found below.
    let cell = (y as usize, x as usize);
    let known = terrain.heights().get(cell).is_some_and(|height| !height.is_nan());
    let bare = terrain.cover().is_none_or(|cover| cover.get(cell) == Some(&0.0));
    known && bare && !terrain.is_water(cell.0, cell.1)
}

/// One roof.
#[derive(Debug, Clone)]
pub(super) struct Roof {
    pub at: Position,
    pub height: Metres,
    pub id: String,
}

/// A place on each roof inside `area` that the terrain has ground under.
pub(super) fn roofs(terrain: &Terrain, area: Option<&Polygon>) -> Vec<Roof> {
    terrain
        .roofs()
        .map(|(at, building)| (rounded(at), building))
        .filter(|(at, building)| {
            building.holds(*at) && area.is_none_or(|area| area.contains(&at.point()))
        })
        .map(|(at, building)| Roof { at, height: building.height, id: building.id.clone() })
        .collect()
}

/// A position with the digits that a plan is given: a tenth of a metre.
pub(super) fn rounded(at: Position) -> Position {
    let cut = |degrees: f64| (degrees * 1e6).round() / 1e6;
    let point = geo::Point::new(cut(at.longitude().value()), cut(at.latitude().value()));
    // Rounding leaves a position in its range.
    Position::from_point(point).unwrap_or(at)
}

/// How steep the ground is at a place, as the rise over the run: the heights
/// a cell away on all four sides tell.
pub(super) fn slope(terrain: &Terrain, at: Position) -> Result<f64, PlaceError> {
    use perchline_units::Degrees;
    let reach = terrain.spacing();
    let height = |bearing: f64| {
        terrain.ground(at.destination(Degrees::new(bearing), reach)).map(Metres::value)
    };
    let (north, south) = (height(0.0)?, height(180.0)?);
    let (east, west) = (height(90.0)?, height(270.0)?);
    Ok((north - south).hypot(east - west) / (2.0 * reach.value()))
}
