//! Every two posts on one simplex channel.

use std::sync::Arc;

use rayon::prelude::*;

use super::{Held, PairScore, Terms};
use crate::RankError;
use perchline_link::{LinkModel, Outcome, Propagator, Terminal, frequencies, study_over};
use perchline_plan::{Channel, Plan, Post};
use perchline_profile::Profile;
use perchline_terrain::{PlaceError, Terrain};
use perchline_units::{Db, Megahertz};

/// Pairs of one post that a thread takes in a row at the most.
const IN_A_ROW: usize = 32;

/// All posts of a plan on one simplex channel, every two of them.
#[derive(Debug, Clone)]
pub struct DirectLinks {
    /// The channel's name.
    pub channel: String,
    /// Its frequency.
    pub frequency: Megahertz,
    /// How radios are held and which audio is wanted.
    pub terms: Terms,
    /// The posts, in the plan's order.
    posts: Vec<String>,
    /// Every two posts, in the plan's order; of many posts they are most of what a
    /// run keeps, so nets share them.
    pairs: Arc<Vec<PairScore>>,
}

impl DirectLinks {
    /// The links of the plan's posts on `channel`, from radio to radio: each with
    /// its own radio, held as `held` says where a person carries it.
    ///
    /// # Errors
    /// [`RankError`] when a post does not fit the terrain. Two posts with a gap
    /// between them are no error: the outcome is unknown.
    pub fn of(
        plan: &Plan,
        terrain: &Terrain,
        propagator: &Propagator,
        channel: &Channel,
        held: Held,
    ) -> Result<Self, RankError> {
        let mut plan = plan.clone();
        plan.prediction.audio_quality = held.audio_quality(&plan);
        let worn = plan.posts.iter().map(|post| worn(&plan, channel, post, held));
        let posts = worn
            .map(|post| Terminal::at_post(&plan, channel, &post, terrain))
            .collect::<Result<Vec<_>, _>>()?;
        let ends = Ends { plan: &plan, terrain, propagator, channel };
        // A part is one post and some of those after it, so that all have enough to do.
        let parts: Vec<(&Terminal, &[Terminal])> = posts
            .iter()
            .enumerate()
            .flat_map(|(place, from)| {
                let others = posts.get(place + 1..).unwrap_or_default();
                others.chunks(IN_A_ROW).map(move |some| (from, some))
            })
            .collect();
        let pairs: Vec<Result<Vec<PairScore>, RankError>> =
            parts.par_iter().map(|(from, some)| ends.pairs(from, some)).collect();
        // Of several that fail the first is told.
        let pairs = pairs.into_iter().collect::<Result<Vec<_>, RankError>>()?;
        Ok(Self {
            channel: channel.name.clone(),
            frequency: frequencies(&channel.service).0,
            terms: Terms::of(&plan, channel, held),
            posts: posts.into_iter().map(|post| post.name).collect(),
            pairs: Arc::new(pairs.into_iter().flatten().collect()),
        })
    }

    /// Links that nobody worked out.
    #[cfg(test)]
    pub(super) fn by_hand(
        channel: &Channel,
        terms: Terms,
        posts: Vec<String>,
        pairs: Vec<PairScore>,
    ) -> Self {
        let frequency = frequencies(&channel.service).0;
        let pairs = Arc::new(pairs);
        Self { channel: channel.name.clone(), frequency, terms, posts, pairs }
    }

    /// The names of these posts.
    pub(super) fn names(&self, posts: &[usize]) -> Vec<String> {
        posts.iter().filter_map(|post| self.posts.get(*post).cloned()).collect()
    }

    /// Every two of these posts, in their order.
    pub(super) fn among(&self, posts: &[usize]) -> Arc<Vec<PairScore>> {
        if posts.len() == self.posts.len() {
            return Arc::clone(&self.pairs);
        }
        let pairs = posts.iter().enumerate().flat_map(|(place, one)| {
            let others = posts.get(place + 1..).unwrap_or_default();
            others.iter().map(move |other| (*one, *other))
        });
        let pairs = pairs.filter_map(|(one, other)| self.pair(one, other).cloned());
        Arc::new(pairs.collect())
    }

