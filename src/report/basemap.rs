//! The picture under a map: coverage classes over shaded relief, one pixel of
//! the picture for one pixel of the sheet.

use image::{Rgb, RgbImage};
use ndarray::Array2;
use rayon::prelude::*;

use perchline_coverage::Coverage;
use perchline_link::Outcome;
use perchline_terrain::Grid;

use super::ReportError;
use super::palette::Tints;

/// Light on level ground under the relief's lamp, used where there is no relief.
const LEVEL: u8 = 180;

/// Paints `coverage` over `relief` into a picture of `width` by `height`
/// pixels that spans the coverage's grid.
///
/// `ground` is the grid of `relief` and must have the coordinate system of the
/// coverage's grid; the two may differ in extent and resolution. Classes are
/// taken from the cell under the middle of a pixel and never blended.
pub fn paint(
    coverage: &Coverage,
    relief: &Array2<u8>,
    ground: &Grid,
    width: u32,
    height: u32,
) -> Result<RgbImage, ReportError> {
    let shade = Shade::new(relief, ground, &coverage.grid, (width, height))?;
    paint_classes(&coverage.outcome, &shade)
}

/// The same of classes on the cells of the grid that `shade` spans.
pub(super) fn paint_classes(
    classes: &Array2<Outcome>,
    shade: &Shade<'_>,
) -> Result<RgbImage, ReportError> {
    let tints = Outcome::ALL.map(|o| (o, Tints::new(o)));
    shade.cells(classes, |x, y, outcome, light| {
        let outcome = outcome.copied().unwrap_or(Outcome::Unknown);
        let tints = tints.iter().find(|(o, _)| *o == outcome);
        tints.map_or([0, 0, 0], |(_, tints)| tints.at(x as usize, y as usize, light))
    })
}

/// The light on every pixel of a picture that spans a grid.
pub(super) struct Shade<'a> {
    light: Light<'a>,
    ground: &'a Grid,
    grid: &'a Grid,
    size: (u32, u32),
}

impl<'a> Shade<'a> {
    /// Light of `relief`, on the cells of `ground`, for a picture of `size` that
    /// spans `grid`.
    pub(super) fn new(
        relief: &'a Array2<u8>,
        ground: &'a Grid,
        grid: &'a Grid,
        size: (u32, u32),
    ) -> Result<Self, ReportError> {
        if relief.dim() != (ground.rows(), ground.columns()) {
            return Err(ReportError::Uneven {
                layer: "relief",
                found: relief.dim(),
                expected: (ground.rows(), ground.columns()),
            });
        }
        Ok(Self { light: Light::new(relief), ground, grid, size })
    }

    /// The picture of what the cells of its grid hold: the colours that `colour` gives
    /// for a pixel's place, what the cell under its middle holds, and its light.
    pub(super) fn cells<T: Sync>(
        &self,
        cells: &Array2<T>,
        colour: impl Fn(u32, u32, Option<&T>, u8) -> [u8; 3] + Sync,
    ) -> Result<RgbImage, ReportError> {
        let expected = (self.grid.rows(), self.grid.columns());
        if cells.dim() != expected {
            let found = cells.dim();
            return Err(ReportError::Uneven { layer: "coverage", found, expected });
        }
        let (width, height) = self.size;
        let across = self.grid.columns() as f64 / f64::from(width.max(1));
        let down = self.grid.rows() as f64 / f64::from(height.max(1));
        Ok(self.picture(|x, y, _, light| {
            let (column, row) = ((f64::from(x) + 0.5) * across, (f64::from(y) + 0.5) * down);
            // The product is within the grid, so the cut to whole cells is too.
            colour(x, y, cells.get((row as usize, column as usize)), light)
        }))
    }

    /// The picture whose pixels have the colours that `colour` gives for their
    /// place, the cell of the relief under them, row first, and its light.
    pub(super) fn picture(
        &self,
        colour: impl Fn(u32, u32, (usize, usize), u8) -> [u8; 3] + Sync,
    ) -> RgbImage {
        let (width, height) = self.size;
        let across = self.grid.columns() as f64 / f64::from(width.max(1));
        let down = self.grid.rows() as f64 / f64::from(height.max(1));
        let mut image = RgbImage::new(width, height);
        let row_bytes = 3 * width.max(1) as usize;
        image.par_chunks_mut(row_bytes).zip(0..height).for_each(|(row, y)| {
            for (pixel, x) in row.chunks_exact_mut(3).zip(0..width) {
                let cell = ((f64::from(x) + 0.5) * across, (f64::from(y) + 0.5) * down);
                let (column, row) = self.ground.cell_of(self.grid, cell);
                let light = self.light.at(column, row);
                // Left or above of the ground is its first cell.
                let under = (row.max(0.0) as usize, column.max(0.0) as usize);
                pixel.copy_from_slice(&colour(x, y, under, light));
            }
        });
        image
    }
}

/// A patch of one class on level ground, for a legend.
pub fn swatch(outcome: Outcome, width: u32, height: u32) -> RgbImage {
    let tints = Tints::new(outcome);
    RgbImage::from_fn(width, height, |x, y| Rgb(tints.at(x as usize, y as usize, 127)))
}

/// The relief with its light stretched to the whole swing, so that flat and
/// steep country both show their shape.
pub(super) struct Light<'a> {
    relief: &'a Array2<u8>,
    stretched: Vec<u8>,
}

