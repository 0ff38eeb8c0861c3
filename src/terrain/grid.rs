//! Where the cells of a raster lie on the earth.

use std::ops::Range;
use std::rc::Rc;

use gdal::spatial_ref::{AxisMappingStrategy, SpatialRef};
use gdal::{GeoTransform, GeoTransformEx};
use geo::{BoundingRect as _, Geometry, Intersects as _, Rect};

use super::TerrainError;
use super::transforms::{Transforms, transforms};
use perchline_confine as confine;
use perchline_units::{Degrees, Metres, Position, shown};

/// A raster's georeference: size, affine transform and coordinate system.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    columns: usize,
    rows: usize,
    transform: GeoTransform,
    crs: String,
}

/// A rectangle in latitude and longitude.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    /// The corner with the least latitude and the western longitude.
    pub south_west: Position,
    /// The corner with the greatest latitude and the eastern longitude.
    pub north_east: Position,
}

impl Extent {
    /// The rectangle that holds every one of `places` with `margin` around it;
    /// `None` without places. Places on both sides of the 180th meridian give
    /// a rectangle around the whole earth, which no terrain window fits.
    #[must_use]
    pub fn around(places: impl IntoIterator<Item = Position>, margin: Metres) -> Option<Self> {
        let corner = |latitude: f64, longitude: f64| {
            Position::new(
                Degrees::new(latitude.clamp(-90.0, 90.0)),
                Degrees::new(longitude.clamp(-180.0, 180.0)),
            )
            .ok()
        };
        let (mut south, mut west, mut north, mut east) =
            (f64::INFINITY, f64::INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        for place in places {
            let reach = |bearing| place.destination(Degrees::new(bearing), margin);
            south = south.min(reach(180.0).latitude().value());
            north = north.max(reach(0.0).latitude().value());
            west = west.min(reach(270.0).longitude().value());
            east = east.max(reach(90.0).longitude().value());
        }
        (south <= north).then_some(())?;
        Some(Self { south_west: corner(south, west)?, north_east: corner(north, east)? })
    }

    /// Whether the rectangle around a shape in longitude and latitude meets it.
    #[must_use]
    pub fn meets(&self, shape: &Geometry) -> bool {
        let corner = |at: Position| (at.longitude().value(), at.latitude().value());
        let own = Rect::new(corner(self.south_west), corner(self.north_east));
        shape.bounding_rect().is_some_and(|around| around.intersects(&own))
    }

    /// The rectangle around both.
    #[must_use]
    pub fn union(self, other: Self) -> Self {
        let corner = |a: Position, b: Position, pick: fn(Degrees, Degrees) -> Degrees| {
            // Both parts come from positions, so they are in range.
            Position::new(pick(a.latitude(), b.latitude()), pick(a.longitude(), b.longitude()))
                .unwrap_or(a)
        };
        Self {
            south_west: corner(self.south_west, other.south_west, Degrees::min),
            north_east: corner(self.north_east, other.north_east, Degrees::max),
        }
    }

    /// Whether both have more in common than a side.
    #[must_use]
    pub fn touches(&self, other: Self) -> bool {
        let overlap =
            |low: Degrees, high: Degrees, from: Degrees, to: Degrees| low < to && from < high;
        let ((a, b), (c, d)) =
            ((self.south_west, self.north_east), (other.south_west, other.north_east));
        overlap(a.latitude(), b.latitude(), c.latitude(), d.latitude())
            && overlap(a.longitude(), b.longitude(), c.longitude(), d.longitude())
    }

    /// Whether a position lies in the rectangle or on its rim.
    #[must_use]
    pub fn contains(&self, at: Position) -> bool {
        let within = |v: Degrees, low: Degrees, high: Degrees| v >= low && v <= high;
        within(at.latitude(), self.south_west.latitude(), self.north_east.latitude())
            && within(at.longitude(), self.south_west.longitude(), self.north_east.longitude())
    }
}

impl std::fmt::Display for Extent {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(
            f,
            "latitude {:.5} to {:.5}, longitude {:.5} to {:.5}",
            self.south_west.latitude().value(),
            self.north_east.latitude().value(),
            self.south_west.longitude().value(),
            self.north_east.longitude().value()
        )
    }
}

