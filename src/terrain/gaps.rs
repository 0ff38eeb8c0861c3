//! Cells without a height: counted, told, and filled only when asked.

use ndarray::Array2;

use super::geotiff::memory_dataset;
use super::{Grid, TerrainError, ffi};
use perchline_plan::Remark;
use perchline_units::Degrees;

/// How far a gap is filled from its rim, in cells. Farther than this a filled
/// height says nothing about the ground.
const REACH_CELLS: f64 = 100.0;

/// Counts the gaps of a window, fills them if asked, and says what was done.
pub(super) fn report(
    grid: &Grid,
    heights: &mut Array2<f32>,
    fill: bool,
) -> Result<Option<Remark>, TerrainError> {
    let gaps = heights.iter().filter(|h| h.is_nan()).count();
    if gaps == 0 {
        return Ok(None);
    }
    let mut text = format!(
        "{gaps} of {} cells ({}) have no height, {}",
        heights.len(),
        share(gaps, heights.len()),
        place(grid, heights)?
    );
    if fill {
        fill_from_rims(heights)?;
        let left = heights.iter().filter(|h| h.is_nan()).count();
        text += &format!(
            "; {} of them were filled from their rims as the plan asks: filled heights are guesses, and so is every result that crosses them",
            gaps - left
        );
        if left > 0 {
            text += &format!(
                "; {left} lie more than {REACH_CELLS} cells from any height and stay empty"
            );
        }
    } else {
        text += "; a path that crosses them has no result (the plan's [terrain] fill_gaps = true would fill them with guesses)";
    }
    Ok(Some(Remark { about: "terrain".to_owned(), text }))
}

/// A share in percent that never reads 0 for something or 100 for not all.
fn share(part: usize, whole: usize) -> String {
    let percent = 100.0 * part as f64 / whole as f64;
    if percent < 0.01 { "under 0.01 %".to_owned() } else { format!("{percent:.2} %") }
}

/// The rectangle that holds every gap, in words.
fn place(grid: &Grid, heights: &Array2<f32>) -> Result<String, TerrainError> {
    let (mut top, mut left) = heights.dim();
    let (mut bottom, mut right) = (0, 0);
    for ((row, column), height) in heights.indexed_iter() {
        if height.is_nan() {
            (top, bottom) = (top.min(row), bottom.max(row));
            (left, right) = (left.min(column), right.max(column));
        }
    }
    let projector = grid.projector()?;
    let middle = |index: usize| index as f64 + 0.5;
    let north_west = projector.to_position(middle(left), middle(top))?;
    let south_east = projector.to_position(middle(right), middle(bottom))?;
    let degrees = |value: Degrees| format!("{:.4}", value.value());
    Ok(format!(
        "all within latitude {} to {}, longitude {} to {}",
        degrees(south_east.latitude()),
        degrees(north_west.latitude()),
        degrees(north_west.longitude()),
        degrees(south_east.longitude())
    ))
}

fn fill_from_rims(heights: &mut Array2<f32>) -> Result<(), TerrainError> {
    let failed =
        |source| TerrainError::Gdal { doing: "filling the gaps", source: Box::new(source) };
    let mut dataset = memory_dataset(heights.view()).map_err(failed)?;
    ffi::fill_nodata(&mut dataset, REACH_CELLS).map_err(failed)?;
    let filled =
        dataset.rasterband(1).and_then(|band| band.read_band_as::<f32>()).map_err(failed)?;
    for (height, &new) in heights.iter_mut().zip(filled.data()) {
        if height.is_nan() {
            *height = new;
        }
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(side: usize) -> Grid {
        let t = [500_000.0, 10.0, 0.0, 5_210_000.0, 0.0, -10.0];
        Grid::new(side, side, t, "EPSG:32625").unwrap()
    }

    #[test]
    fn whole_ground_has_nothing_to_report() {
        let mut heights = Array2::from_elem((5, 5), 7.0);
        assert_eq!(report(&grid(5), &mut heights, true).unwrap(), None);
    }

    #[test]
    fn a_gap_is_counted_and_left_alone_unless_asked() {
        let mut heights = Array2::from_elem((10, 10), 7.0);
        heights[(3, 4)] = f32::NAN;
        let text = report(&grid(10), &mut heights, false).unwrap().unwrap().text;
        assert!(text.starts_with("1 of 100 cells (1.00 %) have no height"), "{text}");
        assert!(heights[(3, 4)].is_nan());
    }

    #[test]
    fn filling_touches_only_the_gap_and_says_that_it_guessed() {
        let mut heights = Array2::from_shape_fn((10, 10), |(_, column)| column as f32);
        let before = heights.clone();
        heights[(3, 4)] = f32::NAN;
        let text = report(&grid(10), &mut heights, true).unwrap().unwrap().text;
        assert!(text.contains("1 of them were filled") && text.contains("guesses"), "{text}");
        // The neighbours left and right hold 3 and 5.
        assert!((3.0..=5.0).contains(&heights[(3, 4)]), "{}", heights[(3, 4)]);
        heights[(3, 4)] = before[(3, 4)];
        assert_eq!(heights, before);
    }

    #[test]
    fn the_inside_of_a_vast_gap_stays_empty() {
        let mut heights = Array2::from_elem((3, 400), f32::NAN);
        heights[(1, 0)] = 5.0;
        let text = report(&grid(400), &mut heights, true);
        // The grid is square on purpose: only its projection is used.
        let text = text.unwrap().unwrap().text;
        assert!(text.contains("stay empty"), "{text}");
        assert!(heights[(1, 399)].is_nan());
    }
}
