//! Coverage by the sweep: against the plain engine, against hand calculations
//! and another program's line of sight, stopped and coarse.

use std::path::Path;
use std::process::Command;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use crate::support::land::cells_around;
use crate::support::wanted::has_gdal;
use crate::support::{PLAN, write_plan_raster};
use gdal::Dataset;
use ndarray::Array2;
use perchline::coverage::sweep::{
    Heights, Options, cover_coarsely, instructions, losses, losses_around,
};
use perchline::coverage::{Coverage, cover, plain};
use perchline::link::{LinkModel, Outcome, Propagator, Terminal};
use perchline::plan::{self, Band, Plan};
use perchline::propagation::{Climate, EffectiveEarth, METHODS, free_space, knife_edge, method};
use perchline::terrain::{Grid, Terrain};
use perchline::units::{Db, Megahertz, Metres, Polarization, Position};

fn rolling(column: usize, row: usize) -> f32 {
    let (x, y) = (column as f64, row as f64);
    (80.0 + 25.0 * (x / 17.0).sin() * (y / 23.0).cos() + 6.0 * (x / 3.1 + y / 4.7).sin()) as f32
}

/// A plan over a raster of 150 x 150 cells of 30 m.
fn planned(height: impl Fn(usize, usize) -> f32) -> (Plan, Terrain) {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), height);
    let file = folder.path().join("plan.toml");
    std::fs::write(&file, PLAN).unwrap();
    let names: Vec<_> = METHODS.iter().map(|m| m.name()).collect();
    let plan = plan::read(&file, &names).unwrap();
    let site = plan.sites[0].at;
    let extent = perchline::terrain::Extent::around([site], Metres::new(1500.0)).unwrap();
    let terrain = Terrain::open(&plan.terrain, extent).unwrap();
    (plan, terrain)
}

fn model(plan: &Plan, terrain: &Terrain) -> LinkModel {
    let (channel, site) = (&plan.channels[0], &plan.sites[0]);
    let station = Terminal::at_site(plan, channel, site, terrain).unwrap();
    let carried = Terminal::anywhere(plan, channel, None, site.at);
    LinkModel::new(plan, channel, &station, &carried)
}

fn with(name: &str) -> Propagator {
    Propagator {
        method: method(name).unwrap(),
        earth: EffectiveEarth::default(),
        climate: Climate::DEFAULT,
        polarization: Polarization::Vertical,
    }
}

fn both(plan: &Plan, terrain: &Terrain, grid: &Grid, name: &str) -> (Coverage, Coverage) {
    let (model, propagator, stop) = (model(plan, terrain), with(name), AtomicBool::new(false));
    let swept = cover(terrain, grid, &model, &propagator, &|| (), &stop).unwrap();
    let exact = plain::cover(terrain, grid, &model, &propagator, &|| (), &stop).unwrap();
    (swept, exact)
}

/// The share of the cells whose layers differ by more than `limit` dB.
fn share_off(a: &Array2<f32>, b: &Array2<f32>, limit: f32) -> f64 {
    let off = a.iter().zip(b).filter(|(a, b)| (**a - **b).abs() > limit).count();
    off as f64 / a.len() as f64
}

