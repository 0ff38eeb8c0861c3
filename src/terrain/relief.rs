//! Shaded relief.

use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use gdal::GeoTransform;
use gdal::raster::processing::dem::{HillshadeOptions, hillshade};
use ndarray::parallel::prelude::*;
use ndarray::{Array2, ArrayView2, ArrayViewMut2, Axis, s};

use super::geotiff::memory_dataset;
use super::{Terrain, TerrainError};

/// Light on open water: level land has 181.
const WATER: u8 = 90;

/// Rows that one thread shades at a time.
const BAND: usize = 512;

impl Terrain {
    /// Shaded relief, 0 dark to 255 light, on the grid's cells, lit from the
    /// north-west at 45 degrees; 0 in a gap. Open water is even and dark.
    ///
    /// # Errors
    /// [`TerrainError::Gdal`] when GDAL cannot make it.
    pub fn hillshade(&self) -> Result<Array2<u8>, TerrainError> {
        let failed =
            |source| TerrainError::Gdal { doing: "shading the relief", source: Box::new(source) };
        let (width, height) = self.grid().cell_size()?;
        // Slopes need cells and heights in one unit, also on a geographic raster.
        let transform = [0.0, width.value(), 0.0, 0.0, 0.0, -height.value()];
        let heights = self.heights();
        let mut relief = Array2::zeros(heights.dim());
        let bands = relief.axis_chunks_iter_mut(Axis(0), BAND).into_par_iter().enumerate();
        bands
            .try_for_each(|(number, mut band): (usize, ArrayViewMut2<'_, u8>)| {
                // A cell's light comes from those around it.
                let (first, rows) = (number * BAND, band.nrows());
                let end = (first + rows + 1).min(heights.nrows());
                let above = usize::from(first > 0);
                let shades = shades(heights.slice(s![first - above..end, ..]), transform)?;
                band.assign(&shades.slice(s![above..above + rows, ..]));
                Ok(())
            })
            .map_err(failed)?;
        if let Some(water) = self.water.as_ref().filter(|water| water.dim() == relief.dim()) {
            relief.zip_mut_with(water, |light, water| {
                if *water && *light > 0 {
                    *light = WATER;
                }
            });
        }
        Ok(relief)
    }
}

/// The light on each of these heights.
fn shades(
    heights: ArrayView2<'_, f32>,
    transform: GeoTransform,
) -> gdal::errors::Result<Array2<u8>> {
    let mut dataset = memory_dataset(heights)?;
    dataset.set_geo_transform(&transform)?;
    let mut options = HillshadeOptions::new();
    options.with_output_format("GTiff").with_compute_edges(true);
    // A file in GDAL's memory: its format of bare memory is off the register.
    static NUMBER: AtomicU64 = AtomicU64::new(0);
    let name = format!("/vsimem/relief-{}.tif", NUMBER.fetch_add(1, Ordering::Relaxed));
    let read = || -> gdal::errors::Result<_> {
        let shaded = hillshade(&dataset, Path::new(&name), &options)?;
        shaded.rasterband(1)?.read_band_as::<u8>()
    };
    let shaded = read();
    drop(gdal::vsi::unlink_mem_file(&name));
    let shape = heights.dim();
    let (_, shades) = shaded?.into_shape_and_vec();
    let found = shades.len();
    Array2::from_shape_vec(shape, shades)
        .map_err(|_| gdal::errors::GdalError::BufferSizeMismatch(found, (shape.1, shape.0)))
}
