//! The classes of a map as a picture that stands upright in longitude and
//! latitude, as globes want it.

use std::io::Cursor;

use image::{ImageFormat, RgbaImage};
use rayon::prelude::*;

use crate::ReportError;
use crate::palette::Tints;
use perchline_coverage::Coverage;
use perchline_link::Outcome;
use perchline_terrain::{Extent, TerrainError};
use perchline_units::{Degrees, Position};

/// The longer side in pixels.
const LONGEST: f64 = 1600.0;
/// How much of the globe's own picture shows through.
const OPACITY: u8 = 0xb4;
/// Rows that one thread fills at a time.
const ROWS: usize = 64;
/// Light on level ground.
const LEVEL: u8 = 127;

/// A picture and the rectangle that it fills.
pub(super) struct Overlay {
    pub(super) png: Vec<u8>,
    pub(super) extent: Extent,
}

/// Each pixel takes the class of the cell under its middle, found through the
/// map's own coordinate system; outside of the map it is clear.
///
/// # Errors
/// [`ReportError`] when the map has no place on the earth.
pub(super) fn overlay(coverage: &Coverage) -> Result<Overlay, ReportError> {
    let grid = &coverage.grid;
    let extent = grid.bounds()?;
    let (south, west) =
        (extent.south_west.latitude().value(), extent.south_west.longitude().value());
    let (north, east) =
        (extent.north_east.latitude().value(), extent.north_east.longitude().value());
    let shrink = ((south + north) / 2.0).to_radians().cos();
    let (across, down) = ((east - west) * shrink, north - south);
    let scale = LONGEST / across.max(down);
    if !scale.is_finite() {
        return Err(ReportError::Empty { columns: grid.columns(), rows: grid.rows() });
    }
    // At most `LONGEST`.
    let pixels = |length: f64| (length * scale).round().max(1.0) as u32;
    let (width, height) = (pixels(across), pixels(down));
    let tints = Outcome::ALL.map(|o| (o, Tints::new(o)));
    let mut image = RgbaImage::new(width, height);
    let row_bytes = 4 * width as usize;
    let bands = image.par_chunks_mut(ROWS * row_bytes).enumerate();
    bands.try_for_each(|(number, band)| {
        let projector = grid.projector()?;
        for (row, y) in band.chunks_exact_mut(row_bytes).zip(number * ROWS..) {
            let latitude = north - (y as f64 + 0.5) / f64::from(height) * (north - south);
            let places: Vec<Position> = (0..width)
                .filter_map(|x| {
                    let longitude = west + (f64::from(x) + 0.5) / f64::from(width) * (east - west);
                    Position::new(Degrees::new(latitude), Degrees::new(longitude)).ok()
                })
                .collect();
            let cells = projector.to_many_cells(&places)?;
            for ((x, pixel), (column, row)) in row.chunks_exact_mut(4).enumerate().zip(cells) {
                if column < 0.0 || row < 0.0 {
                    continue;
                }
                // Not below zero, so the cut to whole cells is safe.
                let outcome = coverage.outcome.get((row as usize, column as usize));
                let own = tints.iter().find(|(o, _)| Some(o) == outcome);
                if let Some((_, tints)) = own {
                    let [r, g, b] = tints.at(x, y, LEVEL);
                    pixel.copy_from_slice(&[r, g, b, OPACITY]);
                }
            }
        }
        Ok::<(), TerrainError>(())
    })?;
    let mut png = Cursor::new(Vec::new());
    image.write_to(&mut png, ImageFormat::Png)?;
    Ok(Overlay { png: png.into_inner(), extent })
}
