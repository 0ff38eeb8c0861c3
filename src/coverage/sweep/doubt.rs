//! Which cells the rays tell, and which they leave in doubt: near gaps, near the
//! rim of the terrain, and at the station's foot.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use super::cell_geometry::CellGeometry;
use super::fan::Fan;
use super::geometry::{Batch, Setup};
use super::registers::LANES;

/// What is known of a cell before its losses are worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum CellState {
    /// The rays tell its losses.
    Known,
    /// Gaps or the rim are so near that a profile of its own must tell.
    Doubtful,
    /// Terrain is missing on the way.
    Unknown,
}

/// One for each cell of a batch.
pub(super) type CellStates = [CellState; LANES];

/// Cells nearer than this to the station are in doubt, metres.
const AT_THE_STATION: f32 = 2.0;

/// What gaps, the rim and the station's own cell leave in doubt.
#[inline(always)]
pub(super) fn cell_states(
    setup: &Setup<'_>,
    fan: &Fan,
    batch: &Batch,
    cells: &CellGeometry,
) -> CellStates {
    let mut states = [CellState::Known; LANES];
    let at_the_station = cells.distance.iter().any(|d| *d < AT_THE_STATION);
    if fan.gaps.is_empty() && !batch.near_rim && !at_the_station {
        return states;
    }
    for l in 0..batch.count {
        let ray = cells.ray[l] as usize;
        let last = cells.steps[l] as u32;
        for gap in fan.gaps.iter().skip(ray).take(2) {
            if gap.unknown_from < last {
                states[l] = CellState::Unknown;
            } else if gap.doubtful_from <= last {
                states[l] = states[l].or(CellState::Doubtful);
            }
        }
        if cells.distance[l] < AT_THE_STATION {
            states[l] = CellState::Doubtful;
        }
        if batch.near_rim && states[l] != CellState::Unknown {
            states[l] = states[l].or(over_the_rim(setup, batch, cells, l));
        }
    }
    states
}

impl CellState {
    /// The worse of both.
    fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Unknown, _) | (_, Self::Unknown) => Self::Unknown,
            (Self::Doubtful, _) | (_, Self::Doubtful) => Self::Doubtful,
            _ => Self::Known,
        }
    }
}

/// Whether a cell's path leaves the raster on its way.
fn over_the_rim(setup: &Setup<'_>, batch: &Batch, cells: &CellGeometry, lane: usize) -> CellState {
    /// How well the bend of a path is known, in cells.
    const DOUBT: f32 = 0.05;
    let last = setup.terrain.surface.last();
    let farthest = |start: f32, offset: f32, bend: f32, last: f32| {
        // Extreme of start + t offset + t (t - 1) bend for t from 0 to 1.
        let turn = if bend == 0.0 { 0.0 } else { (0.5 * (bend - offset) / bend).clamp(0.0, 1.0) };
        let at = start + turn * offset + turn * (turn - 1.0) * bend;
        (-0.5 - at).max(at - last - 0.5)
    };
    let over = farthest(batch.station.0, cells.offset.0[lane], cells.bend.0[lane], last.0)
        .max(farthest(batch.station.1, cells.offset.1[lane], cells.bend.1[lane], last.1));
    if over > DOUBT {
        CellState::Unknown
    } else if over > -DOUBT {
        CellState::Doubtful
    } else {
        CellState::Known
    }
}
