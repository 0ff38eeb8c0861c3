//! The net when no relay is left: which posts hear each other, who passes
//! words on for whom, and whose silence splits the rest.

mod graph;
mod groups;
mod links;
mod net;
mod words_way;

pub use graph::{Chain, Cut, LinkGraph};
pub use groups::{BridgeScore, BridgeSide, Fallback, FirstChannel, GroupNet};
pub use links::{DirectLinks, worn};
pub use net::OnChannel;
pub use words_way::{Call, WordsWay};

use std::sync::Arc;

use serde::{Serialize, Serializer};

use perchline_link::{Outcome, Propagator};
use perchline_plan::{AudioQuality, Carry, Channel, Plan};
use perchline_terrain::Terrain;
use perchline_units::{Db, Megahertz, Metres};

use crate::RankError;

/// How radios are held, and which audio is wanted with that.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// As the plan's `[fallback]` says, but at posts that state their own.
    Fallback,
    /// Every worn radio so, at the audio quality of the fallback.
    Everywhere(Carry),
    /// As with the relay: where the plan has radios worn, at the audio quality
    /// that it wants with the relay.
    AsWithRelay,
}

impl Held {
    /// The audio quality that counts.
    #[must_use]
    pub const fn audio_quality(self, plan: &Plan) -> AudioQuality {
        match self {
            Self::Fallback | Self::Everywhere(_) => plan.fallback.audio_quality,
            Self::AsWithRelay => plan.prediction.audio_quality,
        }
    }
}

/// What a net holds for: how radios are held and which audio is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Terms {
    /// The audio quality (DAQ), as a plan has it.
    pub audio_quality: &'static str,
    /// How worn radios are held, in words; nothing where each is worn as with the
    /// relay.
    pub held: Option<&'static str>,
    /// Posts whose own `carry` in the plan says otherwise, with how in words.
    pub but_at: Vec<(String, &'static str)>,
}

impl Terms {
    fn of(plan: &Plan, channel: &Channel, held: Held) -> Self {
        let carry = match held {
            Held::Fallback => Some(plan.fallback.carry),
            Held::Everywhere(carry) => Some(carry),
            Held::AsWithRelay => None,
        };
        let own = |post: &perchline_plan::Post| {
            let worn = post.carry.filter(|own| Some(*own) != carry)?;
            Some((post.name.clone(), worn.words()))
        };
        // What nobody carries is not held either.
        let carried = |post: &&perchline_plan::Post| {
            let radio = plan.radio(post.radio.unwrap_or(channel.carried));
            post.carry.or(radio.carry).is_some()
        };
        let but_at = match held {
            Held::Fallback => plan.posts.iter().filter(carried).filter_map(own).collect(),
            Held::Everywhere(_) | Held::AsWithRelay => Vec::new(),
        };
        let audio_quality = held.audio_quality(plan).word();
        Self { audio_quality, held: carry.map(Carry::words), but_at }
    }
}

/// The net of all of the plan's posts on `channel`, as [`DirectNet::of`] makes it of
/// [`DirectLinks::of`].
///
/// # Errors
/// [`RankError`] as for [`DirectLinks::of`].
pub fn direct_net(
    plan: &Plan,
    terrain: &Terrain,
    propagator: &Propagator,
    channel: &Channel,
    held: Held,
) -> Result<DirectNet, RankError> {
    let links = DirectLinks::of(plan, terrain, propagator, channel, held)?;
    Ok(DirectNet::of(&links, &OnChannel::everybody(&plan.posts)))
}

/// The posts of a simplex channel among themselves.
#[derive(Debug, Clone, Serialize)]
pub struct DirectNet {
    /// The channel's name.
    pub channel: String,
    /// How radios are held and which audio is wanted.
    pub terms: Terms,
    /// Its frequency.
    pub frequency_mhz: Megahertz,
    /// The posts that may use it, in the plan's order.
    pub posts: Vec<String>,
    /// Those of them that stay on it; the others are on another channel, change to
    /// it to call, and pass nothing on there.
    pub stay: Vec<String>,
    /// Every two posts, in the plan's order.
    #[serde(serialize_with = "shared")]
    pub pairs: Arc<Vec<PairScore>>,
    /// Parts that are linked within themselves, largest first.
    pub parts: Vec<Vec<String>>,
    /// The same over patchy links too.
    pub parts_with_patchy: Vec<Vec<String>>,
    /// Posts whose silence splits a part.
    pub cuts: Vec<SplitBy>,
    /// The post to which words go.
    pub net_control: NetControl,
    /// How each other post's words get there.
    pub chains: Vec<PostChain>,
    /// Posts that relay messages, those with the most to do first.
    pub passing_on: Vec<PassesOn>,
}

impl DirectNet {
    /// The link between two posts, by their places in the net.
    #[must_use]
    pub fn pair(&self, one: usize, other: usize) -> Option<&PairScore> {
        links::pair_of(&self.pairs, self.posts.len(), one, other)
    }

    /// How many posts' words get to net control over links that work, net
    /// control itself left out.
    #[must_use]
    pub fn reaching(&self) -> usize {
        self.with(Way::Works)
    }

    /// How many posts have such a way to net control.
    pub(crate) fn with(&self, way: Way) -> usize {
        self.chains.iter().filter(|chain| chain.way == way).count()
    }
}

/// Writes what is shared as if it were not.
fn shared<S: Serializer>(pairs: &Arc<Vec<PairScore>>, serializer: S) -> Result<S::Ok, S::Error> {
    pairs.as_slice().serialize(serializer)
}

/// Two posts without a relay.
#[derive(Debug, Clone, Serialize)]
pub struct PairScore {
    /// One post.
    pub from: String,
    /// The other.
    pub to: String,
    /// Ground distance.
    pub distance_m: Metres,
    /// What it comes to, both ways counted.
    pub outcome: Outcome,
    /// Probability that both directions work in the same spot, 0 to 1; nothing
    /// where terrain is missing on the way.
    pub probability: Option<f64>,
    /// What both directions together have to spare for the wanted share of
    /// spots to work both ways, below zero what they lack; nothing where terrain
    /// is missing on the way.
    pub spare_db: Option<Db>,
    /// Margin when `from` speaks and `to` listens; nothing where terrain is
    /// missing on the way.
    pub forth_margin_db: Option<Db>,
    /// Margin when `to` speaks and `from` listens; nothing where terrain is
    /// missing on the way.
    pub back_margin_db: Option<Db>,
}

/// A post whose silence splits the net.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SplitBy {
    /// The post.
    pub post: String,
    /// What its part falls into, largest first.
    pub parts: Vec<Vec<String>>,
}

/// The post to which words go.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NetControl {
    /// The post.
    pub post: String,
    /// Whether the plan says so; otherwise it is the best connected one, a
    /// proposal.
    pub stated: bool,
}

/// How a post's words get to net control.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PostChain {
    /// The post.
    pub post: String,
    /// How it gets there.
    pub way: Way,
    /// Posts that pass its words on, nearest to it first; none where it reaches
    /// net control itself or not at all.
    pub through: Vec<String>,
    /// What the weakest link of the way has to spare, both ways together.
    pub weakest_db: Option<Db>,
}

/// How good the way to net control is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// Every link of it works both ways as the plan demands.
    Works,
    /// There is one only over a link that works in half of the spots or more,
    /// in fewer than the plan demands.
    Patchy,
    /// There is none.
    Nothing,
}

/// A post that relays messages.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PassesOn {
    /// The post.
    pub post: String,
    /// The posts for which it relays, in the plan's order.
    pub whose: Vec<String>,
}
