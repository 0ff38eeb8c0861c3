//! What a debrief hands out: tables, a map, a plot, a sheet of lessons.

pub(super) mod calibration;
pub(super) mod curve;
pub(super) mod lessons;
pub mod map;
pub mod tables;

use perchline_heard::compare::Compared;
use perchline_heard::learn::Learned;
use perchline_heard::log::{Log, Rejected};
use perchline_heard::packs::PackUpdate;
use perchline_plan::Plan;

use super::Provenance;

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

/// What the files of a debrief are made from.
#[derive(Debug, Clone, Copy)]
pub struct DebriefContent<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What was found.
    pub debrief: &'a Debrief,
    /// What it was made with, the logs among its inputs.
    pub provenance: &'a Provenance,
}
