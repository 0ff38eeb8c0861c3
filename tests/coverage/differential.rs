//! The swept engine against a profile of its own for every cell, on 200 made-up
//! rasters of the size that people use: every kind of ground, of gap and of
//! coordinate system, by every method that is swept, at 147.6 and 446 MHz.
//!
//! `tests/coverage/sweep.rs` does the same on many small rasters; here paths are long
//! enough for the width between two rays to show.

mod cases;

use std::collections::BTreeMap;
use std::sync::atomic::AtomicBool;

use crate::support::land::{
    Land, WHOLE, one, own_profile, propagator, quantile, scatter, sweep, torn,
};
use crate::support::{PLAN, read_plan, write_plan_raster};
use cases::{Case, World, case};
use perchline::coverage::cover;
use perchline::link::{LinkModel, Propagator, Terminal};
use perchline::plan::{Plan, Roof};
use perchline::propagation::{METHODS, PathLoss, Profile, clearance};
use perchline::units::{Megahertz, Metres};
use rayon::prelude::*;

const FREQUENCIES: (Megahertz, Megahertz) = (Megahertz::new(147.6), Megahertz::new(446.0));

/// Rasters, and cells looked at on each.
const CASES: usize = 200;
const CELLS: usize = 400;

/// An error in dB from which a cell is looked at more closely.
const GROSS: f64 = 3.0;

impl Case {
    /// By how many dB these losses, talk-in and talk-out, leave the span of
    /// those of the paths beside a cell's own: to either side as far as two
    /// rays are apart and a cell more. Each ends on the cell's own ground, and
    /// once on the last points of its own path too, as in the sweep. Below zero
    /// where they lie within.
    fn beside(&self, with: &Propagator, (column, row): (f64, f64), got: [f64; 2]) -> f64 {
        const REACH: i32 = 4;
        let grid = self.terrain.grid();
        let projector = grid.projector().unwrap();
        let to = |column: f64, row: f64| {
            let to = projector.to_position(column, row).unwrap();
            own_profile(&self.terrain, self.at, to)
        };
        let own = to(column, row).unwrap();
        let origin = projector.to_cell(self.at).unwrap();
        let (right, down) = (column - origin.0, row - origin.1);
        let length = right.hypot(down);
        let (mut low, mut high) = ([f64::INFINITY; 2], [f64::NEG_INFINITY; 2]);
        for step in -4 * REACH..=4 * REACH {
            let aside = f64::from(step) / 4.0 / length;
            let (column, row) = (column - down * aside, row + right * aside);
            let within = |at: f64, size: usize| (0.0..size as f64).contains(&at);
            if !within(column, grid.columns()) || !within(row, grid.rows()) {
                continue;
            }
            let Some(beside) = to(column, row) else { continue };
            for end in [1, NEAR + 1] {
                let path = ended(&beside, &own, end);
                let (mast, carried) = (Metres::new(self.mast), Metres::new(self.carried));
                let losses = with.slice(&path, mast, carried, FREQUENCIES);
                for (way, loss) in [losses.talk_in, losses.talk_out].into_iter().enumerate() {
                    low[way] = low[way].min(loss.total().value());
                    high[way] = high[way].max(loss.total().value());
                }
            }
        }
        let out = |way: usize| (low[way] - got[way]).max(got[way] - high[way]);
        out(0).max(out(1))
    }
}

/// Points in front of a cell that the sweep takes from the cell's own path.
const NEAR: usize = 6;

/// A path whose last points are those of another one.
fn ended(path: &Profile, own: &Profile, points: usize) -> Profile {
    let joined = |path: &[f64], own: &[f64]| -> Vec<f64> {
        let kept = path.len() - points.min(path.len());
        let end = own.len() - (path.len() - kept).min(own.len());
        path[..kept].iter().chain(&own[end..]).copied().collect()
    };
    Profile::new(path.distances().to_vec(), joined(path.heights(), own.heights()))
        .and_then(|made| made.with_cover(joined(path.cover(), own.cover())))
        .and_then(|made| made.with_woods(joined(path.woods(), own.woods())))
        .unwrap()
}