impl Grid {
    /// A grid of `columns` by `rows` cells in a coordinate system that PROJ
    /// reads (WKT or `EPSG:32625`).
    ///
    /// `transform` is GDAL's: x of the left edge, x a column, x a row, y of the
    /// top edge, y a column, y a row, in the coordinate system's units with x
    /// east (or longitude) first.
    ///
    /// # Errors
    /// [`TerrainError::BadGrid`] when there are no cells or they have no area,
    /// [`TerrainError::Crs`] when PROJ does not know the coordinate system.
    pub fn new(
        columns: usize,
        rows: usize,
        transform: GeoTransform,
        crs: &str,
    ) -> Result<Self, TerrainError> {
        if columns == 0 || rows == 0 || transform.invert().is_err() {
            return Err(TerrainError::BadGrid { columns, rows, transform: Box::new(transform) });
        }
        let crs = spatial_ref(crs)?
            .to_wkt()
            .map_err(|e| TerrainError::Crs { crs: crs.to_owned(), reason: e.to_string() })?;
        Ok(Self { columns, rows, transform, crs })
    }

    /// Number of columns.
    #[must_use]
    pub fn columns(&self) -> usize {
        self.columns
    }

    /// Number of rows.
    #[must_use]
    pub fn rows(&self) -> usize {
        self.rows
    }

    /// GDAL's affine transform from (column, row) to coordinates.
    #[must_use]
    pub fn transform(&self) -> GeoTransform {
        self.transform
    }

    /// The coordinate system as WKT.
    #[must_use]
    pub fn crs(&self) -> &str {
        &self.crs
    }

    /// Ground size of a cell at the grid's centre (width, height).
    ///
    /// # Errors
    /// [`TerrainError::Projection`] when PROJ cannot place the centre on the earth.
    pub fn cell_size(&self) -> Result<(Metres, Metres), TerrainError> {
        let projector = self.projector()?;
        let (column, row) = (self.columns as f64 / 2.0, self.rows as f64 / 2.0);
        let side = |dc: f64, dr: f64| {
            let from = projector.to_position(column - dc, row - dr)?;
            Ok(from.distance(projector.to_position(column + dc, row + dr)?))
        };
        Ok((side(0.5, 0.0)?, side(0.0, 0.5)?))
    }

    /// The same extent in cells of about `cell`, never finer than this grid.
    ///
    /// # Errors
    /// [`TerrainError::Projection`] as for [`Grid::cell_size`].
    pub fn coarser(&self, cell: Metres) -> Result<Grid, TerrainError> {
        let (width, height) = self.cell_size()?;
        let fewer = |count: usize, side: Metres| {
            let wanted = (count as f64 * side.value() / cell.value()).round();
            // A cell that is not a number or not above zero leaves the grid as it is.
            if wanted.is_finite() && wanted >= 1.0 {
                count.min(wanted as usize)
            } else if cell.value() > 0.0 {
                1
            } else {
                count
            }
        };
        let (columns, rows) = (fewer(self.columns, width), fewer(self.rows, height));
        let (wider, higher) =
            (self.columns as f64 / columns as f64, self.rows as f64 / rows as f64);
        let [x, x_column, x_row, y, y_column, y_row] = self.transform;
        let transform = [x, x_column * wider, x_row * higher, y, y_column * wider, y_row * higher];
        Ok(Grid { columns, rows, transform, crs: self.crs.clone() })
    }

    /// Into how many columns and rows each cell must be cut, evenly, for sides of
    /// at most `cell`, one part in a hundred over; whole numbers, 1 and more.
    ///
    /// # Errors
    /// [`TerrainError::Projection`] as for [`Grid::cell_size`].
    pub fn cuts(&self, cell: Metres) -> Result<(f64, f64), TerrainError> {
        let (width, height) = self.cell_size()?;
        // A 10 m cell of a map is 10.004 m on the ground and still two of 5 m.
        let parts = |side: Metres| ((side.value() / cell.value()) * 0.99).ceil().max(1.0);
        Ok((parts(width), parts(height)))
    }

    /// Where a fractional (column, row) of `other` lies on this grid; both have
    /// one coordinate system.
    #[must_use]
    pub fn cell_of(&self, other: &Self, (column, row): (f64, f64)) -> (f64, f64) {
        let [left, a, b, top, c, d] = other.transform;
        let (x, y) = (left + column * a + row * b, top + column * c + row * d);
        let [left, a, b, top, c, d] = self.transform;
        let (x, y) = (x - left, y - top);
        let area = a * d - b * c;
        ((x * d - y * b) / area, (y * a - x * c) / area)
    }

