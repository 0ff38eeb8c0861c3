//! One site's share of the map for many masts in one pass.

use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};

use super::exact;
use super::geometry::BatchLosses;
use super::margins::{Boundaries, Margins};
use super::task::{CellSpan, Combination, KnownLanes, LossSink, Options, Task};
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
    let working = WorkingCells::new(models);
    let task = Task {
        terrain,
        grid,
        at: first.station().at,
        masts: &masts,
        receivers: &[first.carried().antenna],
        channels: &[first.frequencies()],
        propagator,
        options: &Options::default(),
        row_done,
        stop,
    };
    if !task.run(&working)? {
        exact::every_cell(&task, &working)?;
    }
    Ok(working.shares())
}

/// How many cells work, mast by mast, in the making.
struct WorkingCells {
    masts: Vec<Mast>,
    /// Cells that work and that are known, mast by mast: for each thread its own,
    /// so that none waits for another. Every cell is taken once.
    counts: Vec<Vec<[AtomicUsize; 2]>>,
}

/// What makes classes of the losses from one mast.
struct Mast {
    margins: Margins,
    chances: Chances,
    boundaries: Boundaries,
}

impl WorkingCells {
    fn new(models: &[LinkModel]) -> Self {
        let mast = |model: &LinkModel| Mast {
            margins: Margins::from_station(model),
            boundaries: Boundaries::new(&model.chances()),
            chances: model.chances(),
        };
        // One more for whoever is none of the threads.
        let threads = rayon::current_num_threads() + 1;
        let of_thread = || models.iter().map(|_| Default::default()).collect();
        Self {
            masts: models.iter().map(mast).collect(),
            counts: (0..threads).map(|_| of_thread()).collect(),
        }
    }

    /// The counts of this thread.
    fn own(&self) -> Option<&Vec<[AtomicUsize; 2]>> {
        let last = self.counts.len().checked_sub(1)?;
        self.counts.get(rayon::current_thread_index().map_or(last, |thread| thread.min(last)))
    }

    fn shares(&self) -> Vec<MapShare> {
        let sum = |mast: usize, which: usize| {
            let of_thread = |counts: &Vec<[AtomicUsize; 2]>| {
                let count = counts.get(mast).and_then(|counts| counts.get(which));
                count.map_or(0, |count| count.load(Ordering::Relaxed))
            };
            self.counts.iter().map(of_thread).sum()
        };
        (0..self.masts.len())
            .map(|mast| MapShare { working: sum(mast, 0), known: sum(mast, 1) })
            .collect()
    }
}

impl LossSink for WorkingCells {
    fn take(&self, which: Combination, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
        let Some(mast) = self.masts.get(which.mast) else { return };
        let Some([working, all]) = self.own().and_then(|counts| counts.get(which.mast)) else {
            return;
        };
        let [talk_in, talk_out] = mast.margins.left_or_of(losses);
        let lanes = known.iter().zip(talk_in.iter().zip(talk_out)).take(span.count);
        let (mut works, mut are_known) = (0, 0);
        for (known, (talk_in, talk_out)) in lanes {
            if *known {
                are_known += 1;
                works += usize::from(mast.chances.of(*talk_in, talk_out).1.works());
            }
        }
        working.fetch_add(works, Ordering::Relaxed);
        all.fetch_add(are_known, Ordering::Relaxed);
    }

    // By the same classes as a coverage, so that both share the same cells.
    fn undecided(&self, which: Combination, known: &KnownLanes, losses: &mut BatchLosses) -> u32 {
        let Some(mast) = self.masts.get(which.mast) else { return 0 };
        let margins = mast.margins.leave(losses);
        mast.boundaries.undecided(&margins, known, losses)
    }

    fn weighs_doubts(&self) -> bool {
        true
    }
}
