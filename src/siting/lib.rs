//! All candidate sites against all posts, areas and routes; the posts among
//! themselves when no site is left; trackers along routes.

mod against;
mod aid;
mod assumed;
pub mod choose;
mod course;
pub mod demand;
pub mod direct;
mod fix;
pub mod masts;
mod over_samples;
mod rank;
mod reason;
mod site_losses;
pub mod spots;
mod station;
mod stretch;
pub mod trackers;

pub use against::{Loss, MarginLoss, PostsLost};
pub use aid::{Aid, AidError, NearSpot, aid};
pub use assumed::{DuplexerPlace, DuplexerRanking, DuplexerScore};
pub use course::{Paced, PassedPost, RouteCourse};
pub use fix::Remedy;
pub use rank::{
    Keep, PAIRS_IN_FULL, RankError, RankInputs, look_elsewhere, map_model, map_site, map_site_on,
    order, rank, rank_by_maps, rank_scored, score, score_in_full, score_some_posts,
    score_without_map, sites_in_full,
};
pub use reason::{at_once, reason};
pub use site_losses::SiteLosses;
pub use station::station_on;

use serde::{Deserialize, Serialize};

use perchline_link::{LinkBudgets, Outcome};
use perchline_plan::{Channel, Plan};
use perchline_power::mast::{RefusedMast, refused_mast};
use perchline_units::{Db, Metres, Position};

/// The sites of one channel, best first.
#[derive(Debug, Clone, Serialize)]
pub struct Ranking {
    /// The channel's name.
    pub channel: String,
    /// One entry a site, best first.
    pub sites: Vec<SiteScore>,
    /// What each of the others loses against the first, in the same order.
    pub losses: Vec<Loss>,
    /// The same with duplexers of a stated isolation, where the plan states none
    /// and the order above takes it as perfect.
    pub with_duplexers: Vec<DuplexerRanking>,
}

/// A site that may be used, and on which a power line forbids the mast as planned.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct RefusedSite {
    /// The site.
    pub site: String,
    /// The mast, and which lower one would do.
    pub mast: RefusedMast,
}

/// The sites of a plan on which a power line forbids the mast of `channel`.
#[must_use]
pub fn refused_sites(plan: &Plan, channel: &Channel) -> Vec<RefusedSite> {
    let usable = plan.sites.iter().filter(|site| site.available);
    usable
        .filter_map(|site| {
            let mast = refused_mast(plan, channel, site)?;
            Some(RefusedSite { site: site.name.clone(), mast })
        })
        .collect()
}

/// How one site does.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct SiteScore {
    /// The site's name.
    pub site: String,
    /// Where it is.
    pub at: Position,
    /// Whether the plan lets it be used.
    pub available: bool,
    /// Why its planned mast must not go up, where a power line is too near.
    #[serde(default)]
    pub refused_mast: Option<RefusedMast>,
    /// Height of the ground above sea level.
    pub ground_m: Metres,
    /// Height of the antenna above the ground.
    pub antenna_above_ground_m: Metres,
    /// Weighted coverage: the probability of both directions over posts, areas and routes,
    /// 0 to 1; what is not known counts as none.
    pub weighted_probability: f64,
    /// Whether every must-have post works both ways.
    pub must_posts_met: bool,
    /// Number of posts that work both ways, of those that count.
    pub posts_covered: usize,
    /// The post with the least margin.
    pub worst_post: Option<String>,
    /// Each post, in the plan's order.
    pub posts: Vec<PostScore>,
    /// Each staging area, in the plan's order.
    pub areas: Vec<ShareScore>,
    /// Each route, in the plan's order.
    pub routes: Vec<RouteScore>,
    /// Share of the map's known cells that work both ways, 0 to 1; nothing where no
    /// map was made.
    pub map_share: Option<f64>,
    /// How it does with each duplexer that was tried.
    #[serde(skip)]
    pub duplexers: Vec<DuplexerScore>,
}

impl SiteScore {
    /// Whether the station may stand there as planned: the plan lets the site be used,
    /// and no power line is too near for its mast.
    #[must_use]
    pub const fn may_be_used(&self) -> bool {
        self.available && self.refused_mast.is_none()
    }

