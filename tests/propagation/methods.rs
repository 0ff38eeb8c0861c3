//! What every method has to do: agree with hand calculations where the ground
//! is simple, be the same in both directions, and give a loss for any ground.

use std::collections::BTreeSet;

use approx::assert_abs_diff_eq;
use perchline::propagation::bullington::Bullington;
use perchline::propagation::clearance::{clearance, line_of_sight, take_off};
use perchline::propagation::delta_bullington::{DeltaBullington, terms};
use perchline::propagation::epstein_peterson::EpsteinPeterson;
use perchline::propagation::single_edge::SingleEdge;
use perchline::propagation::spherical_earth::SphericalEarth;
use perchline::propagation::three_edge::ThreeEdge;
use perchline::propagation::{
    Climate, Counted, Edge, EffectiveEarth, GroundConstants, METHODS, Obstructions, Path, PathLoss,
    Profile, SweptForm, default_method, knife_edge, method, method_that_counts,
};
use perchline::units::{Megahertz, Metres, Percent, Polarization, SPEED_OF_LIGHT};
use proptest::prelude::*;

/// An earth without bulge, for hand calculations.
const PLANE: EffectiveEarth = EffectiveEarth::from_radius(Metres::new(1e15));
/// The frequency of a wave of 2 m.
const TWO_METRES: Megahertz = Megahertz::new(SPEED_OF_LIGHT / 2e6);

fn profile(points: &[(f64, f64)]) -> Profile {
    let (distance, height) = points.iter().copied().unzip();
    Profile::new(distance, height).unwrap()
}

/// Antennas at the ground at both ends over a plane earth, at 2 m.
fn bare<'a>(profile: &'a Profile) -> Path<'a> {
    Path::new(profile, Metres::new(0.0), Metres::new(0.0), TWO_METRES).with_earth(PLANE)
}

/// The least that a method may give. P.1812 rounds the constant of free space,
/// 92.4478 dB at 1 GHz and 1 km, to 92.4 (its equation (8)).
fn least(method: &dyn PathLoss) -> f64 {
    if method.name() == "p1812" { 92.4 - 92.447_783_222 } else { 0.0 }
}

fn run(method: &dyn PathLoss, path: &Path<'_>) -> (f64, Vec<Edge>) {
    let mut edges = Vec::new();
    let loss = method.diffraction(path, &mut |edge| edges.push(edge));
    (loss.value(), edges)
}

/// nu of an edge `height` over a line, `d1` and `d2` from its ends, at 2 m.
fn nu(height: f64, d1: f64, d2: f64) -> f64 {
    height * (2.0 * (d1 + d2) / (2.0 * d1 * d2)).sqrt()
}

fn j(height: f64, d1: f64, d2: f64) -> f64 {
    knife_edge::loss(nu(height, d1, d2)).value()
}

#[test]
fn every_method_has_a_name_of_its_own_and_says_where_it_comes_from() {
    let names: BTreeSet<_> = METHODS.iter().map(|m| m.name()).collect();
    assert_eq!(names.len(), METHODS.len());
    for m in METHODS {
        assert_eq!(method(m.name()).map(|found| found.source()), Some(m.source()));
        assert!(!m.summary().is_empty() && m.source().contains("ITU-R P."), "{}", m.name());
        for common in [146.0, 446.0] {
            assert!(m.valid_frequency().contains(&Megahertz::new(common)), "{}", m.name());
        }
        assert!(m.valid_distance().contains(&Metres::new(5000.0)), "{}", m.name());
    }
    assert!(method("guesswork").is_none());
}

