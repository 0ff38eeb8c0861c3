//! Which formats the library behind rasters and vectors can open at all, and
//! its settings: no network, no code, bounded caches. What it finds wrong comes
//! back as errors.
//!
//! A list given with each call would bind the file that is named and nothing
//! that this file refers to: masks, overviews and the sources of a virtual
//! raster are opened by whatever is registered. So everything else is taken off
//! the register before the first file is opened.

use std::ffi::c_char;
use std::sync::{Once, OnceLock};

use gdal::errors::GdalError;
use gdal::{Driver, DriverManager, Metadata};

use super::carried::{Carried, carried};

/// Formats of rasters: each reads local files, and none writes as it reads.
pub const RASTERS: &[&str] = &["AAIGrid", "DTED", "EHdr", "GTiff", "HFA", "SRTMHGT", "VRT", "XYZ"];

/// Formats of vectors.
pub const VECTORS: &[&str] = &["CSV", "ESRI Shapefile", "GPKG", "GPX", "GeoJSON", "KML", "LIBKML"];

/// Makes rasters in this program's own memory. It would also open any address
/// in that memory by name, so it is kept aside and off the register.
const MEMORY: &str = "MEM";

/// Writes GeoTIFFs that programs read by parts. It opens nothing, and is kept aside so
/// that the register holds what is read alone.
const CLOUD: &str = "COG";

/// Settings that act on every later open.
const SETTINGS: &[(&str, &str)] = &[
    // A remote file is opened only if its name ends so; none does.
    ("CPL_VSIL_CURL_ALLOWED_EXTENSIONS", "{nothing-is-fetched}"),
    ("CPL_VSIL_CURL_ALLOWED_FILENAME", "{nothing-is-fetched}"),
    ("GDAL_VRT_ENABLE_PYTHON", "NO"),
    // Megabytes of blocks kept; otherwise a share of the machine's memory.
    ("GDAL_CACHEMAX", "64"),
    // A database is data: its views and triggers may not call what has effects. It
    // takes no more memory than this, and no files beside itself.
    ("OGR_SQLITE_PRAGMA", "trusted_schema=OFF,hard_heap_limit=268435456,temp_store=MEMORY"),
    ("OGR_SQLITE_LOAD_EXTENSIONS", ""),
    // What it makes for itself on the way stays in memory.
    ("CPL_TMPDIR", "/vsimem"),
];

/// A driver off the register.
struct Aside {
    driver: Driver,
    /// Asked for its list of options.
    options: Once,
}

// SAFETY: a driver is a pointer to an object that GDAL makes once and never
// changes or frees after it was taken off the register (its list of options, which
// it makes when first asked, is asked for before it is handed out); creating datasets
// with it touches nothing that threads share (GDAL's thread-safety rules bind
// datasets, not drivers).
#[allow(unsafe_code, reason = "the binding's type is a bare pointer")]
unsafe impl Send for Aside {}
// SAFETY: as above; the driver is only read.
#[allow(unsafe_code, reason = "the binding's type is a bare pointer")]
unsafe impl Sync for Aside {}

static MEMORY_DRIVER: OnceLock<Aside> = OnceLock::new();
static CLOUD_DRIVER: OnceLock<Aside> = OnceLock::new();

/// Reduces the library to what is promised; cheap after the first call.
pub fn ensure() {
    static ONCE: Once = Once::new();
    ONCE.call_once(|| {
        // GDAL prints to stderr what it also returns; the returned error is ours to tell.
        gdal::config::set_error_handler(|_, _, _| {});
        for (key, value) in SETTINGS {
            // Fails only for a text with a NUL inside, and these have none.
            let _ = gdal::config::set_config_option(key, value);
        }
        if let Some(carried) = carried() {
            use_carried(&carried);
        }
        for (name, aside) in [(MEMORY, &MEMORY_DRIVER), (CLOUD, &CLOUD_DRIVER)] {
            if let Ok(driver) = DriverManager::get_driver_by_name(name) {
                let _ = aside.set(Aside { driver, options: Once::new() });
            }
        }
        // From the end: those behind a deregistered one move up.
        for index in (0..DriverManager::count()).rev() {
            let Ok(driver) = DriverManager::get_driver(index) else { continue };
            let name = driver.short_name();
            if !RASTERS.contains(&name.as_str()) && !VECTORS.contains(&name.as_str()) {
                DriverManager::deregister_driver(&driver);
            }
        }
        proj_network_off();
    });
}

/// The driver of rasters in this program's memory.
///
/// # Errors
/// GDAL's own, where it was built without.
pub fn memory() -> gdal::errors::Result<&'static Driver> {
    ensure();
    kept(&MEMORY_DRIVER, "GDAL lacks its driver of rasters in memory")
}

/// The driver that writes GeoTIFFs which programs read by parts ("cloud-optimised").
///
/// # Errors
/// GDAL's own, where it was built without or is older than 3.1.
pub fn cloud_optimised() -> gdal::errors::Result<&'static Driver> {
    ensure();
    kept(
        &CLOUD_DRIVER,
        "GDAL lacks its driver of cloud-optimised GeoTIFFs, which 3.1 and newer have",
    )
}

fn kept(aside: &'static OnceLock<Aside>, lacking: &str) -> gdal::errors::Result<&'static Driver> {
    let aside = aside.get().ok_or_else(|| GdalError::NullPointer {
        method_name: "GDALGetDriverByName",
        msg: lacking.to_owned(),
    })?;
    // Of cloud-optimised GeoTIFFs it takes milliseconds: only for who needs it.
    aside.options.call_once(|| drop(aside.driver.metadata_item("DMD_CREATIONOPTIONLIST", "")));
    Ok(&aside.driver)
}

/// The names of all formats that can be opened now, sorted.
#[must_use]
pub fn registered() -> Vec<String> {
    ensure();
    let mut names: Vec<String> = (0..DriverManager::count())
        .filter_map(|index| DriverManager::get_driver(index).ok())
        .map(|driver| driver.short_name())
        .collect();
    names.sort();
    names
}

/// Has the libraries take their data beside the program, and GDAL load no parts of
/// another one that is installed here.
#[allow(unsafe_code, reason = "the binding has no safe form of this call")]
fn use_carried(carried: &Carried) {
    // As above: a path with a NUL inside names no folder that was found.
    let _ = gdal::config::set_config_option("GDAL_DATA", &carried.gdal.to_string_lossy());
    let _ = gdal::config::set_config_option("GDAL_DRIVER_PATH", "disable");
    let paths = carried.proj_paths();
    let mut list: Vec<*const c_char> = paths.iter().map(|path| path.as_ptr()).collect();
    list.push(std::ptr::null());
    // SAFETY: the list is an array of texts that end with NUL, itself ended by a
    // null, as the documentation of OSRSetPROJSearchPaths wants; both outlive the
    // call, which copies them.
    unsafe { gdal_sys::OSRSetPROJSearchPaths(list.as_ptr()) };
}

/// Forbids PROJ to fetch grids, whatever its environment variables say.
#[allow(unsafe_code, reason = "the binding has no safe form of this switch")]
fn proj_network_off() {
    // SAFETY: takes a flag by value and touches only PROJ's own context.
    unsafe { gdal_sys::OSRSetPROJEnableNetwork(0) };
}
