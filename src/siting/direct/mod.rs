//! The net when no relay is left: which posts hear each other, who passes
//! words on for whom, and whose silence splits the rest.

mod graph;
mod net;

pub use graph::{Chain, Cut, LinkGraph};
pub use net::direct_net;

use serde::Serialize;

use perchline_link::Outcome;
use perchline_units::{Db, Megahertz, Metres};

/// The posts of a simplex channel among themselves.
#[derive(Debug, Clone, Serialize)]
pub struct DirectNet {
    /// The channel's name.
    pub channel: String,
    /// How every worn radio is taken to be carried, in words; nothing where each
    /// is carried as the plan says.
    pub worn: Option<&'static str>,
    /// Its frequency.
    pub frequency_mhz: Megahertz,
    /// The posts, in the plan's order.
    pub posts: Vec<String>,
    /// Every two posts, in the plan's order.
    pub pairs: Vec<PairScore>,
    /// Parts that are linked within themselves, largest first.
    pub parts: Vec<Vec<String>>,
    /// Posts whose silence splits a part.
    pub cuts: Vec<SplitBy>,
    /// The post to which words go.
    pub net_control: NetControl,
    /// How each other post's words get there.
    pub chains: Vec<PostChain>,
    /// Posts that pass words on, those with the most to do first.
    pub passing_on: Vec<PassesOn>,
}

impl DirectNet {
    /// The link between two posts, by their places in the plan.
    #[must_use]
    pub fn pair(&self, one: usize, other: usize) -> Option<&PairScore> {
        let (first, second) = (one.min(other), one.max(other));
        let posts = self.posts.len();
        if second >= posts || first == second {
            return None;
        }
        // Those of the posts before, each with all after it, come first.
        self.pairs.get(first * posts - first * (first + 1) / 2 + second - first - 1)
    }

    /// How many posts' words get to net control over links that work, net
    /// control itself left out.
    #[must_use]
    pub fn reaching(&self) -> usize {
        self.chains.iter().filter(|chain| chain.way == Way::Works).count()
    }
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
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

/// A post that passes words on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct PassesOn {
    /// The post.
    pub post: String,
    /// The posts whose words it passes on, in the plan's order.
    pub whose: Vec<String>,
}
