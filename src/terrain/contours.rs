//! Contour lines of the ground.

use contour::ContourBuilder;

use super::{Terrain, TerrainError};
use perchline_units::Metres;

/// The lines of one height.
#[derive(Debug, Clone, PartialEq)]
pub struct Contour {
    /// Their height above sea level.
    pub height: Metres,
    /// Their points in columns and rows of the terrain's grid, (0, 0) its upper
    /// left corner.
    pub lines: Vec<Vec<(f64, f64)>>,
}

/// More lines than this are no help to anybody.
const MOST: f64 = 400.0;

impl Terrain {
    /// Contour lines of the ground at every multiple of `interval`; none in and
    /// along gaps. An interval that gives more than 400 heights is an error.
    ///
    /// # Errors
    /// [`TerrainError::Contours`] when `interval` is not a length above zero or
    /// gives too many lines.
    pub fn contours(&self, interval: Metres) -> Result<Vec<Contour>, TerrainError> {
        let Some((low, high)) = self.height_range() else { return Ok(Vec::new()) };
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
        let (columns, rows) = (self.grid().columns(), self.grid().rows());
        let heights: Vec<f64> = self.heights().iter().map(|h| f64::from(*h)).collect();
        let found = ContourBuilder::new(columns, rows, true)
            .lines(&heights, &thresholds)
            .map_err(|_| TerrainError::Contours { interval })?;
        Ok(found.into_iter().map(|line| known(line, columns, rows)).collect())
    }
}

/// A contour without the points that no two heights stand behind: along the rim
/// of the raster, where the rings are closed, and next to a gap.
fn known(line: contour::Line, columns: usize, rows: usize) -> Contour {
    let (geometry, height) = line.into_inner();
    // Heights are those of the cells' middles; NaN is in no range.
    let (across, down) = (0.5..=columns as f64 - 0.5, 0.5..=rows as f64 - 0.5);
    let lines = geometry
        .0
        .iter()
        .flat_map(|line| {
            line.0
                .split(|p| !(across.contains(&p.x) && down.contains(&p.y)))
                .filter(|piece| piece.len() > 1)
                .map(|piece| piece.iter().map(|p| (p.x, p.y)).collect())
        })
        .collect();
    Contour { height: Metres::new(height), lines }
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
}
