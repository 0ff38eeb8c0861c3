//! Line of sight, Fresnel-zone clearance and take-off angles.

use super::Path;
use crate::units::{Degrees, Metres};

/// How the straight line between the antennas passes over the ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Clearance {
    /// Whether no point of the ground, with the bulge of the earth, reaches the line.
    pub line_of_sight: bool,
    /// Clearance at the worst point over the first Fresnel radius there; negative if blocked.
    /// The worst point is that with the least ratio.
    pub worst_ratio: f64,
    /// Distance of the worst point from the transmitter.
    pub worst_distance: Metres,
    /// Height of the line over the ground there.
    pub worst_clearance: Metres,
    /// The first point from the transmitter that blocks the line: distance, height above sea level.
    pub first_obstruction: Option<(Metres, Metres)>,
}

/// Angles at which the wave leaves and arrives, above the horizontal (negative: below).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TakeOff {
    /// At the transmitter: towards the receiver, or towards its horizon where that is higher.
    pub at_transmitter: Degrees,
    /// At the receiver likewise.
    pub at_receiver: Degrees,
}

/// Clearance of a path; `None` when the profile has no point between its ends.
pub fn clearance(_path: &Path<'_>) -> Option<Clearance> {
    todo!()
}

/// Whether the straight line clears the ground; the fast form of [`clearance`].
pub fn line_of_sight(_path: &Path<'_>) -> bool {
    todo!()
}

/// Take-off angles of a path.
pub fn take_off(_path: &Path<'_>) -> TakeOff {
    todo!()
}
