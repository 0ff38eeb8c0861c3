//! Delta-Bullington against worked examples of ITU-R Study Group 3.
//!
//! The examples lie beside the checkout in `../shared/validation` (another
//! place: `PERCHLINE_VALIDATION`). Without them these tests say so and pass,
//! unless `PERCHLINE_REQUIRE_EXAMPLES` is set.

use std::collections::BTreeMap;
use std::path::{Path as FilePath, PathBuf};

use perchline::propagation::delta_bullington::{DeltaBullington, Terms, terms};
use perchline::propagation::{EffectiveEarth, Path, PathLoss, Profile, free_space};
use perchline::units::{Db, Megahertz, Metres, Polarization, SPEED_OF_LIGHT};

/// The folder of one set of examples, `None` when it may be missing and is.
fn examples(set: &str) -> Option<PathBuf> {
    let root = std::env::var_os("PERCHLINE_VALIDATION").map_or_else(
        || FilePath::new(env!("CARGO_MANIFEST_DIR")).join("../shared/validation"),
        PathBuf::from,
    );
    let folder = root.join(set);
    if folder.is_dir() {
        return Some(folder);
    }
    let missing = format!("worked examples not found in {}: NOTHING WAS CHECKED", folder.display());
    assert!(std::env::var_os("PERCHLINE_REQUIRE_EXAMPLES").is_none(), "{missing}");
    eprintln!("{missing}");
    None
}

fn profile(file: &FilePath) -> Profile {
    let (mut distance, mut height) = (Vec::new(), Vec::new());
    for row in csv::Reader::from_path(file).unwrap().records() {
        let row = row.unwrap();
        distance.push(row[0].parse::<f64>().unwrap() * 1e3);
        height.push(row[1].parse::<f64>().unwrap());
    }
    Profile::new(distance, height).unwrap()
}

/// Widest difference seen, and where.
#[derive(Default)]
struct Worst {
    difference: f64,
    place: String,
}

impl Worst {
    fn see(&mut self, place: String, got: f64, expected: f64) {
        let difference = (got - expected).abs();
        assert!(difference.is_finite(), "{place}: {got} against {expected}");
        if difference >= self.difference {
            *self = Self { difference, place };
        }
    }
}

#[derive(serde::Deserialize)]
struct Case {
    path: u32,
    frequency_mhz: f64,
    tx_height_agl_m: f64,
    rx_height_agl_m: f64,
    effective_tx_height_m: f64,
    effective_rx_height_m: f64,
    bullington_actual_db: f64,
    bullington_smooth_db: f64,
    spherical_earth_db: f64,
    delta_bullington_db: f64,
}

impl Case {
    /// The case at `frequency`: the set takes light for 3e8 m/s, so that its
    /// wavelengths are those of frequencies 0.07 % lower.
    fn terms(&self, profile: &Profile, frequency: f64) -> (Terms, Db) {
        let path = Path::new(
            profile,
            Metres::new(self.tx_height_agl_m),
            Metres::new(self.rx_height_agl_m),
            Megahertz::new(frequency),
        )
        .with_earth(EffectiveEarth::from_radius(Metres::new(8_500_000.0)))
        .with_polarization(Polarization::Horizontal);
        (terms(&path), DeltaBullington.diffraction(&path, &mut |_| {}))
    }
}

fn cases(folder: &FilePath) -> Vec<(Case, Profile)> {
    let cases: Vec<(Case, Profile)> = csv::Reader::from_path(folder.join("expected.csv"))
        .unwrap()
        .deserialize()
        .map(|case| {
            let case: Case = case.unwrap();
            let profile = profile(&folder.join(format!("path{}.csv", case.path)));
            (case, profile)
        })
        .collect();
    assert!(!cases.is_empty(), "no cases in {}", folder.display());
    cases
}

/// "Validation examples for the delta-Bullington diffraction prediction
/// method", Study Group 3; the publisher's tolerance is 0.1 dB. The columns are
/// losses beyond free space.
#[test]
fn every_column_of_every_delta_bullington_example() {
    let Some(folder) = examples("p526-delta-bullington") else { return };
    let (mut decibels, mut metres) = (Worst::default(), Worst::default());
    for (case, profile) in cases(&folder) {
        let (got, result) = case.terms(&profile, case.frequency_mhz);
        assert_eq!(got.result, result, "the terms and the method part ways");
        for (column, got, expected) in [
            ("bullington_actual_db", got.bullington_actual, case.bullington_actual_db),
            ("bullington_smooth_db", got.bullington_smooth, case.bullington_smooth_db),
            ("spherical_earth_db", got.spherical_earth, case.spherical_earth_db),
            ("delta_bullington_db", got.result, case.delta_bullington_db),
        ] {
            let place = format!("path {} at {} MHz, {column}", case.path, case.frequency_mhz);
            decibels.see(place, got.value(), expected);
        }
        for (column, got, expected) in [
            ("effective_tx_height_m", got.effective_transmitter, case.effective_tx_height_m),
            ("effective_rx_height_m", got.effective_receiver, case.effective_rx_height_m),
        ] {
            let place = format!("path {} at {} MHz, {column}", case.path, case.frequency_mhz);
            metres.see(place, got.value(), expected);
        }
    }
    println!("\nfigure delta_bullington_worst_db {:.6} dB", decibels.difference);
    println!("\nfigure delta_bullington_worst_height_m {:.9} m", metres.difference);
    println!("worst: {}; {}", decibels.place, metres.place);
    // What is left comes from two choices of the set: 3e8 m/s for light, and
    // X and Y of section 3.1.1 from the wavelength instead of the rounded
    // constants 2.188 and 9.575e-3.
    assert!(decibels.difference < 0.01, "{} dB at {}", decibels.difference, decibels.place);
    assert!(metres.difference < 1e-6, "{} m at {}", metres.difference, metres.place);
}