/// The names that plans hold and what docs/methods.md and docs/sweep.md say of
/// each: whether maps are swept with it, and the ranges for which it is given.
#[test]
fn names_ranges_and_swept_forms_are_those_of_the_docs() {
    let knife_edges = (30.0..=6000.0, 10.0..=200_000.0);
    for (name, swept, (frequencies, lengths)) in [
        ("delta-bullington", Some(SweptForm::DeltaBullington), knife_edges.clone()),
        ("bullington", Some(SweptForm::Bullington), knife_edges.clone()),
        ("three-edge", None, knife_edges.clone()),
        ("epstein-peterson", None, knife_edges.clone()),
        ("single-edge", Some(SweptForm::SingleEdge), knife_edges),
        ("free-space", Some(SweptForm::FreeSpace), (30.0..=10_000.0, 1.0..=1e6)),
        ("p1812", None, (30.0..=6000.0, 10.0..=3e6)),
    ] {
        let found = method(name).unwrap();
        assert_eq!((found.name(), found.swept()), (name, swept));
        let (f, d) = (found.valid_frequency(), found.valid_distance());
        assert_eq!(f.start().value()..=f.end().value(), frequencies, "{name}");
        assert_eq!(d.start().value()..=d.end().value(), lengths, "{name}");
    }
    assert_eq!(default_method().name(), "delta-bullington");
}

/// What docs/methods.md says that each method counts; no two count the same.
#[test]
fn methods_state_what_they_count() {
    let horizons = Counted::edges(Obstructions::Horizons);
    for (name, counted) in [
        ("delta-bullington", horizons.and_smooth_earth()),
        ("bullington", horizons),
        ("three-edge", Counted::edges(Obstructions::WorstAndSides)),
        ("epstein-peterson", Counted::edges(Obstructions::EveryRidge)),
        ("single-edge", Counted::edges(Obstructions::Worst)),
        ("free-space", Counted::DISTANCE),
        ("p1812", horizons.and_smooth_earth().and_climate()),
    ] {
        assert_eq!(method(name).unwrap().counted(), counted, "{name}");
        assert_eq!(method_that_counts(counted).map(|m| m.name()), Some(name));
    }
    assert!(method_that_counts(Counted::DISTANCE.and_climate()).is_none());
}

/// Losses bear out what is stated: over a ridge a method notes edges if it counts
/// obstructions; low over level ground it comes to more than the method that
/// counts the same but no smooth earth; and a loss that holds for less of the time
/// is another one where the climate counts.
#[test]
fn losses_bear_out_what_is_stated() {
    let ridge = profile(&[(0.0, 100.0), (3000.0, 140.0), (8000.0, 100.0)]);
    let level: Vec<_> = (0..=200).map(|i| (f64::from(i) * 400.0, 0.0)).collect();
    let level = profile(&level);
    let low = Path::new(&level, Metres::new(2.0), Metres::new(2.0), TWO_METRES);
    let seldom = Climate { time: Percent::new(1.0), ..Climate::DEFAULT };
    for method in METHODS {
        let (name, counted) = (method.name(), method.counted());
        let (_, edges) = run(*method, &bare(&ridge));
        assert_eq!(edges.is_empty(), counted.obstructions == Obstructions::None, "{name}");
        let loss = run(*method, &low).0;
        let rough = method_that_counts(Counted::edges(counted.obstructions)).unwrap();
        let smooth = loss - run(rough, &low).0;
        assert_eq!(smooth > 1.0, counted.smooth_earth, "{name}: {smooth}");
        let moved = (run(*method, &low.with_climate(seldom).unwrap()).0 - loss).abs();
        assert_eq!(moved > 1.0, counted.climate, "{name}: {moved}");
    }
}

/// One sharp edge, 40 m over the line, 3 km and 5 km from its ends.
#[test]
fn one_sharp_edge_costs_j_plus_what_each_source_adds() {
    let ground = profile(&[(0.0, 100.0), (3000.0, 140.0), (8000.0, 100.0)]);
    let path = bare(&ground);
    let alone = j(40.0, 3000.0, 5000.0);
    let share = 1.0 - (-alone / 6.0).exp();
    for (method, added) in [
        (&SingleEdge as &dyn PathLoss, 0.0),
        (&EpsteinPeterson, 0.0),
        // P.526-15 section 4.5.1, and section 4.4.2 of P.526-12, 8 km.
        (&Bullington, share * (10.0 + 0.02 * 8.0)),
        (&ThreeEdge, share * (10.0 + 0.04 * 8.0)),
    ] {
        let (loss, edges) = run(method, &path);
        assert_abs_diff_eq!(loss, alone + added, epsilon = 1e-6);
        let [edge] = edges.as_slice() else { panic!("{}: {edges:?}", method.name()) };
        assert_abs_diff_eq!(edge.distance.value(), 3000.0, epsilon = 1e-6);
        assert_abs_diff_eq!(edge.height.value(), 140.0, epsilon = 1e-6);
        assert_abs_diff_eq!(edge.nu, nu(40.0, 3000.0, 5000.0), epsilon = 1e-6);
        assert_abs_diff_eq!(edge.loss.value(), alone, epsilon = 1e-6);
    }
}

