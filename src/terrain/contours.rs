//! Lines of equal height, and the shores of open water.

use std::sync::{Arc, OnceLock};

use contour::ContourBuilder;

use super::{Terrain, TerrainError};
use perchline_units::Metres;

/// A line in columns and rows of the terrain's grid, (0, 0) its upper left corner.
pub type CellLine = Vec<(f64, f64)>;

/// The lines of one height.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// Their height above sea level.
    pub height: Metres,
    /// Their points in columns and rows of the terrain's grid, (0, 0) its upper
    /// left corner.
    pub lines: Vec<CellLine>,
}

/// More lines than this are no help to anybody.
const MOST: f64 = 400.0;

/// Cells along a side of a raster through which lines are led: what is finer no map
/// shows. A larger raster is led through by the means of squares of its cells.
const MOST_CELLS: usize = 2_000;

/// Lines of a terrain that are known already: every map of it has the same.
#[derive(Debug, Clone, Default)]
pub(super) struct KnownLines {
    contours: OnceLock<(Metres, Option<Arc<[Contour]>>)>,
    shores: OnceLock<Arc<[CellLine]>>,
}

impl Terrain {
    /// Contour lines of the ground at every multiple of `interval`; none in and
    /// along gaps. An interval that gives more than 400 heights is an error. Those of
    /// the interval that was asked for first are kept.
    ///
    /// # Errors
    /// [`TerrainError::Contours`] when `interval` is not a length above zero or
    /// gives too many lines.
    pub fn contours(&self, interval: Metres) -> Result<Arc<[Contour]>, TerrainError> {
        let Some((low, high)) = self.height_range() else { return Ok(Arc::default()) };
        let step = interval.value();
        let (first, last) = ((low.value() / step).ceil(), (high.value() / step).floor());
        if !(step > 0.0 && last - first < MOST) {
            return Err(TerrainError::Contours { interval });
        }
        let mut thresholds = Vec::new();
        let mut number = first;
        while number <= last {
            thresholds.push(number * step);
            number += 1.0;
        }
        let find = || {
            let heights = self.heights();
            let at = |row, column| heights.get((row, column)).copied().map_or(f64::NAN, f64::from);
            Squares::of(heights.dim(), at).lines(&thresholds)
        };
        let (known, contours) = self.lines.contours.get_or_init(|| (interval, find()));
        let contours = if *known == interval { contours.clone() } else { find() };
        contours.ok_or(TerrainError::Contours { interval })
    }

    /// The shores of open water; none where nothing says where it is.
    #[must_use]
    pub fn shores(&self) -> Arc<[CellLine]> {
        let find = || {
            let at = |row, column| f64::from(u8::from(self.is_water(row, column)));
            let found = Squares::of(self.heights().dim(), at).lines(&[0.5]);
            let lines = found.iter().flat_map(|found| found.iter());
            lines.flat_map(|contour| contour.lines.iter().cloned()).collect()
        };
        let shores = || if self.has_water() { find() } else { Arc::default() };
        Arc::clone(self.lines.shores.get_or_init(shores))
    }

    /// Whether any cell of the window is open water.
    #[must_use]
    pub fn has_water(&self) -> bool {
        self.water.as_ref().is_some_and(|water| water.iter().any(|cell| *cell))
    }
}

/// Values on squares of so many cells.
struct Squares {
    columns: usize,
    rows: usize,
    /// Cells along the side of a square.
    side: usize,
    values: Vec<f64>,
}

impl Squares {
    /// The values of a raster, or the means of squares of its cells.
    fn of((rows, columns): (usize, usize), at: impl Fn(usize, usize) -> f64) -> Self {
        let side = rows.max(columns).div_ceil(MOST_CELLS).max(1);
        let (columns, rows) = (columns / side, rows / side);
        let mean = |row: usize, column: usize| {
            let mut sum = 0.0;
            for down in 0..side {
                for across in 0..side {
                    sum += at(row * side + down, column * side + across);
                }
            }
            sum / (side * side) as f64
        };
        let values = (0..rows).flat_map(|row| (0..columns).map(move |column| (row, column)));
        let values = values.map(|(row, column)| mean(row, column)).collect();
        Self { columns, rows, side, values }
    }

    /// The lines at these values; nothing where none can be led.
    fn lines(&self, thresholds: &[f64]) -> Option<Arc<[Contour]>> {
        if self.values.is_empty() {
            // A strip narrower than a square.
            return Some(Arc::default());
        }
        let found = ContourBuilder::new(self.columns, self.rows, true);
        let found = found.lines(&self.values, thresholds).ok()?;
        Some(found.into_iter().map(|line| self.known(line)).collect())
    }

