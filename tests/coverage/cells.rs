//! Coverage of a raster against the link of each cell on its own.
//!
//! The terrain is made by hand: a grid that is neither square nor of square
//! cells, so that a row taken for a column shows.

use std::sync::atomic::AtomicBool;
use std::sync::atomic::{AtomicUsize, Ordering};

use approx::assert_abs_diff_eq;
use gdal::Dataset;
use ndarray::Array2;
use perchline::coverage::{Coverage, cover, plain};
use perchline::link::{Direction, LinkModel, Outcome, PathStudy, Propagator, Terminal, study};
use perchline::plan::Plan;
use perchline::propagation::{free_space, method};
use perchline::terrain::{Grid, Terrain, write_geotiff};
use perchline::units::{Megahertz, Metres, Position};

use crate::support::{changed, read_without_terrain, worked_head};

/// How far a cell may lie from its own link, in dB. Layers are 32-bit floats,
/// whose steps are 1e-5 dB at these levels. An engine that is faster for being
/// less exact needs a wider one, with its reason.
const TOLERANCE: f32 = 1e-3;

/// Columns and rows of the terrain, and their cells in metres.
const SIZE: (usize, usize) = (90, 60);
const CELL: (f64, f64) = (40.0, 30.0);

/// Upper left corner, UTM zone 25 N.
const CORNER: (f64, f64) = (354_000.0, 5_208_600.0);

/// The station's cell in the terrain (column, row), off the middle both ways.
const STATION: (usize, usize) = (30, 18);

fn grid() -> Grid {
    let transform = [CORNER.0, CELL.0, 0.0, CORNER.1, 0.0, -CELL.1];
    Grid::new(SIZE.0, SIZE.1, transform, "EPSG:32625").unwrap()
}

fn terrain(height: impl Fn(usize, usize) -> f32) -> Terrain {
    let heights = Array2::from_shape_fn((SIZE.1, SIZE.0), |(row, column)| height(column, row));
    Terrain::from_heights(grid(), heights).unwrap()
}

/// Hills of 60 m: some cells in sight, some behind one or several.
fn hills(column: usize, row: usize) -> f32 {
    60.0 + 30.0 * (column as f32 / 7.0).sin() * (row as f32 / 5.0).cos() + 0.3 * row as f32
}

fn centre(grid: &Grid, column: usize, row: usize) -> Position {
    grid.projector().unwrap().to_position(column as f64 + 0.5, row as f64 + 0.5).unwrap()
}

