//! What is to be swept, and the two traits through which a sweep hands over
//! losses and has single cells computed.

use std::sync::atomic::AtomicBool;

use super::geometry::{BatchLosses, CellLosses};
use super::registers::LANES;
use perchline_link::Propagator;
use perchline_propagation::SweptForm;
use perchline_terrain::{Grid, Terrain};
use perchline_units::{Megahertz, Metres, Position};

/// How finely to sweep and how far.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Options {
    /// Distance between neighbouring rays where they are farthest apart, in
    /// spacings of the terrain; 0.25 or more. Half of it doubles the rays and
    /// about halves the error. `None`: as the method needs it.
    pub ray_gap: Option<f64>,
    /// Cells farther away than this are left unknown.
    pub radius: Metres,
}

impl Options {
    /// The finest gap between rays that can be asked for, in spacings.
    pub const FINEST_GAP: f64 = 0.25;

    /// The gap between rays for a method: where none is asked for, one that
    /// keeps 99 of 100 cells on gentle ground within half a decibel of their
    /// own paths (`docs/sweep.md`).
    pub(super) fn gap_for(&self, propagator: &Propagator) -> f64 {
        let usual = match propagator.method.swept() {
            Some(SweptForm::DeltaBullington) => 1.75,
            _ => 3.0,
        };
        self.ray_gap.unwrap_or(usual).max(Self::FINEST_GAP)
    }
}

impl Default for Options {
    fn default() -> Self {
        Self { ray_gap: None, radius: Metres::new(f64::INFINITY) }
    }
}

/// What is to be swept.
pub(super) struct Task<'a> {
    pub terrain: &'a Terrain,
    /// The map.
    pub grid: &'a Grid,
    /// Where the station antenna stands.
    pub at: Position,
    /// Heights of the station antenna above ground.
    pub masts: &'a [Metres],
    /// Heights of the receiver antenna, that at every cell, above ground.
    pub receivers: &'a [Metres],
    /// Of talk-in and talk-out, channel by channel.
    pub channels: &'a [(Megahertz, Megahertz)],
    pub propagator: &'a Propagator,
    pub options: &'a Options,
    /// Called as many times as the map has rows.
    pub row_done: &'a (dyn Fn() + Sync),
    /// Set to end the run early.
    pub stop: &'a AtomicBool,
}

/// Where the cells of a batch are on the map.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellSpan {
    /// Index of the first cell, row by row.
    pub first: usize,
    /// From one cell's index to the next one's.
    pub step: usize,
    /// How many, at most [`LANES`].
    pub count: usize,
}

impl CellSpan {
    /// One cell.
    pub(super) const fn single(cell: usize) -> Self {
        Self { first: cell, step: 1, count: 1 }
    }

    /// The cells' indices, in the order of the lanes.
    pub(super) fn cells(self) -> impl Iterator<Item = usize> {
        (0..self.count).map(move |lane| self.first + lane * self.step)
    }
}

/// A station antenna height, a receiver antenna height and the frequencies of a
/// channel, by number.
#[derive(Debug, Clone, Copy)]
pub(super) struct Combination {
    pub mast: usize,
    pub receiver: usize,
    pub channel: usize,
}

/// For each cell of a batch whether its losses are known.
pub(super) type KnownLanes = [bool; LANES];

/// Takes the losses that a sweep finds, a batch of cells at a time.
///
/// One virtual call for sixteen cells costs next to nothing, and the sweep is
/// compiled once for each instruction set, whatever is made of its losses.
pub(super) trait LossSink: Sync {
    /// The losses of the cells of `span` for one combination. Where `known`
    /// is false terrain is missing on the way, or the cell is beyond the radius,
    /// and the losses mean nothing.
    fn take(&self, which: Combination, span: CellSpan, known: &KnownLanes, losses: &BatchLosses);

    /// The lanes, as bits, whose cells would come to something else if their
    /// losses were off by as much as they may be. They are looked at on their own
    /// paths before they are taken. Margins may be left with the losses.
    fn undecided(&self, _: Combination, _: &KnownLanes, _: &mut BatchLosses) -> u32 {
        0
    }

    /// Whether it looks at the doubts of losses at all; if not they are zero.
    fn weighs_doubts(&self) -> bool {
        false
    }
}

/// Computes single cells, each by a terrain profile of its own.
pub(super) trait CellProfiles {
    /// The losses of a cell for every combination, mast by mast and of each receiver by
    /// receiver; `None` where terrain is missing on the way.
    fn losses(&mut self, cell: usize) -> Option<Vec<CellLosses>>;
}
