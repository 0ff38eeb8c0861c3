//! The sweep: coverage of a whole raster at little more than the cost of
//! looking at every cell once.
//!
//! Rays leave the station along geodesics, a few spacings apart at their far
//! ends (`fan`). One pass over a ray leaves behind, for every beginning of it, the
//! steepest slope seen from the station antenna and the upper hull of the terrain
//! (`hull`), from which the steepest slope seen from any receiver is a short
//! walk. A cell takes both from the two rays that it lies between, interpolated
//! (`horizons`), and the last points in front of it from its own path
//! (`foreground`); short paths are sampled whole. What a method needs beyond
//! slopes, the dominant obstruction of a clear path (`obstruction`), is found over
//! all points, so nothing is left out for speed but the width between two rays.
//! `docs/sweep.md` says what that costs.
//!
//! A cell that the two rays leave between two classes of a coverage is looked at
//! again on its own path (`own_path`), so that classes and shares are those of the
//! plain engine.
//!
//! Cells that gaps or the rim of the terrain leave in doubt (`doubt`) are computed
//! by a profile of their own (`exact`), so that they are unknown exactly where the
//! plain engine says so.
//!
//! # Reading order
//!
//! Each module imports only from those before it; `tests/coverage/sweep.rs` holds them to
//! that.
//!
//! 1. Arithmetic: `registers -> transform -> wedge -> raster -> gaps -> hull ->
//!    obstruction`. Sixteen numbers at a time, the map projection around the
//!    station, the share of the map that a thread works on, heights, and what can
//!    be asked of the heights of one ray.
//! 2. Decibels: `loss -> smooth_earth`.
//! 3. Shared types: `geometry -> task`. What is the same for all cells, a batch
//!    of sixteen of them, their losses; what is to be swept and who takes the
//!    losses.
//! 4. A batch: `fan -> trees -> cell_geometry -> foreground -> doubt -> horizons -> fit ->
//!    kept_blocks -> own_path -> batch -> scratch -> woods`. From terrain to losses.
//! 5. A run: `walk -> georeference -> exact -> run`. All batches of a wedge, all
//!    wedges on all threads.
//! 6. What is made of losses: `layer_store -> margins -> layers -> cover -> coarse
//!    -> reach -> map_share`.
#![allow(
    clippy::indexing_slicing,
    reason = "lanes have a fixed number that every index into them is below; what is as long as the terrain is asked with get"
)]

mod gaps;
mod hull;
mod obstruction;
mod raster;
mod registers;
mod transform;
mod wedge;

mod loss;
mod smooth_earth;

mod geometry;
mod task;

mod batch;
mod cell_geometry;
mod doubt;
mod fan;
mod fit;
mod foreground;
mod horizons;
mod kept_blocks;
mod own_path;
mod scratch;
mod trees;
mod woods;

mod exact;
mod georeference;
mod run;
mod walk;

mod coarse;
mod cover;
mod layer_store;
mod layers;
mod map_share;
mod margins;
mod reach;

#[cfg(test)]
mod on_ray;

pub use coarse::cover_coarsely;
pub use layers::{AroundError, Heights, LossLayer, LossLayers, losses, losses_around};
pub use map_share::{MapShare, map_shares};
pub use reach::reach;
pub use run::instructions;
pub use task::Options;

pub(super) use cover::cover;
