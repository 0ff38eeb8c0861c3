//! The sweep: coverage of a whole raster at little more than the cost of
//! looking at every cell once.
//!
//! Rays leave the antenna along geodesics, a few spacings apart at their far
//! ends. One pass over a ray leaves behind, for every beginning of it, the
//! steepest slope seen from the antenna and the upper hull of the ground
//! (`hull`), from which the steepest slope seen from any receiver is a short
//! walk. A cell takes both from the two rays that it lies between, blended, and
//! the last points in front of it from its own path (`cells`). What a method
//! needs beyond slopes - the worst clearance of a clear path (`clear`) - is
//! found over all points, so nothing is left out for speed but the width
//! between two rays. `docs/sweep.md` says what that costs.
//!
//! Cells that gaps or the rim of the terrain leave in doubt are computed by a
//! profile of their own, so that they are unknown exactly where the plain
//! engine says so.
#![allow(
    clippy::indexing_slicing,
    reason = "rows have a fixed length that every lane's number is below; what is as long as the terrain is asked with get"
)]

mod canvas;
mod cells;
mod clear;
mod coarse;
mod cover;
mod ends;
mod exact;
mod family;
mod fan;
mod fit;
mod frame;
mod gains;
mod gaps;
mod hull;
mod lane;
mod layers;
mod loss;
#[cfg(test)]
mod on_ray;
mod place;
mod reach;
mod run;
mod sight;
mod spherical;
mod surface;
mod task;
mod verdict;
mod walk;
mod wedge;
mod woods;

pub use coarse::cover_coarsely;
pub use family::{MapShare, map_shares};
pub use layers::{AroundError, Heights, LossLayer, LossLayers, losses, losses_around};
pub use reach::reach;
pub use run::instructions;
pub use task::Options;

pub(super) use cover::cover;
