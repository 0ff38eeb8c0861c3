//! The sweep against a profile for every cell, computed by the library's own
//! plain way: `Terrain::profile` and the method in double precision.

use crate::support::land::{
    self, Land, WHOLE, one, own_profile, place, propagator, quantile, scatter, torn,
};
use ndarray::Array2;
use perchline::coverage::sweep::{Heights, LossLayers};
use perchline::link::Propagator;
use perchline::propagation::{METHODS, method};
use perchline::terrain::{Grid, Terrain};
use perchline::units::{Megahertz, Metres, Position};
use proptest::prelude::*;
use proptest::test_runner::RngSeed;

const FREQUENCIES: (Megahertz, Megahertz) = (Megahertz::new(147.6), Megahertz::new(446.0));

/// Cells of 30 m in UTM zone 25 N, or of one arc second at 60 degrees north.
fn grid(columns: usize, rows: usize, geographic: bool) -> Grid {
    let second = 1.0 / 3600.0;
    if geographic {
        Grid::new(columns, rows, [-33.5, second, 0.0, 60.2, 0.0, -second], "EPSG:4326").unwrap()
    } else {
        Grid::new(columns, rows, [410_000.0, 30.0, 0.0, 5_210_000.0, 0.0, -30.0], "EPSG:32625")
            .unwrap()
    }
}

fn sweep(terrain: &Terrain, at: Position, heights: &Heights, with: &Propagator) -> LossLayers {
    land::sweep(terrain, at, heights, FREQUENCIES, with)
}

/// Losses of a cell by its own path, `None` where it is unknown.
fn own(
    terrain: &Terrain,
    from: Position,
    to: Position,
    (mast, carried): (Metres, Metres),
    with: &Propagator,
) -> Option<(f64, f64, f64)> {
    let profile = own_profile(terrain, from, to)?;
    let losses = with.slice(&profile, mast, carried, FREQUENCIES);
    let length = profile.length().value();
    Some((losses.talk_in.total().value(), losses.talk_out.total().value(), length))
}

/// How far a sweep is off, cell by cell, with the distance in spacings;
/// panics where one knows and the other does not.
fn compare(
    terrain: &Terrain,
    at: Position,
    layers: &LossLayers,
    with: &Propagator,
) -> Vec<(f64, f64)> {
    let grid = &layers.grid;
    let projector = grid.projector().unwrap();
    let mut off = Vec::new();
    // About a thousand cells, evenly spread; a prime step does not favour columns.
    let step = [1, 2, 3, 5, 7, 11, 13, 17, 29]
        .into_iter()
        .find(|s| grid.columns() * grid.rows() / s < 1000 && !grid.columns().is_multiple_of(*s));
    for layer in &layers.layers {
        for ((row, column), got_in) in layer.talk_in.indexed_iter().step_by(step.unwrap_or(31)) {
            let to = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
            let got_out = layer.talk_out[(row, column)];
            let exact = own(terrain, at, to, (layer.mast, layer.carried), with);
            assert_eq!(
                (got_in.is_nan(), got_out.is_nan()),
                (exact.is_none(), exact.is_none()),
                "known or not at column {column}, row {row}"
            );
            if let Some((talk_in, talk_out, length)) = exact {
                let worst =
                    (f64::from(*got_in) - talk_in).abs().max((f64::from(got_out) - talk_out).abs());
                off.push((worst, length / terrain.spacing().value()));
            }
        }
    }
    off
}

fn lands() -> impl Strategy<Value = Land> {
    prop::sample::select(vec![
        Land::Flat,
        Land::Sea,
        Land::Gentle,
        Land::Rough,
        Land::Cliff,
        Land::Blocks,
        Land::Town,
        Land::Woods,
    ])
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 200,
        rng_seed: RngSeed::Fixed(526),
        ..ProptestConfig::default()
    })]

    /// Cells are known where the plain way knows them, and their losses are
    /// those of their own path: to rounding up to 32 steps away, beyond that
    /// but for what lies between two rays.
    #[test]
    fn agrees_with_a_profile_for_every_cell(
        land in lands(),
        columns in 2usize..75,
        rows in 2usize..75,
        (x, y) in (0.0f64..1.0, 0.0f64..1.0),
        centred: bool,
        geographic: bool,
        mast in 1.0f64..60.0,
        carried in 0.5f64..12.0,
        which in 0usize..6,
        gaps in 0u32..4,
        seed in 0u64..1_000_000,
    ) {
        let grid = grid(columns, rows, geographic);
        let (mut column, mut row) = (x * columns as f64, y * rows as f64);
        if centred {
            (column, row) = (column.floor() + 0.5, row.floor() + 0.5);
        }
        let at = place(&grid, column, row);
        let gap = |c: usize, r: usize| {
            let (c, r) = (c as f64 + 0.5, r as f64 + 0.5);
            (0..gaps).any(|k| {
                let near = |axis: i64, size: usize| {
                    (scatter(i64::from(k), axis, seed) + 1.0) / 2.0 * size as f64
                };
                let width = 1.0 + 3.0 * f64::from(k);
                (c - near(1, columns)).abs() < width && (r - near(2, rows)).abs() < width
                    && ((c - column).abs() > 2.5 || (r - row).abs() > 2.5)
            })
        };
        let terrain = land.terrain(grid, seed, gap);
        let with = propagator(METHODS[which]);
        let layers = sweep(&terrain, at, &one(mast, carried), &with);
        let off = compare(&terrain, at, &layers, &with);
        for (worst, steps) in &off {
            prop_assert!(torn(*steps) || *steps > WHOLE || *worst < 0.05, "{worst} dB at {steps} steps");
        }
        let mut far: Vec<f64> = off.iter().filter(|o| o.1 > WHOLE).map(|o| o.0).collect();
        if far.len() > 200 {
            let (middle, high) = (quantile(&mut far, 0.5), quantile(&mut far, 0.95));
            // A sheer edge between two rays falls on the one or the other side
            // of a cell's own path; smooth ground does not care.
            let (most_middle, most_high) = match land {
                Land::Cliff | Land::Blocks | Land::Town => (0.6, 6.0),
                _ => (0.15, 3.0),
            };
            prop_assert!(
                middle < most_middle && high < most_high,
                "{land:?}: p50 {middle}, p95 {high}"
            );
        }
    }
}

