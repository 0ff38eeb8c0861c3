//! Keeps GDAL and PROJ off the network.

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
/// a virtual raster from running code. They act on every later open.
const SETTINGS: &[(&str, &str)] = &[
    // A remote file is opened only if its name ends so; none does.
    ("CPL_VSIL_CURL_ALLOWED_EXTENSIONS", "{nothing-is-fetched}"),
    ("CPL_VSIL_CURL_ALLOWED_FILENAME", "{nothing-is-fetched}"),
    ("GDAL_VRT_ENABLE_PYTHON", "NO"),
];

/// Shuts the ways to the network; cheap after the first call.
pub(super) fn ensure() {
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
        super::ffi::proj_network_off();
        // GDAL prints to stderr what it also returns; the returned error is ours to tell.
        gdal::config::set_error_handler(|_, _, _| {});
    });
}

/// Whether a path would be fetched, or unpacked, or made up by GDAL rather
/// than read from a disk.
pub(super) fn is_special(path: &str) -> bool {
    let lower = path.to_ascii_lowercase();
    lower.starts_with("/vsi") || lower.starts_with("\\vsi") || has_scheme(&lower)
}

/// `http://...`, `WMS:...`, `s3:...`: a word of two letters or more before a colon. One
/// letter is a drive.
fn has_scheme(path: &str) -> bool {
    path.split_once(':').is_some_and(|(scheme, _)| {
        scheme.len() > 1 && scheme.chars().all(|c| c.is_ascii_alphanumeric() || "+-._".contains(c))
    })
}

#[cfg(test)]
mod tests {
    use super::is_special;

    #[test]
    fn remote_paths_are_told_from_files() {
        for special in [
            "/vsicurl/http://x/y.tif",
            "/vsis3/bucket/y.tif",
            "/vsizip/y.zip",
            "http://x/y.tif",
            "HTTPS://x/y",
            "WMS:http://x",
            "GTIFF_DIR:1:y.tif",
        ] {
            assert!(is_special(special), "{special}");
        }
        for file in ["y.tif", "/data/y.tif", "C:\\data\\y.tif", "a/b: c/y.tif", "~/vsi/y.tif"] {
            assert!(!is_special(file), "{file}");
        }
    }
}
