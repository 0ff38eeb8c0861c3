//! What a vector file holds, looked at before OGR is.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::Path;

use serde::Deserialize;
use serde_json::Value;

use super::VectorError;
use perchline_confine::{self as confine, check_coordinate_system, database, markup};
use perchline_units::shown;

/// The most that the files of an archive may come to, bytes, and how many they are.
const MOST_UNPACKED: u64 = 256 << 20;
const MOST_PACKED_FILES: usize = 1000;

/// What differs by kind in how a file is opened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// A table of values between commas.
    Table,
    /// An SQLite file.
    Database,
    /// Anything else.
    Other,
}

/// Whether a file is plain, and holds nothing that would lead elsewhere, run, or
/// multiply as it is read.
pub(super) fn check(path: &Path) -> Result<Kind, VectorError> {
    let unfit = |reason: String| VectorError::Unfit { file: path.to_owned(), reason };
    confine::plain_file(path).map_err(|e| unfit(e.to_string()))?;
    let mut head = Vec::new();
    File::open(path)
        .and_then(|file| file.take(1 << 20).read_to_end(&mut head))
        .map_err(|e| unfit(format!("it cannot be read: {e}")))?;
    let is = |ends: &[&str]| {
        path.extension().is_some_and(|own| ends.iter().any(|end| own.eq_ignore_ascii_case(end)))
    };
    if database::is_database(&head) {
        database::check(path).map_err(unfit)?;
        return Ok(Kind::Database);
    }
    if head.starts_with(b"PK") {
        check_archive(path).map_err(unfit)?;
        return Ok(Kind::Other);
    }
    let text = head.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&head).trim_ascii_start();
    let is_wide = head.starts_with(&[0xFF, 0xFE]) || head.starts_with(&[0xFE, 0xFF]);
    if is(&["kml", "gpx"]) || is_wide || text.starts_with(b"<") {
        markup::check(&head).map_err(|what| unfit(format!("it {what}")))?;
    } else if is(&["json", "geojson"]) || text.starts_with(b"{") {
        check_json(path).map_err(unfit)?;
    }
    Ok(if is(&["csv"]) { Kind::Table } else { Kind::Other })
}

/// Whether an archive unpacks to so much, and its texts declare nothing.
fn check_archive(path: &Path) -> Result<(), String> {
    let plain = |e: zip::result::ZipError| format!("it is an archive that cannot be read ({e})");
    let file = File::open(path).map_err(|e| e.to_string())?;
    let mut archive = zip::ZipArchive::new(BufReader::new(file)).map_err(plain)?;
    if archive.len() > MOST_PACKED_FILES {
        return Err(format!(
            "it is an archive of {} files; at most {MOST_PACKED_FILES} are read",
            archive.len()
        ));
    }
    let mut left = MOST_UNPACKED;
    for index in 0..archive.len() {
        let mut file = archive.by_index(index).map_err(plain)?;
        let is_text = file.name().to_lowercase().ends_with(".kml");
        let mut head = Vec::new();
        // What the archive says of itself may be wrong: it is counted.
        let read = |e: std::io::Error| format!("it is an archive that cannot be read ({e})");
        file.by_ref().take((1 << 20).min(left + 1)).read_to_end(&mut head).map_err(read)?;
        let rest = std::io::copy(&mut file.take(left + 1), &mut std::io::sink()).map_err(read)?;
        left = left.checked_sub(head.len() as u64 + rest).ok_or_else(|| {
            format!("it is an archive of more than {} MB; unpack it", MOST_UNPACKED >> 20)
        })?;
        if is_text {
            markup::check(&head).map_err(|what| format!("it holds a text that {what}"))?;
        }
    }
    Ok(())
}

/// What counts of the outermost object.
#[derive(Deserialize)]
struct Outermost {
    #[serde(default, deserialize_with = "present")]
    crs: Option<Value>,
}

/// Null where it stands is not the same as nothing.
fn present<'de, D: serde::Deserializer<'de>>(from: D) -> Result<Option<Value>, D::Error> {
    Value::deserialize(from).map(Some)
}

