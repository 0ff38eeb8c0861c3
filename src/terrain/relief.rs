//! Shaded relief.

use std::path::Path;
use std::sync::atomic::{AtomicU64, Ordering};

use gdal::raster::processing::dem::{HillshadeOptions, hillshade};
use ndarray::Array2;

use super::geotiff::memory_dataset;
use super::{Terrain, TerrainError};

/// Light on open water: level land has 181.
const WATER: u8 = 90;

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
        let mut dataset = memory_dataset(self.heights()).map_err(failed)?;
        // Slopes need cells and heights in one unit, also on a geographic raster.
        dataset
            .set_geo_transform(&[0.0, width.value(), 0.0, 0.0, 0.0, -height.value()])
            .map_err(failed)?;
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
        let ((columns, rows), shades) = shaded.map_err(failed)?.into_shape_and_vec();
        let mut relief =
            Array2::from_shape_vec((rows, columns), shades).map_err(|_| TerrainError::Shape {
                found: (rows, columns),
                grid: (self.grid().rows(), self.grid().columns()),
            })?;
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