impl<'a> Light<'a> {
    pub(super) fn new(relief: &'a Array2<u8>) -> Self {
        let mut counts = [0usize; 256];
        for &light in relief {
            if let Some(count) = counts.get_mut(usize::from(light)) {
                *count += 1;
            }
        }
        let rank = |share: f64| {
            let target = share * relief.len() as f64;
            let mut sum = 0.0;
            counts
                .iter()
                .position(|&n| {
                    sum += n as f64;
                    sum >= target
                })
                .unwrap_or(255) as f64
        };
        let (low, high) = (rank(0.01), rank(0.99));
        let stretched = (0..256)
            .map(|light| {
                if high - low < 2.0 {
                    LEVEL
                } else {
                    // Cut to a byte's range first.
                    ((f64::from(light) - low) / (high - low) * 255.0).clamp(0.0, 255.0) as u8
                }
            })
            .collect();
        Self { relief, stretched }
    }

    /// Light at a fractional cell, blended between the four cells around it.
    pub(super) fn at(&self, column: f64, row: f64) -> u8 {
        let (rows, columns) = self.relief.dim();
        let (column, row) = (column - 0.5, row - 0.5);
        let (u, v) = (column - column.floor(), row - row.floor());
        let cell = |column: f64, row: f64| {
            let column = column.clamp(0.0, columns.saturating_sub(1) as f64) as usize;
            let row = row.clamp(0.0, rows.saturating_sub(1) as f64) as usize;
            let light = self.relief.get((row, column)).copied().unwrap_or(LEVEL);
            f64::from(self.stretched.get(usize::from(light)).copied().unwrap_or(LEVEL))
        };
        let (c, r) = (column.floor(), row.floor());
        let upper = cell(c, r) * (1.0 - u) + cell(c + 1.0, r) * u;
        let lower = cell(c, r + 1.0) * (1.0 - u) + cell(c + 1.0, r + 1.0) * u;
        // A blend of bytes is within a byte's range.
        (upper * (1.0 - v) + lower * v).round() as u8
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::palette::base;

    fn coverage(outcome: Array2<Outcome>, side: f64) -> Coverage {
        let (rows, columns) = outcome.dim();
        let transform = [500_000.0, side, 0.0, 4_000_000.0, 0.0, -side];
        let layer = Array2::zeros((rows, columns));
        Coverage {
            grid: Grid::new(columns, rows, transform, "EPSG:32625").unwrap(),
            talk_in_margin: layer.clone(),
            talk_out_margin: layer.clone(),
            talk_out_wanted: perchline_units::Dbm::new(-100.0),
            probability: layer,
            reliability: 0.95,
            line_of_sight: Array2::from_elem((rows, columns), true),
            unknown_cells: 0,
            outcome,
        }
    }

    #[test]
    fn a_pixel_shows_the_cell_below_it_and_no_blend() {
        let outcome = Array2::from_shape_fn((2, 2), |cell| match cell {
            (0, 0) => Outcome::Strong,
            (0, _) => Outcome::Clear,
            (_, 0) => Outcome::Patchy,
            _ => Outcome::NoContact,
        });
        let coverage = coverage(outcome, 30.0);
        // A level relief leaves one light over the whole map.
        let relief = Array2::from_elem((2, 2), 99);
        let image = paint(&coverage, &relief, &coverage.grid, 10, 8).unwrap();
        for (x, y, pixel) in image.enumerate_pixels() {
            let outcome = coverage.outcome[(usize::from(y >= 4), usize::from(x >= 5))];
            assert_eq!(pixel.0, Tints::new(outcome).at(x as usize, y as usize, LEVEL));
        }
    }

    #[test]
    fn the_relief_lies_where_its_own_grid_says() {
        // Relief of 10 m cells that starts 20 m west and 10 m north of the coverage.
        let coverage = coverage(Array2::from_elem((2, 2), Outcome::Clear), 30.0);
        let transform = [499_980.0, 10.0, 0.0, 4_000_010.0, 0.0, -10.0];
        let ground = Grid::new(12, 12, transform, "EPSG:32625").unwrap();
        assert_eq!(ground.cell_of(&coverage.grid, (0.0, 0.0)), (2.0, 1.0));
        assert_eq!(ground.cell_of(&coverage.grid, (2.0, 1.0)), (8.0, 4.0));
        // Dark west of the coverage's middle at column 5 of the relief, light east of it.
        let relief = Array2::from_shape_fn((12, 12), |(_, c)| if c < 5 { 0 } else { 255 });
        let image = paint(&coverage, &relief, &ground, 6, 6).unwrap();
        let tints = Tints::new(Outcome::Clear);
        assert_eq!(image.get_pixel(1, 3).0, tints.at(1, 3, 0));
        assert_eq!(image.get_pixel(4, 3).0, tints.at(4, 3, 255));
    }

    #[test]
    fn swatches_show_the_class_itself() {
        for outcome in Outcome::ALL {
            let patch = swatch(outcome, 48, 32);
            let own = base(outcome);
            let plain = patch
                .pixels()
                .filter(|p| p.0.iter().zip(own).all(|(a, b)| a.abs_diff(b) <= 1))
                .count();
            assert!(plain as f64 > 0.6 * f64::from(48 * 32), "{outcome:?}: {plain}");
        }
    }
}