/// P.526-15 section 4.4.1 by hand: edges of 200 m and 220 m, 3, 4 and 5 km apart.
#[test]
fn two_ridges_cost_what_the_double_edge_section_says() {
    let ground =
        profile(&[(0.0, 0.0), (3000.0, 200.0), (5000.0, 0.0), (7000.0, 220.0), (12_000.0, 0.0)]);
    let (a, b, c) = (3000.0, 4000.0, 5000.0);
    let first = j(200.0 - 220.0 * a / (a + b), a, b);
    let second = j(220.0 - 200.0 * c / (b + c), b, c);
    assert!(first > 15.0 && second > 15.0, "{first} {second}");
    let correction = 10.0 * ((a + b) * (b + c) / (b * (a + b + c))).log10();
    let (loss, edges) = run(&EpsteinPeterson, &bare(&ground));
    assert_eq!(edges.len(), 2);
    assert_abs_diff_eq!(loss, first + second + correction, epsilon = 1e-6);

    // Three-edge: the second ridge leads (nu 4.07 against 4.22), the first is its side edge.
    let leads = nu(200.0, 3000.0, 9000.0) < nu(220.0, 7000.0, 5000.0);
    let (main, side) =
        if leads { (j(220.0, 7000.0, 5000.0), first) } else { (j(200.0, 3000.0, 9000.0), second) };
    let share = 1.0 - (-main / 6.0).exp();
    let (loss, edges) = run(&ThreeEdge, &bare(&ground));
    assert_abs_diff_eq!(loss, main + share * (side + 10.0 + 0.04 * 12.0), epsilon = 1e-6);
    assert_eq!(edges.len(), 2);
}

/// Bullington by hand: horizons from both ends meet over the valley.
#[test]
fn the_virtual_edge_stands_where_the_horizons_meet() {
    let ground =
        profile(&[(0.0, 0.0), (2000.0, 100.0), (5000.0, 0.0), (8000.0, 100.0), (1e4, 0.0)]);
    // Both rise 1 in 20, so they meet midway at 250 m.
    let alone = j(250.0, 5000.0, 5000.0);
    let (loss, edges) = run(&Bullington, &bare(&ground));
    assert_abs_diff_eq!(edges[0].distance.value(), 5000.0, epsilon = 1e-3);
    assert_abs_diff_eq!(edges[0].height.value(), 250.0, epsilon = 1e-3);
    let share = 1.0 - (-alone / 6.0).exp();
    assert_abs_diff_eq!(loss, alone + share * (10.0 + 0.02 * 10.0), epsilon = 1e-6);
}

/// A hill with the shape of a parabola, and others with flat ground around.
fn hills(spacing: f64, centres: &[f64], top: f64, half_width: f64) -> Profile {
    let count = (12_000.0 / spacing) as u32;
    let points: Vec<(f64, f64)> = (0..=count)
        .map(|i| {
            let d = f64::from(i) * spacing;
            let hill = |centre: f64| top * (1.0 - ((d - centre) / half_width).powi(2)).max(0.0);
            (d, centres.iter().map(|c| hill(*c)).fold(0.0, f64::max))
        })
        .collect();
    profile(&points)
}

