//! Grids: Maidenhead locators, UTM and MGRS.

use geoconvert::{LatLon, Mgrs, UtmUps};

use super::{METRES_PER_DEGREE, PositionError, Reading, impossible, position};
use perchline_units::Metres;

/// A square is told to a person when its side is more than this.
const COARSE: Metres = Metres::new(10.0);

/// Reads a Maidenhead locator of 4, 6, 8 or 10 characters; the centre of its square.
pub(super) fn maidenhead(text: &str) -> Option<Result<Reading, PositionError>> {
    let mut characters = text.chars();
    let letters = |c: &char| c.is_ascii_alphabetic();
    let starts_so = characters.by_ref().take(2).filter(letters).count() == 2
        && characters.by_ref().take(2).filter(char::is_ascii_digit).count() == 2;
    if !starts_so || !text.chars().all(|c| c.is_ascii_alphanumeric()) {
        return None;
    }
    Some(locator(text))
}

fn locator(text: &str) -> Result<Reading, PositionError> {
    // The crate takes any letter; a field ends at R and a subsquare at X.
    for (index, c) in text.chars().enumerate() {
        let last = match index {
            0 | 1 => 'R',
            4 | 5 | 8 | 9 => 'X',
            _ => '9',
        };
        if c.is_ascii_alphabetic() && c.to_ascii_uppercase() > last && last != '9' {
            return Err(impossible(
                text,
                format!(
                    "a Maidenhead locator has no letter beyond {last} at character {}",
                    index + 1
                ),
            ));
        }
    }
    let (longitude, latitude) = maidenhead::grid_to_longlat(text).map_err(|_| {
        impossible(
            text,
            "a Maidenhead locator is letters and digits in pairs, 4, 6, 8 or 10 characters, such \
             as \"HN27jc48\"",
        )
    })?;
    // Height of a square in degrees; its width is twice that in degrees.
    let height = match text.len() {
        4 => 1.0,
        6 => 2.5 / 60.0,
        8 => 0.25 / 60.0,
        _ => 0.625 / 3600.0,
    };
    let wide = 2.0 * latitude.to_radians().cos();
    let square = Metres::new(height * METRES_PER_DEGREE * wide.max(1.0));
    Ok(Reading { position: position(text, latitude, longitude)?, square: Some(square) })
}

/// Reads an MGRS or USNG reference; the centre of its square.
pub(super) fn mgrs(text: &str) -> Option<Result<Reading, PositionError>> {
    let packed: String = text.chars().filter(|c| !c.is_whitespace()).collect();
    let zone = packed.find(|c: char| !c.is_ascii_digit())?;
    let letters = packed.get(zone..zone + 3)?;
    let digits = packed.get(zone + 3..)?;
    let fits = (1..=2).contains(&zone)
        && letters.chars().all(|c| c.is_ascii_alphabetic())
        && digits.chars().all(|c| c.is_ascii_digit());
    fits.then(|| square(text, &packed, digits.len()))
}

fn square(text: &str, packed: &str, digits: usize) -> Result<Reading, PositionError> {
    if digits > 10 || !digits.is_multiple_of(2) {
        return Err(impossible(
            text,
            format!("an MGRS reference ends in an even number of digits, 10 at most, not {digits}"),
        ));
    }
    let reference = Mgrs::parse_str(packed)
        .map_err(|error| impossible(text, format!("not in MGRS: {error}")))?;
    let place = LatLon::from_mgrs(&reference);
    let side = Metres::new(match digits {
        0 => 100_000.0,
        2 => 10_000.0,
        4 => 1_000.0,
        6 => 100.0,
        8 => 10.0,
        _ => 1.0,
    });
    let position = position(text, place.latitude(), place.longitude())?;
    Ok(Reading { position, square: (side > COARSE).then_some(side) })
}

/// How the half of the globe of a UTM position is told.
enum Half {
    North,
    South,
    /// A latitude band of MGRS.
    Band(char),
    /// The letter S: the southern half, or the band from 32 to 40 degrees north.
    LetterS,
}