    /// The part of the grid that these columns and rows make up, as far as it
    /// has them; `None` where none are left.
    #[must_use]
    pub fn part(&self, columns: Range<usize>, rows: Range<usize>) -> Option<Grid> {
        let (right, bottom) = (columns.end.min(self.columns), rows.end.min(self.rows));
        let (left, top) = (columns.start.min(right), rows.start.min(bottom));
        let (x, y) = self.transform.apply(left as f64, top as f64);
        let [_, x_column, x_row, _, y_column, y_row] = self.transform;
        (left < right && top < bottom).then(|| Grid {
            columns: right - left,
            rows: bottom - top,
            transform: [x, x_column, x_row, y, y_column, y_row],
            crs: self.crs.clone(),
        })
    }

    /// The rectangle of latitude and longitude that holds the grid.
    ///
    /// # Errors
    /// [`TerrainError::Projection`] when PROJ cannot place the rim on the earth.
    pub fn bounds(&self) -> Result<Extent, TerrainError> {
        /// Points a side: the rim of a window bends by far less than a cell between them.
        const STEPS: usize = 20;
        let (columns, rows) = (self.columns as f64, self.rows as f64);
        let rim: Vec<_> = (0..=STEPS)
            .map(|i| i as f64 / STEPS as f64)
            .flat_map(|t| {
                [(t * columns, 0.0), (t * columns, rows), (0.0, t * rows), (columns, t * rows)]
            })
            .collect();
        let (mut south, mut west, mut north, mut east) = (90f64, 180f64, -90f64, -180f64);
        for at in self.projector()?.to_positions(&rim)? {
            let (latitude, longitude) = (at.latitude().value(), at.longitude().value());
            (south, north) = (south.min(latitude), north.max(latitude));
            (west, east) = (west.min(longitude), east.max(longitude));
        }
        let corner = |latitude, longitude| {
            Position::new(Degrees::new(latitude), Degrees::new(longitude))
                .map_err(|e| TerrainError::Projection { reason: e.to_string() })
        };
        Ok(Extent { south_west: corner(south, west)?, north_east: corner(north, east)? })
    }

    /// A converter between this grid's cells and positions. One thread makes the
    /// coordinate system's transformations once, so that the next ones cost little.
    ///
    /// # Errors
    /// [`TerrainError::Crs`] when PROJ knows no way between the grid's
    /// coordinate system and WGS 84.
    pub fn projector(&self) -> Result<Projector, TerrainError> {
        Projector::new(self)
    }

    /// The same coordinate system and cells over another rectangle of them.
    pub(super) fn window(&self, column: isize, row: isize, columns: usize, rows: usize) -> Grid {
        let (x, y) = self.transform.apply(column as f64, row as f64);
        let [_, x_column, x_row, _, y_column, y_row] = self.transform;
        Grid {
            columns,
            rows,
            transform: [x, x_column, x_row, y, y_column, y_row],
            crs: self.crs.clone(),
        }
    }
}

/// Turns cells of one grid into positions and back; one a thread.
pub struct Projector {
    transforms: Rc<Transforms>,
    transform: GeoTransform,
    inverse: GeoTransform,
    /// Columns that make a full turn, on a geographic grid.
    turn: Option<f64>,
    columns: f64,
}

impl Projector {
    fn new(grid: &Grid) -> Result<Self, TerrainError> {
        let transforms = transforms(&grid.crs)?;
        Ok(Self {
            transform: grid.transform,
            inverse: grid.transform.invert().map_err(|_| TerrainError::BadGrid {
                columns: grid.columns,
                rows: grid.rows,
                transform: Box::new(grid.transform),
            })?,
            turn: transforms.degrees.map(|unit| (360.0 / unit / grid.transform[1]).abs()),
            columns: grid.columns as f64,
            transforms,
        })
    }

    /// Fractional (column, row) of a position; cell (0, 0) spans 0..1, so its centre is 0.5, 0.5.
    ///
    /// # Errors
    /// [`TerrainError::Projection`] when the coordinate system does not reach the position.
    pub fn to_cell(&self, at: Position) -> Result<(f64, f64), TerrainError> {
        let [cell] = self.to_cells([at])?;
        Ok(cell)
    }

    /// Fractional cells of a few positions in one call of PROJ.
    pub(super) fn to_cells<const N: usize>(
        &self,
        places: [Position; N],
    ) -> Result<[(f64, f64); N], TerrainError> {
        let mut x = places.map(|p| p.longitude().value());
        let mut y = places.map(|p| p.latitude().value());
        self.transforms.from_earth.transform_coords(&mut x, &mut y, &mut []).map_err(projection)?;
        let mut cells = [(0.0, 0.0); N];
        for (cell, (x, y)) in cells.iter_mut().zip(x.into_iter().zip(y)) {
            *cell = self.cell(x, y)?;
        }
        Ok(cells)
    }

