//! A raster as large as a country's, written in rows of tiles.

use std::path::Path;

use gdal::raster::Buffer;
use rayon::prelude::*;

/// Cells along its side.
pub const SIDE: usize = 40_000;
/// Metres.
pub const CELL: f64 = 2.0;
/// Rows written at a time: those of a row of tiles.
const ROWS: usize = 256;

/// Hills of decimetres, as surveys from the air store them, compressed in tiles; the
/// places of [`super::PLAN`] lie in the middle.
pub fn write(file: &Path) {
    let options =
        ["COMPRESS=DEFLATE", "ZLEVEL=1", "TILED=YES", "NUM_THREADS=ALL_CPUS", "BIGTIFF=YES"];
    let dataset = super::new_raster::<i16>(file, SIDE, CELL, &options);
    let mut band = dataset.rasterband(1).expect("one band");
    band.set_no_data_value(Some(-32768.0)).expect("a void value");
    for first in (0..SIDE).step_by(ROWS) {
        let rows = ROWS.min(SIDE - first);
        let heights: Vec<i16> = (first..first + rows)
            .into_par_iter()
            .flat_map_iter(|row| {
                let y = row as f32;
                (0..SIDE).map(move |column| {
                    let x = column as f32;
                    let hills = (x / 700.0).sin() * (y / 900.0).cos() * 60.0;
                    let knolls = (x / 61.0 + y / 83.0).sin() * 6.0;
                    (120.0 + hills + knolls).round() as i16
                })
            })
            .collect();
        let mut buffer = Buffer::new((SIDE, rows), heights);
        band.write((0, first as isize), (SIDE, rows), &mut buffer).expect("room for it");
    }
    dataset.close().expect("room for it");
}
