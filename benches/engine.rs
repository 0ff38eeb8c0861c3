//! The plain coverage engine and each method on one long profile.

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use perchline::propagation::{METHODS, Path, Profile};
use perchline::units::{Megahertz, Metres};

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

criterion_group!(benches, methods);
criterion_main!(benches);
