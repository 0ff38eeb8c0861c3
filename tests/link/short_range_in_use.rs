//! P.1812 and its near models as the program uses them: over the sample's
//! ground, cell by cell and post by post.

use crate::support;
use std::path::Path;
use std::sync::atomic::AtomicBool;

use approx::assert_abs_diff_eq;
use perchline::coverage::cover;
use perchline::link::{LinkModel, Propagator, Terminal, study};
use perchline::plan::Plan;
use perchline::propagation::{Model, Profile, method};
use perchline::terrain::Terrain;
use perchline::units::{Degrees, Metres};

fn sample() -> (Plan, Terrain) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml");
    support::open_plan(&file)
}

fn p1812(plan: &Plan) -> Propagator {
    Propagator { method: method("p1812").unwrap(), ..Propagator::new(&plan.prediction) }
}

/// Away from every site of the sample in 16 directions, metre by metre through
/// the joint. The same steps of the default method, which has no joint, say how
/// much of them is the ground's.
#[test]
fn walking_out_from_a_roof_nothing_jumps() {
    let (plan, terrain) = sample();
    let channel = plan.channels.first().unwrap();
    let (joined, plain) = (p1812(&plan), Propagator::new(&plan.prediction));
    let (mut steepest, mut place) = (0.0f64, String::new());
    let mut steepest_plain = 0.0f64;
    let mut kinds = [0; 3];
    for site in &plan.sites {
        let station = Terminal::at_site(&plan, channel, site, &terrain).unwrap();
        let carried = Terminal::anywhere(&plan, channel, None, site.at);
        let frequencies = LinkModel::new(&plan, channel, &station, &carried).frequencies();
        let mut tracer = terrain.tracer(station.at).unwrap();
        let mut profile = Profile::default();
        for bearing in (0..16).map(|i| 22.5 * f64::from(i)) {
            let mut last = None;
            for metre in 190..=310 {
                let to = site.at.destination(Degrees::new(bearing), Metres::new(metre.into()));
                tracer.trace(to, &mut profile).unwrap();
                let at = |with: &Propagator| {
                    let with = with.between(site.at, to);
                    with.losses(&profile, station.antenna, carried.antenna, frequencies)
                };
                let (here, plain) = (at(&joined), at(&plain).talk_out.total());
                kinds[match here.talk_out.model {
                    Model::Near(_) => 0,
                    Model::Joint { .. } => 1,
                    Model::Method(name) => {
                        assert_eq!(name, "p1812");
                        2
                    }
                }] += 1;
                let now = [here.talk_in.total(), here.talk_out.total(), plain];
                if let Some(before) = last.replace(now) {
                    let [inward, outward, ground] =
                        std::array::from_fn(|i| (now[i] - before[i]).value().abs());
                    steepest_plain = steepest_plain.max(ground);
                    if inward.max(outward) > steepest {
                        steepest = inward.max(outward);
                        place = format!("{metre} m from {}, {bearing} degrees", site.name);
                    }
                }
            }
        }
    }
    println!("\nfigure short_range_walk_step_db {steepest:.3} dB");
    println!("\nfigure walk_step_without_joint_db {steepest_plain:.3} dB");
    println!("steepest: {place}; walks over near, joint and far: {kinds:?}");
    assert!(kinds.iter().all(|count| *count > 0), "{kinds:?}");
    assert!(steepest < 3.0, "{steepest} dB {place}");
}

/// The map, the ranking's posts and `path` are one and the same calculation: a
/// cell of the map has the margins of a link to its centre, near and far.
#[test]
fn a_cell_of_the_map_is_the_link_to_its_centre() {
    let (plan, terrain) = sample();
    let channel = plan.channels.first().unwrap();
    let site = plan.sites.iter().find(|site| site.name == "Car park").unwrap();
    let station = Terminal::at_site(&plan, channel, site, &terrain).unwrap();
    let carried = Terminal::anywhere(&plan, channel, None, site.at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    let propagator = p1812(&plan);
    let grid = terrain.grid().coarser(Metres::new(60.0)).unwrap();
    let stop = AtomicBool::new(false);
    let coverage = cover(&terrain, &grid, &model, &propagator, &|| {}, &stop).unwrap();
    let projector = grid.projector().unwrap();
    let (mut near, mut far) = (0, 0);
    for ((row, column), margin) in coverage.talk_in_margin.indexed_iter().step_by(7) {
        let at = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        if site.at.distance(at) < Metres::new(300.0) {
            near += 1
        } else {
            far += 1
        }
        // A carried radio right there, as `path` and the posts have it.
        let ground = terrain.ground(at).unwrap();
        let there = Terminal { at, ground, ..carried.clone() };
        let model = LinkModel::new(&plan, channel, &station, &there);
        let link = study(&terrain, &propagator, &model, channel).unwrap();
        let alone = link.budgets.talk_in.margin_db.value();
        assert_abs_diff_eq!(f64::from(*margin), alone, epsilon = 1e-3);
    }
    assert!(near > 3 && far > 1000, "{near} {far}");
}

/// Latitude and share of time reach the method from the plan and the path: ducts
/// are more common near the equator (P.1812 section 3.4), so that over 100 km of
/// level ground less is lost for 1 % of the time.
#[test]
fn the_climate_of_the_plan_reaches_the_method() {
    let (mut plan, _) = sample();
    let distance: Vec<f64> = (0..=400).map(|i| 250.0 * f64::from(i)).collect();
    let profile = Profile::new(distance, vec![10.0; 401]).unwrap();
    let loss = |plan: &Plan, latitude: f64| {
        let at = |longitude: f64| {
            let (latitude, longitude) = (Degrees::new(latitude), Degrees::new(longitude));
            perchline::units::Position::new(latitude, longitude).unwrap()
        };
        let propagator = p1812(plan).between(at(0.0), at(1.0));
        assert_eq!(propagator.climate.check(), Ok(()));
        let frequencies =
            (perchline::units::Megahertz::new(147.0), perchline::units::Megahertz::new(147.6));
        let mast = Metres::new(20.0);
        propagator.losses(&profile, mast, Metres::new(1.5), frequencies).talk_out.total().value()
    };
    let median = loss(&plan, 50.0);
    plan.prediction.time = perchline::units::Percent::new(1.0);
    let (temperate, equatorial) = (loss(&plan, 50.0), loss(&plan, 5.0));
    assert!(temperate < median - 5.0, "{temperate} {median}");
    assert!(equatorial < temperate - 1.0, "{equatorial} {temperate}");
    // No range of the method is left at the pole.
    assert_eq!(loss(&plan, 89.0), loss(&plan, 80.0));
    plan.prediction.time = perchline::units::Percent::new(50.0);
    plan.prediction.n0 = perchline::units::Refractivity::new(400.0);
    assert!(loss(&plan, 50.0) < median - 1.0, "scatter follows n0");
}