/// What a case came to.
struct Found {
    land: Land,
    world: World,
    /// Of so many losses on long paths, so many are those of the cell's own
    /// path to rounding: a profile of its own was made, or nothing is in the way.
    told: usize,
    rounded: usize,
    /// How far gross errors lie outside of what the paths beside it have.
    beyond: Vec<(f64, String)>,
    /// How far losses are off on paths beyond [`WHOLE`] steps, by method.
    off: Vec<(&'static str, Vec<f64>)>,
    /// Of so many cells, the line of sight is told otherwise for so many.
    seen: usize,
    seen_otherwise: usize,
}

fn swept() -> impl Iterator<Item = &'static dyn PathLoss> {
    METHODS.iter().copied().filter(|m| m.swept().is_some())
}

/// Sight by the engine that draws maps.
fn sight(plan: &Plan, case: &Case, with: &Propagator) -> perchline::coverage::Coverage {
    let (channel, stop) = (&plan.channels[0], AtomicBool::new(false));
    let mut site = plan.sites[0].clone();
    (site.at, site.roof) = (case.at, Roof::AboveGround(Metres::new(case.mast)));
    site.mast = Metres::new(0.0);
    let station = Terminal::at_site(plan, channel, &site, &case.terrain).unwrap();
    let mut carried = Terminal::anywhere(plan, channel, None, site.at);
    carried.antenna = Metres::new(case.carried);
    let model = LinkModel::new(plan, channel, &station, &carried);
    cover(&case.terrain, case.terrain.grid(), &model, with, &|| (), &stop).unwrap()
}

fn compare(plan: &Plan, number: usize) -> Found {
    let case = case(number);
    let (terrain, grid) = (&case.terrain, case.terrain.grid());
    let heights = one(case.mast, case.carried);
    let (mast, carried) = (Metres::new(case.mast), Metres::new(case.carried));
    let mut swept: Vec<_> = swept()
        .map(|method| {
            let with = propagator(method);
            let layers = sweep(terrain, case.at, &heights, FREQUENCIES, &with).layers.remove(0);
            (with, layers, Vec::new())
        })
        .collect();
    let with = propagator(swept[number % swept.len()].0.method);
    let map = sight(plan, &case, &with);
    let projector = grid.projector().unwrap();
    let (mut seen, mut seen_otherwise, mut told, mut rounded) = (0, 0, 0, 0);
    let mut beyond = Vec::new();
    for k in 0..CELLS {
        let along = |axis: i64, size: usize| {
            ((scatter(k as i64, axis, number as u64) + 1.0) / 2.0 * size as f64) as usize
        };
        let (column, row) = (along(1, grid.columns()), along(2, grid.rows()));
        let (column, row) = (column.min(grid.columns() - 1), row.min(grid.rows() - 1));
        let to = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        let profile = own_profile(terrain, case.at, to);
        let here = format!("case {number}, {:?}, column {column}, row {row}", case.land);
        let known = profile.is_some();
        for (with, layer, off) in &mut swept {
            let name = with.method.name();
            let (got_in, got_out) = (layer.talk_in[(row, column)], layer.talk_out[(row, column)]);
            // A gap is never given a number, and nothing that is known is lost.
            assert_eq!((!got_in.is_nan(), !got_out.is_nan()), (known, known), "{here}: {name}");
            let Some(profile) = &profile else { continue };
            let own = with.slice(profile, mast, carried, FREQUENCIES);
            let one_off = |got: f32, own: f64| (f64::from(got) - own).abs();
            let worst = one_off(got_in, own.talk_in.total().value())
                .max(one_off(got_out, own.talk_out.total().value()));
            let steps = profile.length().value() / terrain.spacing().value();
            if steps > WHOLE {
                told += 1;
                rounded += usize::from(worst < 1e-5);
                if worst > GROSS {
                    let got = [got_in, got_out].map(f64::from);
                    beyond.push((
                        case.beside(with, (column as f64 + 0.5, row as f64 + 0.5), got),
                        format!("{here}: {name}"),
                    ));
                }
                off.push(worst);
            } else {
                assert!(torn(steps) || worst < 0.05, "{here}: {name}: {worst} dB at {steps}");
            }
        }
        assert_eq!(!map.talk_in_margin[(row, column)].is_nan(), known, "{here}: map");
        let Some(profile) = &profile else { continue };
        let path = with.path(profile, mast, carried, FREQUENCIES.0);
        seen += 1;
        seen_otherwise +=
            usize::from(clearance::line_of_sight(&path) != map.line_of_sight[(row, column)]);
    }
    let off = swept.into_iter().map(|(with, _, off)| (with.method.name(), off)).collect();
    Found { land: case.land, world: case.world, told, rounded, beyond, off, seen, seen_otherwise }
}

