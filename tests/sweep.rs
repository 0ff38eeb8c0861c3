//! The sweep against a profile for every cell, computed by the library's own
//! plain way: `Terrain::profile` and the method in double precision.

mod support;

use std::sync::atomic::AtomicBool;

use ndarray::Array2;
use perchline::coverage::sweep::{Heights, LossLayers, Options, losses};
use perchline::link::Propagator;
use perchline::propagation::{Climate, EffectiveEarth, METHODS, PathLoss, method};
use perchline::terrain::{Grid, PlaceError, Terrain};
use perchline::units::{Megahertz, Metres, Polarization, Position};
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

/// A number from -1 to 1 that looks random.
fn scatter(x: i64, y: i64, seed: u64) -> f64 {
    let mut z = (x as u64)
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add((y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F))
        .wrapping_add(seed.wrapping_mul(0x1656_67B1_9E37_79F9));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Smooth noise with waves of `period` cells.
fn noise(x: f64, y: f64, period: f64, seed: u64) -> f64 {
    let (x, y) = (x / period, y / period);
    let (left, top) = (x.floor(), y.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - left), ease(y - top));
    let at = |dx: i64, dy: i64| scatter(left as i64 + dx, top as i64 + dy, seed);
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    mix(mix(at(0, 0), at(1, 0), u), mix(at(0, 1), at(1, 1), u), v)
}

#[derive(Debug, Clone, Copy)]
enum Land {
    Flat,
    Sea,
    Gentle,
    Rough,
    Cliff,
    Blocks,
    /// Gentle ground with houses standing on it as cover.
    Town,
    /// The same with trees among and beyond them.
    Woods,
}

impl Land {
    fn height(self, column: usize, row: usize, seed: u64) -> f32 {
        let (x, y) = (column as f64, row as f64);
        let fractal = |amplitude: f64, fall: f64| -> f64 {
            (0..6)
                .map(|k| {
                    amplitude * fall.powi(k) * noise(x, y, 100.0 / 2f64.powi(k), seed + k as u64)
                })
                .sum()
        };
        (match self {
            Self::Flat => 212.0,
            Self::Sea => 0.0,
            Self::Gentle | Self::Town | Self::Woods => 200.0 + fractal(25.0, 0.45),
            Self::Rough => 900.0 + fractal(150.0, 0.55),
            Self::Cliff => {
                if x + 0.4 * y > 45.0 {
                    80.0
                } else {
                    5.0
                }
            }
            Self::Blocks => {
                let high = scatter(column as i64 / 3, row as i64 / 3, seed);
                20.0 + fractal(5.0, 0.4) + if high > 0.3 { 25.0 * high } else { 0.0 }
            }
        }) as f32
    }

    fn terrain(self, grid: Grid, seed: u64, gap: impl Fn(usize, usize) -> bool) -> Terrain {
        let heights = Array2::from_shape_fn((grid.rows(), grid.columns()), |(row, column)| {
            if gap(column, row) { f32::NAN } else { self.height(column, row, seed) }
        });
        let terrain = Terrain::from_heights(grid, heights).unwrap();
        if !matches!(self, Self::Town | Self::Woods) {
            return terrain;
        }
        let cover = Array2::from_shape_fn(terrain.heights().dim(), |(row, column)| {
            let street = column % 5 > 2 || row % 4 > 2;
            let high = scatter(column as i64 / 5, row as i64 / 4, seed);
            if street { 0.0 } else { (12.0 + 8.0 * high) as f32 }
        });
        if matches!(self, Self::Town) {
            return terrain.with_cover(cover).unwrap();
        }
        // One house in four stands, the rest of its ground is wooded.
        let house = |row: usize, column: usize| scatter(column as i64 / 5, row as i64 / 4, 7) > 0.5;
        let mut mixed = cover.clone();
        for ((row, column), cell) in mixed.indexed_iter_mut() {
            let patch = noise(column as f64, row as f64, 12.0, seed + 9);
            if !house(row, column) {
                *cell = if patch > 0.0 { 14.0 + 3.0 * patch as f32 } else { 0.0 };
            }
        }
        let trees =
            Array2::from_shape_fn(
                mixed.dim(),
                |at| {
                    if house(at.0, at.1) { 0.0 } else { mixed[at] }
                },
            );
        terrain.with_cover(mixed).unwrap().with_woods(trees).unwrap()
    }
}

fn place(grid: &Grid, column: f64, row: f64) -> Position {
    grid.projector().unwrap().to_position(column, row).unwrap()
}

fn propagator(method: &'static dyn PathLoss) -> Propagator {
    Propagator {
        method,
        earth: EffectiveEarth::from_k_factor(4.0 / 3.0),
        climate: Climate::DEFAULT,
        polarization: Polarization::Vertical,
    }
}

fn one(mast: f64, carried: f64) -> Heights {
    Heights { masts: vec![Metres::new(mast)], carried: vec![Metres::new(carried)] }
}

fn sweep(terrain: &Terrain, at: Position, heights: &Heights, with: &Propagator) -> LossLayers {
    let stop = AtomicBool::new(false);
    let options = Options::default();
    losses(terrain, terrain.grid(), at, heights, FREQUENCIES, with, &options, &stop).unwrap()
}

/// Losses of a cell by its own path, `None` where it is unknown.
fn own(
    terrain: &Terrain,
    from: Position,
    to: Position,
    (mast, carried): (Metres, Metres),
    with: &Propagator,
) -> Option<(f64, f64, f64)> {
    let profile = match terrain.profile(from, to) {
        Ok(profile) => profile,
        Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => return None,
        Err(other) => panic!("{other}"),
    };
    let losses = with.losses(&profile, mast, carried, FREQUENCIES);
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

/// The value below which a share of the errors lies.
fn quantile(errors: &mut [f64], share: f64) -> f64 {
    errors.sort_by(f64::total_cmp);
    errors[((errors.len() - 1) as f64 * share) as usize]
}

/// Paths of up to so many steps are sampled whole by the sweep too.
const WHOLE: f64 = 31.0;

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
            // A hair's breadth over a whole number of steps a path gets one
            // point more; single precision may see it the other way.
            let torn = (steps - steps.round()).abs() < 1e-4;
            prop_assert!(torn || *steps > WHOLE || *worst < 0.05, "{worst} dB at {steps} steps");
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
