//! Woods on a path: leaves or an obstacle, whichever costs less.

use approx::assert_abs_diff_eq;
use perchline::link::Propagator;
use perchline::propagation::p833::woodland_loss;
use perchline::propagation::{Climate, EffectiveEarth, METHODS, Profile};
use perchline::units::{Megahertz, Metres, Polarization};

/// A profile of 2 km over level ground with 15 m of trees, a hand-held's end in
/// the last 100 m of them.
fn edge_of_a_wood() -> (Profile, Vec<f64>) {
    let distances: Vec<f64> = (0..=400).map(|i| f64::from(i) * 5.0).collect();
    let wood = distances.iter().map(|d| if *d > 1900.0 { 15.0 } else { 0.0 }).collect();
    (Profile::new(distances, vec![50.0; 401]).unwrap(), wood)
}

fn by(method: &str) -> Propagator {
    Propagator {
        method: perchline::propagation::method(method).unwrap(),
        earth: EffectiveEarth::default(),
        climate: Climate::DEFAULT,
        polarization: Polarization::Vertical,
    }
}

/// Two accounts of the same wood around a hand-held at 147 MHz: an obstacle of
/// 15 m (delta-Bullington over P.1812's height) and a depth of leaves (P.833).
/// A wave takes the better way: what counts is the leaves.
#[test]
fn a_wood_counts_as_leaves_where_they_cost_less_than_going_over() {
    let (ground, wood) = edge_of_a_wood();
    let solid = ground.clone().with_cover(wood.clone()).unwrap();
    let wooded = solid.clone().with_woods(wood).unwrap();
    let frequency = Megahertz::new(147.0);
    let losses = |profile: &Profile| {
        let heights = (Metres::new(30.0), Metres::new(1.4));
        by("delta-bullington").losses(profile, heights.0, heights.1, (frequency, frequency))
    };
    let loss = |profile| losses(profile).talk_out.total().value();
    let obstacle = loss(&solid) - loss(&ground);
    // 19 points between the ends stand for 95 m.
    let leaves = woodland_loss(frequency, Metres::new(95.0)).unwrap().value();
    println!("figure wood_as_obstacle_db {obstacle:.1} dB");
    println!("figure wood_as_leaves_db {leaves:.1} dB");
    assert!(obstacle > leaves + 10.0, "{obstacle} {leaves}");
    let found = losses(&wooded);
    assert_abs_diff_eq!(found.talk_out.leaves.value(), leaves, epsilon = 1e-9);
    assert_abs_diff_eq!(found.woods.unwrap().value(), 95.0, epsilon = 1e-9);
    assert_abs_diff_eq!(loss(&wooded) - loss(&ground), leaves, epsilon = 1e-9);
    // Over houses of the same height there is but one way.
    assert_eq!(losses(&solid).woods, None);
    // Beyond the frequencies of P.833 trees are obstacles.
    let high = Megahertz::new(3500.0);
    let over = |profile| {
        let heights = (Metres::new(30.0), Metres::new(1.4));
        by("delta-bullington").losses(profile, heights.0, heights.1, (high, high))
    };
    assert_eq!(over(&wooded), over(&solid));
}

/// Metamorphic: letting waves through trees never makes a path worse, whatever
/// the method; it is never better than if they were not there; higher trees
/// never help; and both ends see the same loss.
#[test]
fn trees_lie_between_walls_and_nothing() {
    let (ground, _) = edge_of_a_wood();
    let frequencies = (Megahertz::new(147.6), Megahertz::new(446.0));
    for (name, from, to, height) in [
        ("around the station", 0, 120, 12.0),
        ("around the hand-held", 290, 401, 18.0),
        ("a belt", 180, 190, 20.0),
        ("everywhere", 0, 401, 9.0),
    ] {
        let stand = |height: f64| -> Vec<f64> {
            (0..401).map(|i| if (from..to).contains(&i) { height } else { 0.0 }).collect()
        };
        let solid = ground.clone().with_cover(stand(height)).unwrap();
        let wooded = |height: f64| {
            let trees = stand(height);
            ground.clone().with_cover(trees.clone()).unwrap().with_woods(trees).unwrap()
        };
        for method in METHODS {
            let loss = |profile: &Profile, ends: (f64, f64)| {
                let (one, other) = (Metres::new(ends.0), Metres::new(ends.1));
                let losses = by(method.name()).losses(profile, one, other, frequencies);
                [losses.talk_in.total().value(), losses.talk_out.total().value()]
            };
            let ends = (17.0, 1.4);
            let [bare, walls, trees, taller] =
                [&ground, &solid, &wooded(height), &wooded(1.3 * height)].map(|p| loss(p, ends));
            let turned = loss(&wooded(height).reversed(), (ends.1, ends.0));
            for way in 0..2 {
                let case = format!("{name}, {}: {bare:?} {trees:?} {walls:?}", method.name());
                assert!(
                    trees[way] <= walls[way] + 1e-9 && trees[way] >= bare[way] - 1e-9,
                    "{case}"
                );
                assert!(taller[way] >= trees[way] - 1e-9, "{case} {taller:?}");
                assert_abs_diff_eq!(turned[way], trees[way], epsilon = 1e-6);
            }
        }
    }
}

/// A wave that passes high over the trees goes over them, at no price; where
/// going over costs nothing and through costs leaves, it goes over them too.
#[test]
fn a_wood_below_the_line_is_gone_over() {
    let (ground, wood) = edge_of_a_wood();
    let wooded = ground.clone().with_cover(wood.clone()).unwrap().with_woods(wood).unwrap();
    let frequencies = (Megahertz::new(147.6), Megahertz::new(147.0));
    for (method, height) in [("free-space", 200.0), ("free-space", 1.4), ("single-edge", 200.0)] {
        let with = |profile: &Profile| {
            by(method).losses(profile, Metres::new(200.0), Metres::new(height), frequencies)
        };
        let (found, bare) = (with(&wooded), with(&ground));
        assert_eq!(found.woods, None, "{method} {height}");
        assert_eq!((found.talk_in, found.talk_out), (bare.talk_in, bare.talk_out));
    }
}
