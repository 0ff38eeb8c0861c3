//! Each method on one long profile, and a map swept with each that can be.

use std::hint::black_box;
use std::sync::atomic::AtomicBool;

use criterion::{Criterion, criterion_group, criterion_main};
use ndarray::Array2;
use perchline::coverage::sweep::{Heights, Options, losses};
use perchline::link::Propagator;
use perchline::propagation::{Climate, EffectiveEarth, METHODS, Path, Profile};
use perchline::terrain::{Grid, Terrain};
use perchline::units::{Megahertz, Metres, Polarization};

/// A rolling profile of `points` points, 10 m apart.
fn rolling(points: u32) -> Profile {
    let distance: Vec<f64> = (0..points).map(|i| f64::from(i) * 10.0).collect();
    let height = distance
        .iter()
        .map(|d| 80.0 + 40.0 * (d / 900.0).sin() + 15.0 * (d / 170.0).sin())
        .collect();
    Profile::new(distance, height).expect("distances grow by 10 m")
}

fn methods(c: &mut Criterion) {
    let profile = rolling(500);
    let path = Path::new(&profile, Metres::new(17.0), Metres::new(1.4), Megahertz::new(147.0));
    let mut group = c.benchmark_group("500_point_profile");
    for method in METHODS {
        group.bench_function(method.name(), |b| b.iter(|| method.loss(black_box(&path))));
    }
    group.finish();
}

/// A whole map of 801 x 801 cells, swept.
fn maps(c: &mut Criterion) {
    let transform = [350_000.0, 30.0, 0.0, 5_250_000.0, 0.0, -30.0];
    let grid = Grid::new(801, 801, transform, "EPSG:32625").expect("a grid");
    let heights = Array2::from_shape_fn((801, 801), |(row, column)| {
        let (x, y) = (column as f32, row as f32);
        120.0 + 50.0 * (x / 40.0).sin() * (y / 55.0).cos() + 8.0 * (x / 7.0 + y / 5.0).sin()
    });
    let terrain = Terrain::from_heights(grid, heights).expect("heights that fit");
    let at = terrain
        .grid()
        .projector()
        .and_then(|p| p.to_position(400.3, 400.6))
        .expect("a place on the land");
    let heights = Heights { masts: vec![Metres::new(17.0)], carried: vec![Metres::new(1.4)] };
    let frequencies = (Megahertz::new(147.6), Megahertz::new(147.0));
    let mut group = c.benchmark_group("sweep_801");
    group.sample_size(20);
    for method in METHODS.iter().filter(|method| method.swept().is_some()) {
        let (earth, polarization) = (EffectiveEarth::default(), Polarization::Vertical);
        let climate = Climate::DEFAULT;
        let propagator = Propagator { method: *method, earth, climate, polarization };
        let (options, stop) = (Options::default(), AtomicBool::new(false));
        group.bench_function(method.name(), |b| {
            b.iter(|| {
                let grid = terrain.grid();
                losses(&terrain, grid, at, &heights, frequencies, &propagator, &options, &stop)
            });
        });
    }
    group.finish();
}

criterion_group!(benches, methods, maps);
criterion_main!(benches);