    /// The link between two posts, by their places in the plan.
    #[must_use]
    pub fn pair(&self, one: usize, other: usize) -> Option<&PairScore> {
        pair_of(&self.pairs, self.posts.len(), one, other)
    }

    /// What the link between two posts has to spare, where it comes to one of
    /// those that `least` takes.
    pub(super) fn spare(&self, one: usize, other: usize, least: fn(Outcome) -> bool) -> Option<Db> {
        self.pair(one, other).filter(|pair| least(pair.outcome))?.spare_db
    }
}

/// The pair of two of `posts` posts out of all pairs in their order.
pub(super) fn pair_of(
    pairs: &[PairScore],
    posts: usize,
    one: usize,
    other: usize,
) -> Option<&PairScore> {
    let (first, second) = (one.min(other), one.max(other));
    if second >= posts || first == second {
        return None;
    }
    // Those of the posts before, each with all after it, come first.
    pairs.get(first * posts - first * (first + 1) / 2 + second - first - 1)
}

/// The post with its radio as `held` says, if a person carries it.
#[must_use]
pub fn worn(plan: &Plan, channel: &Channel, post: &Post, held: Held) -> Post {
    let radio = plan.radio(post.radio.unwrap_or(channel.carried));
    let as_planned = post.carry.or(radio.carry);
    let carry = match held {
        Held::AsWithRelay => as_planned,
        Held::Fallback => post.carry.or_else(|| as_planned.map(|_| plan.fallback.carry)),
        Held::Everywhere(carry) => as_planned.map(|_| carry),
    };
    Post { carry, ..post.clone() }
}

/// What links between posts are worked out from.
struct Ends<'a> {
    plan: &'a Plan,
    terrain: &'a Terrain,
    propagator: &'a Propagator,
    channel: &'a Channel,
}

impl Ends<'_> {
    /// The links between one post and others, both ways.
    fn pairs(&self, from: &Terminal, others: &[Terminal]) -> Result<Vec<PairScore>, RankError> {
        let Some(first) = others.first() else { return Ok(Vec::new()) };
        let wrong = |to: &Terminal, source| RankError::Path {
            from: format!("post \"{}\"", from.name),
            to: format!("post \"{}\"", to.name),
            source,
        };
        let mut tracer = self.terrain.tracer(from.at).map_err(|source| wrong(first, source))?;
        others
            .iter()
            .map(|to| {
                let mut profile = Profile::default();
                match tracer.trace(to.at, &mut profile) {
                    Ok(()) => Ok(self.pair(from, to, Some(profile))),
                    Err(PlaceError::Gap { .. }) => Ok(self.pair(from, to, None)),
                    Err(source) => Err(wrong(to, source)),
                }
            })
            .collect()
    }

    /// One link over what lies between; over what is not known without it.
    fn pair(&self, from: &Terminal, to: &Terminal, profile: Option<Profile>) -> PairScore {
        // The first end of a study stands where a station does; on a simplex
        // channel it is a radio like the other.
        let model = LinkModel::new(self.plan, self.channel, from, to);
        let budgets = profile
            .map(|profile| study_over(profile, self.propagator, &model, self.channel).budgets);
        PairScore {
            from: from.name.clone(),
            to: to.name.clone(),
            distance_m: from.at.distance(to.at),
            outcome: budgets.as_ref().map_or(Outcome::Unknown, |b| b.outcome),
            probability: budgets.as_ref().map(|b| b.probability),
            spare_db: budgets.as_ref().map(|b| -b.missing_db),
            forth_margin_db: budgets.as_ref().map(|b| b.talk_out.margin_db),
            back_margin_db: budgets.as_ref().map(|b| b.talk_in.margin_db),
        }
    }
}
