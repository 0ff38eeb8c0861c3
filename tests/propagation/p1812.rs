//! P.1812 against worked examples of ITU-R Study Group 3.
//!
//! The examples lie beside the checkout in `../shared/validation` (another
//! place: `PERCHLINE_VALIDATION`). Without them these tests say so and pass,
//! unless `PERCHLINE_REQUIRE_EXAMPLES` is set.

use std::path::{Path as FilePath, PathBuf};

use geo::{Bearing, Destination};
use perchline::propagation::p1812::{P1812, Terms, terms};
use perchline::propagation::{Climate, EffectiveEarth, Locations, Path, PathLoss, Profile};
use perchline::units::{Db, Degrees, Megahertz, Metres, Percent, Polarization};
use proptest::prelude::*;

/// The folder of the examples, `None` when it may be missing and is.
fn examples() -> Option<PathBuf> {
    let root = std::env::var_os("PERCHLINE_VALIDATION").map_or_else(
        || FilePath::new(env!("CARGO_MANIFEST_DIR")).join("../shared/validation"),
        PathBuf::from,
    );
    let folder = root.join("p1812");
    if folder.is_dir() {
        return Some(folder);
    }
    let missing = format!("worked examples not found in {}: NOTHING WAS CHECKED", folder.display());
    assert!(std::env::var_os("PERCHLINE_REQUIRE_EXAMPLES").is_none(), "{missing}");
    eprintln!("{missing}");
    None
}

fn profile(file: &FilePath) -> Profile {
    let (mut distance, mut height, mut cover) = (Vec::new(), Vec::new(), Vec::new());
    for row in csv::Reader::from_path(file).unwrap().records() {
        let row = row.unwrap();
        distance.push(row[0].parse::<f64>().unwrap() * 1e3);
        height.push(row[1].parse::<f64>().unwrap());
        cover.push(row[3].parse::<f64>().unwrap());
        assert_eq!(&row[4], "4", "{}: not inland", file.display());
    }
    Profile::new(distance, height).unwrap().with_cover(cover).unwrap()
}

/// One line of a result file: a label, the equation that it belongs to, a value.
struct Listed {
    label: String,
    equation: String,
    value: f64,
}

/// A result file: its inputs down to the blank line, then what it lists.
struct Run {
    name: String,
    inputs: Vec<Listed>,
    listed: Vec<Listed>,
}

impl Run {
    fn read(file: &FilePath, name: &str) -> Self {
        let text = std::fs::read_to_string(file).unwrap();
        let (mut inputs, mut listed, mut below) = (Vec::new(), Vec::new(), false);
        for line in text.lines().skip(1) {
            let cells: Vec<_> = line.split(',').map(str::trim).collect();
            if cells.iter().all(|cell| cell.is_empty()) {
                below = true;
                continue;
            }
            let row = Listed {
                label: cells[0].to_owned(),
                equation: cells[1].to_owned(),
                // Before the blank at the end; one label has commas of its own.
                value: cells[cells.len() - 2].parse().unwrap(),
            };
            if below { listed.push(row) } else { inputs.push(row) }
        }
        Self { name: name.to_owned(), inputs, listed }
    }

    fn input(&self, label: &str) -> f64 {
        self.inputs.iter().find(|row| row.label == label).unwrap().value
    }

    /// Latitude half the length of the profile along the great circle from the
    /// transmitter, as the examples have it: their ends lie 95.66 km apart, and
    /// the profile is 96.2 km long.
    fn middle(&self, length: Metres) -> Degrees {
        let place = |end: &str| {
            let [lam, phi] = ["lam", "phi"].map(|name| self.input(&format!("{name}_{end} (deg)")));
            geo::Point::new(lam, phi)
        };
        let (transmitter, receiver) = (place("t"), place("r"));
        let bearing = geo::Haversine.bearing(transmitter, receiver);
        let middle = geo::Haversine.destination(transmitter, bearing, length.value() / 2.0);
        Degrees::new(middle.y())
    }

