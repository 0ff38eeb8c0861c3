//! Positions in every notation against published examples and other programs.

use approx::assert_abs_diff_eq;
use perchline::plan::{PositionError, read_position};
use perchline::units::{Degrees, Position};
use proptest::prelude::*;

fn place(latitude: f64, longitude: f64) -> Position {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

#[track_caller]
fn same(text: &str, latitude: f64, longitude: f64) {
    let read = read_position(text).unwrap_or_else(|error| panic!("{error}"));
    assert_abs_diff_eq!(read.position.latitude().value(), latitude, epsilon = 1e-9);
    assert_abs_diff_eq!(read.position.longitude().value(), longitude, epsilon = 1e-9);
}

#[track_caller]
fn no(text: &str, part: &str) {
    let error = read_position(text).unwrap_err().to_string();
    assert!(error.contains(part), "{error}");
}

#[test]
fn one_place_in_many_degrees() {
    let degrees = [
        "47.125, -35.25",
        "47.125 -35.25",
        "47.125;-35.25",
        "+47.125, −35.25",
        "47.125 N 35.25 W",
        "47.125N, 35.25W",
        "N47.125 W35.25",
        "N 47.125, W 35.25",
        "35.25W 47.125N",
        "47.125° N, 35.25° W",
        "47° 7.5' N 35° 15' W",
        "47°07'30\"N 35°15'00\"W",
        "47°07′30″N 35°15′00″W",
        "47°07'30''N, 35°15'00''W",
        "N47°07'30\" W035°15'00\"",
        "47d07m30sN 35d15m00sW",
        "47d 7m 30s n, 35d 15m w",
        "47 07 30 N 35 15 00 W",
        "47 07.5 N 35 15.0 W",
        "47 07 30, -35 15 00",
        "47 07 30 -35 15 00",
        "47°07'30\", -35°15'",
        "47°7'30\" -35°15'0\"",
    ];
    for text in degrees {
        same(text, 47.125, -35.25);
    }
    same("-0 30 00, -0 15 00", -0.5, -0.25);
    same("0 30 S 0 15 E", -0.5, 0.25);
}

/// The examples of the GeoConvert(1) manual page of GeographicLib: one point
/// as MGRS, degrees, degrees-minutes-seconds and UTM.
#[test]
fn published_example_of_mgrs_and_utm() {
    let expected = place(33.33424, 44.40363);
    for text in [
        "38SMB4488",
        "38S MB 44 88",
        "33.33424 44.40363",
        "33d20'03.25\"N 044d24'13.06\"E",
        "38 north 444500 3688500",
        "38n 444500 3688500",
        "UTM zone 38 N, 444500mE 3688500mN",
    ] {
        let read = read_position(text).unwrap();
        // The example is printed to 5 decimals, 0.6 m at worst.
        assert!(read.position.distance(expected).value() < 1.0, "{text}");
    }
    let square = |text: &str| read_position(text).unwrap().square.map(|side| side.value());
    assert_eq!(square("38SMB4488"), Some(1000.0));
    assert_eq!(square("38SMB44508850"), None);
}

/// Maidenhead locators as published: FN31pr in the ARRL's introduction to grid
/// squares (41.714775 N, 72.727260 W) and JN58td for Munich (48.14666 N,
/// 11.60833 E); both from memory.
#[test]
fn published_examples_of_maidenhead() {
    for (text, latitude, longitude) in
        [("FN31pr", 41.714775, -72.727260), ("JN58TD", 48.14666, 11.60833)]
    {
        let read = read_position(text).unwrap().position;
        assert!((read.latitude().value() - latitude).abs() <= 1.25 / 60.0, "{text}");
        assert!((read.longitude().value() - longitude).abs() <= 2.5 / 60.0, "{text}");
    }
}

/// Other programs' table, made by `tests/reference/make_positions.py`:
///
///     pip install pyproj==3.7.2 mgrs==1.6.0 maidenhead==1.8.0
///     python tests/reference/make_positions.py > tests/reference/positions.csv
///
/// A millimetre of difference is allowed, for the nine decimals of the table.
#[test]
fn other_programs_agree() {
    let mut count = std::collections::BTreeMap::<String, usize>::new();
    let mut reader = csv::Reader::from_path("tests/reference/positions.csv").unwrap();
    for row in reader.deserialize() {
        let (source, text, latitude, longitude): (String, String, f64, f64) = row.unwrap();
        let read = read_position(&text).unwrap_or_else(|error| panic!("{error}"));
        let off = read.position.distance(place(latitude, longitude)).value();
        assert!(off < 1e-3, "{text} is {off} m off");
        *count.entry(source).or_default() += 1;
    }
    assert!(count.len() == 3 && count.values().all(|rows| *rows >= 50), "{count:?}");
}

#[test]
fn coarse_notations_say_how_coarse() {
    let square = |text: &str| read_position(text).unwrap().square.map(|side| side.value().round());
    // A locator's square is 2.5 by 5 minutes: 4.6 km high, and 6.3 km wide here.
    assert_eq!(square("HN27jc"), Some(6314.0));
    assert_eq!(square("25TCN30512129"), None);
    assert_eq!(square("25TCN305212"), Some(100.0));
    assert_eq!(square("47.1234, -35.2345"), None);
    assert_eq!(square("47.123, -35.2345"), Some(111.0));
    assert_eq!(square("47°07'24\"N 35°14'04\"W"), None);
    assert_eq!(square("47°07'N 35°14'W"), Some(1855.0));
}

#[test]
fn what_is_no_position_is_refused() {
    for text in ["", " ", "somewhere", "47.1", "47,1234 -35,2345", "1 2 3", "HN27j", "HN27jc4"] {
        assert!(read_position(text).is_err(), "{text}");
    }
    no("47 60 00 N 35 15 00 W", "below 60");
    no("47 61 00 N 35 15 00 W", "below 60");
    no("-47.1 N 35.2 W", "a sign and a letter");
    no("47.1 N 35.2", "only one half");
    no("47.1 N 35.2 S", "one kind");
    no("47.5 30 N 35 15 W", "only the last number");
    no("47, -35, 12", "not clear");
    no("97, -135", "out of range");
    no("ZZ27jc", "beyond R");
    no("HN27zc", "beyond X");
    no("25TDN123", "even number");
    no("25TDN123412341234", "even number");
    no("61TDN12341234", "Zone");
    no("25IDN12341234", "MGRS");
    no("25TZZ12341234", "MGRS");
    no("61 north 444500 3688500", "1 to 60");
    no("25T 444500 3688500", "band T runs from 40 to 48");
    no("25 north 4445000 3688500", "Easting");
    no("25S 444500 3688500", "S may mean");
    no("25 north 44450 3688500", "eastings run");
    assert!(matches!(
        read_position("-135.5, 47.1"),
        Err(PositionError::Swapped { suggestion, .. }) if suggestion == "47.1, -135.5"
    ));
}

/// The letter S is no riddle where the northing leaves one reading alone.
#[test]
fn the_southern_half_is_read_where_it_is_plain() {
    let read = read_position("34S 261877 6243186").unwrap().position;
    assert!(read.latitude().value() < -33.0);
    assert_eq!(read, read_position("34 south 261877 6243186").unwrap().position);
}

proptest! {
    #[test]
    fn no_text_makes_it_panic(text in "\\PC{0,40}") {
        let _ = read_position(&text);
    }

    #[test]
    fn no_likely_text_makes_it_panic(text in "[0-9NSEWTDCJXnsdm°'\" .,+-]{1,24}") {
        let _ = read_position(&text);
    }

    #[test]
    fn no_grid_text_makes_it_panic(text in "[0-9]{1,3} ?[A-Za-z]{1,3} ?[0-9]{0,12} ?[0-9]{0,8}") {
        let _ = read_position(&text);
    }

    #[test]
    fn degrees_survive_being_written(latitude in -90.0..90.0f64, longitude in -180.0..180.0f64) {
        let read = read_position(&format!("{latitude}, {longitude}")).unwrap().position;
        prop_assert_eq!(read, place(latitude, longitude));
    }

    #[test]
    fn seconds_survive_being_written(north in -324_000i32..324_000, east in -648_000i32..648_000) {
        let angle = |seconds: i32, letters: [char; 2]| {
            let size = seconds.abs();
            let letter = if seconds < 0 { letters[1] } else { letters[0] };
            format!("{}°{:02}'{:02}\"{letter}", size / 3600, size / 60 % 60, size % 60)
        };
        let text = format!("{} {}", angle(north, ['N', 'S']), angle(east, ['E', 'W']));
        let read = read_position(&text).unwrap().position;
        prop_assert!((read.latitude().value() - f64::from(north) / 3600.0).abs() < 1e-9);
        prop_assert!((read.longitude().value() - f64::from(east) / 3600.0).abs() < 1e-9);
    }
}

/// Every notation of the manual's table is one that is read.
#[test]
fn examples_of_the_manual_are_read() {
    let manual = std::fs::read_to_string("docs/plan-file.md").unwrap();
    let table =
        manual.split_once("## Positions").unwrap().1.split_once("Everything is on").unwrap().0;
    let examples: Vec<String> = table
        .split('`')
        .skip(1)
        .step_by(2)
        .filter_map(|code| Some(code.strip_prefix('"')?.strip_suffix('"')?.replace("\\\"", "\"")))
        .collect();
    assert!(examples.len() >= 10, "{examples:?}");
    let here = place(47.1234, -35.2345);
    for text in examples {
        let read = read_position(&text).unwrap_or_else(|error| panic!("{error}"));
        let far = read.square.map_or(20.0, |side| side.value());
        assert!(read.position.distance(here).value() < far, "{text}: {:?}", read.position);
    }
}
