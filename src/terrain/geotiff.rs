//! Float rasters out: to a GeoTIFF, and to GDAL's memory driver.

use std::path::Path;

use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::{Dataset, Metadata};
use ndarray::{ArrayView2, s};

use super::grid::spatial_ref;
use super::{Grid, TerrainError};
use perchline_confine as confine;

/// Rows that are handed to GDAL at a time.
const STRIP: usize = 256;

/// Side of a tile in cells, as the driver has it; no overview is needed below.
const TILE: usize = 512;

/// Writes one float band as a compressed GeoTIFF in tiles, NaN as nodata, with
/// overviews of the means of its known values, laid out so that programs read any part
/// of it alone (a cloud-optimised GeoTIFF, OGC 21-026).
///
/// `description` names the band; `metadata` are items of the dataset.
///
/// The values are in memory once more meanwhile, and a third of that for overviews.
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
    let write = || -> gdal::errors::Result<()> {
        let mut dataset = memory_dataset(values)?;
        dataset.set_spatial_ref(&crs)?;
        dataset.set_geo_transform(&grid.transform())?;
        for (key, value) in metadata {
            dataset.set_metadata_item(key, value, "")?;
        }
        dataset.rasterband(1)?.set_description(description)?;
        // Made here they are packed once; the driver would pack and unpack them before.
        let levels: Vec<i32> = overviews(grid.columns().max(grid.rows())).collect();
        if !levels.is_empty() {
            dataset.build_overviews("AVERAGE", &levels, &[])?;
        }
        let threads = format!("NUM_THREADS={}", rayon::current_num_threads());
        let options = RasterCreationOptions::from_iter([
            "COMPRESS=DEFLATE",
            "LEVEL=1",
            "PREDICTOR=FLOATING_POINT",
            "OVERVIEW_PREDICTOR=FLOATING_POINT",
            &threads,
        ]);
        dataset.create_copy(confine::drivers::cloud_optimised()?, path, &options)?.close()
    };
    write().map_err(|e| TerrainError::Write { file: path.to_owned(), reason: e.to_string() })
}

/// How many times larger the cells of each overview are, until one tile holds all of
/// the longer side.
fn overviews(longer: usize) -> impl Iterator<Item = i32> {
    (1..31).map(|halvings| 1 << halvings).take_while(move |larger: &i32| {
        // A power of two that fits.
        longer.div_ceil((larger / 2).unsigned_abs() as usize) > TILE
    })
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
    let (columns, rows) = dataset.raster_size();
    for first in (0..rows).step_by(STRIP) {
        let strip = STRIP.min(rows - first);
        let part = values.slice(s![first..first + strip, ..]);
        let mut buffer = Buffer::new((columns, strip), part.iter().copied().collect());
        band.write((0, first as isize), (columns, strip), &mut buffer)?;
    }
    Ok(())
}
