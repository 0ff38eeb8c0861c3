//! Everything about one link, for the path plot and the path table.

use perchline_plan::{Channel, Service};
use perchline_propagation::clearance::{Clearance, TakeOff, clearance};
use perchline_propagation::{Edge, EffectiveEarth, Profile, obstacle_gain};
use perchline_terrain::{PlaceError, Terrain};
use perchline_units::{Db, Degrees, Metres, Position};

use super::{Direction, LinkBudgets, LinkModel, Propagator, Terminal};

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
    /// What runs on it.
    pub service: Service,
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
    /// What leaves take besides.
    pub leaves: Db,
    /// Where talk-out goes through woods rather than over them: the depth.
    pub woods: Option<Metres>,
    /// Where a ridge blocks the view and talk-out has less loss than it would have
    /// over lower ground: by how much.
    pub obstacle_gain: Option<Db>,
    /// Both budgets.
    pub budgets: LinkBudgets,
}

impl From<&Terminal> for End {
    fn from(terminal: &Terminal) -> Self {
        Self {
            name: terminal.name.clone(),
            at: terminal.at,
            ground: terminal.ground,
            antenna: terminal.antenna,
        }
    }
}

impl PathStudy {
    /// The (speaking, hearing) ends of one direction.
    #[must_use]
    pub const fn ends(&self, direction: Direction) -> (&End, &End) {
        match direction {
            Direction::TalkIn => (&self.to, &self.from),
            Direction::TalkOut => (&self.from, &self.to),
        }
    }
}

/// Studies the link between the two ends of `model`.
///
/// # Errors
/// [`PlaceError`] when the path crosses a gap in the terrain.
pub fn study(
    terrain: &Terrain,
    propagator: &Propagator,
    model: &LinkModel,
    channel: &Channel,
) -> Result<PathStudy, PlaceError> {
    let profile = terrain.profile(model.station().at, model.carried().at)?;
    Ok(study_over(profile, propagator, model, channel))
}

/// The same over a profile between these ends that is there already.
#[must_use]
pub fn study_over(
    profile: Profile,
    propagator: &Propagator,
    model: &LinkModel,
    channel: &Channel,
) -> PathStudy {
    let model = &model.at(model.carried().at);
    let (station, carried) = (model.station(), model.carried());
    let (_, output) = model.frequencies();
    let propagator = propagator.between(station.at, carried.at);
    let losses = model.losses(&propagator, &profile);
    let path = propagator.path(&profile, station.antenna, carried.antenna, output);
    let edges = propagator.edges(&profile, station.antenna, carried.antenna, output, &losses);
    let clearance = clearance(&path);
    let obstacle_gain = clearance
        .filter(|clearance| !clearance.line_of_sight)
        .and_then(|_| obstacle_gain(propagator.method, &path));
    PathStudy {
        from: station.into(),
        to: carried.into(),
        channel: channel.name.clone(),
        service: channel.service,
        method: propagator.method.name(),
        distance: profile.length(),
        bearing: station.at.bearing(carried.at),
        earth: propagator.earth,
        clearance,
        take_off: losses.take_off,
        edges,
        free_space: losses.talk_out.free_space,
        diffraction: losses.talk_out.diffraction,
        leaves: losses.talk_out.leaves,
        woods: losses.woods,
        obstacle_gain,
        budgets: model.budgets(&losses),
        profile,
    }
}
