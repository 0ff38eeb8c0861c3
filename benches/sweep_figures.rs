//! What the sweep costs and how far it is off, as `make figures` prints it:
//! ratios and errors of one run, on land made here and on real ground. With
//! `errors` behind it, only how far it is off; with `classes`, only how exact
//! the classes are and what that costs.

use std::process::Command;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use perchline::coverage::sweep::{Heights, LossLayers, Options, cover_coarsely, losses};
use perchline::coverage::{Coverage, cover, cover_all};
use perchline::link::{LinkModel, Propagator, Terminal};
use perchline::plan::{self, Channel, Plan, Roof, TerrainInputs};
use perchline::propagation::{Climate, EffectiveEarth, METHODS, Profile, method};
use perchline::terrain::{Extent, Grid, Terrain, write_geotiff};
use perchline::units::{Megahertz, Metres, Polarization, Position};
use support::real;
use support::timed::{TRANSFORM, land, plain_raster, seconds, viewshed_seconds};

const FREQUENCIES: (Megahertz, Megahertz) = (Megahertz::new(147.6), Megahertz::new(147.0));
const MAST: Metres = Metres::new(17.0);
const CARRIED: Metres = Metres::new(1.4);

#[path = "../tests/support/mod.rs"]
mod support;

/// The land of this name.
fn made_up(name: &str) -> Terrain {
    let (amplitude, fall, houses) = match name {
        "gentle" => (60.0, 0.45, false),
        "rough" => (300.0, 0.55, false),
        _ => (6.0, 0.4, true),
    };
    land(1201, amplitude, fall, houses)
}

fn middle(terrain: &Terrain) -> Position {
    let grid = terrain.grid();
    let (x, y) = (grid.columns() as f64 / 2.0 + 0.3, grid.rows() as f64 / 2.0 + 0.3);
    grid.projector().and_then(|p| p.to_position(x, y)).expect("a place")
}

fn with(name: &str) -> Propagator {
    Propagator {
        method: method(name).expect("a method of this name"),
        earth: EffectiveEarth::default(),
        climate: Climate::DEFAULT,
        polarization: Polarization::Vertical,
    }
}

fn sweep(terrain: &Terrain, name: &str, masts: &[Metres]) -> LossLayers {
    sweep_with(terrain, name, masts, &Options::default())
}

fn sweep_with(terrain: &Terrain, name: &str, masts: &[Metres], options: &Options) -> LossLayers {
    let heights = Heights { masts: masts.to_vec(), carried: vec![CARRIED] };
    let (at, stop) = (middle(terrain), AtomicBool::new(false));
    losses(terrain, terrain.grid(), at, &heights, FREQUENCIES, &with(name), options, &stop)
        .expect("a sweep")
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
                let losses = propagator.slice(&profile, MAST, CARRIED, FREQUENCIES);
                std::hint::black_box(losses);
            }
            places.len()
        })
        .sum();
    start.elapsed().as_secs_f64() * (grid.columns() * grid.rows()) as f64 / cells as f64
}

/// The errors in dB of every `step`th cell against its own path, sorted.
fn path_errors(terrain: &Terrain, name: &str, step: usize) -> Vec<f64> {
    path_errors_with(terrain, name, step, &Options::default())
}