    /// Fractional cell of coordinates in the grid's own system.
    fn cell(&self, x: f64, y: f64) -> Result<(f64, f64), TerrainError> {
        let (mut column, row) = self.inverse.apply(x, y);
        if !(column.is_finite() && row.is_finite()) {
            return Err(TerrainError::Projection {
                reason: "the coordinate system does not reach the place".to_owned(),
            });
        }
        // A raster may count its longitudes from 0 to 360 or past 180. What is
        // off it lies to the side where it is nearer, so that the cells along a
        // line do not jump at the 180th meridian.
        if let Some(turn) = self.turn
            && !(0.0..=self.columns).contains(&column)
        {
            column -= turn * ((column - self.columns / 2.0) / turn).round();
        }
        Ok((column, row))
    }

    /// The same for many at once.
    ///
    /// # Errors
    /// [`TerrainError::Projection`] as for [`Projector::to_cell`].
    pub fn to_many_cells(&self, places: &[Position]) -> Result<Vec<(f64, f64)>, TerrainError> {
        let (mut x, mut y): (Vec<_>, Vec<_>) =
            places.iter().map(|p| (p.longitude().value(), p.latitude().value())).unzip();
        self.transforms.from_earth.transform_coords(&mut x, &mut y, &mut []).map_err(projection)?;
        x.into_iter().zip(y).map(|(x, y)| self.cell(x, y)).collect()
    }

    /// Position of a fractional (column, row).
    ///
    /// # Errors
    /// [`TerrainError::Projection`] when the cell has no place on the earth.
    pub fn to_position(&self, column: f64, row: f64) -> Result<Position, TerrainError> {
        let (x, y) = self.transform.apply(column, row);
        let (mut x, mut y) = ([x], [y]);
        self.transforms.to_earth.transform_coords(&mut x, &mut y, &mut []).map_err(projection)?;
        let ([x], [y]) = (x, y);
        position(x, y)
    }

    /// The same for many at once.
    ///
    /// # Errors
    /// [`TerrainError::Projection`] when one of the cells has no place on the earth.
    pub fn to_positions(&self, cells: &[(f64, f64)]) -> Result<Vec<Position>, TerrainError> {
        let (mut x, mut y): (Vec<_>, Vec<_>) =
            cells.iter().map(|&(column, row)| self.transform.apply(column, row)).unzip();
        self.transforms.to_earth.transform_coords(&mut x, &mut y, &mut []).map_err(projection)?;
        x.into_iter().zip(y).map(|(x, y)| position(x, y)).collect()
    }
}

/// The coordinate system that `text` names, with x (longitude) before y.
pub(super) fn spatial_ref(text: &str) -> Result<SpatialRef, TerrainError> {
    confine::drivers::ensure();
    confine::check_coordinate_system(text)
        .map_err(|reason| TerrainError::Crs { crs: shown(text), reason })?;
    let mut crs = SpatialRef::from_definition(text)
        .map_err(|e| TerrainError::Crs { crs: text.to_owned(), reason: e.to_string() })?;
    crs.set_axis_mapping_strategy(AxisMappingStrategy::TraditionalGisOrder);
    Ok(crs)
}

fn position(longitude: f64, latitude: f64) -> Result<Position, TerrainError> {
    let longitude = if longitude.abs() > 180.0 {
        (longitude + 180.0).rem_euclid(360.0) - 180.0
    } else {
        longitude
    };
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).map_err(|e| {
        TerrainError::Projection { reason: format!("a cell has no place on the earth: {e}") }
    })
}

