//! What a debrief hands out: tables, maps, a plot, a document of one page or several
//! sheets, a sheet of lessons.

pub(super) mod calibration;
mod changes;
pub(super) mod curve;
mod document;
pub(super) mod lessons;
pub mod map;
pub(super) mod page;
pub(super) mod sheets;
pub mod tables;

use perchline_heard::compare::Compared;
use perchline_heard::learn::Learned;
use perchline_heard::log::{Log, Rejected};
use perchline_heard::packs::PackUpdate;
use perchline_heard::routes::RouteMiss;
use perchline_heard::summary::{FallbackUse, Group};
use perchline_plan::Plan;

use super::{Provenance, words};

pub use changes::{Change, changes};
pub use document::DebriefDocument;
use map::{MapPicture, ReportMap};

/// Everything that a debrief found.
#[derive(Debug, Clone)]
pub struct Debrief {
    /// The logs as read.
    pub log: Log,
    /// Reports beside their predictions.
    pub compared: Vec<Compared>,
    /// Rejected rows: of the logs, and those that lie off the terrain.
    pub rejected: Vec<Rejected>,
    /// What the reports teach.
    pub learned: Learned,
    /// What dead batteries teach.
    pub packs: Vec<PackUpdate>,
    /// Reports together: post by post and direction by direction.
    pub groups: Vec<Group>,
    /// Stretches of routes with misses.
    pub routes: Vec<RouteMiss>,
    /// How channels without a relay were used.
    pub fallback: Vec<FallbackUse>,
}

/// What the files of a debrief are made from.
#[derive(Clone, Copy)]
pub struct DebriefContent<'a> {
    /// The plan.
    pub plan: &'a Plan,
    /// What was found.
    pub debrief: &'a Debrief,
    /// What the document says of it.
    pub document: &'a DebriefDocument,
    /// The maps as drawn, that of the most reports first.
    pub pictures: &'a [MapPicture],
    /// The map of the most reports; nothing where all are from radio to radio.
    pub map: Option<&'a ReportMap<'a>>,
    /// What it was made with, the logs among its inputs.
    pub provenance: &'a Provenance,
}

/// The direction of a group, in the trade's words.
fn way(group: &Group) -> &'static str {
    if group.to_radio { "radio to radio" } else { words::way(group.direction) }
}
