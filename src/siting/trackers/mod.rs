//! Packet trackers along routes: what digipeaters hear of them, and how busy
//! they keep their channel.

mod aloha;
mod along;
mod duty;
mod score;

pub use aloha::{Background, ChannelLoad, Senders, slotted_success, unslotted_success};
pub use along::{AlongRoute, HeardStretch, Hearing, Piece, Silence};
pub use score::{TrackerInputs, digipeater_traffic, tracker_study};

use serde::Serialize;

use perchline_units::{Metres, Seconds};

/// The trackers of one packet channel with a set of digipeaters.
#[derive(Debug, Clone, Serialize)]
pub struct TrackerStudy {
    /// The channel's name.
    pub channel: String,
    /// The digipeaters.
    pub digipeaters: Vec<Digipeater>,
    /// Each kind of tracker, in the plan's order.
    pub trackers: Vec<TrackerScore>,
    /// How busy the channel is; its kinds are the trackers'.
    pub load: ChannelLoad,
    /// What one more digipeater would bring, on each other site that may be
    /// used, best first.
    pub one_more: Vec<OneMore>,
}

/// A digipeater on its site.
#[derive(Debug, Clone, Serialize)]
pub struct Digipeater {
    /// The site.
    pub site: String,
    /// Whether the plan lets it be used.
    pub available: bool,
    /// Beacons an hour of the trackers that it hears at first hand, by the
    /// probability of each spot of their routes.
    pub heard_an_hour: f64,
    /// How often it sends each beacon: once, or more where digipeaters repeat each
    /// other's.
    pub repeats: f64,
    /// Who reads positions, if the plan says where net control sits, and how
    /// likely the digipeater is heard there.
    pub to_net_control: Option<HeardBy>,
}

/// A digipeater's packets at a post.
#[derive(Debug, Clone, Serialize)]
pub struct HeardBy {
    /// The post.
    pub post: String,
    /// Share of spots around it in which they are heard, 0 to 1; nothing where
    /// terrain is missing on the way.
    pub share: Option<f64>,
}

/// How one kind of tracker does.
#[derive(Debug, Clone, Serialize)]
pub struct TrackerScore {
    /// Its name.
    pub tracker: String,
    /// The route that it follows.
    pub route: String,
    /// The route's length.
    pub route_m: Metres,
    /// How long it takes at its pace.
    pub underway_s: Seconds,
    /// Time from one beacon to the next.
    pub every_s: Seconds,
    /// What is heard of it while nobody else sends.
    pub along: AlongRoute,
    /// Share of beacons that are heard if each of several digipeaters has its
    /// own luck with a spot; `along` counts on the best placed one alone.
    pub heard_at_most: f64,
    /// Share of what would be heard that others' packets overlap, 0 to 1.
    pub lost_to_others: f64,
    /// Share of beacons that get through, 0 to 1.
    pub through: f64,
}

/// What one more digipeater would bring.
#[derive(Debug, Clone, Serialize)]
pub struct OneMore {
    /// Its site.
    pub site: String,
    /// How much more of all beacons it hears, 0 to 1.
    pub heard_gain: f64,
    /// How much more of all beacons gets through, -1 to 1: what it hears, less
    /// what its repeats cost on the channel.
    pub gain: f64,
    /// Each kind of tracker with it, in the plan's order.
    pub trackers: Vec<TrackerScore>,
}