    fn path<'a>(&self, profile: &'a Profile) -> Path<'a> {
        let cover = profile.cover();
        assert_eq!(cover[1], self.input("R2 (m)"), "{}", self.name);
        assert_eq!(cover[cover.len() - 2], self.input("Rn-1 (m)"), "{}", self.name);
        assert_eq!(self.input("pL (%)"), 50.0, "{}: not the median place", self.name);
        let polarization = match self.input("pol") {
            1.0 => Polarization::Horizontal,
            2.0 => Polarization::Vertical,
            other => panic!("{}: polarization {other}", self.name),
        };
        let climate = Climate {
            time: Percent::new(self.input("p (%)")),
            latitude: self.middle(profile.length()),
            surface_refractivity: self.input("N0"),
            transmitter_to_coast: Metres::new(self.input("dct (km)") * 1e3),
            receiver_to_coast: Metres::new(self.input("dcr (km)") * 1e3),
            ..Climate::DEFAULT
        };
        Path::new(
            profile,
            Metres::new(self.input("htg (m)")),
            Metres::new(self.input("hrg (m)")),
            Megahertz::new(self.input("f (GHz)") * 1e3),
        )
        .with_earth(EffectiveEarth::from_refractivity_lapse(self.input("DN")))
        .with_polarization(polarization)
        .with_climate(climate)
        .unwrap()
    }

    fn value(&self, label: &str) -> f64 {
        self.listed.iter().find(|row| row.label == label).unwrap().value
    }

    /// Whether the file lists another `Lbd` than equation (43), the sum of its
    /// own `Lb0p` and `Ldp`.
    fn lists_another_lbd(&self) -> bool {
        (self.value("Lb0p") + self.value("Ldp (dB)") - self.value("Lbd (dB)")).abs() > 1e-6
    }

    /// The value that belongs beside a listed one.
    fn ours(&self, row: &Listed, path: &Path<'_>, found: &Terms) -> f64 {
        let Terms { geometry, anomaly, line_of_sight, diffraction, combination, .. } = found;
        let anomalous = &diffraction.anomalous;
        // Field strength of 1 kW effective radiated power (P.1812 equation (70)).
        let field = 199.36 + 20.0 * self.input("f (GHz)").log10() - found.result.value();
        let over_1_kw = 10.0 * self.input("Ptx (kW)").log10();
        match (row.label.as_str(), row.equation.as_str()) {
            ("d (km)", _) => path.length().kilometres(),
            ("dlt (km)", _) => geometry.transmitter_horizon.kilometres(),
            ("dlr (km)", _) => geometry.receiver_horizon.kilometres(),
            ("th_t (mrad)", _) => geometry.transmitter_elevation.value(),
            ("th_r (mrad)", _) => geometry.receiver_elevation.value(),
            ("th (mrad)", _) => geometry.path_angle.value(),
            // Antennas are never below their ground, so both pairs are the same.
            ("hts (m)", _) | ("htc (m)", "Table 5") => geometry.transmitter_altitude.value(),
            ("hrs (m)", _) | ("hrc (m)", "Table 5") => geometry.receiver_altitude.value(),
            ("w", _) => path.climate().sea_share,
            ("dtm (km)", _) => anomaly.longest_land.kilometres(),
            ("dlm (km)", _) => anomaly.longest_inland.kilometres(),
            ("phi (deg)", _) => path.climate().latitude.value(),
            ("b0 (%)", _) => anomaly.time.value(),
            ("ae (km)", _) => path.earth().radius().kilometres(),
            ("hst (m)", "Eq (85)") => geometry.smooth_start.value(),
            ("hsr (m)", "Eq (86)") => geometry.smooth_end.value(),
            ("hst (m)", "Eq (90a)") => geometry.low_smooth_start.value(),
            ("hsr (m)", "Eq (90b)") => geometry.low_smooth_end.value(),
            ("hstd (m)", _) => {
                (geometry.transmitter_altitude - anomalous.effective_transmitter).value()
            }
            ("hsrd (m)", _) => (geometry.receiver_altitude - anomalous.effective_receiver).value(),
            ("htc (m)", "Eq (37a)") => anomalous.effective_transmitter.value(),
            ("hrc (m)", "Eq (37b)") => anomalous.effective_receiver.value(),
            ("hte (m)", _) => geometry.ducting_transmitter.value(),
            ("hre (m)", _) => geometry.ducting_receiver.value(),
            ("hm (m)", _) => geometry.roughness.value(),
            ("Fi", _) => anomaly.lean,
            ("Fj", _) => combination.clear,
            ("Fk", _) => combination.short,
            ("Lbfs", _) => line_of_sight.free_space.value(),
            ("Lb0p", _) => line_of_sight.loss.value(),
            ("Lb0b", _) => line_of_sight.anomalous.value(),
            ("Lbulla (dB)", _) => anomalous.bullington_actual.value(),
            ("Lbulls (dB)", _) => anomalous.bullington_smooth.value(),
            ("Ldsph (dB)", _) => anomalous.spherical_earth.value(),
            ("Ld50 (dB)", _) => diffraction.median.result.value(),
            ("Ldb (dB)", _) => anomalous.result.value(),
            ("Ldp (dB)", _) => diffraction.result.value(),
            ("Lbd50 (dB)", _) => combination.median_with_diffraction.value(),
            ("Lbd (dB)", _) if self.lists_another_lbd() => combination.diffraction_or_duct.value(),
            ("Lbd (dB)", _) => combination.with_diffraction.value(),
            ("Lminb0p (dB)", _) => combination.least.value(),
            ("Lba (dB)", _) => found.ducting.value(),
            ("Lminbap (dB)", _) => combination.least_ducting.value(),
            ("Lbda (dB)", _) => combination.diffraction_or_duct.value(),
            ("Lbam (dB)", _) => combination.without_scatter.value(),
            ("Lbs (dB)", _) => found.scatter.value(),
            ("Lbc (dB)", _) => combination.result.value(),
            ("Lb (dB)", _) => found.result.value(),
            ("Ep (dBuV/m)", _) => field,
            ("Ep (dBuV/m) w.r.t. Ptx", _) => field + over_1_kw,
            (label, equation) => {
                panic!("{}: nothing to hold {label} {equation} against", self.name)
            }
        }
    }
}