/// Within how many dB of their own path's loss half, 95 % and 99 % of the cells
/// beyond [`WHOLE`] steps lie, and all of them: `docs/sweep.md` gives figures
/// for single rasters; these hold for all worlds, methods and masts together.
/// Behind a sheer edge a cell may get the loss of what lies on the other side
/// of it, which is worth 20 dB and more: the last number only says that nothing
/// is out of all bounds.
fn limits(land: Land) -> [f64; 4] {
    match land {
        Land::Flat | Land::Sea | Land::Gentle | Land::Sunk | Land::Islands => {
            [0.02, 0.5, 1.4, 10.0]
        }
        Land::Rough => [0.06, 1.1, 2.7, 15.0],
        Land::Quarries => [0.05, 0.6, 1.5, 15.0],
        Land::Cliff => [0.02, 0.3, 1.0, 30.0],
        Land::Town => [0.05, 1.3, 5.5, 40.0],
        Land::Blocks => [0.1, 2.6, 6.0, 40.0],
        Land::Woods => [0.1, 2.4, 5.5, 40.0],
    }
}

#[test]
fn swept_maps_are_those_of_a_profile_for_every_cell() {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 0.0);
    let file = folder.path().join("plan.toml");
    std::fs::write(&file, PLAN).unwrap();
    let plan = read_plan(&file);
    let found: Vec<Found> = (0..CASES).into_par_iter().map(|n| compare(&plan, n)).collect();
    let mut off: BTreeMap<(Land, &str), Vec<f64>> = BTreeMap::new();
    let mut sights: BTreeMap<Land, [usize; 2]> = BTreeMap::new();
    let mut worlds: BTreeMap<World, [usize; 2]> = BTreeMap::new();
    let mut beyond = Vec::new();
    for one in found {
        let sight = sights.entry(one.land).or_default();
        *sight = [sight[0] + one.seen, sight[1] + one.seen_otherwise];
        let world = worlds.entry(one.world).or_default();
        *world = [world[0] + one.told, world[1] + one.rounded];
        beyond.extend(one.beyond);
        for (method, errors) in one.off {
            off.entry((one.land, method)).or_default().extend(errors);
        }
    }
    let mut wrong = String::new();
    for ((land, method), mut errors) in off {
        let limits = if method == "free-space" { [1e-3; 4] } else { limits(land) };
        for (share, limit) in [0.5, 0.95, 0.99, 1.0].into_iter().zip(limits) {
            let found = quantile(&mut errors, share);
            println!("{land:?}, {method}: {share} of the cells within {found:.4} dB");
            if found >= limit {
                wrong += &format!("{land:?}, {method}: {share} within {found}, not {limit} dB\n");
            }
        }
    }
    assert!(wrong.is_empty(), "\n{wrong}");
    for (land, [seen, otherwise]) in sights {
        let share = otherwise as f64 / seen as f64;
        println!("{land:?}: sight told otherwise for {share:.5}");
        assert!(share < if land == Land::Blocks { 0.02 } else { 0.005 }, "{land:?}: {share}");
    }
    // The sweep was at work everywhere, not a profile for every cell.
    for (world, [told, rounded]) in worlds {
        let share = rounded as f64 / told as f64;
        println!("{world:?}: {share:.3} of the losses are exact");
        assert!(share < 0.8, "{world:?}: {share}");
    }
    // What is grossly off has the loss of a path beside its own.
    beyond.sort_by(|a, b| f64::total_cmp(&b.0, &a.0));
    let outside = beyond.iter().filter(|(out, _)| *out > 1.0).count();
    println!("{outside} of {} gross errors, the worst {:?}", beyond.len(), beyond.first());
    assert!(beyond.iter().all(|(out, _)| *out < 5.0), "{:?}", beyond[0]);
    assert!(outside * 100 < beyond.len(), "{outside} of {}", beyond.len());
}
