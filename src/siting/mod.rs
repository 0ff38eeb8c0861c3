//! All candidate sites against all posts, areas and routes; the posts among
//! themselves when no site is left; trackers along routes.

mod demand;
pub mod direct;
mod fix;
mod rank;
mod reason;
pub mod trackers;

pub use fix::Remedy;
pub use rank::{Keep, RankError, RankInputs, look_elsewhere, rank, score};

use serde::Serialize;

use crate::link::{LinkBudgets, Outcome};
use crate::units::{Db, Metres, Position};

/// The sites of one channel, best first.
#[derive(Debug, Clone, Serialize)]
pub struct Ranking {
    /// The channel's name.
    pub channel: String,
    /// One entry a site, best first.
    pub sites: Vec<SiteScore>,
}

/// How one site does.
#[derive(Debug, Clone, Serialize)]
pub struct SiteScore {
    /// The site's name.
    pub site: String,
    /// Where it is.
    pub at: Position,
    /// Whether the plan lets it be used.
    pub available: bool,
    /// Height of the ground above sea level.
    pub ground_m: Metres,
    /// Height of the antenna above the ground.
    pub antenna_above_ground_m: Metres,
    /// Weighted share of posts, areas and routes that work both ways, 0 to 1.
    pub weighted_share: f64,
    /// Whether every must-have post works both ways.
    pub must_posts_met: bool,
    /// Number of posts that work both ways.
    pub posts_covered: usize,
    /// The post with the least margin.
    pub worst_post: Option<String>,
    /// Each post, in the plan's order.
    pub posts: Vec<PostScore>,
    /// Each staging area, in the plan's order.
    pub areas: Vec<ShareScore>,
    /// Each route, in the plan's order.
    pub routes: Vec<ShareScore>,
    /// Share of the map's known cells that work both ways, 0 to 1.
    pub map_share: f64,
}

impl SiteScore {
    /// Names of the must-have posts that do not work both ways.
    #[must_use]
    pub fn missed_must_posts(&self) -> Vec<&str> {
        let missed = self.posts.iter().filter(|p| p.must && !p.outcome.works());
        missed.map(|p| p.post.as_str()).collect()
    }
}

/// How one post does from one site.
#[derive(Debug, Clone, Serialize)]
pub struct PostScore {
    /// The post's name.
    pub post: String,
    /// Where it is.
    pub at: Position,
    /// Whether a site that misses it is no good.
    pub must: bool,
    /// Ground distance to the site.
    pub distance_m: Metres,
    /// Whether the straight line clears the ground; nothing where terrain is
    /// missing on the way.
    pub line_of_sight: Option<bool>,
    /// What it comes to.
    pub outcome: Outcome,
    /// The lower of the two margins; nothing where terrain is missing on the way.
    pub governing_margin_db: Option<Db>,
    /// Both budgets; nothing where terrain is missing on the way.
    pub budgets: Option<LinkBudgets>,
    /// In one sentence: why it works or does not.
    pub reason: String,
    /// What would make it work, if it does not.
    pub remedy: Option<Remedy>,
}

/// How much of an area or of a route works both ways.
#[derive(Debug, Clone, Serialize)]
pub struct ShareScore {
    /// Its name.
    pub name: String,
    /// Share that works both ways, 0 to 1.
    pub share: f64,
    /// Number of spots that were asked.
    pub samples: usize,
    /// Spots among them that are unknown because terrain is missing on the way;
    /// they count as not working.
    pub unknown: usize,
}
