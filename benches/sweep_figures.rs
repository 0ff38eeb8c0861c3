//! What the sweep costs and how far it is off, as `make figures` prints it:
//! ratios and errors of one run, on land made here.

use std::process::{Command, Stdio};
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use ndarray::Array2;
use perchline::coverage::sweep::{Heights, LossLayers, Options, losses};
use perchline::link::Propagator;
use perchline::propagation::{EffectiveEarth, Profile, method};
use perchline::terrain::{Grid, Terrain, write_geotiff};
use perchline::units::{Megahertz, Metres, Polarization, Position};

const FREQUENCIES: (Megahertz, Megahertz) = (Megahertz::new(147.6), Megahertz::new(147.0));
const MAST: Metres = Metres::new(17.0);
const CARRIED: Metres = Metres::new(1.4);

/// Side of a cell in metres.
const CELL: f64 = 30.0;

/// A number from -1 to 1 for a point of a lattice (SplitMix64).
fn scatter(x: i64, y: i64, seed: u64) -> f64 {
    let mut z = (x as u64)
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add((y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F))
        .wrapping_add(seed.wrapping_mul(0x1656_67B1_9E37_79F9));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Smooth noise between the points of a lattice `size` cells apart.
fn noise(x: f64, y: f64, size: f64, seed: u64) -> f64 {
    let (x, y) = (x / size, y / size);
    let (left, top) = (x.floor(), y.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (right, down) = (ease(x - left), ease(y - top));
    let at = |c: i64, r: i64| scatter(left as i64 + c, top as i64 + r, seed);
    let upper = at(0, 0) * (1.0 - right) + at(1, 0) * right;
    let lower = at(0, 1) * (1.0 - right) + at(1, 1) * right;
    upper * (1.0 - down) + lower * down
}

/// Hills of this height whose roughness falls by `fall` from scale to scale.
fn land(side: usize, amplitude: f64, fall: f64) -> Terrain {
    let transform = [350_000.0, CELL, 0.0, 5_250_000.0, 0.0, -CELL];
    let grid = Grid::new(side, side, transform, "EPSG:32625").expect("a grid");
    let heights = Array2::from_shape_fn((side, side), |(row, column)| {
        let height: f64 = (0..7)
            .map(|k| {
                amplitude
                    * fall.powi(k)
                    * noise(column as f64, row as f64, 200.0 / 2f64.powi(k), 7 + k as u64)
            })
            .sum();
        (400.0 + height) as f32
    });
    Terrain::from_heights(grid, heights).expect("heights that fit the grid")
}

fn middle(terrain: &Terrain) -> Position {
    let centre = terrain.grid().columns() as f64 / 2.0 + 0.3;
    terrain.grid().projector().and_then(|p| p.to_position(centre, centre)).expect("a place")
}

fn with(name: &str) -> Propagator {
    Propagator {
        method: method(name).expect("a method of this name"),
        earth: EffectiveEarth::default(),
        polarization: Polarization::Vertical,
    }
}

fn sweep(terrain: &Terrain, name: &str, masts: &[Metres]) -> LossLayers {
    let heights = Heights { masts: masts.to_vec(), carried: vec![CARRIED] };
    let (options, stop) = (Options::default(), AtomicBool::new(false));
    let at = middle(terrain);
    losses(terrain, terrain.grid(), at, &heights, FREQUENCIES, &with(name), &options, &stop)
        .expect("a sweep")
}

/// The least of `runs` times in seconds.
fn seconds(runs: u32, mut work: impl FnMut()) -> f64 {
    (0..runs)
        .map(|_| {
            let start = Instant::now();
            work();
            start.elapsed().as_secs_f64()
        })
        .fold(f64::INFINITY, f64::min)
}

/// Seconds of the plain way for the whole raster, from every `step`th cell of
/// every `step`th row, on the threads that are there.
fn plain_seconds(terrain: &Terrain, name: &str, step: usize) -> f64 {
    use rayon::prelude::*;
    let (grid, at, propagator) = (terrain.grid(), middle(terrain), with(name));
    let rows: Vec<usize> = (step / 2..grid.rows()).step_by(step).collect();
    let start = Instant::now();
    let cells: usize = rows
        .par_iter()
        .map(|row| {
            let centres: Vec<_> = (step / 2..grid.columns())
                .step_by(step)
                .map(|column| (column as f64 + 0.5, *row as f64 + 0.5))
                .collect();
            let places = grid.projector().and_then(|p| p.to_positions(&centres)).expect("places");
            let mut tracer = terrain.tracer(at).expect("ground below the antenna");
            let mut profile = Profile::default();
            for place in &places {
                tracer.trace(*place, &mut profile).expect("land without gaps");
                let losses = propagator.losses(&profile, MAST, CARRIED, FREQUENCIES);
                std::hint::black_box(losses);
            }
            places.len()
        })
        .sum();
    start.elapsed().as_secs_f64() * (grid.columns() * grid.rows()) as f64 / cells as f64
}

/// The errors in dB of every `step`th cell against its own path, sorted.
fn path_errors(terrain: &Terrain, name: &str, step: usize) -> Vec<f64> {
    let layers = sweep(terrain, name, &[MAST]);
    let layer = layers.layers.first().expect("one layer");
    let projector = layers.grid.projector().expect("a projector");
    let propagator = with(name);
    let mut tracer = terrain.tracer(middle(terrain)).expect("ground below the antenna");
    let mut profile = Profile::default();
    let mut errors: Vec<f64> = layer
        .talk_out
        .indexed_iter()
        .step_by(step)
        .map(|((row, column), loss)| {
            let place = projector
                .to_position(column as f64 + 0.5, row as f64 + 0.5)
                .expect("a cell on the earth");
            tracer.trace(place, &mut profile).expect("land without gaps");
            let own = propagator.losses(&profile, MAST, CARRIED, FREQUENCIES).talk_out.total();
            (f64::from(*loss) - own.value()).abs()
        })
        .collect();
    errors.sort_by(f64::total_cmp);
    errors
}

fn quantile(sorted: &[f64], share: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * share) as usize]
}

