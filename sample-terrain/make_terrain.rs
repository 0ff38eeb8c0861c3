//! Writes the sample's elevation, `ostlers-ferry.tif`, beside itself or where
//! its one argument says: `cargo run --example make-sample-terrain`.

use std::path::PathBuf;

use gdal::DriverManager;
use gdal::raster::{Buffer, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;

mod landscape;

fn main() -> gdal::errors::Result<()> {
    let file = std::env::args_os().nth(1).map_or_else(
        || PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ostlers-ferry.tif"),
        PathBuf::from,
    );
    // Tenths of a metre as f32 would not compress; 16 bits with a scale do.
    let tenths = landscape::heights().iter().map(|h| (h * 10.0).round() as i16).collect();
    let size = (landscape::COLUMNS, landscape::ROWS);
    let options = RasterCreationOptions::from_iter(["COMPRESS=DEFLATE", "PREDICTOR=2", "ZLEVEL=9"]);
    let mut dataset = DriverManager::get_driver_by_name("GTiff")?
        .create_with_band_type_with_options::<i16, _>(&file, size.0, size.1, 1, &options)?;
    dataset.set_spatial_ref(&SpatialRef::from_epsg(32625)?)?;
    let cell = landscape::CELL;
    dataset.set_geo_transform(&[landscape::LEFT, cell, 0.0, landscape::TOP, 0.0, -cell])?;
    {
        let mut band = dataset.rasterband(1)?;
        band.set_scale(0.1)?;
        band.set_no_data_value(Some(-32768.0))?;
        band.write((0, 0), size, &mut Buffer::new(size, tenths))?;
    }
    dataset.close()?;
    println!("{}", file.display());
    Ok(())
}