/// The runs whose `Lbd` is not the sum of equation (43): ducts carry more there
/// than diffraction, and the row repeats `Lbda` of equation (61), against which
/// it is held instead.
const REPEATS_LBDA: [&str; 4] = [
    "rburg_urban_with_clutter_0",
    "rburg_urban_with_clutter_3",
    "rburg_urban_with_clutter_vertical_0",
    "rburg_urban_with_clutter_vertical_3",
];

/// Whether a value is one of the losses and levels, held to 0.002 dB; the
/// others are held to 1e-6 of their size.
fn in_decibels(label: &str) -> bool {
    label.starts_with('L') || label.starts_with("Ep")
}

/// Validation examples of Recommendation ITU-R P.1812, Study Group 3: clear
/// and blocked paths, with and without cover, both polarizations, 30 MHz to
/// 6 GHz, 1 to 50 % of the time. Every value that a file lists is compared.
#[test]
fn every_value_of_every_p1812_example() {
    let Some(folder) = examples() else { return };
    let mut files: Vec<_> =
        std::fs::read_dir(&folder).unwrap().map(|e| e.unwrap().path()).collect();
    files.sort();
    let (mut total, mut met, mut values) = (0, 0, 0);
    let (mut worst, mut widest) = ((0.0, String::new()), (0.0, String::new()));
    let mut amiss = Vec::new();
    for file in files {
        let name = file.file_stem().unwrap().to_str().unwrap().to_owned();
        let Some(run) = name.strip_prefix("result_") else { continue };
        let (ground, _) = run.rsplit_once('_').unwrap();
        let profile = profile(&folder.join(format!("profile_{ground}.csv")));
        let run = Run::read(&file, run);
        let path = run.path(&profile);
        let found = terms(&path);
        let whole = P1812.loss(&path) - found.result;
        assert!(whole.value().abs() < 1e-9, "{}: the method and its terms part ways", run.name);
        assert_eq!(
            run.lists_another_lbd(),
            REPEATS_LBDA.contains(&run.name.as_str()),
            "{}: Lbd",
            run.name
        );
        let before = amiss.len();
        for row in &run.listed {
            let got = run.ours(row, &path, &found);
            values += 1;
            let place = format!("{}, {} {}", run.name, row.label, row.equation);
            let (difference, most, seen) = if in_decibels(&row.label) {
                ((got - row.value).abs(), 0.002, &mut worst)
            } else {
                // Fi at 50 % is a zero up to rounding, and so are the angles of
                // clear paths: a floor for what is relative to nothing.
                ((got - row.value).abs() / row.value.abs().max(1e-4), 1e-6, &mut widest)
            };
            if difference.is_nan() || difference > most {
                amiss.push(format!("{place}: {got} against {}", row.value));
            }
            if difference > seen.0 {
                *seen = (difference, place);
            }
        }
        assert!(run.listed.len() >= 50, "{} lists {} values", run.name, run.listed.len());
        total += 1;
        met += usize::from(amiss.len() == before);
    }
    println!("\nfigure p1812_cases_total {total} cases");
    println!("\nfigure p1812_cases_met {met} cases");
    println!("\nfigure p1812_worst_db {:.6} dB", worst.0);
    println!("worst of {values} values: {}; others {:.2e} of {}", worst.1, widest.0, widest.1);
    assert!(total > 0, "no result files in {}", folder.display());
    assert!(amiss.is_empty(), "{} values:\n{}", amiss.len(), amiss.join("\n"));
}