    /// The posts that count on the channel.
    pub fn counted_posts(&self) -> impl Iterator<Item = &PostScore> {
        self.posts.iter().filter(|post| post.counts)
    }

    /// Names of the must-have posts that do not work both ways.
    #[must_use]
    pub fn missed_must_posts(&self) -> Vec<&str> {
        let missed = self.posts.iter().filter(|p| p.must && !p.outcome.works());
        missed.map(|p| p.post.as_str()).collect()
    }
}

/// How one post does from one site.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct PostScore {
    /// The post's name.
    pub post: String,
    /// Where it is.
    pub at: Position,
    /// Whether a site that misses it is no good.
    pub must: bool,
    /// Whether it counts on this channel: on a packet channel with trackers only a
    /// post that their routes pass.
    pub counts: bool,
    /// Ground distance to the site.
    pub distance_m: Metres,
    /// Whether the straight line clears the ground; nothing where terrain is
    /// missing on the way.
    pub line_of_sight: Option<bool>,
    /// What it comes to.
    pub outcome: Outcome,
    /// Probability that both ways work in the same spot, 0 to 1; nothing where
    /// terrain is missing on the way.
    #[serde(rename = "probability_both_ways")]
    pub probability: Option<f64>,
    /// Probability that the wanted share of spots works both ways, 0 to 1: how sure
    /// that is, the method's error being the same for all spots; nothing where
    /// terrain is missing on the way.
    pub sure: Option<f64>,
    /// The lower of the two margins; nothing where terrain is missing on the way.
    pub governing_margin_db: Option<Db>,
    /// Both budgets; nothing where terrain is missing on the way, and in a ranking
    /// of very many sites for those that are not among the best
    /// ([`sites_in_full`]); a score that is read back has none.
    #[serde(default, skip_deserializing)]
    pub budgets: Option<Box<LinkBudgets>>,
    /// In one sentence: why it works or does not.
    pub reason: String,
    /// What would make it work, if it does not.
    pub remedy: Option<Remedy>,
}

/// How much of an area or of a route works both ways.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct ShareScore {
    /// Its name.
    pub name: String,
    /// Share in which the wanted share of spots works both ways, 0 to 1.
    pub share: f64,
    /// Mean probability of contact both ways, 0 to 1; what is not known counts
    /// as none.
    #[serde(rename = "probability_both_ways")]
    pub probability: f64,
    /// Number of spots that were asked.
    pub samples: usize,
    /// Spots among them that are unknown because terrain is missing on the way;
    /// they count as not working.
    pub unknown: usize,
}

/// How a route does, end to end.
#[derive(Debug, Clone, Serialize, Deserialize)]
pub struct RouteScore {
    /// Its name and how much of it works.
    #[serde(flatten)]
    pub share: ShareScore,
    /// Its length on the ground.
    pub length_m: Metres,
    /// Length without contact both ways to be expected: the length of each
    /// piece times the probability that it has none, added up. What is not
    /// known counts as without.
    pub expected_without_contact_m: Metres,
    /// The longest stretch in which no piece works in the wanted share of
    /// spots; nothing where every piece does.
    pub longest_gap: Option<Stretch>,
    /// Every such stretch, in the order of the route.
    pub gaps: Vec<Stretch>,
    /// What it comes to from its first point to its last, stretch by stretch.
    pub classes: Vec<ClassStretch>,
}

/// A stretch of a route of one class.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ClassStretch {
    /// Where it is.
    #[serde(flatten)]
    pub stretch: Stretch,
    /// What both directions together come to.
    pub outcome: Outcome,
    /// Whether the site hears it: clear in the wanted share of spots, patchy in half of
    /// them, else no contact.
    pub talk_in: Outcome,
    /// Whether it hears the site, in the same classes.
    pub talk_out: Outcome,
}

/// A stretch of a route.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Stretch {
    /// Where it begins, along the route from its first point.
    pub from_m: Metres,
    /// Where it ends.
    pub to_m: Metres,
}

impl Stretch {
    /// How long it is.
    #[must_use]
    pub fn length(self) -> Metres {
        self.to_m - self.from_m
    }
}
