//! P.1812 near the sea and far from the median: each equation by hand, from the
//! terms beside it, also where the worked examples do not go.

use approx::assert_abs_diff_eq;
use perchline::propagation::p1812::{Terms, terms};
use perchline::propagation::spherical_earth::SphericalEarth;
use perchline::propagation::{Climate, GroundConstants, Path, Profile};
use perchline::units::{Degrees, Megahertz, Metres, Percent};

/// Level ground of 20 m over 40 km with a ridge of `top` metres `at` kilometres
/// from the transmitter.
fn ridge(at: usize, top: f64) -> Profile {
    let distance: Vec<f64> = (0..=160).map(|i| f64::from(i) * 250.0).collect();
    let mut height = vec![20.0; 161];
    height[4 * at] = top;
    Profile::new(distance, height).unwrap()
}

fn at(ground: &Profile, climate: Climate) -> Terms {
    let (tx, rx) = (Metres::new(30.0), Metres::new(10.0));
    let path = Path::new(ground, tx, rx, Megahertz::new(446.0));
    terms(&path.with_climate(climate).unwrap())
}

fn for_time(percent: f64) -> Climate {
    Climate { time: Percent::new(percent), ..Climate::DEFAULT }
}

fn kilometres(km: f64) -> Metres {
    Metres::new(km * 1e3)
}

/// Equations (3) to (5) and (40) worked out by hand and with an exact normal
/// distribution: a stretch over land and one inland in km, a latitude, and what
/// b0 in % and Fi come to. Beyond 70 degrees nothing depends on the latitude.
#[test]
fn how_common_anomalous_propagation_is_comes_to_hand_calculations() {
    let ground = ridge(12, 200.0);
    for (land, inland, latitude, b0, at_10, at_1) in [
        (30.0, 30.0, 50.0, 2.54195, 0.6563, 1.0),
        (30.0, 10.0, 50.0, 3.67433, 0.7160, 1.0),
        (5.0, 5.0, 10.0, 31.98495, 1.0, 1.0),
        (40.0, 20.0, -35.0, 5.75199, 0.8132, 1.0),
        (3.0, 0.0, 60.0, 5.35128, 0.7952, 1.0),
        (30.0, 30.0, 70.0, 0.81922, 0.5339, 0.9692),
        (30.0, 30.0, 75.0, 0.81639, 0.5336, 0.9687),
        (30.0, 30.0, 80.0, 0.81639, 0.5336, 0.9687),
    ] {
        for (percent, lean) in [(50.0, 0.0), (10.0, at_10), (1.0, at_1)] {
            let climate = Climate {
                longest_land: Some(kilometres(land)),
                longest_inland: Some(kilometres(inland)),
                latitude: Degrees::new(latitude),
                ..for_time(percent)
            };
            let found = at(&ground, climate).anomaly;
            assert_abs_diff_eq!(found.time.value(), b0, epsilon = 1e-4);
            assert_abs_diff_eq!(found.lean, lean, epsilon = 1e-3);
            assert_eq!(found.longest_land, kilometres(land));
            assert_eq!(found.longest_inland, kilometres(inland));
        }
    }
    // No stretch is longer than the path, and all of it counts where none is given.
    let long = Climate {
        longest_land: Some(kilometres(90.0)),
        longest_inland: Some(kilometres(90.0)),
        ..Climate::DEFAULT
    };
    assert_eq!(at(&ground, long).anomaly, at(&ground, Climate::DEFAULT).anomaly);
    assert_eq!(at(&ground, long).anomaly.longest_land, kilometres(40.0));
}

/// Equation (49) by hand: -3 exp(-0.25 d^2) (1 + tanh(0.07 (50 - h))) dB for a
/// coast d km away and an antenna h metres over the sea; here 50 and 30 m. It
/// counts from three quarters of sea on, for a coast within 5 km and the horizon.
#[test]
fn a_coast_near_an_antenna_makes_its_duct_cheaper() {
    let by_hand =
        |d: f64, h: f64| -3.0 * (-0.25 * d * d).exp() * (1.0 + (0.07 * (50.0 - h)).tanh());
    let inland = Climate { sea_share: 0.8, ..for_time(10.0) };
    let cheaper = |ground: &Profile, climate: Climate| {
        (at(ground, climate).ducting - at(ground, inland).ducting).value()
    };
    let from = |km: f64| Climate { transmitter_to_coast: kilometres(km), ..inland };
    let to = |km: f64| Climate { receiver_to_coast: kilometres(km), ..inland };
    let (far, near) = (ridge(12, 200.0), ridge(3, 200.0));
    for d in [0.0, 0.5, 2.0, 5.0] {
        assert_abs_diff_eq!(cheaper(&far, from(d)), by_hand(d, 50.0), epsilon = 1e-9);
        assert_abs_diff_eq!(cheaper(&far, to(d)), by_hand(d, 30.0), epsilon = 1e-9);
    }
    assert_abs_diff_eq!(by_hand(2.0, 30.0), -2.0807, epsilon = 1e-4);
    assert_eq!(cheaper(&far, from(5.01)), 0.0);
    assert_eq!(cheaper(&far, to(5.01)), 0.0);
    // Behind the ridge that is the horizon, 3 km away.
    assert_abs_diff_eq!(cheaper(&near, from(3.0)), by_hand(3.0, 50.0), epsilon = 1e-9);
    assert_eq!(cheaper(&near, from(3.01)), 0.0);
    for (sea_share, counts) in [(0.75, true), (0.749, false)] {
        let with = |climate: Climate| at(&far, Climate { sea_share, ..climate }).ducting;
        let change = (with(from(1.0)) - with(inland)).value();
        assert_abs_diff_eq!(change, if counts { by_hand(1.0, 50.0) } else { 0.0 }, epsilon = 1e-9);
    }
}