#[test]
fn a_rounded_hill_is_one_edge_however_finely_it_is_sampled() {
    for (centres, frequency) in [
        (&[5000.0][..], 146.0),
        (&[5000.0], 446.0),
        (&[3500.0, 8500.0], 146.0),
        (&[3500.0, 8500.0], 446.0),
    ] {
        let mut widest: f64 = 0.0;
        let mut first = None;
        for spacing in [10.0, 20.0, 50.0, 100.0] {
            let ground = hills(spacing, centres, 120.0, 1200.0);
            let path =
                Path::new(&ground, Metres::new(30.0), Metres::new(1.5), Megahertz::new(frequency));
            let (loss, edges) = run(&EpsteinPeterson, &path);
            assert_eq!(edges.len(), centres.len(), "{spacing} m, {frequency} MHz: {edges:?}");
            let first = *first.get_or_insert(loss);
            widest = widest.max((loss - first).abs());
        }
        println!(
            "\nfigure epstein_peterson_sampling_spread_{}_hills_{frequency}_mhz {widest:.3} dB",
            centres.len()
        );
        assert!(widest < 1.0, "{widest} dB at {frequency} MHz");
    }
}

/// A wave of 2 m between crests 4 km apart: first Fresnel radius 44.7 m midway.
#[test]
fn a_saddle_parts_two_hills_where_it_is_deeper_than_the_rule_says() {
    let radius = (2.0f64 * 2000.0 * 2000.0 / 4000.0).sqrt();
    for (dip, count) in [(0.58, 1), (0.62, 2)] {
        let saddle = 150.0 - dip * radius;
        let ground = profile(&[
            (0.0, 0.0),
            (3000.0, 150.0),
            (5000.0, saddle),
            (7000.0, 150.0),
            (10_000.0, 0.0),
        ]);
        assert_eq!(run(&EpsteinPeterson, &bare(&ground)).1.len(), count, "{dip}");
    }
}

#[test]
fn the_highest_of_a_hills_points_stands_for_it() {
    let ground =
        profile(&[(0.0, 0.0), (2900.0, 147.0), (3000.0, 150.0), (3100.0, 149.0), (8000.0, 0.0)]);
    let (loss, edges) = run(&EpsteinPeterson, &bare(&ground));
    assert_eq!(edges.len(), 1);
    assert_abs_diff_eq!(edges[0].distance.value(), 3000.0, epsilon = 1e-6);
    assert_abs_diff_eq!(loss, j(150.0, 3000.0, 5000.0), epsilon = 1e-6);
}

/// Ridges that barely reach the line count all the same; below 15 dB a pair
/// has no correction.
#[test]
fn two_low_ridges_are_two_edges() {
    let ground =
        profile(&[(0.0, 0.0), (3000.0, 3.0), (5000.0, -90.0), (7000.0, 3.0), (10_000.0, 0.0)]);
    let (loss, edges) = run(&EpsteinPeterson, &bare(&ground));
    let each = j(3.0 - 3.0 * 3.0 / 7.0, 3000.0, 4000.0);
    assert_eq!(edges.len(), 2);
    assert_abs_diff_eq!(loss, 2.0 * each, epsilon = 1e-6);
}

#[test]
fn a_plateau_is_one_hill() {
    let points: Vec<_> = (0..=1000)
        .map(|i| (f64::from(i) * 10.0, if (300..=700).contains(&i) { 150.0 } else { 0.0 }))
        .collect();
    let ground = profile(&points);
    assert_eq!(run(&EpsteinPeterson, &bare(&ground)).1.len(), 1);
}

/// The other methods over the same rounded hill: how far a raster of 100 m is
/// from one of 10 m.
#[test]
fn the_default_method_does_not_hang_on_the_sampling() {
    for m in METHODS {
        let mut widest: f64 = 0.0;
        for centres in [&[5000.0][..], &[3500.0, 8500.0]] {
            for frequency in [146.0, 446.0] {
                let losses = [10.0, 100.0].map(|spacing| {
                    let ground = hills(spacing, centres, 120.0, 1200.0);
                    let (tx, rx) = (Metres::new(30.0), Metres::new(1.5));
                    run(*m, &Path::new(&ground, tx, rx, Megahertz::new(frequency))).0
                });
                widest = widest.max((losses[0] - losses[1]).abs());
            }
        }
        println!("\nfigure sampling_spread_{} {widest:.3} dB", m.name().replace('-', "_"));
        if m.name() == DeltaBullington.name() {
            assert!(widest < 1.0, "{widest} dB");
        }
    }
}