/// A plan with one site on [`STATION`]; powers and pattern as given.
fn plan(relay_power: &str, carried_power: &str, pattern: &str) -> Plan {
    let at = centre(&grid(), STATION.0, STATION.1);
    let at = format!("{:.9}, {:.9}", at.latitude().value(), at.longitude().value());
    let antenna = |gain: &str, pattern: &str| {
        format!(r#"antenna = {{ gain = "{gain} dBd", pattern = "{pattern}" }}"#)
    };
    let power = |power: &str| format!("power = \"{power}\"");
    let head = changed(
        &worked_head(),
        &[
            (&power("5 W"), &power(carried_power)),
            (&power("25 W"), &power(relay_power)),
            (&antenna("-5", "dipole"), &antenna("-5", pattern)),
            (&antenna("0", "dipole"), &antenna("0", pattern)),
            ("147.6 MHz", "167.6 MHz"),
        ],
    );
    let places = format!(
        r#"
[[post]]
name = "Post"
at = "{at}"
[[site]]
name = "Mast"
at = "{at}"
roof = "10 m above ground"
mast = "5 m"
"#
    );
    read_without_terrain(&(head + &places))
}

/// The plan's station against a radio carried at `at`.
fn model(plan: &Plan, terrain: &Terrain, at: Position) -> LinkModel {
    let channel = &plan.channels[0];
    let station = Terminal::at_site(plan, channel, &plan.sites[0], terrain).unwrap();
    LinkModel::new(plan, channel, &station, &Terminal::anywhere(plan, channel, None, at))
}

fn covered(plan: &Plan, terrain: &Terrain, propagator: &Propagator, grid: &Grid) -> Coverage {
    let model = model(plan, terrain, plan.sites[0].at);
    plain::cover(terrain, grid, &model, propagator, &|| {}, &AtomicBool::new(false)).unwrap()
}

/// The link to the centre of one cell, `None` where terrain is missing.
fn alone(
    plan: &Plan,
    terrain: &Terrain,
    propagator: &Propagator,
    at: Position,
) -> Option<PathStudy> {
    study(terrain, propagator, &model(plan, terrain, at), &plan.channels[0]).ok()
}

/// Cells of a coverage against `alone`; returns (known, unknown, in sight).
fn compare(
    coverage: &Coverage,
    plan: &Plan,
    terrain: &Terrain,
    propagator: &Propagator,
) -> (usize, usize, usize) {
    let grid = &coverage.grid;
    let (mut known, mut unknown, mut in_sight) = (0, 0, 0);
    for (row, column) in (0..grid.rows()).flat_map(|r| (0..grid.columns()).map(move |c| (r, c))) {
        let at = centre(grid, column, row);
        // The station's own cell has a test of its own.
        if at.distance(plan.sites[0].at) < Metres::new(2.0) {
            continue;
        }
        let cell = (row, column);
        let Some(link) = alone(plan, terrain, propagator, at) else {
            assert_eq!(coverage.outcome[cell], Outcome::Unknown, "{cell:?}");
            assert!(coverage.talk_in_margin[cell].is_nan(), "{cell:?}");
            assert!(coverage.talk_out_margin[cell].is_nan(), "{cell:?}");
            assert!(coverage.talk_out_signals()[cell].is_nan(), "{cell:?}");
            assert!(coverage.governing_margin(row, column).is_none(), "{cell:?}");
            unknown += 1;
            continue;
        };
        let (talk_in, talk_out) = (&link.budgets.talk_in, &link.budgets.talk_out);
        let same = |name: &str, layer: &Array2<f32>, wanted: f64| {
            let found = layer[cell];
            assert!(
                (found - wanted as f32).abs() <= TOLERANCE,
                "{name} {cell:?}: {found} {wanted}"
            );
        };
        same("talk-in", &coverage.talk_in_margin, talk_in.margin_db.value());
        same("talk-out", &coverage.talk_out_margin, talk_out.margin_db.value());
        same("signal", &coverage.talk_out_signals(), talk_out.signal_dbm.value());
        same(
            "governing",
            &coverage.governing_margins(),
            talk_in.margin_db.min(talk_out.margin_db).value(),
        );
        assert_eq!(coverage.outcome[cell], link.budgets.outcome, "{cell:?}");
        let clear = link.clearance.is_none_or(|c| c.line_of_sight);
        assert_eq!(coverage.line_of_sight[cell], clear, "{cell:?}");
        in_sight += usize::from(clear);
        known += 1;
    }
    (known, unknown, in_sight)
}

/// A coarser, non-square grid over the terrain's middle, its cells out of step
/// with the terrain's.
fn coarse_grid() -> Grid {
    let transform = [CORNER.0 + 95.0, 210.0, 0.0, CORNER.1 - 65.0, 0.0, -150.0];
    Grid::new(16, 11, transform, "EPSG:32625").unwrap()
}

#[test]
fn each_cell_is_the_link_to_its_centre() {
    let terrain = terrain(hills);
    let plan = plan("25 W", "5 W", "dipole");
    for name in ["delta-bullington", "free-space"] {
        let propagator =
            Propagator { method: method(name).unwrap(), ..Propagator::new(&plan.prediction) };
        let coverage = covered(&plan, &terrain, &propagator, &coarse_grid());
        assert_eq!(coverage.outcome.dim(), (11, 16));
        let (known, unknown, in_sight) = compare(&coverage, &plan, &terrain, &propagator);
        assert!((175..=176).contains(&known) && unknown == 0, "{known} {unknown}");
        // Both kinds must be there for the comparison to mean anything.
        assert!((20..150).contains(&in_sight), "{in_sight} in sight");
        assert_eq!(coverage.unknown_cells, 0);
    }
}

/// A map whose cells are the terrain's own, as most plans have it.
#[test]
fn each_cell_of_the_terrains_own_grid_is_the_link_to_its_centre() {
    let terrain = terrain(hills);
    let plan = plan("25 W", "5 W", "dipole");
    let propagator = Propagator::new(&plan.prediction);
    let coverage = covered(&plan, &terrain, &propagator, terrain.grid());
    assert_eq!(coverage.outcome.dim(), (SIZE.1, SIZE.0));
    let (known, ..) = compare(&coverage, &plan, &terrain, &propagator);
    assert_eq!(known, SIZE.0 * SIZE.1 - 1);
}

/// A band without heights east of the station: what lies beyond is unknown and
/// counted, what lies before it is known.
#[test]
fn beyond_a_gap_nothing_is_known() {
    let gap = 60;
    let terrain = terrain(|column, row| if column == gap { f32::NAN } else { hills(column, row) });
    let plan = plan("25 W", "5 W", "dipole");
    let propagator = Propagator::new(&plan.prediction);
    let coverage = covered(&plan, &terrain, &propagator, terrain.grid());
    let (_, unknown, _) = compare(&coverage, &plan, &terrain, &propagator);
    for ((row, column), outcome) in coverage.outcome.indexed_iter() {
        // Heights are bilinear: a column away from the gap one may lack a corner.
        if column > gap {
            assert_eq!(*outcome, Outcome::Unknown, "({row}, {column})");
        } else if column < gap - 1 {
            assert_ne!(*outcome, Outcome::Unknown, "({row}, {column})");
        }
    }
    assert_eq!(coverage.unknown_cells, unknown);
    let beyond = (SIZE.0 - gap) * SIZE.1;
    assert!((beyond..=beyond + SIZE.1).contains(&unknown), "{unknown} of {beyond}");
    assert_abs_diff_eq!(
        coverage.share(Outcome::Unknown),
        unknown as f64 / (SIZE.0 * SIZE.1) as f64,
        epsilon = 1e-12
    );
    let works = coverage.outcome.iter().filter(|o| o.works()).count();
    let known = SIZE.0 * SIZE.1 - unknown;
    assert_abs_diff_eq!(coverage.working_share(), works as f64 / known as f64, epsilon = 1e-12);
}

/// Right under its own mast a radio is taken one metre away on level ground:
/// by hand, isotropic antennas over the slant of 1 m and 15 - 1.4 m in free space.
#[test]
fn the_stations_own_cell_is_one_metre_away() {
    let terrain = terrain(hills);
    let plan = plan("25 W", "5 W", "isotropic");
    let free =
        Propagator { method: method("free-space").unwrap(), ..Propagator::new(&plan.prediction) };
    let coverage = covered(&plan, &terrain, &free, terrain.grid());
    let cell = (STATION.1, STATION.0);
    let slant = Metres::new(1f64.hypot(15.0 - 1.4));
    let loss = free_space::loss(Megahertz::new(147.0), slant).value();
    // 25 W, line and duplexer, 0 dBd, path, -5 dBd, body at the shoulder.
    let by_hand = 43.979 - 2.5 + 2.15 - loss + (2.15 - 5.0) - 7.0;
    assert_abs_diff_eq!(f64::from(coverage.talk_out_signals()[cell]), by_hand, epsilon = 0.01);
    assert!(coverage.line_of_sight[cell]);
    assert_eq!(coverage.outcome[cell], Outcome::Strong);
    assert_eq!(coverage.unknown_cells, 0);

    // With the default method too the cell is known and works.
    let propagator = Propagator::new(&plan.prediction);
    let coverage = covered(&plan, &terrain, &propagator, terrain.grid());
    assert!(coverage.line_of_sight[cell]);
    assert_eq!(coverage.outcome[cell], Outcome::Strong);
}

/// Ten times the power at one end is 10 dB more in one direction and nothing in
/// the other.
#[test]
fn talk_in_and_talk_out_are_not_swapped() {
    let terrain = terrain(hills);
    let run = |relay: &str, carried: &str| {
        let plan = plan(relay, carried, "dipole");
        covered(&plan, &terrain, &Propagator::new(&plan.prediction), &coarse_grid())
    };
    let before = run("2.5 W", "2 W");
    let all = |after: &Array2<f32>, before: &Array2<f32>, rise: f32| {
        for (cell, after) in after.indexed_iter() {
            assert!((after - before[cell] - rise).abs() < 1e-3, "{cell:?}");
        }
    };
    let louder_relay = run("25 W", "2 W");
    all(&louder_relay.talk_out_margin, &before.talk_out_margin, 10.0);
    all(&louder_relay.talk_out_signals(), &before.talk_out_signals(), 10.0);
    all(&louder_relay.talk_in_margin, &before.talk_in_margin, 0.0);
    let louder_radio = run("2.5 W", "20 W");
    all(&louder_radio.talk_in_margin, &before.talk_in_margin, 10.0);
    all(&louder_radio.talk_out_margin, &before.talk_out_margin, 0.0);
    all(&louder_radio.talk_out_signals(), &before.talk_out_signals(), 0.0);
    // And the weaker one is the one that governs.
    let plan = plan("25 W", "2 W", "dipole");
    let at = centre(&coarse_grid(), 3, 2);
    let link = alone(&plan, &terrain, &Propagator::new(&plan.prediction), at).unwrap();
    assert_eq!(link.budgets.governing, Direction::TalkIn);
    let governing = louder_relay.governing_margin(2, 3).unwrap().value();
    assert_abs_diff_eq!(governing, f64::from(louder_relay.talk_in_margin[(2, 3)]));
}

/// The file is read back with GDAL alone, by coordinates, not by index.
#[test]
fn the_margin_raster_holds_the_layer_where_it_belongs() {
    let terrain = terrain(|c, r| if c == 75 { f32::NAN } else { hills(c, r) });
    let plan = plan("25 W", "5 W", "dipole");
    let propagator = Propagator::new(&plan.prediction);
    let coverage = covered(&plan, &terrain, &propagator, &coarse_grid());
    let margins = coverage.governing_margins();
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("margin.tif");
    write_geotiff(&file, &coverage.grid, margins.view(), "margin", &[]).unwrap();

    let dataset = Dataset::open(&file).unwrap();
    assert_eq!(dataset.raster_size(), (16, 11));
    let [left, width, _, top, _, height] = dataset.geo_transform().unwrap();
    let band = dataset.rasterband(1).unwrap();
    assert!(band.no_data_value().unwrap().is_nan());
    let (mut known, mut unknown) = (0, 0);
    for (column, row) in [(0, 0), (15, 0), (0, 10), (15, 10), (3, 7), (11, 2), (7, 4)] {
        let x = coarse_grid().transform()[0] + 210.0 * (column as f64 + 0.5);
        let y = coarse_grid().transform()[3] - 150.0 * (row as f64 + 0.5);
        let place = (((x - left) / width) as isize, ((y - top) / height) as isize);
        let read = band.read_as::<f32>(place, (1, 1), (1, 1), None).unwrap().data()[0];
        match coverage.governing_margin(row, column) {
            Some(margin) => {
                assert_eq!(f64::from(read), margin.value(), "({row}, {column})");
                known += 1;
            }
            None => {
                assert!(read.is_nan(), "({row}, {column})");
                unknown += 1;
            }
        }
    }
    assert!(known >= 4 && unknown >= 1, "{known} {unknown}");
}

#[test]
fn every_row_is_told_once_and_a_stopped_run_knows_nothing() {
    let terrain = terrain(hills);
    let plan = plan("25 W", "5 W", "dipole");
    let propagator = Propagator::new(&plan.prediction);
    let model = model(&plan, &terrain, plan.sites[0].at);
    let rows = AtomicUsize::new(0);
    let count = || {
        rows.fetch_add(1, Ordering::Relaxed);
    };
    let grid = coarse_grid();
    cover(&terrain, &grid, &model, &propagator, &count, &AtomicBool::new(false)).unwrap();
    assert_eq!(rows.load(Ordering::Relaxed), grid.rows());
    let stopped =
        cover(&terrain, &grid, &model, &propagator, &|| {}, &AtomicBool::new(true)).unwrap();
    assert_eq!(stopped.unknown_cells, grid.rows() * grid.columns());
    assert!(stopped.governing_margins().iter().all(|m| m.is_nan()));
}
