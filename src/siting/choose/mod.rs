//! The best set of sites for several relays, proven, and which post uses which.
//!
//! Each spot is served by the one relay of the set that does best there: a
//! hand-held listens to one relay at a time, and what makes a spot bad, what
//! stands around it, is mostly the same for all relays, so their chances are
//! not added up as if they were independent.

mod blame;
mod cuts;
mod digipeater;
mod greedy;
mod links;
mod matrix;
mod own;
mod problem;
mod run;
mod sectors;
mod solve;
mod sureness;
mod tree;

pub use blame::{Demand, Impossible, why_impossible};
pub use digipeater::{DigipeaterChoice, DigipeaterSite, Measure, Refusal, Refused, Room};
pub use greedy::greedy;
pub use links::{LinkDesense, LinkedSites, RelayChain, SiteLink, links_of_plan};
pub use matrix::{Contact, Inputs, Matrix};
pub use problem::{Cap, Need, Problem, Set};
pub use run::{ADDS_NOTHING, ChooseError, Nearest, choose};
pub use sectors::{Duty, EQUAL_WITHIN, Load, Sector, Sectors, Wide, sectors};
pub use solve::{Found, Prover, Search, SolveError, TOLERANCE};
pub use sureness::{DRAWS, Sureness, sureness};

use serde::Serialize;

use crate::RefusedSite;
use perchline_units::{Db, Metres};

/// The best set of sites for the relays of one channel, and what it rests on.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Choice {
    /// The channel that was predicted, or the first relay's.
    pub channel: String,
    /// Whether each relay was predicted on a channel of its own.
    pub own_channels: bool,
    /// Relays at hand.
    pub relays: usize,
    /// Sites that may be used.
    pub candidates: usize,
    /// Spots to be served.
    pub spots: usize,
    /// What a set has to keep.
    pub asked: Asked,
    /// Sites that are left out for a station that the plan puts on their roof.
    pub barred: Vec<Barred>,
    /// Sites that are left out for a power line too near for their mast as planned.
    pub refused: Vec<RefusedSite>,
    /// The best set.
    pub first: SetScore,
    /// The best set of more sites, where what these add is less than
    /// [`ADDS_NOTHING`] and no post, so that the first set has fewer.
    pub adds_nothing: Option<SetScore>,
    /// By what share of its value another set may be better at most, 0 for none.
    pub gap: f64,
    /// The best other set.
    pub runner_up: Option<SetScore>,
    /// The best set for each smaller number of relays, rising; nothing for a
    /// number with which none keeps all that is asked.
    pub with_fewer: Vec<Option<SetScore>>,
    /// The best sets with a duplexer of a stated isolation, where the plan states none
    /// and results take it as perfect.
    pub with_duplexers: Vec<DuplexerChoice>,
    /// What taking the best site, then the one that adds most, and so on comes
    /// to; nothing if that ends in a set that does not keep all that is asked.
    pub one_by_one: Option<SetScore>,
    /// Each site of the best set, in the plan's order.
    pub sites: Vec<SitePart>,
    /// Every two sites of the best set, where they have to be linked.
    pub links: Vec<SiteLink>,
    /// How words get from each relay to that of net control, where they are linked.
    pub chains: Vec<RelayChain>,
    /// How sure it is that the first set is the best.
    pub sureness: Sureness,
    /// How the sets compared for it stood, the first set first.
    pub standings: Vec<Standing>,
    /// Who uses which relay.
    pub sectors: Sectors,
    /// Where the packet digipeater goes; nothing if the plan wants none chosen.
    pub digipeater: Option<DigipeaterChoice>,
}

/// What a set has to keep.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Asked {
    /// Posts that must be served.
    pub must_posts: Vec<String>,
    /// Whether the relays must hear each other.
    pub linked: bool,
    /// Sites behind a locked door at most.
    pub locked_doors: Option<u32>,
    /// Masts of all sites together at most.
    pub total_mast_m: Option<Metres>,
    /// Whether the whole map counts.
    pub whole_area: bool,
}

/// A site on which no relay, or not this one, can stand for another station that the
/// plan puts there, or for the radio of the link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Barred {
    /// The site.
    pub site: String,
    /// The station that transmits.
    pub from: String,
    /// The station that it desenses.
    pub to: String,
    /// By how much.
    pub desense_db: Db,
    /// Whether one of the two is the radio of the link.
    pub by_link: bool,
}

/// A set of sites and how it does.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SetScore {
    /// The sites, in the plan's order.
    pub sites: Vec<String>,
    /// Weighted coverage, 0 to 1, over posts, areas and routes if
    /// each spot uses the best relay for it.
    pub weighted_probability: f64,
    /// Posts that work both ways from one of the sites at least.
    pub posts_covered: usize,
}

/// What becomes of the choice with one duplexer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuplexerChoice {
    /// Its isolation.
    pub isolation_db: Db,
    /// The best set of as many sites at most; nothing if none keeps all that is asked.
    pub best: Option<SetScore>,
    /// How the set that is best with a perfect duplexer does.
    pub first: SetScore,
    /// Whether that set still serves every must-have post.
    pub keeps_what_is_asked: bool,
}

/// A site of the best set.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SitePart {
    /// The site.
    pub site: String,
    /// The channel of the relay on it, if the plan has one for each relay: that on which
    /// it was predicted where each has its own, else the predicted one first, then the
    /// others in the plan's order.
    pub channel: Option<String>,
    /// What the relay and the radio of the link do to each other there; nothing without
    /// such a radio, or where the plan does not say how far apart they are.
    pub link_desense: Option<LinkDesense>,
    /// Whether somebody with a key has to come.
    pub locked: bool,
    /// Its mast.
    pub mast_m: Metres,
    /// Weighted coverage with it alone, 0 to 1.
    pub alone: f64,
    /// What it adds to the others of the set, 0 to 1.
    pub adds: f64,
    /// The best set without it, if it can't be had after all; nothing if none
    /// keeps all that is asked.
    pub without: Option<SetScore>,
}

/// How a set stood in the draws.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// The set as predicted.
    #[serde(flatten)]
    pub set: SetScore,
    /// In how many draws it was the best.
    pub first_in: u32,
}