    /// A contour without the points that no two heights stand behind: along the rim
    /// of the raster, where the rings are closed, and next to a gap.
    fn known(&self, line: contour::Line) -> Contour {
        let (geometry, height) = line.into_inner();
        let side = self.side as f64;
        // Heights are those of the squares' middles; NaN is in no range.
        let across = 0.5..=self.columns as f64 - 0.5;
        let down = 0.5..=self.rows as f64 - 0.5;
        let lines = geometry
            .0
            .iter()
            .flat_map(|line| {
                line.0
                    .split(|p| !(across.contains(&p.x) && down.contains(&p.y)))
                    .filter(|piece| piece.len() > 1)
                    .map(|piece| piece.iter().map(|p| (p.x * side, p.y * side)).collect())
            })
            .collect();
        Contour { height: Metres::new(height), lines }
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;
    use ndarray::Array2;

    use super::*;
    use crate::Grid;

    fn land(heights: Array2<f32>) -> Terrain {
        let (rows, columns) = heights.dim();
        let transform = [500_000.0, 10.0, 0.0, 4_000_000.0, 0.0, -10.0];
        let grid = Grid::new(columns, rows, transform, "EPSG:32625").unwrap();
        Terrain::from_heights(grid, heights).unwrap()
    }

    /// On a cone the line of each height is a circle; its radius is known.
    #[test]
    fn a_cone_has_circles() {
        let cone = Array2::from_shape_fn((81, 81), |(r, c)| {
            let away = ((r as f32 - 40.0).powi(2) + (c as f32 - 40.0).powi(2)).sqrt();
            100.0 - 2.0 * away
        });
        let contours = land(cone).contours(Metres::new(10.0)).unwrap();
        let fifty = contours.iter().find(|c| c.height == Metres::new(50.0)).unwrap();
        assert_eq!(fifty.lines.len(), 1);
        for (column, row) in &fifty.lines[0] {
            // Heights are those of the cells' middles.
            let away = ((column - 40.5).powi(2) + (row - 40.5).powi(2)).sqrt();
            assert_relative_eq!(away, 25.0, epsilon = 0.05);
        }
        assert!(fifty.lines[0].len() > 150);
    }

    #[test]
    fn no_line_runs_along_a_gap() {
        let mut slope = Array2::from_shape_fn((30, 30), |(_, c)| c as f32);
        slope.slice_mut(ndarray::s![10..20, 10..20]).fill(f32::NAN);
        let contours = land(slope).contours(Metres::new(5.0)).unwrap();
        let fifteen = contours.iter().find(|c| c.height == Metres::new(15.0)).unwrap();
        assert!(fifteen.lines.len() >= 2, "above and below the gap");
        for (column, row) in fifteen.lines.iter().flatten() {
            assert_relative_eq!(*column, 15.5, epsilon = 1e-6);
            assert!(*row < 11.0 || *row > 19.0, "at {column}, {row}");
        }
    }

    #[test]
    fn an_interval_must_make_sense() {
        let slope = Array2::from_shape_fn((30, 30), |(_, c)| c as f32 * 100.0);
        for interval in [0.0, -1.0, 0.5] {
            assert!(land(slope.clone()).contours(Metres::new(interval)).is_err());
        }
        assert_eq!(
            land(Array2::zeros((3, 3)))
                .contours(Metres::new(10.0))
                .unwrap()
                .iter()
                .map(|c| c.lines.len())
                .sum::<usize>(),
            0
        );
    }

    /// A raster of more cells than a map shows is led through by means of squares: the
    /// lines stay where they are, on a slope and along a shore; a strip has none.
    #[test]
    fn a_large_raster_has_its_lines_where_they_are() {
        let slope = Array2::from_shape_fn((60, 4_100), |(_, column)| column as f32 / 10.0);
        let contours = land(slope).contours(Metres::new(100.0)).unwrap();
        let hundred = contours.iter().find(|c| c.height == Metres::new(100.0)).unwrap();
        for (column, row) in hundred.lines.iter().flatten() {
            // Heights are those of the cells' middles.
            assert_relative_eq!(*column, 1_000.5, epsilon = 1e-2);
            assert!((0.0..60.0).contains(row), "{row}");
        }
        assert!(hundred.lines.iter().map(Vec::len).sum::<usize>() > 15);
        let mut wet = land(Array2::from_elem((60, 4_100), 5.0));
        wet.water = Some(Array2::from_shape_fn((60, 4_100), |(_, column)| column < 900));
        let shores = wet.shores();
        assert!(!shores.is_empty());
        for (column, _) in shores.iter().flatten() {
            assert_relative_eq!(*column, 900.0, epsilon = 1.6);
        }
        let strip = land(Array2::from_shape_fn((2, 4_100), |(_, column)| column as f32));
        assert!(strip.contours(Metres::new(1_000.0)).unwrap().iter().all(|c| c.lines.is_empty()));
        assert!(land(Array2::zeros((3, 3))).shores().is_empty());
    }
}
