//! Tiles in an MBTiles file (MBTiles 1.3), by GDAL.

use std::path::Path;

use gdal::{Dataset, DatasetOptions, GdalOpenFlags, Metadata};

use super::{MOST_PIXELS, TilesError, Wanted, fill, four_bands, web_plane};

/// Opens the file at the zoom level that suits, with four bands in the plane of
/// web maps.
pub(super) fn open(file: &Path, wanted: &Wanted) -> Result<Dataset, TilesError> {
    let failed = |e: gdal::errors::GdalError| TilesError::Open {
        file: file.to_owned(),
        reason: e.to_string(),
    };
    std::fs::File::open(file)
        .map_err(|e| TilesError::Open { file: file.to_owned(), reason: e.to_string() })?;
    let whole = raster(file, &[]).map_err(|error| {
        // One that GDAL opens as vectors alone holds no pictures.
        let flags = GdalOpenFlags::GDAL_OF_VECTOR;
        let options = DatasetOptions { open_flags: flags, ..DatasetOptions::default() };
        match Dataset::open_ex(file, options) {
            Ok(_) => {
                TilesError::NotPictures { file: file.to_owned(), found: "vector tiles".to_owned() }
            }
            Err(_) => failed(error),
        }
    })?;
    let level = |name: &str| whole.metadata_item(name, "").and_then(|text| text.parse().ok());
    let zoom = wanted.zoom(level("minzoom").unwrap_or(0), level("maxzoom").unwrap_or(22));
    drop(whole);
    let chosen = raster(file, &[&format!("ZOOM_LEVEL={zoom}")]).map_err(failed)?;
    let part = Part::of(&chosen, wanted).map_err(failed)?;
    let part = part.ok_or_else(|| TilesError::Elsewhere { file: file.to_owned() })?;
    // A file with fine zoom levels alone would be billions of pixels.
    if part.size.0.saturating_mul(part.size.1) > MOST_PIXELS {
        return Err(TilesError::TooFine { file: file.to_owned() });
    }
    with_opacity(chosen, &part).map_err(failed)
}

fn raster(file: &Path, options: &[&str]) -> gdal::errors::Result<Dataset> {
    let flags = GdalOpenFlags::GDAL_OF_RASTER | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR;
    let drivers = ["MBTiles"];
    let options = DatasetOptions {
        open_flags: flags,
        allowed_drivers: Some(&drivers),
        open_options: (!options.is_empty()).then_some(options),
        ..DatasetOptions::default()
    };
    Dataset::open_ex(file, options)
}

/// Pixels beyond the map on every side, for resampling.
const BORDER: f64 = 4.0;

/// The part of a raster that lies on the map.
struct Part {
    /// Column and row of its first pixel.
    at: (usize, usize),
    /// Its columns and rows.
    size: (usize, usize),
    /// Where its upper left corner lies, and the pixel's width.
    corner: (f64, f64),
    pixel: f64,
}

impl Part {
    fn of(dataset: &Dataset, wanted: &Wanted) -> gdal::errors::Result<Option<Self>> {
        let [left, pixel, _, top, _, _] = dataset.geo_transform()?;
        let (columns, rows) = dataset.raster_size();
        let [west, south, east, north] = wanted.in_plane();
        // Cut to the raster first, so the cuts to whole pixels are safe.
        let cut = |at: f64, most: usize| at.clamp(0.0, most as f64) as usize;
        let (first, last) = (
            cut((west - left) / pixel - BORDER, columns),
            cut((east - left) / pixel + BORDER, columns),
        );
        let (upper, lower) =
            (cut((top - north) / pixel - BORDER, rows), cut((top - south) / pixel + BORDER, rows));
        if first >= last || upper >= lower {
            return Ok(None);
        }
        let corner = (left + first as f64 * pixel, top - upper as f64 * pixel);
        Ok(Some(Self { at: (first, upper), size: (last - first, lower - upper), corner, pixel }))
    }
}

/// That part, grey made colour and with a band of opacity, where it has none; as
/// it is where it has.
fn with_opacity(dataset: Dataset, part: &Part) -> gdal::errors::Result<Dataset> {
    let bands = dataset.raster_count();
    if bands == 4 {
        return Ok(dataset);
    }
    let Part { size, corner, pixel, .. } = *part;
    let at = (part.at.0 as isize, part.at.1 as isize);
    let mut four = four_bands(size)?;
    four.set_spatial_ref(&web_plane()?)?;
    four.set_geo_transform(&[corner.0, pixel, 0.0, corner.1, 0.0, -pixel])?;
    for band in 1..=4 {
        let from = match (bands, band) {
            (3, 4) | (1, 4) => None,
            (2, 4) => Some(2),
            (1 | 2, _) => Some(1),
            (_, band) => Some(band),
        };
        let bytes = match from {
            Some(from) => {
                let band = dataset.rasterband(from)?;
                band.read_as::<u8>(at, size, size, None)?.into_shape_and_vec().1
            }
            None => vec![u8::MAX; size.0 * size.1],
        };
        fill(&four, band, (0, 0), size, bytes)?;
    }
    Ok(four)
}
