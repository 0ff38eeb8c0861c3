//! One site's share of the map for many masts in one pass.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::canvas::Codes;
use super::cells::Losses;
use super::cover::lossless;
use super::exact;
use super::gains::Gains;
use super::task::{AntennaPair, CellSpan, KnownLanes, LossSink, Options, Task};
use crate::link::{Chances, LinkModel, Propagator};
use crate::terrain::{Grid, PlaceError, Terrain};
use crate::units::Metres;

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
/// `row_done` and `stop` are those of [`crate::coverage::cover`]; the shares of
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
    let family = Family {
        members: models.iter().map(|model| Member::new(model, grid)).collect(),
        carried: Gains::of(&first.carried().radio.antenna),
    };
    let task = Task {
        terrain,
        grid,
        at: first.station().at,
        masts: &masts,
        carried: &[first.carried().antenna],
        frequencies: first.frequencies(),
        propagator,
        options: &Options::default(),
        row_done,
        stop,
    };
    if !task.run(&family)? {
        exact::every_cell(&task, &family)?;
    }
    Ok(family.members.into_par_iter().map(Member::share).collect())
}

/// Marks of a cell.
const WORKS: u8 = 2;
const FAILS: u8 = 1;

struct Family {
    members: Vec<Member>,
    carried: Gains,
}

/// One mast's map in the making.
struct Member {
    base: [f32; 2],
    chances: Chances,
    station: Gains,
    cells: Codes,
    size: (usize, usize),
}

impl Member {
    fn new(model: &LinkModel, grid: &Grid) -> Self {
        let size = (grid.rows(), grid.columns());
        Self {
            base: lossless(model),
            chances: model.chances(),
            station: Gains::of(&model.station().radio.antenna),
            cells: Codes::new(size.0 * size.1),
            size,
        }
    }

    fn share(self) -> MapShare {
        let marks = self.cells.into_array(self.size, |code| code);
        let count = |wanted: u8| marks.iter().filter(|mark| **mark == wanted).count();
        let working = count(WORKS);
        MapShare { working, known: working + count(FAILS) }
    }
}

impl LossSink for Family {
    fn take(&self, pair: AntennaPair, span: CellSpan, known: &KnownLanes, losses: &Losses) {
        let Some(member) = self.members.get(pair.mast) else { return };
        let [base_in, base_out] = member.base;
        let slopes = losses.up.iter().zip(&losses.back);
        let lanes = known.iter().zip(losses.talk_in).zip(losses.talk_out).zip(slopes);
        for (cell, (((known, inward), outward), (up, back))) in span.cells().zip(lanes) {
            if *known {
                let gain = member.station.towards(*up) + self.carried.towards(*back);
                let margins = (base_in + gain - inward, base_out + gain - outward);
                let works = member.chances.of(margins.0, margins.1).1.works();
                member.cells.set(cell, if works { WORKS } else { FAILS });
            }
        }
    }
}
