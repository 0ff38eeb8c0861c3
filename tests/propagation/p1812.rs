//! P.1812 against worked examples of ITU-R Study Group 3.

use perchline::propagation::p1812::{P1812, Terms, terms};
use perchline::propagation::{Climate, Locations, Path, PathLoss, Profile};
use perchline::units::{Db, Degrees, Megahertz, Metres, Percent};
use proptest::prelude::*;

use crate::p1812_examples::{Run, runs};

/// Whether a run lists another loss with diffraction than equation (43), the sum
/// of its own line of sight and diffraction.
fn lists_another_sum(run: &Run) -> bool {
    let sum = run.value("line_of_sight_db") + run.value("diffraction_db");
    (sum - run.value("with_diffraction_db")).abs() > 1e-6
}

/// The value that belongs beside one that is listed in this column.
fn ours(run: &Run, column: &str, path: &Path<'_>, found: &Terms) -> f64 {
    let Terms { geometry, anomaly, line_of_sight, diffraction, combination, .. } = found;
    let anomalous = &diffraction.anomalous;
    // Field strength of 1 kW effective radiated power (P.1812 equation (70)).
    let gigahertz = run.frequency().value() / 1e3;
    let field = 199.36 + 20.0 * gigahertz.log10() - found.result.value();
    match column {
        "length_km" => path.length().kilometres(),
        "tx_horizon_km" => geometry.transmitter_horizon.kilometres(),
        "rx_horizon_km" => geometry.receiver_horizon.kilometres(),
        "tx_elevation_mrad" => geometry.transmitter_elevation.value(),
        "rx_elevation_mrad" => geometry.receiver_elevation.value(),
        "path_angle_mrad" => geometry.path_angle.value(),
        "tx_altitude_m" => geometry.transmitter_altitude.value(),
        "rx_altitude_m" => geometry.receiver_altitude.value(),
        "sea_share" => path.climate().sea_share,
        "longest_land_km" => anomaly.longest_land.kilometres(),
        "longest_inland_km" => anomaly.longest_inland.kilometres(),
        "latitude_deg" => path.climate().latitude.value(),
        "anomalous_percent" => anomaly.time.value(),
        "earth_radius_km" => path.earth().radius().kilometres(),
        "smooth_start_m" => geometry.smooth_start.value(),
        "smooth_end_m" => geometry.smooth_end.value(),
        "low_smooth_start_m" => geometry.low_smooth_start.value(),
        "low_smooth_end_m" => geometry.low_smooth_end.value(),
        "diffraction_smooth_start_m" => {
            (geometry.transmitter_altitude - anomalous.effective_transmitter).value()
        }
        "diffraction_smooth_end_m" => {
            (geometry.receiver_altitude - anomalous.effective_receiver).value()
        }
        "tx_over_smooth_m" => anomalous.effective_transmitter.value(),
        "rx_over_smooth_m" => anomalous.effective_receiver.value(),
        "ducting_tx_m" => geometry.ducting_transmitter.value(),
        "ducting_rx_m" => geometry.ducting_receiver.value(),
        "roughness_m" => geometry.roughness.value(),
        "lean" => anomaly.lean,
        "clear" => combination.clear,
        "short" => combination.short,
        "free_space_db" => line_of_sight.free_space.value(),
        "line_of_sight_db" => line_of_sight.loss.value(),
        "anomalous_line_of_sight_db" => line_of_sight.anomalous.value(),
        "bullington_db" => anomalous.bullington_actual.value(),
        "smooth_bullington_db" => anomalous.bullington_smooth.value(),
        "spherical_earth_db" => anomalous.spherical_earth.value(),
        "median_diffraction_db" => diffraction.median.result.value(),
        "anomalous_diffraction_db" => anomalous.result.value(),
        "diffraction_db" => diffraction.result.value(),
        "median_with_diffraction_db" => combination.median_with_diffraction.value(),
        "with_diffraction_db" if lists_another_sum(run) => combination.diffraction_or_duct.value(),
        "with_diffraction_db" => combination.with_diffraction.value(),
        "least_db" => combination.least.value(),
        "ducting_db" => found.ducting.value(),
        "least_ducting_db" => combination.least_ducting.value(),
        "diffraction_or_duct_db" => combination.diffraction_or_duct.value(),
        "without_scatter_db" => combination.without_scatter.value(),
        "scatter_db" => found.scatter.value(),
        "combined_db" => combination.result.value(),
        "loss_db" => found.result.value(),
        "field_dbuv_m" => field,
        "field_of_power_dbuv_m" => field + 10.0 * run.power_kw().log10(),
        other => panic!("{}: nothing to hold {other} against", run.name()),
    }
}

/// The runs whose loss with diffraction is not the sum of equation (43): ducts carry more there
/// than diffraction, and the column repeats the result of equation (61), against
/// which it is held instead.
const REPEATS_DUCT: [&str; 4] = [
    "rburg_urban_with_clutter_0",
    "rburg_urban_with_clutter_3",
    "rburg_urban_with_clutter_vertical_0",
    "rburg_urban_with_clutter_vertical_3",
];

/// Whether a column holds losses or levels, held to 0.002 dB; the others are
/// held to 1e-6 of their size.
fn in_decibels(column: &str) -> bool {
    column.ends_with("_db") || column.ends_with("_dbuv_m")
}

/// Validation examples of Recommendation ITU-R P.1812, Study Group 3: clear and
/// blocked paths of 1 to 235 km, inland, coast and sea, with and without cover,
/// both polarizations, 30 MHz to 6 GHz, 1 to 50 % of the time. Every value that
/// they list is compared.
#[test]
fn every_value_of_every_p1812_example() {
    let (mut met, mut values) = (0, 0);
    let (mut worst, mut widest) = ((0.0, String::new()), (0.0, String::new()));
    let mut amiss = Vec::new();
    let runs = runs();
    for run in &runs {
        let path = run.path();
        let found = terms(&path);
        let whole = P1812.loss(&path) - found.result;
        assert!(whole.value().abs() < 1e-9, "{}: the method and its terms differ", run.name());
        assert_eq!(
            lists_another_sum(run),
            REPEATS_DUCT.contains(&run.name()),
            "{}: loss with diffraction",
            run.name()
        );
        let before = amiss.len();
        for (column, expected) in run.values() {
            let got = ours(run, column, &path, &found);
            values += 1;
            let place = format!("{}, {column}", run.name());
            let (difference, most, seen) = if in_decibels(column) {
                ((got - expected).abs(), 0.002, &mut worst)
            } else {
                // The lean at 50 % is a zero up to rounding, and so are the
                // angles of clear paths: a floor for what is relative to nothing.
                ((got - expected).abs() / expected.abs().max(1e-4), 1e-6, &mut widest)
            };
            if difference.is_nan() || difference > most {
                amiss.push(format!("{place}: {got} against {expected}"));
            }
            if difference > seen.0 {
                *seen = (difference, place);
            }
        }
        met += usize::from(amiss.len() == before);
    }
    println!("\nfigure p1812_cases_total {} cases", runs.len());
    println!("\nfigure p1812_cases_met {met} cases");
    println!("\nfigure p1812_worst_db {:.6} dB", worst.0);
    println!("worst of {values} values: {}; others {:.2e} of {}", worst.1, widest.0, widest.1);
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
        // since its smooth part falls faster than the rest: not ours to fix.
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
