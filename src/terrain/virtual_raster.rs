//! Virtual rasters: which files one refers to, if it is a mosaic of plain files.
//!
//! The format can do far more: warp, filter, run code, ask servers. What is read
//! is what building a mosaic writes; anything else is refused by its name.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use roxmltree::{Document, Node};

use perchline_confine::markup;
use perchline_units::shown;
use perchline_vector::is_special_path;

/// How one begins.
const ROOT: &str = "<VRTDataset";

/// How many may stand inside each other.
pub(super) const DEEPEST: u8 = 4;

/// The most files that one may come to, those inside others counted.
pub(super) const MOST_SOURCES: usize = 20_000;

/// The longest text, bytes.
const MOST_BYTES: u64 = 32 << 20;

/// Along each side, the most cells of a source that may be drawn together into
/// one: beyond it the source's own cells, or its overviews, are wanted.
const MOST_SHRUNK: f64 = 16.0;

/// The elements that a mosaic is made of.
const KNOWN: &[&str] = &[
    "VRTDataset",
    "SRS",
    "GeoTransform",
    "Metadata",
    "MDI",
    "VRTRasterBand",
    "NoDataValue",
    "HideNoDataValue",
    "ColorInterp",
    "Description",
    "UnitType",
    "Offset",
    "Scale",
    "ColorTable",
    "Entry",
    "CategoryNames",
    "Category",
    "Histograms",
    "HistItem",
    "HistMin",
    "HistMax",
    "BucketCount",
    "IncludeOutOfRange",
    "Approximate",
    "HistCounts",
    "BlockXSize",
    "BlockYSize",
    "MaskBand",
    "SimpleSource",
    "ComplexSource",
    "SourceFilename",
    "SourceDataset",
    "OverviewList",
    "SourceBand",
    "SourceProperties",
    "SrcRect",
    "DstRect",
    "NODATA",
    "UseMaskBand",
    "ScaleOffset",
    "ScaleRatio",
];

/// Attributes that change what an element does, and the one value that is read.
const PLAIN_ATTRIBUTES: &[(&str, &str)] = &[("subClass", ""), ("resampling", "nearest")];

/// Whether bytes are the beginning of a virtual raster.
pub(super) fn is_one(head: &[u8]) -> bool {
    String::from_utf8_lossy(head).contains(ROOT)
}

/// The files that it refers to, each once, where GDAL will look for them.
///
/// # Errors
/// Why it is not read, in words.
pub(super) fn sources(file: &Path) -> Result<Vec<PathBuf>, String> {
    let length = std::fs::metadata(file).map_err(|e| e.to_string())?.len();
    if length > MOST_BYTES {
        return Err(format!(
            "a virtual raster of {} MB; at most {} are read",
            length >> 20,
            MOST_BYTES >> 20
        ));
    }
    let bytes = std::fs::read(file).map_err(|e| e.to_string())?;
    let text = String::from_utf8_lossy(&bytes);
    let text = text.trim_start_matches('\u{feff}').trim_end_matches(['\0', '\n']);
    markup::check(text.as_bytes()).map_err(|what| format!("a virtual raster that {what}"))?;
    let document = Document::parse(text).map_err(|e| {
        format!("a virtual raster that is not valid XML: {}", shown(&e.to_string()))
    })?;
    let mut found = BTreeSet::new();
    for element in document.descendants().filter(Node::is_element) {
        let name = element.tag_name().name();
        if !KNOWN.contains(&name) {
            return Err(format!(
                "a virtual raster with <{}>; only mosaics of plain files are read: make its cells a GeoTIFF (gdal_translate)",
                shown(name)
            ));
        }
        for attribute in element.attributes() {
            let plain = PLAIN_ATTRIBUTES.iter().find(|(a, _)| attribute.name() == *a);
            if plain.is_some_and(|(_, value)| !attribute.value().eq_ignore_ascii_case(value)) {
                return Err(format!(
                    "a virtual raster with {}=\"{}\"; only mosaics of plain files are read: make its cells a GeoTIFF (gdal_translate)",
                    shown(attribute.name()),
                    shown(attribute.value())
                ));
            }
        }
        if matches!(name, "SourceFilename" | "SourceDataset") {
            found.insert(source(file, &element)?);
        }
        if matches!(name, "SimpleSource" | "ComplexSource") {
            check_shrinking(&element)?;
        }
    }
    Ok(found.into_iter().collect())
}

/// The file that an element names.
fn source(file: &Path, element: &Node<'_, '_>) -> Result<PathBuf, String> {
    let name = element.text().unwrap_or_default().trim();
    if name.is_empty()
        || is_special_path(name)
        || ["/dev/", "/proc/"].iter().any(|d| name.contains(d))
    {
        return Err(format!(
            "a virtual raster that refers to \"{}\"; it may refer to files on this disk alone, nothing is fetched or unpacked",
            shown(name)
        ));
    }
    let relative = element
        .attributes()
        .any(|a| a.name().eq_ignore_ascii_case("relativeToVRT") && a.value().trim() != "0");
    let folder = if relative { file.parent() } else { None };
    Ok(folder.map_or_else(|| PathBuf::from(name), |folder| folder.join(name)))
}

