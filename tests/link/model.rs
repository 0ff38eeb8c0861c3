//! What a link is made of beside the lines of its budget: the spread over
//! places and buildings, the climate of a path, the better of two ways.

use std::fs;

use crate::support::{PLAN, read_plan, write_plan_raster};
use approx::assert_abs_diff_eq;
use perchline::link::{LinkModel, Propagator, Terminal, location_spread, location_spread_is_own};
use perchline::plan::{Indoors, Plan};
use perchline::propagation::p833::{grazed_depth, woodland_loss};
use perchline::propagation::p2109::{Building, entry_loss};
use perchline::propagation::{Profile, method};
use perchline::units::{Db, Degrees, Megahertz, Metres, Percent, Position};

fn plan() -> Plan {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 40.0);
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    read_plan(&folder.path().join("plan.toml"))
}

/// P.1812 section 4.7 by hand at 0.1476 GHz: (0.024 f + 0.52) w^0.28 for squares
/// from 50 to 1000 m; 5.6 dB for other methods; what the plan states, for all.
#[test]
fn each_method_has_its_spread_over_places() {
    let mut plan = plan();
    let frequencies = (Megahertz::new(147.6), Megahertz::new(147.0));
    let of = |plan: &Plan, cell: f64| {
        location_spread(&plan.prediction, frequencies, Metres::new(cell)).value()
    };
    assert!(!location_spread_is_own(&plan.prediction));
    assert_eq!(of(&plan, 100.0), 5.6);
    plan.prediction.method = "p1812".to_owned();
    assert!(location_spread_is_own(&plan.prediction));
    for (cell, by_hand) in
        [(5.0, 1.5656), (50.0, 1.5656), (100.0, 1.9009), (1000.0, 3.6220), (9000.0, 3.6220)]
    {
        assert_abs_diff_eq!(of(&plan, cell), by_hand, epsilon = 1e-3);
    }
    plan.prediction.variability = Some(Db::new(4.2));
    assert_eq!(of(&plan, 100.0), 4.2);
}

/// How much buildings of a kind differ, half of what lies between the shares of
/// one deviation to either side in P.2109, joins the other spreads as a square;
/// their median is a line of the budget both ways.
#[test]
fn a_building_adds_its_own_spread() {
    let plan = plan();
    let channel = &plan.channels[0];
    let level = Degrees::new(0.0);
    let outside = Terminal::anywhere(&plan, channel, None, plan.posts[0].at);
    let station = Terminal::anywhere(&plan, channel, None, plan.posts[1].at);
    let deviation = |carried: &Terminal| {
        LinkModel::new(&plan, channel, &station, carried).spread().deviation().value()
    };
    let open = deviation(&outside);
    assert_abs_diff_eq!(
        open,
        5.6f64.hypot(plan.prediction.model_error.map_or(5.0, Db::value)),
        epsilon = 1e-9
    );
    for (indoors, building) in [
        (Indoors::Traditional, Building::Traditional),
        (Indoors::Efficient, Building::ThermallyEfficient),
    ] {
        // The higher of the two frequencies counts.
        let loss = |share: f64| {
            let frequency = Megahertz::new(147.6);
            entry_loss(building, frequency, level, Percent::new(share)).unwrap().value()
        };
        let own = (loss(84.13) - loss(15.87)) / 2.0;
        let inside = Terminal { indoors: Some(indoors), ..outside.clone() };
        assert_abs_diff_eq!(deviation(&inside), open.hypot(own), epsilon = 1e-9);
    }
}

#[test]
fn the_climate_is_that_of_the_middle_of_the_path() {
    let propagator = Propagator::new(&plan().prediction);
    let between = |one: f64, other: f64| {
        let at = |latitude: f64| Position::new(Degrees::new(latitude), Degrees::new(10.0)).unwrap();
        propagator.between(at(one), at(other)).climate.latitude.value()
    };
    for (one, other, middle) in [
        (10.0, 30.0, 20.0),
        (-10.0, 30.0, 10.0),
        (-40.0, -20.0, -30.0),
        // P.1812 is given up to 80 degrees.
        (89.0, 85.0, 80.0),
        (-89.0, -85.0, -80.0),
    ] {
        assert_abs_diff_eq!(between(one, other), middle, epsilon = 1e-12);
    }
}

/// Over the trees or through them, each frequency goes the way that costs less,
/// whatever the other does: both worked out apart.
#[test]
fn each_direction_goes_the_better_of_two_ways() {
    let plain = Propagator::new(&plan().prediction);
    let propagator = Propagator { method: method("bullington").unwrap(), ..plain };
    let (station, carried) = (Metres::new(20.0), Metres::new(1.5));
    let distances: Vec<f64> = (0..=300).map(|i| f64::from(i) * 10.0).collect();
    let ground = Profile::new(distances, vec![50.0; 301]).unwrap();
    // Through or over, talk-in by talk-out.
    let mut seen = [[0; 2]; 2];
    for (from, to, height) in [(145, 155, 14.0), (200, 290, 8.0), (290, 301, 9.0), (20, 280, 30.0)]
    {
        let trees: Vec<f64> =
            (0..301).map(|i| if (from..to).contains(&i) { height } else { 0.0 }).collect();
        let solid = ground.clone().with_cover(trees.clone()).unwrap();
        let wooded = solid.clone().with_woods(trees).unwrap();
        for (input, output) in [(30.0, 3000.0), (3000.0, 30.0), (147.0, 446.0), (1200.0, 60.0)] {
            let frequencies = (Megahertz::new(input), Megahertz::new(output));
            let losses = |on: &Profile| propagator.losses(on, station, carried, frequencies);
            let (found, over, bare) = (losses(&wooded), losses(&solid), losses(&ground));
            let path = propagator.path(&wooded, station, carried, frequencies.1);
            let depth = grazed_depth(&path);
            let leaves = |frequency| woodland_loss(frequency, depth).unwrap();
            let ways = [
                (found.talk_in, over.talk_in, bare.talk_in.total() + leaves(frequencies.0)),
                (found.talk_out, over.talk_out, bare.talk_out.total() + leaves(frequencies.1)),
            ]
            .map(|(found, over, through)| {
                let better = over.total().min(through).value();
                assert_abs_diff_eq!(found.total().value(), better, epsilon = 1e-9);
                assert_eq!(found.leaves > Db::new(0.0), through < over.total());
                usize::from(through < over.total())
            });
            assert_eq!(found.woods, (ways[1] == 1).then_some(depth));
            seen[ways[0]][ways[1]] += 1;
        }
    }
    assert!(seen.as_flattened().iter().all(|count| *count > 0), "{seen:?}");
}