/// Over smooth ground at sea level the method has to come back to the
/// spherical earth that it is corrected by (P.526-15 section 4.5.2).
#[test]
fn over_smooth_ground_delta_bullington_is_the_spherical_earth() {
    for (kilometres, heights) in [(10.0, (2.0, 2.0)), (30.0, (20.0, 2.0)), (80.0, (30.0, 10.0))] {
        let points: Vec<_> =
            (0..=800).map(|i| (f64::from(i) / 800.0 * kilometres * 1e3, 0.0)).collect();
        let sea = profile(&points);
        for polarization in [Polarization::Vertical, Polarization::Horizontal] {
            for ground in [GroundConstants::SEA, GroundConstants::LAND] {
                let (tx, rx) = (Metres::new(heights.0), Metres::new(heights.1));
                let path = Path::new(&sea, tx, rx, Megahertz::new(146.0))
                    .with_ground(ground)
                    .with_polarization(polarization);
                let smooth = SphericalEarth::of(&path).loss(path.length(), tx, rx);
                let found = terms(&path);
                assert!(found.spherical_earth > found.bullington_smooth, "{found:?}");
                assert_abs_diff_eq!(found.result.value(), smooth.value(), epsilon = 1e-6);
            }
        }
    }
}

/// Level ground within sight, antennas low against the distance: the direct and
/// the reflected wave nearly cancel and leave 40 log d - 20 log(h1 h2) dB, the
/// plane-earth law of every textbook.
#[test]
fn over_level_ground_delta_bullington_comes_to_the_plane_earth() {
    let mut worst: f64 = 0.0;
    for (kilometres, tx, rx) in
        [(3.0, 10.0, 3.0), (5.0, 20.0, 1.5), (5.0, 30.0, 3.0), (8.0, 30.0, 1.5)]
    {
        let points: Vec<_> =
            (0..=300).map(|i| (f64::from(i) / 300.0 * kilometres * 1e3, 200.0)).collect();
        let ground = profile(&points);
        let path = Path::new(&ground, Metres::new(tx), Metres::new(rx), Megahertz::new(146.0));
        let law = 40.0 * (kilometres * 1e3).log10() - 20.0 * (tx * rx).log10();
        worst = worst.max((DeltaBullington.loss(&path).value() - law).abs());
    }
    println!("\nfigure delta_bullington_plane_earth_worst_db {worst:.2} dB");
    assert!(worst < 3.0, "{worst} dB");
}

/// Two limits of delta-Bullington that a planner should know: a ridge drawn with
/// three points is a tent as wide as the path, and a thin ridge on a plain lifts
/// the effective heights, so that a low antenna may fare better than without it.
#[test]
fn what_a_thin_ridge_on_a_plain_costs_hangs_on_how_it_is_drawn() {
    let loss = |ground: &Profile| {
        let (mast, person) = (Metres::new(20.0), Metres::new(1.5));
        run(&DeltaBullington, &Path::new(ground, mast, person, Megahertz::new(146.0))).0
    };
    let plain = |top: f64| -> Vec<(f64, f64)> {
        let height = |d: f64| if d == 2000.0 { top } else { 5.0 };
        (0..=500).map(|i| f64::from(i) * 10.0).map(|d| (d, height(d))).collect()
    };
    let tent = loss(&profile(&[(0.0, 5.0), (2000.0, 60.0), (5000.0, 5.0)]));
    let ridge = loss(&profile(&plain(60.0)));
    let bare = loss(&profile(&plain(5.0)));
    println!("\nfigure thin_ridge_as_tent_db {tent:.1} dB");
    println!("\nfigure thin_ridge_on_plain_db {ridge:.1} dB");
    println!("\nfigure plain_without_ridge_db {bare:.1} dB");
    assert!(tent > ridge + 10.0, "{tent} {ridge}");
    assert!(ridge < bare, "{ridge} {bare}");
}