#[test]
fn several_heights_at_once_are_the_same_as_one_at_a_time() {
    let terrain = Land::Gentle.terrain(grid(120, 90, false), 5, |_, _| false);
    let at = place(terrain.grid(), 31.3, 40.9);
    let metres = |all: &[f64]| all.iter().copied().map(Metres::new).collect::<Vec<_>>();
    let heights = Heights { masts: metres(&[3.0, 12.0, 40.0]), carried: metres(&[1.5, 6.0]) };
    for name in ["bullington", "single-edge", "delta-bullington"] {
        let with = propagator(method(name).unwrap());
        let all = sweep(&terrain, at, &heights, &with);
        assert_eq!(all.layers.len(), 6);
        for layer in &all.layers {
            let alone = sweep(&terrain, at, &one(layer.mast.value(), layer.carried.value()), &with);
            assert_eq!(layer.talk_in, alone.layers[0].talk_in, "{name}");
            assert_eq!(layer.talk_out, alone.layers[0].talk_out, "{name}");
        }
    }
}

#[test]
fn the_number_of_threads_does_not_show() {
    let terrain = Land::Rough.terrain(grid(200, 170, false), 9, |c, r| c == 60 && r == 80);
    let at = place(terrain.grid(), 101.2, 60.7);
    let with = propagator(method("bullington").unwrap());
    let run = |threads| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let layers = pool.install(|| sweep(&terrain, at, &one(20.0, 1.5), &with));
        let bits = |layer: &Array2<f32>| layer.iter().map(|v| v.to_bits()).collect::<Vec<_>>();
        (bits(&layers.layers[0].talk_in), bits(&layers.layers[0].talk_out))
    };
    let alone = run(1);
    assert!(alone == run(2) && alone == run(8));
}

/// The reading order that `src/coverage/sweep/mod.rs` states: names with arrows
/// between them, in backticks.
fn reading_order(text: &str) -> Vec<String> {
    let docs: Vec<_> = text.lines().filter_map(|line| line.strip_prefix("//!")).collect();
    docs.join(" ")
        .split('`')
        .skip(1)
        .step_by(2)
        .filter(|quoted| quoted.contains("->"))
        .flat_map(|quoted| {
            quoted.split("->").map(|name| name.trim().to_owned()).collect::<Vec<_>>()
        })
        .collect()
}

/// The modules beside it that a source file names.
fn siblings(text: &str) -> impl Iterator<Item = &str> {
    ["super::", "sweep::"].into_iter().flat_map(|before| text.split(before).skip(1)).map(|rest| {
        rest.split(|c: char| !c.is_ascii_alphanumeric() && c != '_').next().unwrap_or_default()
    })
}

#[test]
fn modules_of_the_sweep_import_only_from_those_before_them() {
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("src/coverage/sweep");
    let order = reading_order(&std::fs::read_to_string(folder.join("mod.rs")).unwrap());
    let mut files: Vec<String> = std::fs::read_dir(&folder)
        .unwrap()
        .map(|entry| entry.unwrap().path().file_stem().unwrap().to_str().unwrap().to_owned())
        // What declares the modules, and a test of all of them.
        .filter(|name| !["mod", "on_ray"].contains(&name.as_str()))
        .collect();
    files.sort();
    let mut named = order.clone();
    named.sort();
    assert_eq!(named, files);
    let mut seen = 0;
    for (place, name) in order.iter().enumerate() {
        let text = std::fs::read_to_string(folder.join(name).with_extension("rs")).unwrap();
        for sibling in siblings(&text) {
            if let Some(there) = order.iter().position(|other| other == sibling) {
                assert!(there < place, "{name} imports {sibling}, which stands after it");
                seen += 1;
            }
        }
    }
    assert!(seen > 80, "only {seen} imports found");
}
