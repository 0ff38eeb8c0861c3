//! One site's share of the map for many masts in one pass.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::exact;
use super::geometry::BatchLosses;
use super::layer_store::CodeLayer;
use super::margins::{Boundaries, Margins};
use super::task::{AntennaPair, CellSpan, KnownLanes, LossSink, Options, Task};
use perchline_link::{Chances, LinkModel, Propagator};
use perchline_terrain::{Grid, PlaceError, Terrain};
use perchline_units::Metres;

/// How much of a map works.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MapShare {
    /// Cells in which the wanted share of spots works both ways.
    pub working: usize,
    /// Cells whose path crosses no gap in the terrain.
    pub known: usize,
}

impl MapShare {
    /// Share of the known cells that work, 0 to 1; zero where nothing is known.
    #[must_use]
    pub fn share(self) -> f64 {
        self.working as f64 / self.known.max(1) as f64
    }
}

/// How much of `grid` works from each of the stations of `models`, which stand
/// at one place with antennas of different heights, the carried radio at each
/// cell's centre. All heights share one pass over the terrain; by methods and
/// grids without a swept form they share the profile of each cell.
///
/// `row_done` and `stop` are those of [`crate::cover`]; the shares of
/// a run that was stopped say nothing.
///
/// # Errors
/// [`PlaceError`] when the stations are off the terrain or the grid can't be
/// projected.
pub fn map_shares(
    terrain: &Terrain,
    grid: &Grid,
    models: &[LinkModel],
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Vec<MapShare>, PlaceError> {
    let Some(first) = models.first() else { return Ok(Vec::new()) };
    let masts: Vec<Metres> = models.iter().map(|model| model.station().antenna).collect();
    let working = WorkingCells(models.iter().map(|model| MastCells::new(model, grid)).collect());
    let task = Task {
        terrain,
        grid,
        at: first.station().at,
        masts: &masts,
        receivers: &[first.carried().antenna],
        frequencies: first.frequencies(),
        propagator,
        options: &Options::default(),
        row_done,
        stop,
    };
    if !task.run(&working)? {
        exact::every_cell(&task, &working)?;
    }
    Ok(working.0.into_par_iter().map(MastCells::share).collect())
}

/// Codes of a cell; 0 where it is unknown.
const FAILS: u8 = 1;
const WORKS: u8 = 2;

/// Which cells work, mast by mast, in the making.
struct WorkingCells(Vec<MastCells>);

/// Those of one mast.
struct MastCells {
    margins: Margins,
    chances: Chances,
    boundaries: Boundaries,
    codes: CodeLayer,
    shape: (usize, usize),
}

impl MastCells {
    fn new(model: &LinkModel, grid: &Grid) -> Self {
        let shape = (grid.rows(), grid.columns());
        Self {
            margins: Margins::from_station(model),
            boundaries: Boundaries::new(&model.chances()),
            chances: model.chances(),
            codes: CodeLayer::new(shape.0 * shape.1),
            shape,
        }
    }

    fn share(self) -> MapShare {
        let codes = self.codes.into_array(self.shape, |code| code);
        let count = |wanted: u8| codes.iter().filter(|code| **code == wanted).count();
        let working = count(WORKS);
        MapShare { working, known: working + count(FAILS) }
    }
}

impl LossSink for WorkingCells {
    fn take(&self, pair: AntennaPair, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
        let Some(mast) = self.0.get(pair.mast) else { return };
        let [talk_in, talk_out] = mast.margins.of(losses);
        let lanes = known.iter().zip(talk_in.iter().zip(talk_out));
        for (cell, (known, (talk_in, talk_out))) in span.cells().zip(lanes) {
            if *known {
                let works = mast.chances.of(*talk_in, talk_out).1.works();
                mast.codes.set(cell, if works { WORKS } else { FAILS });
            }
        }
    }

    // By the same classes as a coverage, so that both share the same cells.
    fn undecided(&self, pair: AntennaPair, known: &KnownLanes, losses: &BatchLosses) -> u32 {
        let Some(mast) = self.0.get(pair.mast) else { return 0 };
        mast.boundaries.undecided(&mast.margins.of(losses), known, losses)
    }

    fn weighs_doubts(&self) -> bool {
        true
    }
}
