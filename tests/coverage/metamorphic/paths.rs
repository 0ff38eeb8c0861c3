//! Relations of the methods over one profile.

use perchline::link::Propagator;
use perchline::propagation::{
    Climate, EffectiveEarth, METHODS, Path, PathLoss, Profile, free_space, method,
};
use perchline::units::{Megahertz, Metres, Percent, Polarization};
use proptest::prelude::*;

use super::cases;

/// Ground with what stands on it, antennas over both ends.
#[derive(Debug, Clone)]
struct Case {
    step: f64,
    ground: Vec<f64>,
    cover: Vec<f64>,
    woods: Vec<f64>,
    antennas: (f64, f64),
    frequency: f64,
    seldom: bool,
}

impl Case {
    fn profile(&self, change: impl Fn(usize, f64) -> f64) -> Profile {
        let distances = (0..self.ground.len()).map(|i| i as f64 * self.step).collect();
        let heights = self.ground.iter().enumerate().map(|(i, h)| change(i, *h)).collect();
        Profile::new(distances, heights)
            .unwrap()
            .with_cover(self.cover.clone())
            .unwrap()
            .with_woods(self.woods.clone())
            .unwrap()
    }

    fn turned(&self) -> Self {
        let back = |list: &[f64]| list.iter().rev().copied().collect();
        Self {
            ground: back(&self.ground),
            cover: back(&self.cover),
            woods: back(&self.woods),
            antennas: (self.antennas.1, self.antennas.0),
            ..self.clone()
        }
    }

    /// Loss with leaves, at the two frequencies.
    fn losses(&self, method: &'static dyn PathLoss, profile: &Profile) -> [f64; 2] {
        let time = Percent::new(if self.seldom { 1.0 } else { 50.0 });
        let with = Propagator {
            method,
            earth: EffectiveEarth::default(),
            climate: Climate { time, ..Climate::DEFAULT },
            polarization: Polarization::Vertical,
        };
        let frequencies = (Megahertz::new(self.frequency), Megahertz::new(self.frequency * 1.01));
        let (a, b) = (Metres::new(self.antennas.0), Metres::new(self.antennas.1));
        let found = with.losses(profile, a, b, frequencies);
        [found.talk_in, found.talk_out].map(|loss| loss.total().value())
    }
}

fn case() -> impl Strategy<Value = Case> {
    (2usize..250).prop_flat_map(|points| {
        let ground = prop_oneof![
            prop::collection::vec(-30.0..30.0f64, points),
            prop::collection::vec(-200.0..1500.0f64, points),
            // A walk: hills rather than spikes.
            prop::collection::vec(-12.0..12.0f64, points).prop_map(|steps| {
                let mut height = 40.0;
                steps
                    .iter()
                    .map(|step| {
                        height += step;
                        height
                    })
                    .collect()
            }),
        ];
        let cover = prop::collection::vec(prop_oneof![2 => Just(0.0), 1 => 3.0..25.0f64], points);
        let leafy = prop::collection::vec(any::<bool>(), points);
        (
            (ground, cover, leafy),
            5.0..120.0f64,
            (1.0..60.0f64, 1.0..15.0f64),
            prop_oneof![Just(147.0), Just(446.0), 60.0..900.0f64],
            any::<bool>(),
        )
            .prop_map(|((ground, cover, leafy), step, antennas, frequency, seldom)| {
                let woods =
                    cover.iter().zip(leafy).map(|(c, l)| if l { *c } else { 0.0 }).collect();
                Case { step, ground, cover, woods, antennas, frequency, seldom }
            })
    })
}