/// By hand: ground 3 m below the middle of a clear line of 8 km reaches into its
/// Fresnel zone, nu = -0.067, and costs J(nu) = 5.4 dB; ground far below it
/// costs nothing.
#[test]
fn ground_in_the_fresnel_zone_of_a_clear_line_counts_as_an_edge() {
    let over =
        |middle: f64| profile(&[(0.0, 100.0), (2e3, 0.0), (4e3, middle), (6e3, 0.0), (8e3, 100.0)]);
    let (near, far) = (over(97.0), over(20.0));
    for m in [&SingleEdge as &dyn PathLoss, &EpsteinPeterson] {
        let (loss, edges) = run(m, &bare(&near));
        assert_abs_diff_eq!(loss, j(-3.0, 4e3, 4e3), epsilon = 1e-6);
        assert!((5.0..6.0).contains(&loss), "{loss}");
        assert_eq!(edges.len(), 1, "{}", m.name());
        assert_abs_diff_eq!(edges[0].nu, nu(-3.0, 4e3, 4e3), epsilon = 1e-9);
        assert_abs_diff_eq!(edges[0].height.value(), 97.0, epsilon = 1e-6);
    }
    for m in METHODS.iter().filter(|m| m.name() != "p1812") {
        let (loss, edges) = run(*m, &bare(&far));
        assert!(edges.is_empty(), "{}: {edges:?}", m.name());
        assert!(loss < 0.5, "{}: {loss}", m.name());
    }
}

/// Both frequencies of a relay at once come to what each comes to alone.
#[test]
fn two_frequencies_at_once_are_two_losses() {
    let ground = hills(50.0, &[5000.0], 120.0, 1200.0);
    let (tx, rx) = (Metres::new(30.0), Metres::new(1.5));
    let path = Path::new(&ground, tx, rx, Megahertz::new(446.0));
    for m in METHODS {
        for other in [446.0, 147.0].map(Megahertz::new) {
            let alone = [path, path.with_frequency(other)].map(|path| run(*m, &path).0);
            let both = m.at_both(&path, other).map(|excess| excess.loss.value());
            for (both, alone) in both.into_iter().zip(alone) {
                assert_abs_diff_eq!(both, alone, epsilon = 1e-9);
            }
        }
    }
}

/// Over a round earth too an edge is told at its height above the sea.
#[test]
fn the_height_of_an_edge_is_that_of_its_ground() {
    let ground = profile(&[(0.0, 20.0), (15e3, 300.0), (40e3, 20.0)]);
    let mast = Metres::new(20.0);
    let path = Path::new(&ground, mast, mast, Megahertz::new(146.0));
    for m in [&SingleEdge as &dyn PathLoss, &ThreeEdge, &EpsteinPeterson, &Bullington] {
        let (_, edges) = run(m, &path);
        assert_eq!(edges.len(), 1, "{}", m.name());
        assert_abs_diff_eq!(edges[0].height.value(), 300.0, epsilon = 1e-6);
        assert_abs_diff_eq!(edges[0].distance.value(), 15e3, epsilon = 1e-6);
    }
}

/// P.526-15 section 4.5.3 lowers the smooth surface where ground rises over the
/// line between the antennas, not where it just reaches it.
#[test]
fn ground_that_just_reaches_the_line_lowers_no_surface() {
    let height = |d: f64| if d == 0.0 || d == 2000.0 || d == 4000.0 { 0.0 } else { -20.0 };
    let points: Vec<_> = (0..=40).map(|i| f64::from(i) * 100.0).map(|d| (d, height(d))).collect();
    let ground = profile(&points);
    let found = terms(&bare(&ground));
    // The line that fits lies near the ground of -20 m, so that both antennas
    // stand high over it.
    for effective in [found.effective_transmitter, found.effective_receiver] {
        assert!((17.0..20.0).contains(&effective.value()), "{effective}");
    }
}