#[test]
fn margins_signal_sight_and_outcome_are_those_of_the_plain_engine() {
    let gap = |c: usize, r: usize| (90..93).contains(&c) && (100..102).contains(&r);
    let (plan, terrain) = planned(|c, r| if gap(c, r) { -9999.0 } else { rolling(c, r) });
    for method in METHODS {
        let (swept, exact) = both(&plan, &terrain, terrain.grid(), method.name());
        assert_eq!(swept.unknown_cells, exact.unknown_cells);
        assert!(exact.unknown_cells > 6, "the gap throws a shadow");
        let unknown = |c: &Coverage| c.outcome.mapv(|o| o == Outcome::Unknown);
        assert_eq!(unknown(&swept), unknown(&exact), "{}", method.name());
        for (a, b) in [
            (&swept.talk_in_margin, &exact.talk_in_margin),
            (&swept.talk_out_margin, &exact.talk_out_margin),
            (&swept.talk_out_signals(), &exact.talk_out_signals()),
            // A decibel is 7 of 100 spots at the most: in units of ten.
            (&(&swept.probability * 10.0), &(&exact.probability * 10.0)),
        ] {
            assert_eq!(a.mapv(f32::is_nan), b.mapv(f32::is_nan));
            // Beyond 32 steps the rays' width shows, here and there.
            let (some, much) = (share_off(a, b, 0.1), share_off(a, b, 1.0));
            assert!(some < 0.15 && much < 0.01, "{}: {some} {much}", method.name());
        }
        let differ = |a: bool| f64::from(u8::from(a));
        let sight: f64 =
            swept.line_of_sight.iter().zip(&exact.line_of_sight).map(|(a, b)| differ(a != b)).sum();
        let outcome: f64 =
            swept.outcome.iter().zip(&exact.outcome).map(|(a, b)| differ(a != b)).sum();
        let cells = swept.outcome.len() as f64;
        assert!(sight / cells < 0.01 && outcome / cells < 0.01, "{sight} {outcome} of {cells}");
    }
}

/// A relay that hears in one band and sends in another, with an antenna that gains
/// more, and so sees less of what is steep, in the second.
#[test]
fn a_map_has_the_antenna_of_each_direction() {
    let (mut plan, terrain) = planned(rolling);
    let alike = both(&plan, &terrain, terrain.grid(), "delta-bullington").0;
    let (input, output) = model(&plan, &terrain).frequencies();
    let between = Megahertz::new(0.5 * (input.value() + output.value()));
    for radio in &mut plan.radios {
        let gain = perchline::units::Dbi::new(radio.antenna.gain.value() + 4.0);
        let (from, to) = (between.min(output), between.max(output));
        radio.bands = vec![Band { from, to, gain: Some(gain), body_loss: None }];
    }
    let (swept, exact) = both(&plan, &terrain, terrain.grid(), "delta-bullington");
    assert_eq!(swept.talk_in_margin, alike.talk_in_margin);
    let mean =
        |a: &Coverage| a.talk_out_margin.iter().sum::<f32>() / a.talk_out_margin.len() as f32;
    // 8 dB of gain, of which the noise that the hand-held hears more of takes 4 at most.
    let more = mean(&swept) - mean(&alike);
    assert!((4.0..8.0).contains(&more), "{more} dB");
    for (a, b) in [
        (&swept.talk_in_margin, &exact.talk_in_margin),
        (&swept.talk_out_margin, &exact.talk_out_margin),
    ] {
        let (some, much) = (share_off(a, b, 0.1), share_off(a, b, 1.0));
        assert!(some < 0.15 && much < 0.01, "{some} {much}");
    }
}

#[test]
fn a_map_of_coarser_cells_is_computed_at_its_own_centres() {
    let (plan, terrain) = planned(rolling);
    let grid = terrain.grid().coarser(Metres::new(70.0)).unwrap();
    let (swept, exact) = both(&plan, &terrain, &grid, "delta-bullington");
    assert_eq!(swept.outcome.dim(), (grid.rows(), grid.columns()));
    let off = share_off(&swept.talk_in_margin, &exact.talk_in_margin, 0.3);
    assert!(off < 0.05, "{off}");
}

#[test]
fn every_row_is_reported_once() {
    let (plan, terrain) = planned(rolling);
    let rows = AtomicUsize::new(0);
    let count = || {
        rows.fetch_add(1, Ordering::Relaxed);
    };
    let stop = AtomicBool::new(false);
    cover(&terrain, terrain.grid(), &model(&plan, &terrain), &with("bullington"), &count, &stop)
        .unwrap();
    assert_eq!(rows.load(Ordering::Relaxed), terrain.grid().rows());
}

