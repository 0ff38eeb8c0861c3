//! Texts that name a coordinate system: a code or a description, never an
//! address or a file, which the library would go and read.

/// The longest text.
const LONGEST: usize = 100_000;

/// Whether a text can only be a code (EPSG:32625), a description (WKT, PROJ,
/// PROJJSON) or a name in a registry (urn:ogc:def:crs:...).
///
/// # Errors
/// What is wrong with it, in words.
pub fn check_coordinate_system(text: &str) -> Result<(), String> {
    let text = text.trim();
    if text.len() > LONGEST {
        return Err(format!("its name has {} bytes; at most {LONGEST} are read", text.len()));
    }
    let lower = text.to_ascii_lowercase();
    let described = lower.contains('[') || lower.starts_with(['+', '{']);
    // A description may cite an address, and is not fetched for it.
    if lower.contains("/vsi") || (!described && lower.contains("://")) {
        return Err("it is an address, and nothing is fetched".to_owned());
    }
    if !described && (text.contains(['/', '\\']) || !text.contains(':')) && !is_known_name(&lower) {
        return Err("it is neither a code nor a description".to_owned());
    }
    // Grids by their plain names come from PROJ's own data.
    let grids = lower
        .split(['"', ' ', '+'])
        .filter(|word| word.contains("grids=") || word.contains("file="));
    let by_file = grids.flat_map(|word| word.split(',')).any(|word| word.contains(['/', '\\']));
    if by_file || lower.contains("init=") || lower.contains("parameterfile") && lower.contains("/")
    {
        return Err("it names a file of its own".to_owned());
    }
    Ok(())
}

/// Names without a colon that the library knows.
fn is_known_name(lower: &str) -> bool {
    ["wgs84", "wgs72", "nad27", "nad83", "crs84", "crs83", "crs27"].contains(&lower)
        || !lower.is_empty() && lower.chars().all(|c| c.is_ascii_digit())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn codes_and_descriptions_pass_addresses_and_files_do_not() {
        for text in [
            "EPSG:32625",
            "epsg:4326+5773",
            "WGS84",
            "urn:ogc:def:crs:OGC:1.3:CRS84",
            "+proj=utm +zone=25 +datum=WGS84",
            "+proj=longlat +nadgrids=@null",
            "PROJCS[\"a\",GEOGCS[\"b\",AUTHORITY[\"EPSG\",\"4326\"]]]",
            "PROJCS[\"m/s\",METADATA[\"see https://example.org/a\"]]",
            "{\"type\": \"GeographicCRS\"}",
            "ESRI:102001",
        ] {
            check_coordinate_system(text).unwrap_or_else(|e| panic!("{text}: {e}"));
        }
        for text in [
            "http://example.org/crs",
            "https://example.org/crs.wkt",
            "/etc/passwd",
            "./a.prj",
            "a.prj",
            "",
            "+proj=longlat +nadgrids=/tmp/pipe",
            "+init=/tmp/file:1",
            "+proj=geoc +file=../a",
            "GEOGCS[\"a\",EXTENSION[\"PROJ4\",\"+proj=longlat +nadgrids=@/tmp/pipe\"]]",
            "/vsicurl/http://example.org/a",
            "GEOGCS[\"/vsicurl/http://example.org/a\"]",
            "+proj=longlat +geoidgrids=a.gtx,/tmp/b",
        ] {
            assert!(check_coordinate_system(text).is_err(), "{text}");
        }
        let long = format!("EPSG:{}", "1".repeat(LONGEST - 5));
        assert!(check_coordinate_system(&long).is_ok());
        assert!(check_coordinate_system(&format!("{long}1")).is_err());
    }
}
