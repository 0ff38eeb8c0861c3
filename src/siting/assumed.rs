//! What becomes of a ranking if a duplexer is not as perfect as it was taken for.

use std::cmp::Ordering;

use serde::{Deserialize, Serialize};

use perchline_link::{LinkBudgets, LinkModel, Margins, Outcome, Terminal};
use perchline_plan::{Channel, Plan};
use perchline_power::sharing::{DUPLEXERS_TRIED, duplexer_is_assumed, through_duplexer};
use perchline_units::{Db, Dbm};

use super::SiteScore;

/// The order of the sites with a duplexer of this isolation.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuplexerRanking {
    /// Its isolation.
    pub isolation_db: Db,
    /// The sites, best first.
    pub sites: Vec<DuplexerPlace>,
}

/// How a site does with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct DuplexerPlace {
    /// Place in this order, the best 1.
    pub position: usize,
    /// The site's name.
    pub site: String,
    /// Weighted coverage: the probability of both directions, 0 to 1.
    pub weighted_probability: f64,
    /// Whether every must-have post works both ways.
    pub must_posts_met: bool,
    /// Number of posts that work both ways.
    pub posts_covered: usize,
}

/// How a site does with one duplexer.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct DuplexerScore {
    /// Its isolation.
    pub isolation: Db,
    /// Weighted coverage: the probability of both directions, 0 to 1.
    pub weighted_probability: f64,
    /// Whether every must-have post works both ways.
    pub must_posts_met: bool,
    /// Number of posts that work both ways.
    pub posts_covered: usize,
}

/// A station as its own transmitter desenses it through a duplexer.
#[derive(Debug, Clone)]
pub(super) struct Desensed {
    isolation: Db,
    station: Terminal,
}

/// The station of `channel` with each duplexer that is tried; none where the plan
/// states one.
pub(super) fn with_duplexers(plan: &Plan, channel: &Channel, station: &Terminal) -> Vec<Desensed> {
    if !duplexer_is_assumed(plan, channel) {
        return Vec::new();
    }
    let with = |isolation: Db| {
        let own = through_duplexer(plan, channel, isolation)?;
        let mut roof = station.roof_noise;
        roof.always = Some(roof.always.map_or(own, |noise: Dbm| noise.power_sum(own)));
        Some(Desensed { isolation, station: station.clone().with_roof_noise(roof) })
    };
    DUPLEXERS_TRIED.into_iter().filter_map(with).collect()
}

impl Desensed {
    /// The duplexer's isolation.
    pub(super) const fn isolation(&self) -> Db {
        self.isolation
    }

    /// The link of the desensed station and a carried radio.
    pub(super) fn model(&self, plan: &Plan, channel: &Channel, carried: &Terminal) -> LinkModel {
        LinkModel::new(plan, channel, &self.station, carried)
    }

    /// How a site does, from what its posts, areas and routes come to, each with
    /// its weight.
    pub(super) fn score(
        &self,
        served: impl Iterator<Item = (f64, Served)>,
        total_weight: f64,
    ) -> DuplexerScore {
        let served: Vec<_> = served.collect();
        let weighted: f64 = served.iter().map(|(weight, s)| weight * s.probability).sum();
        let posts = || served.iter().filter_map(|(_, s)| s.post);
        DuplexerScore {
            isolation: self.isolation,
            weighted_probability: weighted / total_weight,
            must_posts_met: posts().all(|post| !post.must || post.works),
            posts_covered: posts().filter(|post| post.works).count(),
        }
    }
}

/// What one target comes to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Served {
    pub(super) probability: f64,
    pub(super) post: Option<PostWorks>,
}

/// Of a post.
#[derive(Debug, Clone, Copy)]
pub(super) struct PostWorks {
    pub(super) must: bool,
    pub(super) works: bool,
}

/// What margins by `model` come to by `other`, whose station hears more noise.
pub(super) fn contact_by(
    model: &LinkModel,
    other: &LinkModel,
    margins: &Margins,
) -> (f64, Outcome) {
    let margins = margins_by(model, other, margins);
    (other.probability(&margins), other.outcome(&margins))
}

/// Margins by `model` as they are by `other`, whose station hears more noise.
pub(super) fn margins_by(model: &LinkModel, other: &LinkModel, margins: &Margins) -> Margins {
    let more = other.station_noise().total_dbm - model.station_noise().total_dbm;
    Margins { talk_in_margin: margins.talk_in_margin - more, ..*margins }
}

/// The margins of a link that was studied.
pub(super) fn margins_of(budgets: &LinkBudgets) -> Margins {
    Margins {
        talk_in_margin: budgets.talk_in.margin_db,
        talk_out_margin: budgets.talk_out.margin_db,
        talk_out_signal: budgets.talk_out.signal_dbm,
        spread: budgets.spread,
    }
}

/// The orders of `sites` with each duplexer that they were scored with, as a
/// ranking has them.
pub(super) fn rankings(sites: &[SiteScore]) -> Vec<DuplexerRanking> {
    let tried = sites.iter().map(|site| site.duplexers.len()).min().unwrap_or(0);
    let order = |index: usize| -> Option<DuplexerRanking> {
        let mut scored: Vec<(&SiteScore, DuplexerScore)> =
            sites.iter().filter_map(|s| Some((s, *s.duplexers.get(index)?))).collect();
        scored.sort_by(|a, b| better_first(*a, *b));
        let isolation_db = scored.first()?.1.isolation;
        let place = |(place, (site, score)): (usize, (&SiteScore, DuplexerScore))| DuplexerPlace {
            position: place + 1,
            site: site.site.clone(),
            weighted_probability: score.weighted_probability,
            must_posts_met: score.must_posts_met,
            posts_covered: score.posts_covered,
        };
        Some(DuplexerRanking {
            isolation_db,
            sites: scored.into_iter().enumerate().map(place).collect(),
        })
    };
    (0..tried).filter_map(order).collect()
}

/// As a ranking orders its sites; what is equal keeps that order.
fn better_first(a: (&SiteScore, DuplexerScore), b: (&SiteScore, DuplexerScore)) -> Ordering {
    b.0.may_be_used()
        .cmp(&a.0.may_be_used())
        .then(b.0.available.cmp(&a.0.available))
        .then(b.1.must_posts_met.cmp(&a.1.must_posts_met))
        .then(b.1.weighted_probability.total_cmp(&a.1.weighted_probability))
}