#[test]
fn a_run_stopped_before_it_begins_knows_nothing() {
    let (plan, terrain) = planned(rolling);
    let stop = AtomicBool::new(true);
    let coverage = cover(
        &terrain,
        terrain.grid(),
        &model(&plan, &terrain),
        &with("bullington"),
        &|| (),
        &stop,
    )
    .unwrap();
    // But for the station's own cell, which is looked at apart.
    assert!(coverage.outcome.len() - coverage.unknown_cells <= 1);
    let known = coverage.talk_in_margin.iter().filter(|m| !m.is_nan()).count();
    assert!(known <= 1);
}

/// A margin of exactly 0.0 dB is a number like any other, also where a run was
/// stopped and what it did not come to is unknown.
#[test]
fn a_margin_of_exactly_zero_is_known_in_a_run_that_was_stopped() {
    let (plan, terrain) = planned(rolling);
    let (channel, site) = (&plan.channels[0], &plan.sites[0]);
    // So near that paths are sampled whole: what a cell's own path tells does not
    // hang on how near its margin is to a class's.
    let grid = cells_around(terrain.grid(), site.at, 15);
    let station = Terminal::at_site(&plan, channel, site, &terrain).unwrap();
    let mut carried = Terminal::anywhere(&plan, channel, None, site.at);
    let run = |carried: &Terminal| {
        let model = LinkModel::new(&plan, channel, &station, carried);
        let (rows, stop) = (AtomicUsize::new(0), AtomicBool::new(false));
        // Raised with the last row, when every cell has been computed.
        let row_done = || {
            if rows.fetch_add(1, Ordering::Relaxed) + 1 == grid.rows() {
                stop.store(true, Ordering::Relaxed);
            }
        };
        let coverage =
            cover(&terrain, &grid, &model, &with("bullington"), &row_done, &stop).unwrap();
        assert!(stop.into_inner());
        coverage
    };
    let power = carried.radio.power;
    let before = run(&carried);
    let mut zeros = 0;
    for cell in (0..30).map(|i| (i, (i * 7) % 30)) {
        // As much less power as the cell has margin.
        carried.radio.power = power - Db::new(f64::from(before.talk_in_margin[cell]));
        let after = run(&carried);
        assert_eq!(after.unknown_cells, 0);
        for layer in [&after.talk_in_margin, &after.talk_out_margin, &after.probability] {
            assert!(layer.iter().all(|value| !value.is_nan()));
        }
        assert!(after.talk_in_margin[cell].abs() < 1e-4);
        zeros += usize::from(after.talk_in_margin[cell] == 0.0);
    }
    assert!(zeros > 5, "{zeros} of 30 cells came to exactly 0.0 dB");
}

/// The same of a loss within a radius, beyond which cells are unknown.
#[test]
fn a_loss_of_exactly_zero_is_known_within_a_radius() {
    let terrain = large(100);
    let at = cell(&terrain, 50.3, 50.9);
    let heights = Heights { masts: vec![Metres::new(20.0)], carried: vec![Metres::new(1.5)] };
    let (options, stop) =
        (Options { radius: Metres::new(900.0), ..Options::default() }, AtomicBool::new(false));
    let run = |wavelength: f64| {
        let frequency = Megahertz::new(299.792_458 / wavelength);
        let (grid, with) = (terrain.grid(), with("free-space"));
        let pair = (frequency, Megahertz::new(147.0));
        losses(&terrain, grid, at, &heights, pair, &with, &options, &stop).unwrap()
    };
    // A wave so long that free space costs 0 dB at 1 m, then one for which it
    // does at the distance of a cell.
    let whole_turn = 4.0 * std::f64::consts::PI;
    let spreading = run(whole_turn).layers[0].talk_in[(40, 62)];
    assert!((40.0..60.0).contains(&spreading), "{spreading} dB");
    let layers = run(whole_turn * 10f64.powf(f64::from(spreading) / 20.0));
    let layer = &layers.layers[0];
    assert_eq!(layer.talk_in[(40, 62)], 0.0);
    assert_eq!(layer.talk_in.mapv(f32::is_nan), layer.talk_out.mapv(f32::is_nan));
    assert!(layer.talk_in[(0, 0)].is_nan(), "beyond the radius");
}