/// Seconds of gdal_viewshed, the whole process, on the same raster; `None`
/// where it is not installed.
fn viewshed_seconds(terrain: &Terrain) -> Option<f64> {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let (input, output) = (folder.path().join("land.tif"), folder.path().join("seen.tif"));
    write_geotiff(&input, terrain.grid(), terrain.heights(), "height, m", &[]).expect("a raster");
    let [x, width, _, y, _, height] = terrain.grid().transform();
    let centre = terrain.grid().columns() as f64 / 2.0 + 0.3;
    let (ox, oy) = (x + centre * width, y + centre * height);
    let run = || {
        Command::new("gdal_viewshed")
            .args(["-q", "-cc", "0.75", "-oz", "17", "-tz", "1.4"])
            .args(["-ox", &ox.to_string(), "-oy", &oy.to_string()])
            .args([&input, &output])
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .is_ok_and(|status| status.success())
    };
    run().then(|| {
        seconds(3, || {
            run();
        })
    })
}

fn main() {
    let masts: Vec<_> = (1..=8).map(|i| Metres::new(f64::from(i) * 4.0)).collect();
    let small = land(1201, 60.0, 0.45);
    let once = seconds(3, || drop(sweep(&small, "delta-bullington", &[MAST])));
    let plain = plain_seconds(&small, "delta-bullington", 15);
    println!("figure speedup_1201_vs_plain {:.0} times", plain / once);
    let eight = seconds(2, || drop(sweep(&small, "delta-bullington", &masts)));
    println!("figure eight_heights_vs_one {:.2} times", eight / once);
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    let alone = single.install(|| seconds(2, || drop(sweep(&small, "delta-bullington", &[MAST]))));
    println!("figure two_thread_speedup {:.2} times", alone / once);
    for (name, amplitude, fall) in [("gentle", 60.0, 0.45), ("rough", 300.0, 0.55)] {
        let terrain = land(1201, amplitude, fall);
        let errors = path_errors(&terrain, "delta-bullington", 53);
        println!("figure path_error_{name}_p50_db {:.3} dB", quantile(&errors, 0.5));
        println!("figure path_error_{name}_p99_db {:.2} dB", quantile(&errors, 0.99));
        println!("figure path_error_{name}_worst_db {:.1} dB", quantile(&errors, 1.0));
    }
    drop(small);

    let large = land(3601, 60.0, 0.45);
    let bullington = seconds(2, || drop(sweep(&large, "bullington", &[MAST])));
    let delta = seconds(2, || drop(sweep(&large, "delta-bullington", &[MAST])));
    println!("figure growth_1201_to_3601_per_cell {:.2} times", delta / once / 8.99);
    let plain = plain_seconds(&large, "delta-bullington", 101);
    println!("figure speedup_3601_vs_plain {:.0} times", plain / delta);
    if let Some(viewshed) = viewshed_seconds(&large) {
        println!("figure bullington_3601_vs_viewshed {:.2} times", bullington / viewshed);
        println!("figure delta_bullington_3601_vs_viewshed {:.2} times", delta / viewshed);
    }
}
