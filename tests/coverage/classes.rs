//! The classes of a swept map are those of a profile for every cell: over real
//! ground and made-up, at cells that lie on both sides of every boundary.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use crate::support::land::{Land, one, propagator, sweep};
use crate::support::{PLAN, read_plan, real, write_plan_raster};
use perchline::coverage::sweep::{cover_coarsely, map_shares};
use perchline::coverage::{Coverage, cover, cover_all};
use perchline::link::{LinkModel, Outcome, Terminal};
use perchline::plan::{Channel, Plan, Roof, Service, TerrainInputs};
use perchline::propagation::{Profile, method};
use perchline::terrain::{Extent, Grid, Terrain, write_geotiff};
use perchline::units::{Degrees, Megahertz, Metres, Position};
use rayon::prelude::*;

/// Cells in a thousand whose class may differ.
const LIMIT: f64 = 1.0;

/// The same on cells of kilometres, where the length of a path, which is told to
/// a fiftieth of a cell, may make one step more or less of it.
const COARSE_LIMIT: f64 = 2.0;

/// Of rasters of more cells than this every fifth cell is compared.
const SMALL: usize = 50_000;

fn plan() -> Plan {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 0.0);
    let file = folder.path().join("plan.toml");
    std::fs::write(&file, PLAN).unwrap();
    read_plan(&file)
}

fn middle(terrain: &Terrain) -> Position {
    let grid = terrain.grid();
    let (x, y) = (grid.columns() as f64 * 0.5 + 0.3, grid.rows() as f64 * 0.5 + 0.3);
    grid.projector().unwrap().to_position(x, y).unwrap()
}

fn model(plan: &Plan, terrain: &Terrain, mast: f64) -> LinkModel {
    model_on(plan, &plan.channels[0], terrain, mast)
}

fn model_on(plan: &Plan, channel: &Channel, terrain: &Terrain, mast: f64) -> LinkModel {
    let mut site = plan.sites[0].clone();
    (site.at, site.roof) = (middle(terrain), Roof::AboveGround(Metres::new(mast)));
    site.mast = Metres::new(0.0);
    let station = Terminal::at_site(plan, channel, &site, terrain).unwrap();
    let carried = Terminal::anywhere(plan, channel, None, site.at);
    LinkModel::new(plan, channel, &station, &carried)
}

/// The outcomes of every cell by its own profile, of large rasters of every fifth
/// cell, by row and column.
fn own(terrain: &Terrain, model: &LinkModel, name: &str) -> Vec<((usize, usize), Outcome)> {
    let (grid, with) = (terrain.grid(), propagator(method(name).unwrap()));
    let chances = model.chances();
    let (station, carried) = (model.station(), model.carried().antenna);
    let all = grid.rows() * grid.columns();
    let step = if all > SMALL { 5 } else { 1 };
    let cells: Vec<usize> = (0..all).step_by(step).collect();
    cells
        .par_chunks(512)
        .flat_map_iter(|cells| {
            let projector = grid.projector().unwrap();
            let mut tracer = terrain.tracer(station.at).unwrap();
            let mut profile = Profile::default();
            let mut found = Vec::new();
            for cell in cells {
                let (row, column) = (cell / grid.columns(), cell % grid.columns());
                let (x, y) = (column as f64 + 0.5, row as f64 + 0.5);
                let place = projector.to_position(x, y).unwrap();
                tracer.trace(place, &mut profile).unwrap();
                let losses = with.losses(&profile, station.antenna, carried, model.frequencies());
                let assessed = model.assess(&losses);
                let margins = [assessed.talk_in_margin, assessed.talk_out_margin];
                let [talk_in, talk_out] = margins.map(|margin| margin.value() as f32);
                found.push(((row, column), chances.of(talk_in, talk_out).1));
            }
            found
        })
        .collect()
}

/// Cells in a thousand whose class is another one.
fn flips(map: &Coverage, own: &[((usize, usize), Outcome)]) -> f64 {
    let other = own.iter().filter(|(cell, outcome)| map.outcome[*cell] != *outcome).count();
    1000.0 * other as f64 / own.len() as f64
}

/// The share of flips with own paths looked at, and by the rays alone.
fn compare(plan: &Plan, terrain: &Terrain, name: &str) -> [f64; 2] {
    let (model, stop) = (model(plan, terrain, 17.0), AtomicBool::new(false));
    let with = propagator(method(name).unwrap());
    let own = own(terrain, &model, name);
    let map = cover(terrain, terrain.grid(), &model, &with, &|| (), &stop).unwrap();
    let rays = cover_coarsely(terrain, terrain.grid(), 1, &model, &with, &stop).unwrap();
    [flips(&map, &own), flips(&rays, &own)]
}

