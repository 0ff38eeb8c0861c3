//! What a debrief hands out: tables, a map, a plot, a sheet of lessons.

pub mod curve;
pub mod lessons;
pub mod map;
pub mod tables;

use perchline_heard::compare::Compared;
use perchline_heard::learn::Learned;
use perchline_heard::log::{Log, Rejected};
use perchline_heard::packs::PackUpdate;

/// Everything that a debrief found.
#[derive(Debug, Clone)]
pub struct Debrief {
    /// The logs as read.
    pub log: Log,
    /// Reports beside their predictions.
    pub compared: Vec<Compared>,
    /// Rows that do not count: of the logs, and those that lie off the terrain.
    pub rejected: Vec<Rejected>,
    /// What the reports teach.
    pub learned: Learned,
    /// What dead batteries teach.
    pub packs: Vec<PackUpdate>,
}
