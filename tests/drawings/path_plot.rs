use perchline::link::{End, Outcome, PathStudy};
use perchline::plan::UnitSystem;
use perchline::propagation::clearance::TakeOff;
use perchline::propagation::{Edge, EffectiveEarth, Profile};
use perchline::report::path_plot;
use perchline::units::{Db, Degrees, Metres};

use crate::town::{budgets, keep, position};

/// A link over `hills` hills on the way down from a roof.
fn study(length: f64, hills: usize, outcome: Outcome, margin: f64) -> PathStudy {
    let points = 400;
    let distance: Vec<f64> =
        (0..=points).map(|i| length * f64::from(i) / f64::from(points)).collect();
    let tops: Vec<(f64, f64)> = (0..hills)
        .map(|i| (length * (0.25 + 0.6 * i as f64 / hills.max(1) as f64), 70.0 + 25.0 * i as f64))
        .collect();
    let height: Vec<f64> = distance
        .iter()
        .map(|d| {
            let hill = |(at, top): &(f64, f64)| top * (-((d - at) / (0.07 * length)).powi(2)).exp();
            20.0 + 4.0 * (d / length * 40.0).sin() + tops.iter().map(hill).sum::<f64>()
        })
        .collect();
    let edges = tops
        .iter()
        .map(|(at, top)| Edge {
            distance: Metres::new(*at),
            height: Metres::new(20.0 + top),
            nu: 1.37,
            loss: Db::new(16.2),
        })
        .collect();
    let (from, to) = (position(36.15, -33.01), position(36.17, -32.95));
    let end = |name: &str, at, ground: f64, antenna: f64| End {
        name: name.to_owned(),
        at,
        ground: Metres::new(ground),
        antenna: Metres::new(antenna),
    };
    PathStudy {
        from: end("Grain elevator", from, *height.first().unwrap(), 41.0),
        to: end("Back of the ridge", to, *height.last().unwrap(), 1.0),
        channel: "Event net".to_owned(),
        method: "three-edge",
        distance: Metres::new(length),
        bearing: from.bearing(to),
        profile: Profile::new(distance, height).unwrap(),
        earth: EffectiveEarth::default(),
        clearance: None,
        take_off: TakeOff { at_transmitter: Degrees::new(0.1), at_receiver: Degrees::new(2.0) },
        edges,
        free_space: Db::new(92.0),
        diffraction: Db::new(22.0),
        budgets: budgets(outcome, margin),
    }
}

#[test]
fn a_link_behind_a_hill_is_drawn() {
    let study = study(5_640.0, 2, Outcome::Patchy, -3.4);
    keep("path-two-edges.png", &path_plot::draw(&study, UnitSystem::Metric).unwrap());
}
