//! Opening a raster that may come from anywhere: by drivers that stay on this
//! disk, and only if it asks for nothing out of proportion.

use std::fs::File;
use std::io::Read;
use std::path::Path;

use gdal::{Dataset, DatasetOptions, GdalOpenFlags};

use crate::vector::{is_special_path, offline};

/// Drivers of GDAL that read rasters out of local files, elevation and land
/// cover among them, and pictures, which are told apart afterwards.
const DRIVERS: [&str; 34] = [
    "AAIGrid",
    "AIG",
    "BAG",
    "BMP",
    "BT",
    "COG",
    "DTED",
    "EHdr",
    "ENVI",
    "GIF",
    "GPKG",
    "GRASSASCIIGrid",
    "GS7BG",
    "GSAG",
    "GSBG",
    "GTiff",
    "GXF",
    "HFA",
    "ILWIS",
    "JP2OpenJPEG",
    "JPEG",
    "netCDF",
    "NITF",
    "PCIDSK",
    "PNG",
    "RST",
    "SAGA",
    "SDTS",
    "SRTMHGT",
    "Terragen",
    "USGSDEM",
    "VRT",
    "WEBP",
    "XYZ",
];

/// The most that GDAL may have to hold to read a single value, bytes: it reads
/// whole blocks.
const MOST_BLOCK: usize = 300_000_000;

/// The most bands: each takes time, and one is read.
const MOST_BANDS: usize = 256;

/// How a virtual raster begins.
const VIRTUAL: &str = "<VRTDataset";

/// Its elements that hold words and no names of files.
const PROSE: [&str; 4] = ["MDI", "SRS", "Description", "Category"];

/// How many of them may stand inside each other.
const DEEPEST: u8 = 4;

/// The longest text of a virtual raster.
const MOST_VIRTUAL: u64 = 64 << 20;

/// Why a raster is not opened.
#[derive(Debug)]
pub(super) enum Refused {
    /// Its path is one that GDAL would fetch, unpack or be told by somebody else.
    Special,
    /// The system does not let it be read.
    Missing(std::io::Error),
    /// Not a raster, as GDAL has it.
    NotARaster(String),
    /// One that asks for too much, or for something else, in words.
    Unfit(String),
}

/// Opens a raster with one band or more.
pub(super) fn open(file: &Path) -> Result<Dataset, Refused> {
    offline::ensure();
    if is_special_path(&file.to_string_lossy()) {
        return Err(Refused::Special);
    }
    // The system's own words are plainer than GDAL's for what it can tell.
    let found = std::fs::metadata(file).map_err(Refused::Missing)?;
    if found.is_file() {
        check_text(file, DEEPEST)?;
    } else if !found.is_dir() {
        // A pipe would be waited for, a device never ends.
        return Err(Refused::Unfit("neither a file nor a folder".to_owned()));
    }
    let options = DatasetOptions {
        open_flags: GdalOpenFlags::GDAL_OF_RASTER | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR,
        allowed_drivers: Some(&DRIVERS),
        ..DatasetOptions::default()
    };
    let dataset = Dataset::open_ex(file, options).map_err(|e| Refused::NotARaster(plain(&e)))?;
    let bands = dataset.raster_count();
    if bands > MOST_BANDS {
        return Err(Refused::Unfit(format!(
            "it has {bands} bands where one is wanted; keep that one (gdal_translate -b 1)"
        )));
    }
    if let Ok(band) = dataset.rasterband(1) {
        let (columns, rows) = band.block_size();
        let value = usize::from(band.band_type().bytes());
        // Bands may lie side by side in a block.
        if [columns, rows, value, bands].into_iter().fold(1, usize::saturating_mul) > MOST_BLOCK {
            return Err(Refused::Unfit(format!(
                "its values are stored in blocks of {columns} x {rows}, and a whole one must be held to read any; store it in tiles (gdal_translate -co TILED=YES)"
            )));
        }
    }
    Ok(dataset)
}

/// Reads the first bytes, and all of a virtual raster, which must not refer to
/// anything but files on this disk, nor may those that it refers to, `deeper`
/// levels down.
fn check_text(file: &Path, deeper: u8) -> Result<(), Refused> {
    let mut opened = File::open(file).map_err(Refused::Missing)?;
    let mut head = Vec::new();
    opened.by_ref().take(1024).read_to_end(&mut head).map_err(Refused::Missing)?;
    if !String::from_utf8_lossy(&head).contains(VIRTUAL) {
        return Ok(());
    }
    opened.take(MOST_VIRTUAL).read_to_end(&mut head).map_err(Refused::Missing)?;
    if head.len() as u64 >= MOST_VIRTUAL {
        return Err(Refused::Unfit("a virtual raster of more than 64 MB".to_owned()));
    }
    let text = String::from_utf8_lossy(&head);
    let text = text.trim_start_matches('\u{feff}').trim_end_matches(['\0', '\n']);
    let document = roxmltree::Document::parse(text)
        .map_err(|e| Refused::Unfit(format!("a virtual raster that is not sound XML: {e}")))?;
    let elements = || document.descendants().filter(roxmltree::Node::is_element);
    let said = elements().filter(|element| !PROSE.contains(&element.tag_name().name())).flat_map(
        |element| element.text().into_iter().chain(element.attributes().map(|a| a.value())),
    );
    if let Some(found) = said.into_iter().find(|text| points_elsewhere(text)) {
        return Err(Refused::Unfit(format!(
            "a virtual raster that refers to \"{}\"; it may refer to files on this disk alone, nothing is fetched or unpacked",
            found.trim().chars().filter(|c| !c.is_control()).take(80).collect::<String>()
        )));
    }
    let folder = file.parent().unwrap_or(Path::new("."));
    let mut inner: Vec<_> = elements()
        .filter(|element| element.tag_name().name().starts_with("Source"))
        .filter_map(|element| element.text())
        .map(|name| folder.join(name.trim()))
        .filter(|inner| inner.is_file())
        .collect();
    inner.sort();
    inner.dedup();
    for inner in inner {
        match deeper.checked_sub(1) {
            Some(deeper) => check_text(&inner, deeper)?,
            None => {
                return Err(Refused::Unfit(
                    "virtual rasters inside each other, too many or in a circle".to_owned(),
                ));
            }
        }
    }
    Ok(())
}

/// Whether a word of a virtual raster leads off the files of this disk: to
/// another file system, a server, a device, or by a driver's own name for it.
fn points_elsewhere(text: &str) -> bool {
    const DRIVERS: [&str; 10] = [
        "netcdf:",
        "hdf5:",
        "hdf4_sds:",
        "pg:",
        "wms:",
        "wcs:",
        "wmts:",
        "eedai:",
        "plmosaic:",
        "zarr:",
    ];
    let text = text.trim().to_ascii_lowercase();
    ["/vsi", "://", "/dev/", "/proc/", "<"].iter().any(|word| text.contains(word))
        || DRIVERS.iter().any(|driver| text.starts_with(driver))
}

/// GDAL's message without its class and number.
fn plain(error: &gdal::errors::GdalError) -> String {
    match error {
        gdal::errors::GdalError::CplError { msg, .. }
        | gdal::errors::GdalError::NullPointer { msg, .. }
            if !msg.trim().is_empty() =>
        {
            msg.trim().to_owned()
        }
        other => other.to_string(),
    }
}
