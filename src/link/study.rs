//! Everything about one link, for the path plot and the path table.

use crate::propagation::clearance::{Clearance, TakeOff};
use crate::propagation::{Edge, EffectiveEarth, Profile};
use crate::units::{Db, Degrees, Metres, Position};

use super::LinkBudgets;

/// One end of a link.
#[derive(Debug, Clone, PartialEq)]
pub struct End {
    /// Its name in the plan.
    pub name: String,
    /// Where it is.
    pub at: Position,
    /// Ground above sea level.
    pub ground: Metres,
    /// Antenna above ground.
    pub antenna: Metres,
}

/// A link with its profile, its obstructions and both budgets.
#[derive(Debug, Clone)]
pub struct PathStudy {
    /// The station (for a simplex link the first end named).
    pub from: End,
    /// The carried radio.
    pub to: End,
    /// Name of the channel.
    pub channel: String,
    /// Name of the propagation method.
    pub method: &'static str,
    /// Ground distance.
    pub distance: Metres,
    /// Bearing from `from` to `to`, degrees from true north.
    pub bearing: Degrees,
    /// The ground between, `from` first.
    pub profile: Profile,
    /// The effective earth.
    pub earth: EffectiveEarth,
    /// Clearance at the talk-out frequency.
    pub clearance: Option<Clearance>,
    /// Take-off angles.
    pub take_off: TakeOff,
    /// Edges that the method counted at the talk-out frequency.
    pub edges: Vec<Edge>,
    /// Free-space part of the talk-out loss.
    pub free_space: Db,
    /// What the method adds.
    pub diffraction: Db,
    /// Both budgets.
    pub budgets: LinkBudgets,
}