/// The horizon branch of the spherical earth must meet the one within sight.
#[test]
fn the_spherical_earth_has_no_step_at_the_horizon() {
    let ground = profile(&[(0.0, 0.0), (1.0, 0.0)]);
    let path = Path::new(&ground, Metres::new(0.0), Metres::new(0.0), Megahertz::new(146.0));
    let earth = SphericalEarth::of(&path);
    let (tx, rx) = (Metres::new(30.0), Metres::new(2.0));
    let radius = path.earth().radius().value();
    let horizon = (2.0 * radius).sqrt() * (30f64.sqrt() + 2f64.sqrt());
    let [near, far] =
        [0.999_999, 1.000_001].map(|part| earth.loss(Metres::new(horizon * part), tx, rx).value());
    assert!(near > 10.0, "{near}");
    assert_abs_diff_eq!(near, far, epsilon = 1e-3);
}

/// An antenna on the ground is where P.526-15 equations (21) to (24) divide zero
/// by zero; the loss has to run up to that of the lowest antenna above it.
#[test]
fn an_antenna_on_the_ground_costs_as_much_as_one_a_hair_above_it() {
    for k in [4.0 / 3.0, 1e9] {
        let ground = profile(&[(0.0, 250.0), (10.0, 250.0)]);
        let loss = |tx: f64, rx: f64| {
            let (tx, rx) = (Metres::new(tx), Metres::new(rx));
            let path = Path::new(&ground, tx, rx, Megahertz::new(30.0))
                .with_polarization(Polarization::Horizontal)
                .with_earth(EffectiveEarth::from_k_factor(k));
            run(&DeltaBullington, &path).0
        };
        assert!(loss(0.0, 1.5) > 10.0, "{}", loss(0.0, 1.5));
        assert_abs_diff_eq!(loss(0.0, 1.5), loss(1e-9, 1.5), epsilon = 0.01);
        assert_abs_diff_eq!(loss(0.0, 1.5), loss(1.5, 0.0), epsilon = 1e-4);
    }
}

#[test]
fn nothing_near_the_line_leaves_free_space() {
    let ground = hills(50.0, &[5000.0], 20.0, 1200.0);
    let path = Path::new(&ground, Metres::new(400.0), Metres::new(400.0), Megahertz::new(146.0));
    for m in METHODS {
        let (loss, edges) = run(*m, &path);
        assert_abs_diff_eq!(loss, least(*m), epsilon = 1e-8);
        assert_eq!(edges.len(), 0, "{}", m.name());
    }
    assert!(clearance(&path).unwrap().worst_ratio > 1.0);
}

/// A path that owns its ground.
#[derive(Debug, Clone)]
struct Case {
    ground: Profile,
    heights: (f64, f64),
    frequency: f64,
    k: f64,
    sea: bool,
    polarization: Polarization,
}

impl Case {
    fn over<'a>(&self, ground: &'a Profile, (tx, rx): (f64, f64)) -> Path<'a> {
        Path::new(ground, Metres::new(tx), Metres::new(rx), Megahertz::new(self.frequency))
            .with_earth(EffectiveEarth::from_k_factor(self.k))
            .with_ground(if self.sea { GroundConstants::SEA } else { GroundConstants::LAND })
            .with_polarization(self.polarization)
    }

    fn path(&self) -> Path<'_> {
        self.over(&self.ground, self.heights)
    }
}

