//! Times that `make figures` prints: whole runs of the program, as users start
//! it, and the cost of a cell of a map that has to be worked out by itself.

use std::path::Path;
use std::process::{Command, Stdio};
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use perchline::coverage::plain;
use perchline::link::{LinkModel, Propagator, Terminal};
use perchline::plan;
use perchline::propagation::{METHODS, method};
use perchline::terrain::{Extent, Terrain};

const PLAN: &str = "sample-terrain/ferry-lights.toml";

fn main() {
    let out = tempfile::tempdir().expect("a temporary folder");
    let timed = |arguments: &[&str]| {
        let started = Instant::now();
        let status = Command::new(env!("CARGO_BIN_EXE_perchline"))
            .args(arguments)
            .arg("--out")
            .arg(out.path())
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .stdout(Stdio::null())
            .status()
            .expect("the program starts");
        assert!(status.success(), "the sample plan runs: {arguments:?}");
        started.elapsed().as_secs_f64()
    };
    println!("figure demo_seconds {:.2} s", timed(&["rank", PLAN]));
    let map = ["coverage", PLAN, "--site", "Car park", "--method", "p1812"];
    println!("figure p1812_map_seconds {:.2} s", timed(&map));
    let (cells, each) = cell("p1812");
    println!("figure p1812_map_cells {cells} cells");
    println!("figure p1812_cell_microseconds {:.1} us", each.as_secs_f64() * 1e6);
}

/// Cells of the sample's map, and what one takes on one thread with this method:
/// the terrain below its path and the losses both ways. Of three runs each row
/// counts as in its fastest, so that other work on the machine shows less.
fn cell(name: &str) -> (usize, Duration) {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join(PLAN);
    let names: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
    let plan = plan::read(&file, &names).expect("the sample plan");
    let extent = Extent::around(plan.extent_points(), plan.map.margin).expect("places");
    let terrain = Terrain::open(&plan.terrain, extent).expect("the sample's terrain");
    let grid = match plan.map.cell {
        Some(cell) => terrain.grid().coarser(cell).expect("a grid"),
        None => terrain.grid().clone(),
    };
    let channel = plan.channels.first().expect("a channel");
    let site = plan.sites.iter().find(|s| s.name == "Car park").expect("the car park");
    let station = Terminal::at_site(&plan, channel, site, &terrain).expect("a station");
    let carried = Terminal::anywhere(&plan, channel, None, site.at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    let propagator = Propagator {
        method: method(name).expect("a method of this name"),
        ..Propagator::new(&plan.prediction)
    };
    let pool = rayon::ThreadPoolBuilder::new().num_threads(1).build().expect("a thread");
    let mut fastest = vec![Duration::MAX; grid.rows()];
    for _ in 0..3 {
        let done = Mutex::new(vec![Instant::now()]);
        let row_done = || done.lock().expect("one thread").push(Instant::now());
        let stop = AtomicBool::new(false);
        pool.install(|| plain::cover(&terrain, &grid, &model, &propagator, &row_done, &stop))
            .expect("a map");
        let done = done.into_inner().expect("one thread");
        for (fastest, row) in fastest.iter_mut().zip(done.windows(2)) {
            *fastest = (*fastest).min(row[1] - row[0]);
        }
    }
    let cells = grid.rows() * grid.columns();
    (cells, fastest.iter().sum::<Duration>() / u32::try_from(cells).expect("a map of the sample"))
}
