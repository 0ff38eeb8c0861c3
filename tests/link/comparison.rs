//! A link studied, and every method on it, over a ridge.

use std::fs;

use crate::support::{PLAN, open_plan, write_plan_raster};
use approx::assert_abs_diff_eq;
use perchline::link::{
    Cause, Comparison, Direction, LinkModel, Outside, PathStudy, Propagator, Terminal, study,
};
use perchline::plan::{Channel, Plan, Service};
use perchline::propagation::{METHODS, method};
use perchline::terrain::Terrain;
use perchline::units::{Db, Degrees, Megahertz, Metres};

/// The small plan over two ridges of 60 m and 45 m across the way from Silo to
/// Aid 2.
fn ridges() -> (Plan, Terrain) {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |column, _| {
        let ridge = |top: f32, at: f32| top * (-((column as f32 - at) / 3.0).powi(2)).exp();
        50.0 + ridge(60.0, 60.0) + ridge(45.0, 75.0)
    });
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    open_plan(&folder.path().join("plan.toml"))
}

fn model(plan: &Plan, terrain: &Terrain, channel: &Channel) -> LinkModel {
    let station = Terminal::at_site(plan, channel, &plan.sites[1], terrain).unwrap();
    let carried = Terminal::at_post(plan, channel, &plan.posts[1], terrain).unwrap();
    LinkModel::new(plan, channel, &station, &carried)
}

fn studied(plan: &Plan, terrain: &Terrain, channel: &Channel) -> (PathStudy, Comparison) {
    let propagator = Propagator::new(&plan.prediction);
    let model = model(plan, terrain, channel);
    let found = study(terrain, &propagator, &model, channel).unwrap();
    let comparison = Comparison::of(&found, &propagator, |_| model.clone());
    (found, comparison)
}

/// The ends, the ground and the parts of a study are those of the plan, and its
/// budget is the one of its losses.
#[test]
fn a_study_is_the_link_between_its_ends() {
    let (plan, terrain) = ridges();
    let channel = &plan.channels[0];
    let (found, _) = studied(&plan, &terrain, channel);
    assert_eq!((&*found.from.name, &*found.to.name), ("Silo", "Aid 2"));
    assert_eq!(found.ends(Direction::TalkOut), (&found.from, &found.to));
    assert_eq!(found.ends(Direction::TalkIn), (&found.to, &found.from));
    assert_eq!((found.from.antenna, found.to.antenna), (Metres::new(33.0), Metres::new(1.4)));
    assert_eq!((found.from.at, found.to.at), (plan.sites[1].at, plan.posts[1].at));
    assert_abs_diff_eq!(found.from.ground.value(), 50.0, epsilon = 1e-3);
    // By hand, on a sphere: 0.002 degrees of latitude by 0.02 of longitude at 47
    // north are 0.222 km by 1.521 km.
    assert_abs_diff_eq!(found.distance.value(), 1537.0, epsilon = 8.0);
    assert_abs_diff_eq!(found.bearing.value(), 81.7, epsilon = 0.3);
    assert_eq!(found.method, "delta-bullington");
    assert!(found.clearance.unwrap().first_obstruction.is_some() && !found.edges.is_empty());
    let out = &found.budgets.talk_out;
    let terrain_line = out.lines.iter().find(|l| l.label.starts_with("terrain")).unwrap();
    assert_eq!((terrain_line.change_db, found.leaves), (-found.diffraction, Db::new(0.0)));
    assert_eq!(found.woods, None);
}