/// Refuses a source of which very many cells become one.
fn check_shrinking(source: &Node<'_, '_>) -> Result<(), String> {
    let size = |name: &str| {
        let rect = source.children().find(|n| n.has_tag_name(name))?;
        let number = |attribute: &str| rect.attribute(attribute)?.trim().parse::<f64>().ok();
        Some((number("xSize")?, number("ySize")?))
    };
    let (Some(from), Some(to)) = (size("SrcRect"), size("DstRect")) else { return Ok(()) };
    let fits = |from: f64, to: f64| from.is_finite() && to > 0.0 && from <= MOST_SHRUNK * to;
    if fits(from.0, to.0) && fits(from.1, to.1) {
        return Ok(());
    }
    Err(format!(
        "a virtual raster that makes one cell of more than {MOST_SHRUNK} x {MOST_SHRUNK} of a file's; make its cells a GeoTIFF (gdal_translate), or use the files themselves and [terrain] cell"
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn found(text: &str) -> Result<Vec<PathBuf>, String> {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.vrt");
        std::fs::write(&file, text).unwrap();
        sources(&file).map(|found| {
            let plain = |p: PathBuf| {
                p.strip_prefix(folder.path())
                    .map_or_else(|_| p.clone(), |q| Path::new("VRT").join(q))
            };
            found.into_iter().map(plain).collect()
        })
    }

    fn with(inside: &str) -> String {
        format!(
            "<VRTDataset rasterXSize=\"9\" rasterYSize=\"9\"><VRTRasterBand dataType=\"Float32\" band=\"1\">{inside}</VRTRasterBand></VRTDataset>"
        )
    }

    #[test]
    fn names_count_from_where_the_library_takes_them() {
        for (attribute, wanted) in [
            ("relativeToVRT=\"1\"", "VRT/sub/b.tif"),
            ("relativetovrt=\"1\"", "VRT/sub/b.tif"),
            ("relativeToVRT=\"0\"", "sub/b.tif"),
            ("", "sub/b.tif"),
        ] {
            let text = with(&format!(
                "<SimpleSource><SourceFilename {attribute}> sub/b.tif </SourceFilename></SimpleSource>"
            ));
            assert_eq!(found(&text).unwrap(), [Path::new(wanted)], "{attribute}");
        }
    }

    #[test]
    fn only_mosaics_are_read() {
        for inside in [
            "<KernelFilteredSource/>",
            "<AveragedSource/>",
            "<SimpleSource resampling=\"average\"/>",
            "<SimpleSource><SourceFilename>/vsicurl/http://a/b</SourceFilename></SimpleSource>",
            "<SimpleSource><SourceFilename>MEM:::DATAPOINTER=1</SourceFilename></SimpleSource>",
            "<SimpleSource><SourceFilename></SourceFilename></SimpleSource>",
            "<Overview><SourceFilename>a</SourceFilename></Overview>",
            "<SimpleSource><OpenOptions/></SimpleSource>",
            "<GDALWarpOptions/>",
        ] {
            assert!(found(&with(inside)).is_err(), "{inside}");
        }
        let warped = "<VRTDataset subClass=\"VRTWarpedDataset\"/>";
        assert!(found(warped).unwrap_err().contains("subClass"), "{:?}", found(warped));
        let declared = format!("<!DOCTYPE a>{}", with(""));
        assert!(found(&declared).unwrap_err().contains("DOCTYPE"));
    }

    #[test]
    fn a_source_is_shrunk_so_far_and_no_further() {
        let text = |from: f64| {
            with(&format!(
                "<SimpleSource><SourceFilename>a.tif</SourceFilename><SrcRect xSize=\"{from}\" ySize=\"16\"/><DstRect xSize=\"2\" ySize=\"2\"/></SimpleSource>"
            ))
        };
        assert!(found(&text(32.0)).is_ok());
        assert!(found(&text(32.5)).is_err());
        assert!(found(&text(f64::NAN)).is_err());
        assert!(found(&text(f64::INFINITY)).is_err());
    }

    #[test]
    fn a_text_has_a_largest_size() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.vrt");
        let mut text = with("").into_bytes();
        text.resize(MOST_BYTES as usize, b'\n');
        std::fs::write(&file, &text).unwrap();
        assert_eq!(sources(&file), Ok(Vec::new()));
        text.push(b'\n');
        std::fs::write(&file, &text).unwrap();
        assert!(sources(&file).unwrap_err().contains("at most"));
    }
}
