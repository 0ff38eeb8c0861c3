//! Writes the sample's land beside itself or into the folder that its one
//! argument names: the elevation `ostlers-ferry.tif`, `roads.geojson`,
//! `place-names.geojson`, `buildings.geojson` and `land-cover.tif`. `cargo run --example make-sample-terrain`.

use std::path::{Path, PathBuf};

use gdal::DriverManager;
use gdal::raster::{Buffer, GdalType, RasterCreationOptions};
use gdal::spatial_ref::SpatialRef;

mod files;
mod land_cover;
mod landscape;
mod place_names;
mod roads;
mod town;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let folder = std::env::args_os().nth(1).map_or_else(|| sample.clone(), PathBuf::from);
    let heights = landscape::heights();
    // Tenths of a metre as f32 would not compress; 16 bits with a scale do.
    let tenths: Vec<i16> = heights.iter().map(|h| (h * 10.0).round() as i16).collect();
    write(&folder.join("ostlers-ferry.tif"), tenths, Some(0.1), Some(-32768.0))?;
    std::fs::write(folder.join("roads.geojson"), files::road_geojson())?;
    std::fs::write(folder.join("place-names.geojson"), files::name_geojson())?;
    let named = files::named(&sample.join("ferry-lights.toml"), &heights)?;
    std::fs::write(folder.join("buildings.geojson"), files::geojson(&town::houses(&named.clear)))?;
    let codes = land_cover::codes(&heights, &named.open);
    write(&folder.join("land-cover.tif"), codes, None, Some(0.0))?;
    println!("{}", folder.display());
    Ok(())
}

/// Writes one band over the whole land.
fn write<T: GdalType + Copy>(
    file: &Path,
    cells: Vec<T>,
    scale: Option<f64>,
    nodata: Option<f64>,
) -> gdal::errors::Result<()> {
    let size = (landscape::COLUMNS, landscape::ROWS);
    let options = RasterCreationOptions::from_iter(["COMPRESS=DEFLATE", "PREDICTOR=2", "ZLEVEL=9"]);
    let mut dataset = DriverManager::get_driver_by_name("GTiff")?
        .create_with_band_type_with_options::<T, _>(file, size.0, size.1, 1, &options)?;
    dataset.set_spatial_ref(&SpatialRef::from_epsg(32625)?)?;
    let cell = landscape::CELL;
    dataset.set_geo_transform(&[landscape::LEFT, cell, 0.0, landscape::TOP, 0.0, -cell])?;
    {
        let mut band = dataset.rasterband(1)?;
        if let Some(scale) = scale {
            band.set_scale(scale)?;
        }
        band.set_no_data_value(nodata)?;
        band.write((0, 0), size, &mut Buffer::new(size, cells))?;
    }
    dataset.close()
}