/// Each figure of the comparison, worked out again from the methods alone.
#[test]
fn causes_are_differences_of_methods() {
    let (plan, terrain) = ridges();
    let channel = &plan.channels[0];
    let (found, comparison) = studied(&plan, &terrain, channel);
    let model = model(&plan, &terrain, channel);
    let names: Vec<_> = comparison.methods.iter().map(|m| m.method).collect();
    assert_eq!(names, METHODS.iter().map(|m| m.name()).collect::<Vec<_>>());
    let plain = Propagator::new(&plan.prediction).between(found.from.at, found.to.at);
    let losses = |name: &str| {
        let with = Propagator { method: method(name).unwrap(), ..plain };
        with.losses(&found.profile, Metres::new(33.0), Metres::new(1.4), model.frequencies())
    };
    let out = |name: &str| losses(name).talk_out.total();
    for of in &comparison.methods {
        assert_eq!(of.losses, losses(of.method));
        let assessed = model.assess(&of.losses);
        assert_eq!(
            (of.margin, of.outcome),
            (assessed.governing_margin(), model.outcome(&assessed))
        );
        assert_eq!(of.outside, []);
        assert_eq!(of.edges.is_empty(), of.method == "free-space", "{}", of.method);
        assert_eq!(comparison.method(of.method).map(|m| m.method), Some(of.method));
    }
    assert!(comparison.method("none").is_none());

    let counted: Vec<_> = names.iter().filter(|n| **n != "free-space").map(|n| out(n)).collect();
    let least = counted.iter().copied().reduce(Db::min).unwrap();
    let most = counted.iter().copied().reduce(Db::max).unwrap();
    assert_eq!(comparison.extremes.map(|(_, loss)| loss), [least, most]);
    assert!(least > out("free-space") + Db::new(6.0), "{least}");
    assert_eq!(comparison.spread(), most - least);
    let [low, high] = comparison.extremes.map(|(name, _)| out(name));
    assert_eq!((low, high), (least, most));

    let differ = |with: &str, without: &str| (out(with) - out(without)).value();
    let of = |wanted: &dyn Fn(&Cause) -> bool| {
        comparison.causes.iter().find(|d| wanted(&d.cause)).map_or(0.0, |d| d.by.value())
    };
    let mut told = 0;
    for (by, expected) in [
        (of(&|c| *c == Cause::OtherRidges), differ("epstein-peterson", "single-edge")),
        (of(&|c| *c == Cause::Horizons), differ("bullington", "single-edge")),
        (of(&|c| *c == Cause::Shoulders), differ("three-edge", "single-edge")),
        (of(&|c| *c == Cause::SmoothEarth), differ("delta-bullington", "bullington")),
        (of(&|c| matches!(c, Cause::Climate(_))), differ("p1812", "delta-bullington")),
    ] {
        // What is less than 1 dB is not told.
        let expected = if expected.abs() < 1.0 { 0.0 } else { expected };
        assert_abs_diff_eq!(by, expected, epsilon = 1e-9);
        told += usize::from(expected != 0.0);
    }
    assert_eq!(comparison.causes.len(), told);
    assert!(told >= 2, "{:?}", comparison.causes);
    for told in &comparison.causes {
        assert_abs_diff_eq!(told.by.value(), differ(told.with, told.without), epsilon = 1e-9);
    }
    for pair in comparison.causes.windows(2) {
        assert!(pair[0].by.value().abs() >= pair[1].by.value().abs(), "{:?}", comparison.causes);
    }
}

/// 7 GHz is beyond the 6 GHz of all methods but free space; 6 m are short of
/// the 10 m of all but free space.
#[test]
fn what_a_method_is_not_given_for_is_told() {
    let (mut plan, terrain) = ridges();
    let high = Channel {
        service: Service::Simplex { frequency: Megahertz::new(7000.0) },
        ..plan.channels[0].clone()
    };
    let (_, comparison) = studied(&plan, &terrain, &high);
    for of in &comparison.methods {
        let (asked, limits) = (Megahertz::new(7000.0), [30.0, 6000.0].map(Megahertz::new));
        let expected: &[Outside] = &[Outside::Frequency(asked, limits)];
        assert_eq!(of.outside, if of.method == "free-space" { &[] } else { expected });
    }
    plan.posts[1].at = plan.sites[1].at.destination(Degrees::new(90.0), Metres::new(6.0));
    let (found, comparison) = studied(&plan, &terrain, &plan.channels[0]);
    for of in &comparison.methods {
        match of.outside.as_slice() {
            [] => assert_eq!(of.method, "free-space"),
            [Outside::Distance(asked, [least, _])] => {
                assert_eq!((*asked, *least), (found.distance, Metres::new(10.0)));
            }
            other => panic!("{}: {other:?}", of.method),
        }
    }
}