proptest! {
    #![proptest_config(cases(400))]

    /// Every method is reciprocal by its publication, P.1812 for 1 % of the time
    /// too, and so is the loss in leaves: a path turned round, its antennas with
    /// it, loses the same. (Two edges of exactly the same parameter would be
    /// told apart by the order in which they come; ground by chance has none.)
    #[test]
    fn a_path_turned_round_loses_the_same(case in case()) {
        let turned = case.turned();
        let (there, back) = (case.profile(|_, h| h), turned.profile(|_, h| h));
        for method in METHODS {
            let (one, other) = (case.losses(*method, &there), turned.losses(*method, &back));
            for (one, other) in one.into_iter().zip(other) {
                prop_assert!((one - other).abs() < 1e-6, "{}: {one} {other}", method.name());
            }
        }
    }

    /// Heights count against each other alone, for every method: none here asks
    /// how high over the sea a path runs. P.1812 takes the refractivity of the
    /// air at sea level and the shares of sea and inland as inputs of their own,
    /// which the plan states, and does not guess them from heights.
    #[test]
    fn raising_all_ground_changes_nothing(case in case(), by in -450.0..3000.0f64) {
        let (low, high) = (case.profile(|_, h| h), case.profile(|_, h| h + by));
        for method in METHODS {
            let (one, other) = (case.losses(*method, &low), case.losses(*method, &high));
            for (one, other) in one.into_iter().zip(other) {
                prop_assert!((one - other).abs() < 1e-5, "{}: {one} {other}", method.name());
            }
        }
    }

    /// A wall between never helps where one edge counts. Single-edge takes the
    /// greatest nu, which more ground can only raise. Bullington's one edge has
    /// nu = sqrt(2 d a b / lambda), a and b the slopes from the line between the
    /// antennas to either horizon: a wall can only steepen them.
    ///
    /// Not so of delta-Bullington (a wall lifts the surface that is fitted to the
    /// ground, and with it what the smooth earth costs: P.526-15 section 4.5.2;
    /// `what_a_thin_ridge_on_a_plain_costs_hangs_on_how_it_is_drawn`), of P.1812,
    /// which holds it, nor of the methods that add up edges: a high one hides
    /// others and moves the main one.
    #[test]
    fn a_wall_between_never_helps_where_one_edge_counts(
        case in case(), at in 0.0..1.0f64, wall in 0.1..80.0f64
    ) {
        let inner = case.ground.len() - 2;
        prop_assume!(inner > 0);
        let place = 1 + ((at * inner as f64) as usize).min(inner - 1);
        let open = case.profile(|_, h| h);
        let walled = case.profile(|i, h| if i == place { h + wall } else { h });
        for name in ["free-space", "single-edge", "bullington"] {
            let loss = |ground: &Profile| {
                let (a, b) = (Metres::new(case.antennas.0), Metres::new(case.antennas.1));
                let path = Path::new(ground, a, b, Megahertz::new(case.frequency));
                method(name).unwrap().diffraction(&path, &mut |_| {}).value()
            };
            let (before, after) = (loss(&open), loss(&walled));
            prop_assert!(after >= before - 1e-9, "{name}: {before} {after}");
        }
    }
}

/// A plain of so many steps of 30 m.
fn plain(steps: u32) -> Profile {
    let distances: Vec<f64> = (0..=steps).map(|i| f64::from(i) * 30.0).collect();
    let heights = vec![140.0; distances.len()];
    Profile::new(distances, heights).unwrap()
}

fn over_plain(method: &dyn PathLoss, ground: &Profile, mast: f64, frequency: f64) -> f64 {
    let path = Path::new(ground, Metres::new(mast), Metres::new(1.5), Megahertz::new(frequency));
    method.loss(&path).value()
}

/// Over a plain, a higher mast never costs, for every method, up to where the
/// straight and the reflected wave first part by half a wave length and so add
/// up (the first null, a whole wave length, lies at twice that height): below it
/// the two-ray law of every textbook rises too, and beyond it these methods, of
/// which none draws lobes, stay at what the straight wave has. What is allowed
/// for is that a higher antenna is farther from the ground's other end.
#[test]
fn over_a_plain_a_higher_mast_never_costs() {
    for method in METHODS {
        for frequency in [147.0, 446.0] {
            for steps in [17, 40, 111, 333, 1000] {
                let ground = plain(steps);
                let length = ground.length().value();
                let wavelength = Megahertz::new(frequency).wavelength().value();
                // 2 h1 h2 / d is the difference of both ways.
                let top = (wavelength / 2.0 * length / (2.0 * 1.5)).min(60.0);
                let mut last = f64::INFINITY;
                let mut mast = 2.0;
                while mast < top {
                    let slant = 20.0 * (length.hypot(mast) / length).log10();
                    let loss = over_plain(*method, &ground, mast, frequency) - slant;
                    assert!(
                        loss < last + 0.05,
                        "{} at {frequency} MHz, {length} m: {loss} after {last} at {mast} m",
                        method.name()
                    );
                    last = loss;
                    mast += 0.5;
                }
            }
        }
    }
}

/// Over a plain, farther never helps, for every method; free space takes 6.02 dB
/// for each doubling, and nothing else is in it.
#[test]
fn over_a_plain_farther_never_helps() {
    for method in METHODS {
        for frequency in [147.0, 446.0] {
            for mast in [3.0, 12.0, 40.0] {
                let mut last = 0.0;
                for steps in (1..40).chain((40..1500).step_by(7)) {
                    let loss = over_plain(*method, &plain(steps), mast, frequency);
                    assert!(
                        loss > last - 0.01,
                        "{} at {frequency} MHz, {mast} m: {loss} after {last} at {steps} steps",
                        method.name()
                    );
                    last = loss;
                }
            }
        }
    }
    let far = |d: f64| free_space::loss(Megahertz::new(147.0), Metres::new(d)).value();
    assert!((far(8e3) - far(4e3) - 20.0 * 2f64.log10()).abs() < 1e-9);
}
