//! What a choice of sites costs: 200 candidates and 10,000 spots on the
//! sample's ground, every path exact, the best set of one to four proven. The
//! best pair is held to all pairs tried one by one.

use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

use perchline::link::Propagator;
use perchline::plan::{Plan, Roof, Site};
use perchline::siting::choose::{Inputs, Matrix, Problem, Search, greedy};
use perchline::siting::demand::{Demand, Kind};
use perchline::terrain::Terrain;
use perchline::units::{Metres, Position};

#[path = "../tests/support/mod.rs"]
mod support;

/// Candidates along each side of their lattice, east and north.
const SITES: (usize, usize) = (20, 10);

/// Spots likewise.
const SPOTS: (usize, usize) = (125, 80);

/// Time for each question.
const TIME: Duration = Duration::from_secs(600);

fn main() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml");
    let (mut plan, terrain) = support::open_plan(&file);
    let heights = [3.0, 6.0, 12.0, 20.0, 35.0];
    let model = plan.sites.first().expect("it has a site").clone();
    plan.posts.clear();
    plan.sites = lattice(&terrain, SITES, 0.1)
        .into_iter()
        .enumerate()
        .map(|(index, at)| Site {
            name: format!("Site {index}"),
            at,
            roof: Roof::AboveGround(Metres::new(heights[index * 7 % heights.len()])),
            ..model.clone()
        })
        .collect();
    let spots = lattice(&terrain, SPOTS, 0.02);
    let demand = demand(spots);
    let started = Instant::now();
    let matrix = matrix(&plan, &terrain, &demand);
    let problem = Problem::new(matrix.chances(), demand.weights(), 2);
    let paths = started.elapsed();
    let pair = Search::new(&problem, TIME).best().expect("it ends").expect("there is a pair");
    let whole = started.elapsed().as_secs_f64();
    println!("figure best_pair_seconds {whole:.1} s");
    println!("figure best_pair_paths_seconds {:.1} s", paths.as_secs_f64());
    println!("figure best_pair_gap_percent {:.4} %", pair.gap() * 100.0);
    let tried = (0..problem.candidates())
        .flat_map(|a| (0..a).map(move |b| [b, a]))
        .map(|set| problem.value(&set))
        .fold(0.0, f64::max);
    assert!((tried - pair.value).abs() < 1e-6, "{tried} {pair:?}");
    for (most, name) in [(3, "three"), (4, "four")] {
        let mut more = problem.clone();
        more.most = most;
        let started = Instant::now();
        let best = Search::new(&more, TIME).best().expect("it ends").expect("there is a set");
        println!("figure best_{name}_solve_seconds {:.1} s", started.elapsed().as_secs_f64());
        println!("figure best_{name}_gap_percent {:.4} %", best.gap() * 100.0);
        let simple = greedy(&more).map_or(0.0, |set| more.value(&set));
        println!(
            "figure one_by_one_loses_with_{name}_percent {:.3} %",
            (best.value - simple) / best.value * 100.0
        );
    }
}

/// Places on a lattice over the terrain, a share of its sides off each edge.
fn lattice(terrain: &Terrain, (columns, rows): (usize, usize), edge: f64) -> Vec<Position> {
    let grid = terrain.grid();
    let projector = grid.projector().expect("the grid is on earth");
    let along = |index: usize, of: usize, cells: usize| {
        let share = edge + (1.0 - 2.0 * edge) * (index as f64 + 0.5) / of as f64;
        share * cells as f64
    };
    (0..rows)
        .flat_map(|row| (0..columns).map(move |column| (column, row)))
        .map(|(column, row)| {
            let cell = (along(column, columns, grid.columns()), along(row, rows, grid.rows()));
            projector.to_position(cell.0, cell.1).expect("it is on earth")
        })
        .collect()
}

/// The spots as one area.
fn demand(spots: Vec<Position>) -> Demand {
    let mut demand = Demand::default();
    demand.add(Kind::Area, "All", 1.0, None, spots.into_iter().map(|at| (at, 1.0)));
    demand
}

fn matrix(plan: &Plan, terrain: &Terrain, demand: &Demand) -> Matrix {
    let inputs = Inputs {
        plan,
        terrain,
        propagator: &Propagator::new(&plan.prediction),
        demand,
        site_done: &|| {},
        stop: &AtomicBool::new(false),
    };
    let channel = plan.channels.first().expect("it has a channel");
    Matrix::of(&inputs, channel, demand).expect("sites stand on the terrain")
}
