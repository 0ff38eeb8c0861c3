//! Keeps GDAL and PROJ off the network, and quiet: what they find wrong comes
//! back as errors.

use std::sync::Once;

use gdal::DriverManager;

/// Drivers that reach for a server whatever the name of their input is.
const NETWORK_DRIVERS: &[&str] = &[
    "HTTP",
    "WMS",
    "WMTS",
    "WCS",
    "OGCAPI",
    "DAAS",
    "EEDA",
    "EEDAI",
    "PLMOSAIC",
    "PLScenes",
    "NGW",
    "STACIT",
    "STACTA",
    "PostGISRaster",
    "GeoRaster",
    "RASDAMAN",
    "DODS",
];

/// Settings that stop GDAL's own file systems from opening anything remote and
/// a virtual raster from running code, and bound its cache. They act on every
/// later open.
const SETTINGS: &[(&str, &str)] = &[
    // A remote file is opened only if its name ends so; none does.
    ("CPL_VSIL_CURL_ALLOWED_EXTENSIONS", "{nothing-is-fetched}"),
    ("CPL_VSIL_CURL_ALLOWED_FILENAME", "{nothing-is-fetched}"),
    ("GDAL_VRT_ENABLE_PYTHON", "NO"),
    // Megabytes of blocks kept; otherwise a share of the machine's memory.
    ("GDAL_CACHEMAX", "64"),
];

/// Shuts the ways to the network; cheap after the first call.
pub(crate) fn ensure() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        for (key, value) in SETTINGS {
            // Fails only for a text with a NUL inside, and these have none.
            let _ = gdal::config::set_config_option(key, value);
        }
        for name in NETWORK_DRIVERS {
            if let Ok(driver) = DriverManager::get_driver_by_name(name) {
                DriverManager::deregister_driver(&driver);
            }
        }
        proj_network_off();
        // GDAL prints to stderr what it also returns; the returned error is ours to tell.
        gdal::config::set_error_handler(|_, _, _| {});
    });
}

/// Forbids PROJ to fetch grids, whatever its environment variables say.
#[allow(unsafe_code, reason = "the binding has no safe form of this switch")]
fn proj_network_off() {
    // SAFETY: takes a flag by value and touches only PROJ's own context.
    unsafe { gdal_sys::OSRSetPROJEnableNetwork(0) };
}