/// Ground with cover, antennas and a climate of any kind within their ranges.
#[derive(Debug, Clone)]
struct Case {
    ground: Profile,
    heights: (f64, f64),
    frequency: f64,
    climate: Climate,
}

impl Case {
    fn path<'a>(&self, ground: &'a Profile) -> Path<'a> {
        let (tx, rx) = (Metres::new(self.heights.0), Metres::new(self.heights.1));
        Path::new(ground, tx, rx, Megahertz::new(self.frequency))
            .with_climate(self.climate)
            .unwrap()
    }
}

fn case() -> impl Strategy<Value = Case> {
    let antenna = || prop_oneof![Just(0.0), Just(1.5), 0.0..150.0];
    let ground =
        prop::collection::vec((0.0..800.0f64, prop_oneof![Just(0.0), 0.0..40.0f64]), 2..80);
    let places = prop_oneof![
        Just(Locations::Median),
        (1.0..99.0, 0.0..12.0f64).prop_map(|(percent, deviation)| Locations::Share {
            percent: Percent::new(percent),
            deviation: Db::new(deviation),
        })
    ];
    let stretch = || prop::option::of(0.0..1e5f64);
    let coast = || prop_oneof![Just(5e5), 0.0..1e4f64];
    (
        (ground, 1.0..5.5f64, antenna(), antenna(), 30.0..6000.0f64),
        (1.0..=50.0f64, places, -80.0..80.0f64, 250.0..400.0f64, any::<bool>()),
        (prop_oneof![Just(0.0), Just(1.0), 0.0..1.0f64], stretch(), stretch(), coast(), coast()),
    )
        .prop_map(|((ground, magnitude, tx, rx, frequency), air, land)| {
            let step = 10f64.powf(magnitude) / (ground.len() - 1) as f64;
            let distance = (0..ground.len()).map(|i| i as f64 * step).collect();
            let (height, cover) = ground.into_iter().unzip();
            let (time, locations, latitude, surface_refractivity, receiver_at_sea) = air;
            let (sea_share, longest_land, longest_inland, from, to) = land;
            Case {
                ground: Profile::new(distance, height).unwrap().with_cover(cover).unwrap(),
                heights: (tx, rx),
                frequency,
                climate: Climate {
                    time: Percent::new(time),
                    locations,
                    latitude: Degrees::new(latitude),
                    surface_refractivity,
                    sea_share,
                    longest_land: longest_land.map(Metres::new),
                    longest_inland: longest_inland.map(Metres::new),
                    transmitter_to_coast: Metres::new(from),
                    receiver_to_coast: Metres::new(to),
                    receiver_at_sea,
                },
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 2000, failure_persistence: None, ..Default::default() })]

    /// No climate and no ground makes a loss that is no number, or one better
    /// than a clear line for the same share of time.
    #[test]
    fn any_climate_gives_a_loss(case in case()) {
        let path = case.path(&case.ground);
        let found = terms(&path);
        prop_assert!(found.result.value().is_finite(), "{found:?}");
        prop_assert!(found.result >= found.line_of_sight.loss, "{found:?}");
        prop_assert!(found.indoors(Db::new(10.0)) >= found.result);
        prop_assert!((0.0..=1.0).contains(&found.anomaly.lean), "{found:?}");
    }

    /// A loss that holds for more of the time, or for more places, is no smaller.
    #[test]
    fn more_of_the_time_or_of_the_places_is_more_loss(case in case()) {
        let at = |climate: Climate| {
            terms(&Case { climate, ..case.clone() }.path(&case.ground)).result.value()
        };
        let share = |percent: f64| Climate {
            locations: Locations::Share { percent: Percent::new(percent), deviation: Db::new(5.5) },
            ..case.climate
        };
        prop_assert!(at(share(90.0)) >= at(share(50.0)));
        prop_assert!(at(share(50.0)) >= at(share(10.0)));
        let time = |percent: f64| Climate { time: Percent::new(percent), ..case.climate };
        // Over some cliffs the larger effective earth costs delta-Bullington more,
        // since its smooth part falls faster than the rest: not ours to mend.
        let diffraction = terms(&case.path(&case.ground)).diffraction;
        if diffraction.anomalous.result <= diffraction.median.result {
            prop_assert!(at(time(50.0)) >= at(time(1.0)) - 1e-9);
        }
    }

    /// Cover adds to diffraction and moves no horizon.
    #[test]
    fn cover_is_no_gain(case in case()) {
        let bare = case.ground.clone().with_cover(Vec::new()).unwrap();
        let (covered, open) = (terms(&case.path(&case.ground)), terms(&case.path(&bare)));
        prop_assert!(covered.diffraction.median.bullington_actual
            >= open.diffraction.median.bullington_actual - Db::new(1e-9), "{:?}", covered);
        prop_assert_eq!(covered.geometry, open.geometry);
    }

    /// Either way it is the same, the coast on the other side then.
    #[test]
    fn either_direction_loses_the_same(case in case()) {
        // Ground of two points has no horizon that the ends could see.
        prop_assume!(case.ground.len() > 2);
        let climate = Climate {
            transmitter_to_coast: case.climate.receiver_to_coast,
            receiver_to_coast: case.climate.transmitter_to_coast,
            ..case.climate
        };
        let (ground, heights) = (case.ground.reversed(), (case.heights.1, case.heights.0));
        let back = Case { ground, heights, climate, ..case.clone() };
        let there = terms(&case.path(&case.ground)).result.value();
        let home = terms(&back.path(&back.ground)).result.value();
        prop_assert!((there - home).abs() < 0.01, "{} and {}", there, home);
    }
}