/// Whether the coordinate system that a GeoJSON file names, as it could before
/// RFC 7946 (GeoJSON 2008, section 3), is one that is known here.
fn check_json(path: &Path) -> Result<(), String> {
    let file = File::open(path).map_err(|e| e.to_string())?;
    let crs = match serde_json::from_reader::<_, Outermost>(BufReader::new(file)) {
        Ok(outermost) => outermost.crs,
        // OGR says what is wrong with the rest, and takes some that JSON does not.
        Err(_) => {
            let text = std::fs::read(path).map_err(|e| e.to_string())?;
            let names_one = text.windows(5).any(|word| word == b"\"crs\"");
            return if names_one {
                Err("it is no valid JSON, so that its \"crs\" cannot be trusted; save it again"
                    .to_owned())
            } else {
                Ok(())
            };
        }
    };
    let Some(crs) = crs else { return Ok(()) };
    let name = crs.get("properties").and_then(|p| p.get("name")).and_then(Value::as_str);
    match (crs.get("type").and_then(Value::as_str), name) {
        (Some("name"), Some(name)) => {
            check_coordinate_system(name)
                .and_then(|()| {
                    gdal::spatial_ref::SpatialRef::from_definition(name)
                        .map(drop)
                        .map_err(|_| "it is not known".to_owned())
                })
                .map_err(|reason| {
                    format!("its coordinate system \"{}\": {reason}; save it again in longitude and latitude", shown(name))
                })
        }
        (Some("link"), _) => Err(
            "its coordinate system is a link, and nothing is fetched; save it again in longitude and latitude".to_owned(),
        ),
        _ => Err(
            "its \"crs\" does not name a coordinate system; remove it if the coordinates are longitude and latitude, or save it again so".to_owned(),
        ),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(name: &str, content: &[u8]) -> Result<Kind, String> {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join(name);
        std::fs::write(&file, content).unwrap();
        check(&file).map_err(|e| e.to_string())
    }

    #[test]
    fn a_coordinate_system_is_named_and_known_or_refused() {
        let with = |crs: &str| {
            format!("{{\"type\": \"FeatureCollection\", \"crs\": {crs}, \"features\": []}}")
        };
        let named = |name: &str| {
            with(&format!("{{\"type\": \"name\", \"properties\": {{\"name\": \"{name}\"}}}}"))
        };
        for good in [named("urn:ogc:def:crs:OGC:1.3:CRS84"), named("EPSG:25832"), "{}".to_owned()] {
            assert_eq!(said("a.geojson", good.as_bytes()), Ok(Kind::Other), "{good}");
        }
        for (bad, says) in [
            (named("EPSG:999999"), "not known"),
            (named("http://127.0.0.1/a"), "nothing is fetched"),
            (named("nonsense"), "neither a code"),
            (
                with("{\"type\": \"link\", \"properties\": {\"href\": \"http://127.0.0.1/\"}}"),
                "is a link",
            ),
            (with("null"), "does not name"),
            (with("7"), "does not name"),
            ("{\"crs\": 1, \"crs\": 2}".to_owned(), "no valid JSON"),
            ("{\"crs\": {\"type\": \"name\"".to_owned(), "no valid JSON"),
        ] {
            let text = said("a.geojson", bad.as_bytes()).unwrap_err();
            assert!(text.contains(says), "{bad}: {text}");
        }
    }

    #[test]
    fn archives_unpack_to_so_much_and_no_more() {
        let packed = |files: &[(&str, usize)]| {
            let mut archive = zip::ZipWriter::new(std::io::Cursor::new(Vec::new()));
            for (name, length) in files {
                archive.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
                std::io::Write::write_all(&mut archive, &vec![b' '; *length]).unwrap();
            }
            archive.finish().unwrap().into_inner()
        };
        let most = MOST_UNPACKED as usize;
        assert!(said("a.kmz", &packed(&[("doc.kml", most - 5), ("b", 5)])).is_ok());
        let text = said("a.kmz", &packed(&[("doc.kml", most - 5), ("b", 6)])).unwrap_err();
        assert!(text.contains("unpack it"), "{text}");
        let names: Vec<String> = (0..=MOST_PACKED_FILES).map(|n| n.to_string()).collect();
        let many: Vec<_> = names.iter().map(|name| (name.as_str(), 0)).collect();
        assert!(said("a.kmz", &packed(&many)).is_err());
        assert!(said("a.kmz", &packed(&many[1..])).is_ok());
        assert!(said("a.kmz", b"PK\x03\x04 and nothing").is_err());
    }

    #[test]
    fn texts_declare_nothing() {
        let declared = b"<!DOCTYPE kml [<!ENTITY a 'aaaa'>]><kml>&a;</kml>";
        for name in ["a.kml", "a.gpx", "a.txt"] {
            assert!(said(name, declared).unwrap_err().contains("DOCTYPE"), "{name}");
        }
        assert_eq!(said("a.csv", b"name,lat,lon\n"), Ok(Kind::Table));
    }
}