/// Reads a UTM position: zone and band or hemisphere, easting, northing in metres.
pub(super) fn utm(text: &str) -> Option<Result<Reading, PositionError>> {
    let upper = text.to_ascii_uppercase();
    let rest = upper.strip_prefix("UTM").unwrap_or(&upper).trim_start();
    let rest = rest.strip_prefix("ZONE").unwrap_or(rest).trim_start();
    let end = rest.find(|c: char| !c.is_ascii_digit())?;
    let zone: i32 =
        rest.get(..end).filter(|digits| (1..=2).contains(&digits.len()))?.parse().ok()?;
    let rest = rest.get(end..)?.trim_start();
    let end = rest.find(|c: char| !c.is_ascii_alphabetic())?;
    let half = match rest.get(..end)? {
        "N" | "NORTH" => Half::North,
        "SOUTH" => Half::South,
        "S" => Half::LetterS,
        band => {
            let mut letters = band.chars();
            let letter =
                letters.next().filter(|c| matches!(c, 'C'..='X') && !matches!(c, 'I' | 'O'))?;
            letters.next().is_none().then_some(Half::Band(letter))?
        }
    };
    let mut numbers = rest.get(end..)?.split([' ', ',', ';', '\t']).filter(|part| !part.is_empty());
    let easting = metres(numbers.next()?, &["ME", "M E", "E", "M"])?;
    let northing = metres(numbers.next()?, &["MN", "N", "M"])?;
    if numbers.next().is_some() {
        return None;
    }
    Some(on_utm(text, zone, &half, easting, northing))
}

/// The number of metres in front of one of the endings.
fn metres(text: &str, endings: &[&str]) -> Option<f64> {
    let digits = endings.iter().find_map(|ending| text.strip_suffix(ending)).unwrap_or(text);
    let plain = digits.chars().all(|c| c.is_ascii_digit() || c == '.');
    digits.parse().ok().filter(|_| plain)
}

fn on_utm(
    text: &str,
    zone: i32,
    half: &Half,
    easting: f64,
    northing: f64,
) -> Result<Reading, PositionError> {
    if !(1..=60).contains(&zone) {
        return Err(impossible(text, format!("UTM zones run from 1 to 60, not {zone}")));
    }
    let place = |north: bool| -> Result<LatLon, PositionError> {
        let point = UtmUps::create(zone, north, easting, northing)
            .map_err(|error| impossible(text, error.to_string()))?;
        if !(100_000.0..1_000_000.0).contains(&easting) || !(0.0..10_000_000.0).contains(&northing)
        {
            return Err(impossible(
                text,
                "UTM eastings run from 100000 to 999999 m and northings from 0 to 9999999 m",
            ));
        }
        Ok(LatLon::from_utmups(&point))
    };
    let place = match half {
        Half::North => place(true)?,
        Half::South => place(false)?,
        Half::LetterS => {
            let in_band = place(true).is_ok_and(|p| (32.0..40.0).contains(&p.latitude()));
            if in_band {
                return Err(impossible(
                    text,
                    format!(
                        "S may mean band S (32 to 40 degrees north) or the southern half; write \
                         \"{zone} north\" or \"{zone} south\""
                    ),
                ));
            }
            place(false)?
        }
        Half::Band(band) => {
            let place = place(*band >= 'N')?;
            let south = south_edge(*band);
            let north = if *band == 'X' { 84.0 } else { south + 8.0 };
            // A tenth of a degree of grace for squares that a band's edge cuts.
            if !(south - 0.1..=north + 0.1).contains(&place.latitude()) {
                return Err(impossible(
                    text,
                    format!(
                        "band {band} runs from {south} to {north} degrees of latitude, but this \
                         northing is at {:.2}",
                        place.latitude()
                    ),
                ));
            }
            place
        }
    };
    Ok(Reading { position: position(text, place.latitude(), place.longitude())?, square: None })
}

/// Southern edge of a latitude band in degrees: 8 degree bands from 80 south,
/// lettered from C without I and O.
fn south_edge(band: char) -> f64 {
    let index = "CDEFGHJKLMNPQRSTUVWX".chars().position(|c| c == band).unwrap_or_default();
    -80.0 + 8.0 * index as f64
}