#[test]
fn over_real_ground_classes_are_those_of_own_profiles() {
    let Some(grounds) = real::grounds() else { return };
    let plan = plan();
    let (mut by_rays, mut wrong) = (0f64, String::new());
    for (name, terrain) in &grounds {
        for method in ["delta-bullington", "bullington"] {
            let [map, rays] = compare(&plan, terrain, method);
            println!("{name}, {method}: {map:.3} of 1000 cells flip, {rays:.3} by rays alone");
            if map > if *name == "coast" { COARSE_LIMIT } else { LIMIT } {
                wrong += &format!("{name}, {method}: {map} of 1000 cells flip\n");
            }
            by_rays = by_rays.max(rays);
        }
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(by_rays > LIMIT, "rays alone would do: {by_rays} of 1000");
}

#[test]
fn over_made_up_ground_classes_are_those_of_own_profiles() {
    let plan = plan();
    for (land, limit) in [
        (Land::Gentle, LIMIT),
        (Land::Rough, LIMIT),
        (Land::Cliff, LIMIT),
        (Land::Quarries, LIMIT),
        (Land::Blocks, 3.0 * LIMIT),
        (Land::Town, 3.0 * LIMIT),
        (Land::Woods, 5.0 * LIMIT),
    ] {
        let transform = [500_000.0, 30.0, 0.0, 5_250_000.0, 0.0, -30.0];
        let grid = Grid::new(421, 377, transform, "EPSG:32632").unwrap();
        let terrain = land.terrain(grid, 5, |_, _| false);
        let [map, rays] = compare(&plan, &terrain, "delta-bullington");
        println!("{land:?}: {map:.3} of 1000 cells flip, {rays:.3} by rays alone");
        assert!(map <= limit, "{land:?}: {map} of 1000 cells flip, {rays} by rays alone");
    }
}

/// Ground in two files, of which the second lies on another grid: a map samples it
/// from its own cells, as a profile does.
#[test]
fn over_a_tile_on_another_grid_classes_are_those_of_own_profiles() {
    let plan = plan();
    let folder = tempfile::tempdir().unwrap();
    let file = |name: &str| folder.path().join(name);
    let written = |name: &str, grid: Grid| {
        let terrain = Land::Rough.terrain(grid, 5, |_, _| false);
        write_geotiff(&file(name), terrain.grid(), terrain.heights(), "ground", &[]).unwrap();
    };
    // The western fifth in UTM, all of it in degrees under that.
    let transform = [500_000.0, 30.0, 0.0, 5_250_000.0, 0.0, -30.0];
    written("west.tif", Grid::new(80, 377, transform, "EPSG:32632").unwrap());
    let step = 1.0 / 3600.0;
    let transform = [9.0 - 10.0 * step, 1.4 * step, 0.0, 47.403, 0.0, -step];
    written("whole.tif", Grid::new(430, 400, transform, "EPSG:4326").unwrap());
    let inputs = TerrainInputs {
        files: vec![file("west.tif"), file("whole.tif")],
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    let at = |latitude: f64, longitude: f64| {
        Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
    };
    let extent = Extent { south_west: at(47.31, 9.005), north_east: at(47.395, 9.15) };
    let terrain = Terrain::open(&inputs, extent).unwrap();
    assert!(terrain.own_ground().is_some());
    let window = Terrain::from_heights(terrain.grid().clone(), terrain.heights().to_owned());
    for method in ["delta-bullington", "bullington"] {
        let [map, rays] = compare(&plan, &terrain, method);
        println!("two grids, {method}: {map:.3} of 1000 cells flip, {rays:.3} by rays alone");
        assert!(map <= LIMIT, "{method}: {map} of 1000 cells flip, {rays} by rays alone");
    }
    // What the window's cells alone would have said is another map.
    let (model, with) = (
        model(&plan, &terrain, 17.0),
        propagator(perchline::propagation::method("delta-bullington").unwrap()),
    );
    let stop = AtomicBool::new(false);
    let of_window = window.unwrap();
    let map = cover(&of_window, of_window.grid(), &model, &with, &|| (), &stop).unwrap();
    let lost = flips(&map, &own(&terrain, &model, "delta-bullington"));
    assert!(lost > 5.0 * LIMIT, "the window alone would do: {lost} of 1000");
}

/// The losses that a search reads are left as the rays tell them; the shares of
/// masts count the very cells of a coverage.
#[test]
fn shares_of_masts_are_those_of_their_coverages() {
    let plan = plan();
    let transform = [500_000.0, 30.0, 0.0, 5_250_000.0, 0.0, -30.0];
    let grid = Grid::new(301, 283, transform, "EPSG:32632").unwrap();
    let terrain =
        Land::Rough.terrain(grid, 9, |column, row| (200..203).contains(&column) && row == 40);
    let masts = [4.0, 17.0, 40.0];
    let models = masts.map(|mast| model(&plan, &terrain, mast));
    let (with, stop) = (propagator(method("delta-bullington").unwrap()), AtomicBool::new(false));
    let shares = map_shares(&terrain, terrain.grid(), &models, &with, &|| (), &stop).unwrap();
    let mut works = Vec::new();
    for (model, share) in models.iter().zip(shares) {
        let map = cover(&terrain, terrain.grid(), model, &with, &|| (), &stop).unwrap();
        let working = map.outcome.iter().filter(|outcome| outcome.works()).count();
        assert_eq!(share.working, working);
        assert_eq!(share.known, map.outcome.len() - map.unknown_cells);
        works.push(working);
    }
    assert!(works.is_sorted_by(|a, b| a < b), "higher masts reach more: {works:?}");
    let frequencies = (Megahertz::new(147.6), Megahertz::new(147.0));
    let at = middle(&terrain);
    let layers = sweep(&terrain, at, &one(17.0, 1.4), frequencies, &with);
    assert_eq!(layers.layers.len(), 1);
}

/// The bits of every layer of a coverage.
fn bits(map: &Coverage) -> Vec<[u32; 5]> {
    let outcome = |of: &Outcome| Outcome::ALL.iter().position(|other| other == of).unwrap() as u32;
    let margins = map.talk_in_margin.iter().zip(&map.talk_out_margin).zip(&map.probability);
    let classes = map.outcome.iter().zip(&map.line_of_sight);
    margins
        .zip(classes)
        .map(|(((a, b), p), (class, sight))| {
            [a.to_bits(), b.to_bits(), p.to_bits(), outcome(class), u32::from(*sight)]
        })
        .collect()
}

/// Channels far apart in frequency, most with antennas at the same heights, one below the
/// frequencies of foliage, by every method that is swept: over mountains with a gap, and among houses and trees.
#[test]
fn channels_that_share_a_sweep_come_to_what_each_comes_to_alone() {
    let plan = plan();
    let transform = [500_000.0, 30.0, 0.0, 5_250_000.0, 0.0, -30.0];
    let grid = || Grid::new(151, 143, transform, "EPSG:32632").unwrap();
    let gap = |column, row| (100..103).contains(&column) && row == 40;
    let stop = AtomicBool::new(false);
    for terrain in [Land::Rough.terrain(grid(), 9, gap), Land::Woods.terrain(grid(), 4, gap)] {
        let channels =
            [(147.6, 147.0, 17.0), (452.0, 457.0, 17.0), (27.2, 27.2, 17.0), (147.6, 147.6, 9.0)];
        let models = channels.map(|(input, output, mast)| {
            let mut channel = plan.channels[0].clone();
            let Service::Relay { input: up, output: down, .. } = &mut channel.service else {
                panic!("the plan's channel is a relay's");
            };
            (*up, *down) = (Megahertz::new(input), Megahertz::new(output));
            model_on(&plan, &channel, &terrain, mast)
        });
        for name in ["delta-bullington", "bullington", "single-edge", "free-space"] {
            let with = propagator(method(name).unwrap());
            let rows = AtomicUsize::new(0);
            let count = || {
                rows.fetch_add(1, Ordering::Relaxed);
            };
            let together =
                cover_all(&terrain, terrain.grid(), &models, &with, &count, &stop).unwrap();
            assert_eq!(rows.into_inner(), models.len() * terrain.grid().rows());
            assert_eq!(together.len(), models.len());
            for (model, map) in models.iter().zip(&together) {
                let alone = cover(&terrain, terrain.grid(), model, &with, &|| (), &stop).unwrap();
                let (map, alone) = (bits(map), bits(&alone));
                let other = map.iter().zip(&alone).filter(|(map, alone)| map != alone).count();
                assert_eq!(other, 0, "cells, {name} at {:?}", model.frequencies());
            }
            let differ = bits(&together[0]) != bits(&together[1]);
            assert!(differ, "{name}: frequencies change nothing");
        }
    }
}