fn large(side: usize) -> Terrain {
    let grid = Grid::new(side, side, [400_000.0, 30.0, 0.0, 5_250_000.0, 0.0, -30.0], "EPSG:32625")
        .unwrap();
    let heights = Array2::from_shape_fn((side, side), |(r, c)| rolling(c, r));
    Terrain::from_heights(grid, heights).unwrap()
}

fn cell(terrain: &Terrain, column: f64, row: f64) -> Position {
    terrain.grid().projector().unwrap().to_position(column, row).unwrap()
}

/// The time from raising the flag to the end of the run. The run is long
/// enough to be stopped in its middle.
#[test]
fn a_run_ends_soon_after_it_is_stopped() {
    let terrain = large(1500);
    let at = cell(&terrain, 700.3, 800.9);
    let heights = Heights { masts: vec![Metres::new(20.0)], carried: vec![Metres::new(1.5)] };
    let frequencies = (Megahertz::new(147.6), Megahertz::new(147.0));
    // A busy machine stretches all runs: there a twentieth of a whole one will do.
    let whole = {
        let (grid, options, stop) = (terrain.grid(), Options::default(), AtomicBool::new(false));
        let (with, start) = (with("delta-bullington"), Instant::now());
        losses(&terrain, grid, at, &heights, frequencies, &with, &options, &stop).unwrap();
        start.elapsed()
    };
    let limit = Duration::from_millis(10).max(whole / 20);
    let mut shortest = Duration::MAX;
    // The least of several, many on a busy machine that keeps runs waiting.
    for attempt in 0..40u32 {
        if attempt >= 8 && shortest < limit {
            break;
        }
        let took = {
            let stop = AtomicBool::new(false);
            std::thread::scope(|scope| {
                let raised = scope.spawn(|| {
                    std::thread::sleep(Duration::from_millis(12 + u64::from(attempt % 8)));
                    stop.store(true, Ordering::Relaxed);
                    Instant::now()
                });
                let (grid, options) = (terrain.grid(), Options::default());
                let with = with("delta-bullington");
                let layers =
                    losses(&terrain, grid, at, &heights, frequencies, &with, &options, &stop)
                        .unwrap();
                let ended = Instant::now();
                let part = &layers.layers[0].talk_in;
                let open = part.iter().filter(|v| v.is_nan()).count();
                assert!(open > 0, "the run was over before it was stopped");
                ended.saturating_duration_since(raised.join().unwrap())
            })
        };
        shortest = shortest.min(took);
    }
    println!("figure sweep_stop_ms {:.2} ms", shortest.as_secs_f64() * 1e3);
    assert!(shortest < limit, "{shortest:?}");
}

#[test]
fn a_coarse_picture_agrees_with_the_fine_one_where_both_have_a_cell() {
    let (plan, terrain) = planned(rolling);
    let (model, propagator, stop) =
        (model(&plan, &terrain), with("bullington"), AtomicBool::new(false));
    let coarse = cover_coarsely(&terrain, terrain.grid(), 3, &model, &propagator, &stop).unwrap();
    let fine = cover(&terrain, terrain.grid(), &model, &propagator, &|| (), &stop).unwrap();
    let (rows, columns) = coarse.outcome.dim();
    assert_eq!(columns, fine.outcome.ncols() / 3);
    // With three to one the middle cell of each block shares its centre.
    let close = (0..rows)
        .flat_map(|r| (0..columns).map(move |c| (r, c)))
        .filter(|(r, c)| {
            let (a, b) =
                (coarse.talk_in_margin[(*r, *c)], fine.talk_in_margin[(r * 3 + 1, c * 3 + 1)]);
            (a - b).abs() < 3.0
        })
        .count();
    assert!(close as f64 > 0.9 * (rows * columns) as f64, "{close} of {}", rows * columns);
}

