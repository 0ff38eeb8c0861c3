//! What a search for spots costs over the sample's whole land, 12 by 9 km in
//! cells of 10 m, for 30 posts; and what 16 masts on one site cost, over a run
//! for each of them.

use std::fmt::Write;
use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use perchline::link::Propagator;
use perchline::plan::{Plan, Site};
use perchline::siting::demand::Demand;
use perchline::siting::masts::{MapShares, heights, mast_study};
use perchline::siting::spots::{SpotTask, search};
use perchline::siting::{RankInputs, score};
use perchline::terrain::{Grid, Terrain};
use perchline::units;

#[path = "../tests/support/mod.rs"]
mod support;

fn main() {
    let folder = tempfile::tempdir().expect("a temporary folder");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ostlers-ferry.tif");
    std::fs::copy(sample, folder.path().join("terrain.tif")).expect("room for it");
    let file = folder.path().join("plan.toml");
    std::fs::write(&file, text()).expect("room for it");
    let (plan, terrain) = support::open_plan(&file);
    search_everywhere(&plan, &terrain);
    masts(&plan, &terrain);
}

/// Thirty posts from corner to corner of the land.
fn text() -> String {
    let corner = [349_500.0, 1.0, 0.0, 5_211_000.0, 0.0, -1.0];
    let metres = Grid::new(1, 1, corner, "EPSG:32625")
        .and_then(|grid| grid.projector())
        .expect("the zone is known");
    let place = |east: f64, south: f64| {
        let at = metres.to_position(east, south).expect("on earth");
        format!("{:.6}, {:.6}", at.latitude().value(), at.longitude().value())
    };
    let mut text = support::PLAN
        .replace("margin = \"100 m\"", "margin = \"50 m\"")
        .replace("47.000, -34.900", &place(60.0, 60.0))
        .replace("47.010, -34.885", &place(11_940.0, 8940.0))
        .replace("47.004, -34.890", &place(6650.0, 4800.0))
        .replace("47.008, -34.905", &place(5000.0, 5000.0))
        .replace("must = true\n", "");
    for number in 0..28u32 {
        // Spread as by two turns of the golden section, the same every time.
        let share = |turn: f64| (f64::from(number) * turn).fract();
        let (east, south) = (1500.0 + 9000.0 * share(0.618_034), 800.0 + 7400.0 * share(0.754_878));
        write!(
            text,
            "\n[[post]]\nname = \"Post {number}\"\nat = \"{}\"\nweight = {}\n",
            place(east, south),
            1 + number % 3
        )
        .expect("a String takes all");
    }
    text
}

fn search_everywhere(plan: &Plan, terrain: &Terrain) {
    let propagator = Propagator::new(&plan.prediction);
    let demand = Demand::of(plan, terrain);
    let stop = AtomicBool::new(false);
    let grid = terrain.grid();
    let task = SpotTask {
        plan,
        terrain,
        propagator: &propagator,
        demand: &demand,
        grid,
        swept: &|| (),
        stop: &stop,
    };
    let channel = plan.channels.first().expect("it has a channel");
    let started = Instant::now();
    let found = search(&task, channel).expect("there is ground");
    let seconds = started.elapsed().as_secs_f64();
    assert!(found.open_cells > 1_000_000 && found.demand_points == 30);
    assert_eq!(found.spots.len(), 10);
    println!("figure roof_search_seconds {seconds:.1} s");
    println!("figure roof_search_gap_percent {:.2} %", found.bound.gap_percent);
    println!(
        "figure roof_search_sweep_short_by {:.1} of 100",
        100.0 * found.bound.sweep_short_by_near_the_best
    );
    println!("figure roof_search_exact_cells {} cells", found.bound.scored_exactly);
}

fn masts(plan: &Plan, terrain: &Terrain) {
    let propagator = Propagator::new(&plan.prediction);
    let demand = Demand::of(plan, terrain);
    let stop = AtomicBool::new(false);
    let grid = terrain.grid();
    let channel = plan.channels.first().expect("it has a channel");
    let site = plan.sites.first().expect("it has a site");
    let tried = heights(units::Metres::new(15.0));
    let task = RankInputs {
        plan,
        terrain,
        propagator: &propagator,
        demand: &demand,
        grid,
        row_done: &|| (),
        stop: &stop,
    };
    let started = Instant::now();
    let family = mast_study(&task, channel, site, &tried, MapShares::Counted).expect("it stands");
    let together = started.elapsed();
    let inputs = RankInputs {
        plan,
        terrain,
        propagator: &propagator,
        demand: &demand,
        grid,
        row_done: &|| (),
        stop: &stop,
    };
    let started = Instant::now();
    for (mast, found) in tried.iter().zip(&family.heights) {
        let site = Site { mast: *mast, ..site.clone() };
        let (alone, _) = score(&inputs, channel, &site).expect("it stands");
        assert!((alone.weighted_probability - found.weighted_probability).abs() < 1e-9);
        assert!(
            (alone.map_share.expect("it has a map") - found.map_share.expect("it was asked for"))
                .abs()
                < 1e-3
        );
    }
    let alone = started.elapsed();
    println!(
        "figure mast_family_costs {:.2} of a run for each height",
        together.as_secs_f64() / alone.as_secs_f64()
    );
}