/// With the wavelength that the set used, what is left is its own rounding.
#[test]
fn the_bullington_columns_match_to_a_microdecibel_at_the_same_wavelength() {
    let Some(folder) = examples("p526-delta-bullington") else { return };
    let mut worst = Worst::default();
    for (case, profile) in cases(&folder) {
        let (got, _) = case.terms(&profile, case.frequency_mhz * SPEED_OF_LIGHT / 3e8);
        for (column, got, expected) in [
            ("bullington_actual_db", got.bullington_actual, case.bullington_actual_db),
            ("bullington_smooth_db", got.bullington_smooth, case.bullington_smooth_db),
        ] {
            let place = format!("path {} at {} MHz, {column}", case.path, case.frequency_mhz);
            worst.see(place, got.value(), expected);
        }
    }
    println!("\nfigure bullington_same_wavelength_worst_db {:.9} dB", worst.difference);
    assert!(worst.difference < 1e-5, "{} dB at {}", worst.difference, worst.place);
}

/// The values of a result file of the P.1812 set by their label; of a label
/// that comes twice the first value.
fn labelled(file: &FilePath) -> BTreeMap<String, f64> {
    let mut reader =
        csv::ReaderBuilder::new().has_headers(false).flexible(true).from_path(file).unwrap();
    let mut values = BTreeMap::new();
    for row in reader.records() {
        let row = row.unwrap();
        if let Some(value) = row.get(3).and_then(|v| v.trim().parse().ok()) {
            values.entry(row[0].trim().to_owned()).or_insert(value);
        }
    }
    values
}

/// Validation examples of Recommendation ITU-R P.1812, whose section 4.3 is
/// delta-Bullington: in both polarizations, with clear and blocked lines. It
/// gives the three terms for the effective radius exceeded at a share beta of
/// the time (three times 6371 km, P.1812 section 3.5), and the result `Ld50`
/// for the median radius as well.
#[test]
fn the_diffraction_of_every_p1812_example() {
    let Some(folder) = examples("p1812") else { return };
    let (mut worst, mut vertical, mut checked) = (Worst::default(), 0, 0);
    let mut files: Vec<_> =
        std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    for file in files {
        let name = file.file_stem().unwrap().to_str().unwrap().to_owned();
        let Some(run) = name.strip_prefix("result_") else { continue };
        let ground = run.rsplit_once('_').unwrap().0;
        let profile_file = folder.join(format!("profile_{ground}.csv"));
        let profile = profile(&profile_file);
        // Ground cover raises the ground in the Bullington terms of P.1812 and
        // is none of ours: there, only what the smooth surface gives compares.
        let covered = csv::Reader::from_path(&profile_file)
            .unwrap()
            .records()
            .any(|row| row.unwrap()[3].parse::<f64>().unwrap() > 0.0);
        let values = labelled(&file);
        let value = |label: &str| values[label];
        let polarization = if value("pol") == 1.0 {
            Polarization::Horizontal
        } else {
            vertical += 1;
            Polarization::Vertical
        };
        let path = |radius_km: f64| {
            Path::new(
                &profile,
                Metres::new(value("htg (m)")),
                Metres::new(value("hrg (m)")),
                Megahertz::new(value("f (GHz)") * 1e3),
            )
            .with_earth(EffectiveEarth::from_radius(Metres::new(radius_km * 1e3)))
            .with_polarization(polarization)
        };
        let seldom = terms(&path(3.0 * 6371.0));
        let mut see = |label: &str, got: Db| {
            worst.see(format!("{run}, {label}"), got.value(), value(label));
            checked += 1;
        };
        see("Lbulls (dB)", seldom.bullington_smooth);
        see("Ldsph (dB)", seldom.spherical_earth);
        if !covered {
            see("Lbulla (dB)", seldom.bullington_actual);
            see("Ldb (dB)", seldom.result);
            see("Ld50 (dB)", terms(&path(value("ae (km)"))).result);
        }
        // P.1812 equation (8) rounds the constant 92.4478 of GHz and km to 92.4.
        let rounded = Db::new(92.447_783_2 - 92.4);
        see("Lbfs", free_space::loss(path(1.0).frequency(), path(1.0).slant_distance()) - rounded);
    }
    println!("\nfigure p1812_diffraction_worst_db {:.6} dB", worst.difference);
    println!("worst: {}; {checked} values", worst.place);
    assert!(checked > 60 && vertical > 0, "{checked} values, {vertical} vertical");
    assert!(worst.difference < 1e-3, "{} dB at {}", worst.difference, worst.place);
}