/// Ground of any kind: level, sea, rough, cliffs; 2 to 300 points; 10 m to 100 km.
fn case() -> impl Strategy<Value = Case> {
    let height = prop_oneof![
        Just(0.0),
        Just(250.0),
        -50.0..50.0,
        0.0..2500.0,
        prop_oneof![Just(0.0), Just(600.0)]
    ];
    let heights = prop_oneof![
        prop::collection::vec(height, 2..300),
        (2usize..300, -100.0..3000.0).prop_map(|(count, level)| vec![level; count]),
        prop::collection::vec(0.0..15.0, 2..300),
    ];
    let antenna = || prop_oneof![Just(0.0), Just(1.5), 0.0..5.0, 0.0..150.0];
    (
        heights,
        (1.0..5.0f64),
        (antenna(), antenna()),
        30.0..6000.0,
        prop_oneof![Just(4.0 / 3.0), 0.5..10.0, Just(1e9)],
        any::<bool>(),
        any::<bool>(),
    )
        .prop_map(|(height, magnitude, heights, frequency, k, sea, upright)| {
            let step = 10f64.powf(magnitude) / (height.len() - 1) as f64;
            let distance = (0..height.len()).map(|i| i as f64 * step).collect();
            Case {
                ground: Profile::new(distance, height).unwrap(),
                heights,
                frequency,
                k,
                sea,
                polarization: if upright {
                    Polarization::Vertical
                } else {
                    Polarization::Horizontal
                },
            }
        })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 1500, failure_persistence: None, ..Default::default() })]

    #[test]
    fn any_ground_gives_a_loss(case in case()) {
        let path = case.path();
        for m in METHODS {
            let (loss, edges) = run(*m, &path);
            prop_assert!(loss.is_finite() && loss >= least(*m) - 1e-8, "{}: {}", m.name(), loss);
            prop_assert!(m.loss(&path).value().is_finite());
            let mut last = 0.0;
            for edge in edges {
                prop_assert!(edge.distance.value() > last, "{}: {:?}", m.name(), edge);
                prop_assert!(edge.distance < path.length() && edge.loss.value() > 0.0);
                prop_assert!(edge.height.value().is_finite() && edge.nu.is_finite());
                last = edge.distance.value();
            }
        }
        let found = terms(&path);
        for term in [found.bullington_actual, found.bullington_smooth, found.spherical_earth] {
            prop_assert!(term.value().is_finite() && term.value() >= 0.0, "{:?}", found);
        }
        for height in [found.effective_transmitter, found.effective_receiver] {
            prop_assert!(height.value().is_finite() && height.value() > -1e-9, "{:?}", found);
        }
        prop_assert_eq!(found.result, DeltaBullington.diffraction(&path, &mut |_| {}));
    }

    #[test]
    fn either_direction_gives_the_same_loss(case in case()) {
        let back = case.ground.reversed();
        let (there, back) = (case.path(), case.over(&back, (case.heights.1, case.heights.0)));
        for m in METHODS {
            let (one, other) = (run(*m, &there).0, run(*m, &back).0);
            // Rounding alone; an antenna on the ground makes the most of it.
            prop_assert!((one - other).abs() < 0.01, "{}: {} and {}", m.name(), one, other);
        }
        let (out, home) = (take_off(&there), take_off(&back));
        prop_assert!((out.at_transmitter.value() - home.at_receiver.value()).abs() < 1e-6);
        prop_assert!((out.at_receiver.value() - home.at_transmitter.value()).abs() < 1e-6);
    }

    #[test]
    fn clearance_take_off_and_methods_tell_one_story(case in case()) {
        let path = case.path();
        let Some(found) = clearance(&path) else {
            prop_assert!(line_of_sight(&path) && case.ground.len() == 2);
            return Ok(());
        };
        prop_assert_eq!(found.line_of_sight, line_of_sight(&path));
        prop_assert_eq!(found.line_of_sight, found.first_obstruction.is_none());
        prop_assert_eq!(found.line_of_sight, found.worst_ratio > 0.0);
        // nu is -sqrt(2) times the clearance in Fresnel radii (P.526-15 section 4.1).
        let (single, edges) = run(&SingleEdge, &path);
        if let [edge] = edges.as_slice() {
            let ratio = -edge.nu / 2f64.sqrt();
            prop_assert!((ratio - found.worst_ratio).abs() < 1e-6 * (1.0 + ratio.abs()));
        } else {
            prop_assert!(single == 0.0 && found.worst_ratio > 0.55);
        }
        // The virtual edge of Bullington stands over all ground.
        let bullington = run(&Bullington, &path).0;
        prop_assert!(bullington >= single - 1e-6, "{} under {}", bullington, single);
    }
}
