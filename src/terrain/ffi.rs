//! The calls that GDAL's safe bindings lack. Nothing else here is unsafe.
#![allow(unsafe_code)]

use gdal::Dataset;
use gdal::errors::GdalError;

/// Forbids PROJ to fetch grids, whatever its environment variables say.
pub(super) fn proj_network_off() {
    // SAFETY: takes a flag by value and touches only PROJ's own context.
    unsafe { gdal_sys::OSRSetPROJEnableNetwork(0) };
}

/// Fills every cell of band 1 that holds its nodata value from the valid cells
/// around it, weighted by inverse distance, as far as `reach` cells away.
///
/// # Errors
/// GDAL's own, when a band cannot be had or filling fails.
pub(super) fn fill_nodata(dataset: &mut Dataset, reach: f64) -> gdal::errors::Result<()> {
    // SAFETY: `dataset` is open and borrowed alone for the whole call, so the
    // band handle, which GDAL owns and keeps as long as the dataset, is valid
    // and used by nobody else. A null mask means the band's own nodata mask,
    // null options and a null progress function are allowed by the
    // documentation of GDALFillNodata; no pointer of ours outlives the call.
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
            std::ptr::null_mut(),
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
