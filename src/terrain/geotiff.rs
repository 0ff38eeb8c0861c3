//! Float rasters out: to a GeoTIFF, and to GDAL's memory driver.

use std::path::Path;

use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::{Dataset, DriverManager, Metadata};
use ndarray::ArrayView2;

use super::grid::spatial_ref;
use super::{Grid, TerrainError};
use perchline_confine as confine;

/// Writes one float band as a compressed GeoTIFF, NaN as nodata.
///
/// `description` names the band; `metadata` are items of the dataset.
///
/// # Errors
/// [`TerrainError::Shape`] when the values do not fit the grid,
/// [`TerrainError::Write`] when the file cannot be written.
pub fn write_geotiff(
    path: &Path,
    grid: &Grid,
    values: ArrayView2<'_, f32>,
    description: &str,
    metadata: &[(&str, &str)],
) -> Result<(), TerrainError> {
    if values.dim() != (grid.rows(), grid.columns()) {
        return Err(TerrainError::Shape {
            found: values.dim(),
            grid: (grid.rows(), grid.columns()),
        });
    }
    let crs = spatial_ref(grid.crs())?;
    confine::drivers::ensure();
    let write = || -> gdal::errors::Result<()> {
        let options = RasterCreationOptions::from_iter([
            "COMPRESS=DEFLATE",
            "PREDICTOR=3",
            "ZLEVEL=1",
            "TILED=YES",
            "NUM_THREADS=ALL_CPUS",
        ]);
        let mut dataset = DriverManager::get_driver_by_name("GTiff")?
            .create_with_band_type_with_options::<f32, _>(
                path,
                grid.columns(),
                grid.rows(),
                1,
                &options,
            )?;
        dataset.set_spatial_ref(&crs)?;
        dataset.set_geo_transform(&grid.transform())?;
        for (key, value) in metadata {
            dataset.set_metadata_item(key, value, "")?;
        }
        fill_band(&dataset, values, f64::NAN)?;
        dataset.rasterband(1)?.set_description(description)?;
        dataset.close()
    };
    write().map_err(|e| TerrainError::Write { file: path.to_owned(), reason: e.to_string() })
}

/// A dataset in memory that holds `values` in its one band, NaN as nodata.
pub(super) fn memory_dataset(values: ArrayView2<'_, f32>) -> gdal::errors::Result<Dataset> {
    let (rows, columns) = values.dim();
    let dataset =
        confine::drivers::memory()?.create_with_band_type::<f32, _>("", columns, rows, 1)?;
    fill_band(&dataset, values, f64::NAN)?;
    Ok(dataset)
}

fn fill_band(
    dataset: &Dataset,
    values: ArrayView2<'_, f32>,
    nodata: f64,
) -> gdal::errors::Result<()> {
    let mut band = dataset.rasterband(1)?;
    band.set_no_data_value(Some(nodata))?;
    let size = dataset.raster_size();
    let mut buffer = Buffer::new(size, values.iter().copied().collect());
    band.write((0, 0), size, &mut buffer)
}