fn path_errors_with(terrain: &Terrain, name: &str, step: usize, options: &Options) -> Vec<f64> {
    let layers = sweep_with(terrain, name, &[MAST], options);
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

/// How many of the sorted errors lie in classes of a decade each.
fn histogram(name: &str, sorted: &[f64]) {
    let limits = [1e-3, 1e-2, 0.1, 0.5, 1.0, 3.0, 10.0, f64::INFINITY];
    let mut below = 0;
    for limit in limits {
        let count = sorted.partition_point(|e| *e < limit) - below;
        below += count;
        let share = count as f64 / sorted.len() as f64;
        let bar = "#".repeat((share * 60.0).round() as usize);
        println!("path error, {name}: below {limit:6} dB {:6.2} % {bar}", share * 100.0);
    }
}

/// Errors of both methods against each cell's own path, on made-up land and on
/// real ground where it is there.
fn errors() {
    let mut worst = 0f64;
    let real = real::grounds().into_iter().flatten();
    let steps = real.map(|(name, terrain)| (name, terrain, 7, true));
    let lands = ["gentle", "rough", "city"].map(|name| (name, made_up(name), 53, false));
    for (name, terrain, step, real) in steps.chain(lands) {
        histogram(&format!("bullington, {name}"), &path_errors(&terrain, "bullington", step));
        let errors = path_errors(&terrain, "delta-bullington", step);
        histogram(&format!("delta-bullington, {name}"), &errors);
        println!("figure path_error_{name}_p50_db {:.3} dB", quantile(&errors, 0.5));
        println!("figure path_error_{name}_p99_db {:.2} dB", quantile(&errors, 0.99));
        println!("figure path_error_{name}_worst_db {:.1} dB", quantile(&errors, 1.0));
        if real {
            worst = worst.max(quantile(&errors, 0.99));
        }
    }
    if worst > 0.0 {
        println!("figure path_error_real_p99_db {worst:.1} dB");
    }
    // What the last halving of the gap between rays costs and brings.
    let terrain = land(1201, 60.0, 0.45, false);
    let gap = |gap: f64| Options { ray_gap: Some(gap), ..Options::default() };
    let [wide, narrow] = [3.5, 1.75].map(|g| {
        let time = seconds(5, || drop(sweep_with(&terrain, "delta-bullington", &[MAST], &gap(g))));
        let errors = path_errors_with(&terrain, "delta-bullington", 53, &gap(g));
        (time, quantile(&errors, 0.99))
    });
    println!("figure halved_gap_costs {:.2} times", narrow.0 / wide.0);
    println!("figure halved_gap_leaves {:.2} times", narrow.1 / wide.1);
}

/// The link from a station in the middle of a land, 17 m up, by the sample plan.
fn link(plan: &Plan, terrain: &Terrain) -> LinkModel {
    link_on(plan, &plan.channels[0], terrain)
}

fn link_on(plan: &Plan, channel: &Channel, terrain: &Terrain) -> LinkModel {
    let mut site = plan.sites[0].clone();
    (site.at, site.roof) = (middle(terrain), Roof::AboveGround(MAST));
    site.mast = Metres::new(0.0);
    let station = Terminal::at_site(plan, channel, &site, terrain).expect("a site on the land");
    let carried = Terminal::anywhere(plan, channel, None, site.at);
    LinkModel::new(plan, channel, &station, &carried)
}

/// Whether the class of a cell is that of its own path: for every `step`th cell.
fn flips(terrain: &Terrain, model: &LinkModel, map: &Coverage, step: usize) -> Vec<bool> {
    use rayon::prelude::*;
    let (grid, with, chances) = (terrain.grid(), with("delta-bullington"), model.chances());
    let (station, carried) = (model.station(), model.carried().antenna);
    let cells: Vec<_> = map.outcome.indexed_iter().step_by(step).collect();
    let chunks = cells.par_chunks(1 << 10);
    chunks
        .flat_map_iter(|cells| {
            let projector = grid.projector().expect("a projector");
            let mut tracer = terrain.tracer(station.at).expect("ground below the antenna");
            let mut profile = Profile::default();
            let mut flips = Vec::with_capacity(cells.len());
            for ((row, column), outcome) in cells {
                let (x, y) = (*column as f64 + 0.5, *row as f64 + 0.5);
                let place = projector.to_position(x, y).expect("a cell on the earth");
                tracer.trace(place, &mut profile).expect("land without gaps");
                let losses = with.losses(&profile, station.antenna, carried, model.frequencies());
                let own = model.assess(&losses);
                let margins = [own.talk_in_margin, own.talk_out_margin];
                let [talk_in, talk_out] = margins.map(|margin| margin.value() as f32);
                flips.push(chances.of(talk_in, talk_out).1 != **outcome);
            }
            flips
        })
        .collect()
}

/// How exact the classes of maps are, with undecided cells looked at on their own
/// paths and by the rays alone, and what the looking costs.
fn classes() {
    let names: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
    let plan = plan::read("sample-terrain/ferry-lights.toml".as_ref(), &names).expect("a plan");
    let (propagator, stop) = (with("delta-bullington"), AtomicBool::new(false));
    let real = real::grounds().into_iter().flatten();
    let real = real.map(|(name, terrain)| (name, terrain, 1));
    let lands = ["gentle", "rough", "city"].map(|name| (name, made_up(name), 7));
    let mut worst = 0f64;
    for (name, terrain, step) in real.chain(lands) {
        let (grid, model) = (terrain.grid(), link(&plan, &terrain));
        let exact = || cover(&terrain, grid, &model, &propagator, &|| (), &stop).expect("a map");
        let rays = || cover_coarsely(&terrain, grid, 1, &model, &propagator, &stop).expect("a map");
        let [flipped, alone] = [exact(), rays()].map(|map| {
            let flips = flips(&terrain, &model, &map, step);
            100.0 * flips.iter().filter(|flip| **flip).count() as f64 / flips.len() as f64
        });
        println!("figure class_flips_{name}_percent {flipped:.3} %");
        println!("figure class_flips_{name}_by_rays_percent {alone:.2} %");
        worst = worst.max(flipped);
        // Turn by turn, so that what else the machine does falls on both.
        let turns = (0..5).map(|_| [seconds(1, || drop(exact())), seconds(1, || drop(rays()))]);
        let least = turns.fold([f64::INFINITY; 2], |[a, b], [c, d]| [a.min(c), b.min(d)]);
        let costs = least[0] / least[1];
        match name {
            "gentle" => {
                println!("figure exact_classes_cost {costs:.2} times");
                println!("figure two_channels_cost {:.2} times", two_channels(&plan, &terrain));
            }
            "ridges" | "city" => println!("figure exact_classes_{name}_costs {costs:.2} times"),
            _ => {}
        }
    }
    println!("figure class_flips_percent {worst:.2} %");
}

/// What the maps of two channels with antennas at the same heights cost over that of
/// one of them.
fn two_channels(plan: &Plan, terrain: &Terrain) -> f64 {
    let (propagator, stop) = (with("delta-bullington"), AtomicBool::new(false));
    let models = [0, 1].map(|channel| link_on(plan, &plan.channels[channel], terrain));
    let both = |models: &[LinkModel]| {
        cover_all(terrain, terrain.grid(), models, &propagator, &|| (), &stop).expect("maps")
    };
    let turns = (0..5)
        .map(|_| [seconds(1, || drop(both(&models))), seconds(1, || drop(both(&models[..1])))]);
    let least = turns.fold([f64::INFINITY; 2], |[a, b], [c, d]| [a.min(c), b.min(d)]);
    least[0] / least[1]
}

/// Sixteen losses each way, as the sweep hands them on.
type Handed = [[f32; 16]; 6];

/// Takes losses as the sweep's results do: a call for sixteen cells.
trait Takes {
    fn take(&self, from: usize, losses: &Handed);
}

struct Kept(std::cell::RefCell<Vec<f32>>);

impl Takes for Kept {
    fn take(&self, from: usize, losses: &Handed) {
        let mut kept = self.0.borrow_mut();
        let [talk_in, talk_out, ..] = losses;
        for (kept, (a, b)) in kept.iter_mut().skip(from).zip(talk_in.iter().zip(talk_out)) {
            *kept = a.max(*b);
        }
    }
}

/// What virtual calls cost: seconds for so many of the shape in which the sweep hands
/// losses on, over those of the same work called directly.
fn virtual_calls(calls: usize) -> f64 {
    use std::hint::black_box;
    const CELLS: usize = 1 << 14;
    let kept = Kept(vec![0.0; CELLS].into());
    let losses: Handed = [[120.0; 16]; 6];
    let from = |call: usize| (call * 16) % CELLS;
    let direct = || (0..calls).for_each(|call| kept.take(from(call), black_box(&losses)));
    let behind: &dyn Takes = black_box(&kept);
    let virtually = || (0..calls).for_each(|call| behind.take(from(call), black_box(&losses)));
    let turns = (0..9).map(|_| [seconds(1, virtually), seconds(1, direct)]);
    let least = turns.fold([f64::INFINITY; 2], |[a, b], [c, d]| [a.min(c), b.min(d)]);
    (least[0] - least[1]).max(0.0)
}

/// What the virtual calls of a sweep cost of the sweep itself, on one thread.
fn virtual_share(terrain: &Terrain) {
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    let swept = || drop(sweep(terrain, "delta-bullington", &[MAST]));
    let sweep_alone = single.install(|| seconds(3, swept));
    let (rows, columns) = (terrain.grid().rows(), terrain.grid().columns());
    // Runs end at the edges of wedges: twice as many calls as full ones are enough.
    let calls = 2 * (rows * columns).div_ceil(16);
    let share = 100.0 * virtual_calls(calls) / sweep_alone;
    println!("figure virtual_calls_percent {share:.2} %");
}

/// A field of this process's status in bytes, where there is such a thing.
fn status(field: &str) -> Option<f64> {
    let text = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = text.lines().find(|line| line.starts_with(field))?;
    line.split_whitespace().nth(1)?.parse::<f64>().ok().map(|kib| kib * 1024.0)
}

/// Memory of a whole coverage above the elevation raster, bytes a cell.
fn bytes_per_cell(terrain: &Terrain) -> Option<f64> {
    let names: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
    let plan = plan::read("sample-terrain/ferry-lights.toml".as_ref(), &names).expect("a plan");
    let (channel, site) = (&plan.channels[0], &plan.sites[0]);
    let station = Terminal::at_site(&plan, channel, site, terrain).expect("a site on the land");
    let carried = Terminal::anywhere(&plan, channel, None, site.at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    std::fs::write("/proc/self/clear_refs", "5").ok()?;
    let before = status("VmRSS")?;
    let stop = AtomicBool::new(false);
    let propagator = with("delta-bullington");
    let map = cover(terrain, terrain.grid(), &model, &propagator, &|| (), &stop).expect("a map");
    let cells = map.outcome.len() as f64;
    Some((status("VmHWM")? - before) / cells)
}

/// As a process of its own: reads a raster, sweeps it, writes the losses.
fn whole(input: &str, output: &str) {
    let inputs = TerrainInputs {
        files: vec![input.into()],
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    let land = Grid::new(3601, 3601, TRANSFORM, "EPSG:32625").expect("a grid");
    let projector = land.projector().expect("a projection");
    let corners = [(1.0, 1.0), (3600.0, 1.0), (1.0, 3600.0), (3600.0, 3600.0)]
        .map(|(x, y)| projector.to_position(x, y).expect("a place"));
    let extent = Extent::around(corners, Metres::new(0.0)).expect("an extent");
    let terrain = Terrain::open(&inputs, extent).expect("a terrain");
    let layers = sweep(&terrain, "bullington", &[MAST]);
    let layer = layers.layers.first().expect("a layer");
    write_geotiff(output.as_ref(), &layers.grid, layer.talk_out.view(), "loss, dB", &[])
        .expect("a raster");
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>().as_slice() {
        [_, "whole", input, output] => return whole(input, output),
        [_, "errors", ..] => return errors(),
        [_, "classes", ..] => return classes(),
        [_, "calls", ..] => return virtual_share(&land(1201, 60.0, 0.45, false)),
        _ => errors(),
    }
    classes();
    let masts: Vec<_> = (1..=8).map(|i| Metres::new(f64::from(i) * 4.0)).collect();
    let small = land(1201, 60.0, 0.45, false);
    let once = seconds(5, || drop(sweep(&small, "delta-bullington", &[MAST])));
    let plain = plain_seconds(&small, "delta-bullington", 15);
    println!("figure speedup_1201_vs_plain {:.0} times", plain / once);
    virtual_share(&small);
    let eight = seconds(3, || drop(sweep(&small, "delta-bullington", &masts)));
    println!("figure eight_heights_vs_one {:.2} times", eight / once);
    let single = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    let alone = single.install(|| seconds(5, || drop(sweep(&small, "delta-bullington", &[MAST]))));
    println!("figure two_thread_speedup {:.2} times", alone / once);
    drop(small);

    let large = land(3601, 60.0, 0.45, false);
    if let Some(bytes) = bytes_per_cell(&large) {
        println!("figure bytes_per_cell {bytes:.1} bytes");
    }
    let bullington = seconds(4, || drop(sweep(&large, "bullington", &[MAST])));
    let delta = seconds(4, || drop(sweep(&large, "delta-bullington", &[MAST])));
    println!("figure growth_1201_to_3601_per_cell {:.2} times", delta / once / 8.99);
    let plain = plain_seconds(&large, "delta-bullington", 101);
    println!("figure speedup_3601_vs_plain {:.0} times", plain / delta);
    let folder = tempfile::tempdir().expect("a temporary folder");
    let input = plain_raster(&large, folder.path());
    let timed = input.and_then(|input| Some((viewshed_seconds(&large, &input)?, input)));
    if let Some((viewshed, input)) = timed {
        println!("figure bullington_3601_vs_viewshed {:.2} times", bullington / viewshed);
        println!("figure delta_bullington_3601_vs_viewshed {:.2} times", delta / viewshed);
        let own = std::env::current_exe().expect("this program");
        let output = folder.path().join("losses.tif");
        let process = seconds(3, || {
            let status = Command::new(&own).arg("whole").args([&input, &output]).status();
            assert!(status.is_ok_and(|status| status.success()), "the process failed");
        });
        println!("figure whole_process_3601_vs_viewshed {:.2} times", process / viewshed);
    }
}