fn projection(error: gdal::errors::GdalError) -> TerrainError {
    TerrainError::Projection { reason: error.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn utm() -> Grid {
        Grid::new(1200, 900, [500_000.0, 10.0, 0.0, 5_210_000.0, 0.0, -10.0], "EPSG:32625").unwrap()
    }

    #[test]
    fn cells_and_positions_are_inverse() {
        let projector = utm().projector().unwrap();
        let at = projector.to_position(17.25, 400.5).unwrap();
        let (column, row) = projector.to_cell(at).unwrap();
        assert_abs_diff_eq!(column, 17.25, epsilon = 1e-6);
        assert_abs_diff_eq!(row, 400.5, epsilon = 1e-6);
        assert_eq!(projector.to_positions(&[(17.25, 400.5)]).unwrap(), [at]);
    }

    /// `echo 500000 5210000 | cs2cs -f %.8f EPSG:32625 EPSG:4326` (PROJ 9.1.1).
    #[test]
    fn the_utm_corner_is_where_proj_puts_it() {
        let at = utm().projector().unwrap().to_position(0.0, 0.0).unwrap();
        assert_abs_diff_eq!(at.latitude().value(), UTM_CORNER.0, epsilon = 1e-7);
        assert_abs_diff_eq!(at.longitude().value(), UTM_CORNER.1, epsilon = 1e-7);
    }
    const UTM_CORNER: (f64, f64) = (47.043_516_87, -33.0);

    #[test]
    fn a_utm_cell_is_ten_metres_but_for_the_scale_at_the_central_meridian() {
        let (width, height) = utm().cell_size().unwrap();
        // The scale there is 0.9996, so 10 m on the map are 10.004 m on the ground.
        assert_abs_diff_eq!(width.value(), 10.004, epsilon = 5e-4);
        assert_abs_diff_eq!(height.value(), 10.004, epsilon = 5e-4);
    }

    #[test]
    fn coarser_keeps_the_extent_and_never_refines() {
        let grid = utm();
        let coarse = grid.coarser(Metres::new(20.008)).unwrap();
        assert_eq!((coarse.columns(), coarse.rows()), (600, 450));
        assert_eq!(coarse.transform().apply(600.0, 450.0), grid.transform().apply(1200.0, 900.0));
        assert_eq!(grid.coarser(Metres::new(3.0)).unwrap(), grid);
        assert_eq!(grid.coarser(Metres::new(1e9)).unwrap().columns(), 1);
        assert_eq!(grid.coarser(Metres::new(f64::NAN)).unwrap(), grid);
    }

    #[test]
    fn an_extent_keeps_its_margin_all_round() {
        let at = |lat, lon| Position::new(Degrees::new(lat), Degrees::new(lon)).unwrap();
        let places = [at(47.0, -34.9), at(47.02, -34.95)];
        let extent = Extent::around(places, Metres::new(500.0)).unwrap();
        for place in places {
            for bearing in 0..36 {
                let rim =
                    place.destination(Degrees::new(f64::from(bearing) * 10.0), Metres::new(499.9));
                assert!(extent.contains(rim));
            }
        }
        assert!(!extent.contains(at(47.0, -34.88)));
        assert_eq!(Extent::around([], Metres::new(500.0)), None);
    }

    #[test]
    fn longitudes_past_180_are_found_on_a_raster_that_counts_to_360() {
        let grid = Grid::new(3600, 1800, [0.0, 0.1, 0.0, 90.0, 0.0, -0.1], "EPSG:4326").unwrap();
        let at = Position::new(Degrees::new(47.0), Degrees::new(-35.0)).unwrap();
        let (column, row) = grid.projector().unwrap().to_cell(at).unwrap();
        assert_abs_diff_eq!(column, 3250.0, epsilon = 1e-9);
        assert_abs_diff_eq!(row, 430.0, epsilon = 1e-9);
    }

    /// A grid across the 180th meridian: places to both sides of it, on and off
    /// the grid, follow each other.
    #[test]
    fn cells_do_not_jump_at_the_180th_meridian() {
        let second = 1.0 / 3600.0;
        let t = [180.0 - 50.0 * second, second, 0.0, -17.0, 0.0, -second];
        let projector = Grid::new(100, 100, t, "EPSG:4326").unwrap().projector().unwrap();
        for column in [-30.5, 0.5, 49.5, 50.5, 99.5, 130.5] {
            let at = projector.to_position(column, 7.5).unwrap();
            let (found, row) = projector.to_cell(at).unwrap();
            assert_abs_diff_eq!(found, column, epsilon = 1e-6);
            assert_abs_diff_eq!(row, 7.5, epsilon = 1e-6);
        }
    }

    #[test]
    fn a_grid_without_area_or_with_an_unknown_system_is_refused() {
        let t = [0.0, 1.0, 0.0, 0.0, 0.0, -1.0];
        assert!(matches!(Grid::new(0, 5, t, "EPSG:4326"), Err(TerrainError::BadGrid { .. })));
        let flat = [0.0, 0.0, 0.0, 0.0, 0.0, -1.0];
        assert!(matches!(Grid::new(5, 5, flat, "EPSG:4326"), Err(TerrainError::BadGrid { .. })));
        assert!(matches!(Grid::new(5, 5, t, "EPSG:999999"), Err(TerrainError::Crs { .. })));
    }
}