/// Equation (59): diffraction counts by the share of land, over a clear line
/// where the share of time is below b0, else as a mean of two states by Fi.
#[test]
fn the_least_loss_counts_diffraction_over_land_alone() {
    let ground = ridge(12, 200.0);
    for sea_share in [0.0, 0.3, 1.0] {
        for percent in [1.0, 10.0, 50.0] {
            let found = at(&ground, Climate { sea_share, ..for_time(percent) });
            let over_land = found.diffraction.result * (1.0 - sea_share);
            let median = found.combination.median_with_diffraction;
            let least = if percent < found.anomaly.time.value() {
                found.line_of_sight.loss + over_land
            } else {
                let anomalous = found.line_of_sight.anomalous + over_land;
                median + (anomalous - median) * found.anomaly.lean
            };
            let gap = (found.combination.least - least).value();
            assert!(gap.abs() < 1e-9, "{sea_share} {percent}: {gap}");
        }
    }
}

/// P.1812 section 4.3.3: over smooth ground the spherical earth is that of land
/// and of sea by their shares.
#[test]
fn the_smooth_earth_is_wet_by_its_share() {
    let level = ridge(12, 20.0);
    let wet = |sea_share: f64| {
        at(&level, Climate { sea_share, ..Climate::DEFAULT }).diffraction.median.spherical_earth
    };
    let (tx, rx) = (Metres::new(30.0), Metres::new(10.0));
    let path = Path::new(&level, tx, rx, Megahertz::new(446.0));
    let over =
        |ground| SphericalEarth::of(&path.with_ground(ground)).loss(path.length(), tx, rx).value();
    let (land, sea) = (over(GroundConstants::LAND), over(GroundConstants::SEA));
    assert!((land - sea).abs() > 0.01, "{land} {sea}");
    assert_abs_diff_eq!(wet(0.0).value(), land, epsilon = 1e-9);
    assert_abs_diff_eq!(wet(1.0).value(), sea, epsilon = 1e-9);
    assert_abs_diff_eq!(wet(0.4).value(), 0.6 * land + 0.4 * sea, epsilon = 1e-9);
}

/// Equations (58), (61) and (62) by hand: ducts count where they cost less than
/// diffraction, by how far the path is long, which it begins to be around 20 km.
#[test]
fn ducts_count_where_they_cost_less_and_the_path_is_long() {
    let mut seen = [0; 2];
    for top in [30.0, 200.0, 600.0] {
        for percent in [1.0, 10.0, 50.0] {
            let found = at(&ridge(12, top), for_time(percent)).combination;
            let short = 0.5 - 0.5 * (1.5 * (40.0 - 20.0) / 20.0f64).tanh();
            assert_abs_diff_eq!(found.short, short, epsilon = 1e-12);
            let (duct, bent) = (found.least_ducting.value(), found.with_diffraction.value());
            let ducting_counts = duct <= bent;
            let better = if ducting_counts { (1.0 - short) * duct + short * bent } else { bent };
            assert_abs_diff_eq!(found.diffraction_or_duct.value(), better, epsilon = 1e-9);
            let mixed = found.clear * found.least.value() + (1.0 - found.clear) * better;
            assert_abs_diff_eq!(found.without_scatter.value(), mixed, epsilon = 1e-9);
            seen[usize::from(ducting_counts)] += 1;
        }
    }
    assert!(seen.iter().all(|count| *count > 0), "{seen:?}");
}

/// Equations (46) to (56) worked out apart, in another language: 200 km with a
/// ridge of 2000 m halfway, which both antennas see and which is all of the
/// roughness; the inland stretch lowers the exponent of equation (55).
#[test]
fn a_long_duct_over_a_ridge_comes_to_a_hand_calculation() {
    let distance: Vec<f64> = (0..=800).map(|i| f64::from(i) * 250.0).collect();
    let mut height = vec![20.0; 801];
    height[400] = 2000.0;
    let ground = Profile::new(distance, height).unwrap();
    for (inland, percent, by_hand) in [
        (20.0, 1.0, 235.8904),
        (20.0, 50.0, 308.417),
        (200.0, 1.0, 238.8268),
        (200.0, 50.0, 309.557),
    ] {
        let longest_inland = Some(kilometres(inland));
        let found = at(&ground, Climate { longest_inland, ..for_time(percent) });
        assert_abs_diff_eq!(found.geometry.transmitter_horizon.value(), 1e5);
        assert_abs_diff_eq!(found.ducting.value(), by_hand, epsilon = 1e-3);
    }
}
