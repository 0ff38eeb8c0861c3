//! Losses of a raster for several antenna heights at once.

use std::sync::atomic::AtomicBool;

use ndarray::Array2;

use super::exact;
use super::geometry::BatchLosses;
use super::layer_store::NumberLayer;
use super::task::{CellSpan, Combination, KnownLanes, LossSink, Options, Task};
use perchline_link::Propagator;
use perchline_plan::TerrainInputs;
use perchline_terrain::{Extent, Grid, PlaceError, Terrain, TerrainError};
use perchline_units::{Megahertz, Metres, Position};

/// Antenna heights above the ground at their place.
#[derive(Debug, Clone, PartialEq)]
pub struct Heights {
    /// Of the antenna at the fixed place.
    pub masts: Vec<Metres>,
    /// Of the antenna at every cell.
    pub carried: Vec<Metres>,
}

/// Basic transmission losses for one pair of antenna heights, dB; NaN where
/// terrain is missing on the way, beyond the radius, and where the run was
/// stopped before.
#[derive(Debug, Clone)]
pub struct LossLayer {
    /// Height of the antenna at the fixed place over its ground.
    pub mast: Metres,
    /// Height of the antenna at every cell over its ground.
    pub carried: Metres,
    /// At the first frequency.
    pub talk_in: Array2<f32>,
    /// At the second frequency.
    pub talk_out: Array2<f32>,
}

/// The losses for all pairs of heights, mast by mast.
#[derive(Debug, Clone)]
pub struct LossLayers {
    /// Where the cells are.
    pub grid: Grid,
    /// One layer a pair.
    pub layers: Vec<LossLayer>,
}

/// Losses between an antenna at `at` and one at every cell of `grid`, for every
/// pair of heights, at two frequencies.
///
/// All heights share one pass over the terrain, so that eight masts cost little
/// more than one. Loss is the same both ways: with the heights' roles swapped,
/// this is also the loss from a demand point `at` (its antenna the only
/// `mast`) to a station on any cell, of any of the `carried` heights. A search
/// over all cells for a site then costs one sweep a demand point.
///
/// Methods without a swept form, grids that do not run along the terrain's
/// cells and projections too bent for the sweep are computed by a profile for
/// every cell, at that cost. Setting `stop` ends the run within milliseconds.
///
/// # Errors
/// [`PlaceError`] when `at` is off the terrain or in a gap of it.
#[expect(clippy::too_many_arguments, reason = "each is a thing of its own")]
pub fn losses(
    terrain: &Terrain,
    grid: &Grid,
    at: Position,
    heights: &Heights,
    frequencies: (Megahertz, Megahertz),
    propagator: &Propagator,
    options: &Options,
    stop: &AtomicBool,
) -> Result<LossLayers, PlaceError> {
    let shape = (grid.rows(), grid.columns());
    let (masts, receivers) = (heights.masts.as_slice(), heights.carried.as_slice());
    let pairs = masts.len() * receivers.len();
    let found = PairLayers {
        numbers: NumberLayer::new(2 * pairs * shape.0 * shape.1),
        pairs,
        receivers: receivers.len(),
    };
    let task = Task {
        terrain,
        grid,
        at,
        masts,
        receivers,
        channels: &[frequencies],
        propagator,
        options,
        row_done: &|| (),
        stop,
    };
    if !task.run(&found)? {
        exact::every_cell(&task, &found)?;
    }
    let heights = masts.iter().flat_map(|m| receivers.iter().map(move |r| (*m, *r)));
    let mut numbers = found.numbers.into_arrays(2 * pairs, shape).into_iter();
    let layers = heights
        .map_while(|(mast, carried)| {
            let (talk_in, talk_out) = (numbers.next()?, numbers.next()?);
            Some(LossLayer { mast, carried, talk_in, talk_out })
        })
        .collect();
    Ok(LossLayers { grid: grid.clone(), layers })
}

/// The same for a terrain that is larger than memory: only the window within
/// `options.radius` of `at` is read out of the elevation files and swept.
///
/// # Errors
/// [`TerrainError`] when the window can't be read, or when `at` has no height.
pub fn losses_around(
    inputs: &TerrainInputs,
    at: Position,
    heights: &Heights,
    frequencies: (Megahertz, Megahertz),
    propagator: &Propagator,
    options: &Options,
    stop: &AtomicBool,
) -> Result<LossLayers, AroundError> {
    let extent = Extent::around([at], options.radius).ok_or(AroundError::NoRadius)?;
    let terrain = Terrain::open(inputs, extent)?;
    let grid = terrain.grid().clone();
    Ok(losses(&terrain, &grid, at, heights, frequencies, propagator, options, stop)?)
}

/// Why a window around a place could not be swept.
#[derive(Debug, thiserror::Error)]
pub enum AroundError {
    /// The radius is not a length.
    #[error("the radius of the window around the place is not a finite length: give one in metres")]
    NoRadius,
    /// The elevation files can't be read.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
    /// The place has no height.
    #[error(transparent)]
    Place(#[from] PlaceError),
}

/// Loss layers in the making. Talk-in and talk-out of all pairs of heights are kept
/// cell by cell: a batch of cells along a column would else write to as many places
/// far apart as there are cells and layers.
struct PairLayers {
    numbers: NumberLayer,
    pairs: usize,
    receivers: usize,
}

impl LossSink for PairLayers {
    fn take(&self, which: Combination, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
        let number = which.mast * self.receivers + which.receiver;
        let lanes = known.iter().zip(losses.talk_in.iter().zip(losses.talk_out));
        for (cell, (known, (inward, outward))) in span.cells().zip(lanes) {
            let place = 2 * (cell * self.pairs + number);
            self.numbers.set(place, if *known { *inward } else { f32::NAN });
            self.numbers.set(place + 1, if *known { outward } else { f32::NAN });
        }
    }
}