/// The window around a place out of a larger raster gives what the whole gives
/// there, and nothing beyond the radius.
#[test]
fn a_window_around_a_place_is_swept_out_of_its_file() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("terrain.tif");
    write_plan_raster(&file, rolling);
    let inputs = plan::TerrainInputs {
        files: vec![file],
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    let (plan, _) = planned(rolling);
    let at = plan.sites[0].at;
    let options = Options { radius: Metres::new(900.0), ..Options::default() };
    let heights = Heights { masts: vec![Metres::new(20.0)], carried: vec![Metres::new(1.5)] };
    let frequencies = (Megahertz::new(147.6), Megahertz::new(147.0));
    let stop = AtomicBool::new(false);
    let around =
        losses_around(&inputs, at, &heights, frequencies, &with("bullington"), &options, &stop)
            .unwrap();
    assert!(around.grid.columns() < 70, "only the window is read");
    let projector = around.grid.projector().unwrap();
    for ((row, column), loss) in around.layers[0].talk_in.indexed_iter() {
        let to = projector.to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap();
        let distance = at.distance(to).value();
        if (distance - 900.0).abs() > 0.1 {
            assert_eq!(loss.is_nan(), distance > 900.0, "{distance} m");
        }
    }
}

/// Loss from a demand point to a station on every cell, by a sweep from the
/// demand point, is the loss from each such station to the demand point.
#[test]
fn swept_from_the_other_end_the_loss_is_the_same() {
    let terrain = large(220);
    let demand = cell(&terrain, 100.5, 90.5);
    let (frequency, stop) = (Megahertz::new(147.0), AtomicBool::new(false));
    let (mast, carried) = (Metres::new(18.0), Metres::new(1.5));
    for name in ["bullington", "delta-bullington", "single-edge"] {
        let with = with(name);
        let run = |at, mast, carried| {
            let heights = Heights { masts: vec![mast], carried: vec![carried] };
            let (grid, options) = (terrain.grid(), Options::default());
            let pair = (frequency, frequency);
            losses(&terrain, grid, at, &heights, pair, &with, &options, &stop).unwrap()
        };
        let reciprocal = run(demand, carried, mast);
        let mut off: Vec<f32> = (0..40)
            .map(|i| {
                let (column, row) = ((i * 53) % 220, (i * 97 + 13) % 220);
                let station = cell(&terrain, column as f64 + 0.5, row as f64 + 0.5);
                let direct = run(station, mast, carried);
                let there = direct.layers[0].talk_in[(90, 100)];
                (there - reciprocal.layers[0].talk_in[(row, column)]).abs()
            })
            .collect();
        off.sort_by(f32::total_cmp);
        assert!(off[20] < 0.05 && off[36] < 1.0, "{name}: {off:?}");
    }
}

/// Heights by column over a raster of 3 rows, of cells of 100 m near the
/// equator on the central meridian, where a cell is 100 m to 0.04 %.
fn strip(heights: impl Fn(usize) -> f32, columns: usize) -> Terrain {
    let grid =
        Grid::new(columns, 41, [400_000.0, 100.0, 0.0, 4_102_050.0, 0.0, -100.0], "EPSG:32625")
            .unwrap();
    let heights = Array2::from_shape_fn((41, columns), |(_, c)| heights(c));
    Terrain::from_heights(grid, heights).unwrap()
}

