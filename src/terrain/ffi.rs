//! The calls that GDAL's safe bindings lack. Nothing else here is unsafe.
#![allow(unsafe_code)]

use gdal::Dataset;
use gdal::cpl::CslStringList;
use gdal::errors::GdalError;
use gdal::raster::RasterBand;

use super::tile::Rect;

/// Fills every cell of band 1 that holds its nodata value from the valid cells
/// around it, weighted by inverse distance, as far as `reach` cells away.
///
/// # Errors
/// GDAL's own, when a band cannot be had or filling fails.
pub(super) fn fill_nodata(dataset: &mut Dataset, reach: f64) -> gdal::errors::Result<()> {
    let mut options = CslStringList::new();
    options.set_name_value("TEMP_FILE_DRIVER", "GTiff")?;
    // SAFETY: `dataset` is open and borrowed alone for the whole call, so the
    // band handle, which GDAL owns and keeps as long as the dataset, is valid
    // and used by nobody else. A null mask means the band's own nodata mask
    // and a null progress function is allowed (documentation of
    // GDALFillNodata). The options outlive the call, which only reads them.
    let outcome = unsafe {
        let band = gdal_sys::GDALGetRasterBand(dataset.c_dataset(), 1);
        if band.is_null() {
            return Err(GdalError::NullPointer {
                method_name: "GDALGetRasterBand",
                msg: "no band 1".to_owned(),
            });
        }
        gdal_sys::GDALFillNodata(
            band,
            std::ptr::null_mut(),
            reach,
            0,
            0,
            options.as_ptr(),
            None,
            std::ptr::null_mut(),
        )
    };
    if outcome == gdal_sys::CPLErr::CE_None {
        Ok(())
    } else {
        Err(GdalError::CplError {
            class: outcome,
            number: 0,
            msg: "filling the gaps failed".to_owned(),
        })
    }
}

/// How much of a rectangle a raster has data for at all.
pub(super) enum Coverage {
    /// Everywhere, or the format cannot tell.
    Full,
    /// Somewhere.
    Partly,
    /// Nowhere: the raster refers to nothing there.
    None,
}

/// Flags of GDALGetDataCoverageStatus, which the bindings leave out (gdal.h).
const DATA: i32 = 0x02;
const EMPTY: i32 = 0x04;

/// Whether a virtual or sparse raster has data in a rectangle.
pub(super) fn coverage(band: &RasterBand<'_>, rect: Rect) -> Coverage {
    let whole = |n: usize| i32::try_from(n).ok();
    let start = |n: isize| i32::try_from(n).ok();
    let (Some(x), Some(y), Some(columns), Some(rows)) =
        (start(rect.column), start(rect.row), whole(rect.columns), whole(rect.rows))
    else {
        return Coverage::Full;
    };
    // SAFETY: the band handle is valid as long as `band`, which is borrowed for
    // the call; GDAL checks the rectangle itself; a null percentage is allowed
    // (documentation of GDALGetDataCoverageStatus).
    let status = unsafe {
        gdal_sys::GDALGetDataCoverageStatus(
            band.c_rasterband(),
            x,
            y,
            columns,
            rows,
            0,
            std::ptr::null_mut(),
        )
    };
    let has = |flag: i32| status & flag != 0;
    if !has(EMPTY) {
        Coverage::Full
    } else if has(DATA) {
        Coverage::Partly
    } else {
        Coverage::None
    }
}
