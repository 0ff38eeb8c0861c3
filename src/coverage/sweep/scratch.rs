//! Memory that a thread keeps from wedge to wedge.

use super::batch::PairFound;
use super::fan::Fan;
use super::foreground::Foreground;
use super::geometry::BatchLosses;
use super::horizons::Horizons;
use super::kept_blocks::KeptBlocks;
use super::raster::Strip;
use super::trees::TreeBlocks;

/// Everything that one thread writes while it sweeps.
#[derive(Default)]
pub(super) struct Scratch {
    /// Over everything that stands there, and as if no trees did.
    pub surfaces: [SurfaceScratch; 2],
    /// Where both differ along the rays.
    pub trees: TreeBlocks,
    pub horizons: Vec<Horizons>,
    /// The bare earth along the own paths of a batch.
    pub bare_earth: KeptBlocks,
    /// The losses of a batch, surface by surface.
    pub found: Vec<BatchLosses>,
}

/// What is read off one surface.
#[derive(Default)]
pub(super) struct SurfaceScratch {
    pub fan: Fan,
    pub foreground: Box<Foreground>,
    pub strip: Strip,
    /// It along the own paths of a batch.
    pub kept: KeptBlocks,
    /// What the losses of the batch are made of, pair by pair.
    pub pairs: Vec<PairFound>,
}