fn along(
    terrain: &Terrain,
    from: f64,
    mast: f64,
    carried: f64,
    frequency: f64,
    name: &str,
    earth: EffectiveEarth,
) -> Vec<f64> {
    let heights = Heights { masts: vec![Metres::new(mast)], carried: vec![Metres::new(carried)] };
    let pair = (Megahertz::new(frequency), Megahertz::new(frequency));
    let with = Propagator { earth, ..with(name) };
    let stop = AtomicBool::new(false);
    let (grid, options) = (terrain.grid(), Options::default());
    let at = cell(terrain, from, 20.5);
    let layers = losses(terrain, grid, at, &heights, pair, &with, &options, &stop).unwrap();
    layers.layers[0].talk_in.row(20).iter().map(|v| f64::from(*v)).collect()
}

const FLAT: EffectiveEarth = EffectiveEarth::from_radius(Metres::new(1e15));

/// One ridge a cell wide: nu and J(nu) by hand (P.526-15 section 4.1).
#[test]
fn behind_one_knife_edge_the_loss_is_that_of_the_formula() {
    let terrain = strip(|c| if c == 60 { 80.0 } else { 0.0 }, 160);
    let got = along(&terrain, 20.5, 10.0, 10.0, 300.0, "single-edge", FLAT);
    let wavelength = Megahertz::new(300.0).wavelength().value();
    for column in [62, 80, 100, 140] {
        // The projection's scale stretches both distances alike.
        let (d1, d2) = (40.0 * 100.0, (column as f64 - 60.0) * 100.0);
        let nu = 70.0 * (2.0 * (d1 + d2) / (wavelength * d1 * d2)).sqrt();
        let expected = knife_edge::loss(nu).value()
            + free_space::loss(Megahertz::new(300.0), Metres::new(d1 + d2)).value();
        assert!((got[column] - expected).abs() < 0.02, "{column}: {} {expected}", got[column]);
    }
}

/// A wedge: both horizons meet at its crest, where Bullington's edge stands.
#[test]
fn behind_a_wedge_bullington_puts_its_edge_on_the_crest() {
    let terrain = strip(|c| (60.0 - 2.0 * (c as f32 - 70.0).abs()).max(0.0), 160);
    let got = along(&terrain, 20.5, 5.0, 5.0, 150.0, "bullington", FLAT);
    let wavelength = Megahertz::new(150.0).wavelength().value();
    for column in [120, 150] {
        let (d1, d2) = (5000.0, (column as f64 - 70.0) * 100.0);
        let nu = 55.0 * (2.0 * (d1 + d2) / (wavelength * d1 * d2)).sqrt();
        let knife = knife_edge::loss(nu).value();
        let expected = knife
            + (1.0 - (-knife / 6.0).exp()) * (10.0 + 0.02 * (d1 + d2) / 1e3)
            + free_space::loss(Megahertz::new(150.0), Metres::new(d1 + d2)).value();
        assert!((got[column] - expected).abs() < 0.02, "{column}: {} {expected}", got[column]);
    }
}

/// Over the sea sight ends where both horizons meet: 4.12 km (sqrt h1 + sqrt
/// h2) with heights in metres, at k = 4/3.
#[test]
fn over_the_sea_sight_ends_at_the_horizon() {
    let terrain = strip(|_| 0.0, 320);
    let at = cell(&terrain, 3.5, 20.5);
    for (mast, carried) in [(9.0f64, 2.0f64), (16.0, 1.0), (4.0, 4.0)] {
        let horizon = 4.12e3 * (mast.sqrt() + carried.sqrt());
        // Free space plus J(0) = 6.0 dB and its correction is what Bullington
        // gives where the line just touches the sea.
        let touch = 6.03;
        let got =
            along(&terrain, 3.5, mast, carried, 150.0, "bullington", EffectiveEarth::default());
        let projector = terrain.grid().projector().unwrap();
        let crossing = (10..320).find(|column| {
            let to = projector.to_position(*column as f64 + 0.5, 20.5).unwrap();
            let distance = at.distance(to).value();
            let slant = free_space::loss(Megahertz::new(150.0), Metres::new(distance)).value();
            let limit = touch + (1.0 - f64::exp(-touch / 6.0)) * (10.0 + 0.02 * distance / 1e3);
            got[*column] - slant > limit
        });
        let found = at
            .distance(projector.to_position(crossing.unwrap() as f64 + 0.5, 20.5).unwrap())
            .value();
        assert!((found - horizon).abs() < 300.0, "{mast} {carried}: {found} {horizon}");
    }
}

/// Another program's line of sight over the same raster: gdal_viewshed of
/// GDAL's own tools. It walks the grid cell by cell where we follow the line,
/// so they part along the edges of shadows.
#[test]
fn line_of_sight_agrees_with_gdal_viewshed() {
    if !has_gdal(&["gdal_viewshed"]) {
        return;
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("terrain.tif");
    write_plan_raster(&file, rolling);
    let (plan, terrain) = planned(rolling);
    let (swept, _) = both(&plan, &terrain, terrain.grid(), "free-space");
    let model = model(&plan, &terrain);
    let [x, dx, _, y, _, dy] = terrain.grid().transform();
    let (column, row) = terrain.grid().projector().unwrap().to_cell(model.station().at).unwrap();
    // gdal_viewshed stands on the cell's centre.
    let (column, row) = (column.floor() + 0.5, row.floor() + 0.5);
    let sight = folder.path().join("sight.tif");
    let run = Command::new("gdal_viewshed")
        .args(["-q", "-md", "0", "-cc", "0.75"])
        .args(["-ox", &format!("{}", x + column * dx), "-oy", &format!("{}", y + row * dy)])
        .args(["-oz", &format!("{}", model.station().antenna.value())])
        .args(["-tz", &format!("{}", model.carried().antenna.value())])
        .args([&file, &sight])
        .output()
        .unwrap();
    assert!(run.status.success(), "{}", String::from_utf8_lossy(&run.stderr));
    let theirs = read(&sight, terrain.grid());
    let same = swept.line_of_sight.iter().zip(&theirs).filter(|(a, b)| **a == (**b > 0)).count();
    let share = 100.0 * same as f64 / theirs.len() as f64;
    println!("figure sweep_viewshed_agreement_percent {share:.2} %");
    assert!(share > 95.0, "{share} %");
}

/// The part of a byte raster that a grid covers.
fn read(file: &Path, grid: &Grid) -> Vec<u8> {
    let dataset = Dataset::open(file).unwrap();
    let [x, dx, _, y, _, dy] = dataset.geo_transform().unwrap();
    let [left, _, _, top, _, _] = grid.transform();
    let window = (((left - x) / dx).round() as isize, ((top - y) / dy).round() as isize);
    let size = (grid.columns(), grid.rows());
    let band = dataset.rasterband(1).unwrap();
    band.read_as::<u8>(window, size, size, None).unwrap().data().to_vec()
}

#[test]
fn the_instructions_are_those_of_this_processor() {
    // The third and fourth level of x86-64.
    #[cfg(target_arch = "x86_64")]
    let best = {
        let third = is_x86_feature_detected!("avx2")
            && is_x86_feature_detected!("bmi1")
            && is_x86_feature_detected!("bmi2")
            && is_x86_feature_detected!("fma")
            && is_x86_feature_detected!("lzcnt");
        let fourth = is_x86_feature_detected!("avx512f")
            && is_x86_feature_detected!("avx512bw")
            && is_x86_feature_detected!("avx512cd")
            && is_x86_feature_detected!("avx512dq")
            && is_x86_feature_detected!("avx512vl");
        match (third, fourth) {
            (true, true) => "AVX-512",
            (true, false) => "AVX2",
            (false, _) => "portable",
        }
    };
    #[cfg(target_arch = "aarch64")]
    let best = "NEON";
    #[cfg(not(any(target_arch = "x86_64", target_arch = "aarch64")))]
    let best = "portable";
    assert_eq!(instructions(), best);
}
