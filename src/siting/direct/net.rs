//! The posts of one simplex channel, every two of them.

use rayon::prelude::*;

use super::{
    Chain, DirectNet, LinkGraph, NetControl, PairScore, PassesOn, PostChain, SplitBy, Way,
};
use crate::RankError;
use perchline_link::{LinkModel, Outcome, Propagator, Terminal, frequencies, study_over};
use perchline_plan::{Carry, Channel, Plan, Post};
use perchline_profile::Profile;
use perchline_terrain::{PlaceError, Terrain};

/// The net of the plan's posts on `channel`, from radio to radio: each with its
/// own radio where its person carries it, or every worn radio at `carry`.
///
/// Two posts are linked where the channel works both ways between them as the
/// plan demands. Posts that these links do not bring to net control get a way
/// over patchy ones where there is one.
///
/// # Errors
/// [`RankError`] when a post does not fit the terrain. Two posts with a gap
/// between them are no error: the outcome is unknown and they are not linked.
pub fn direct_net(
    plan: &Plan,
    terrain: &Terrain,
    propagator: &Propagator,
    channel: &Channel,
    carry: Option<Carry>,
) -> Result<DirectNet, RankError> {
    let posts = plan
        .posts
        .iter()
        .map(|post| Terminal::at_post(plan, channel, &worn(plan, channel, post, carry), terrain))
        .collect::<Result<Vec<_>, _>>()?;
    let indices: Vec<(usize, usize)> =
        (0..posts.len()).flat_map(|a| (a + 1..posts.len()).map(move |b| (a, b))).collect();
    let ends = Ends { plan, terrain, propagator, channel };
    let pairs: Vec<PairScore> = posts
        .par_iter()
        .enumerate()
        .map(|(place, from)| ends.pairs(from, posts.get(place + 1..).unwrap_or_default()))
        .collect::<Result<Vec<_>, _>>()?
        .into_iter()
        .flatten()
        .collect();

    let links_from = |least: fn(Outcome) -> bool| {
        let linked = indices.iter().zip(&pairs).filter(move |(_, pair)| least(pair.outcome));
        LinkGraph::new(
            posts.len(),
            linked.filter_map(|((a, b), pair)| Some((*a, *b, pair.spare_db?))),
        )
    };
    let works = links_from(Outcome::works);
    let with_patchy = links_from(|outcome| outcome.works() || outcome == Outcome::Patchy);
    let name = |place: usize| posts.get(place).map_or_else(String::new, |p| p.name.clone());
    let names = |places: &[usize]| places.iter().map(|p| name(*p)).collect::<Vec<_>>();

    let stated = plan.posts.iter().position(|post| post.net_control);
    let control = stated.or_else(|| works.best_connected()).unwrap_or(0);
    let chains: Vec<PostChain> = works
        .chains(control)
        .iter()
        .zip(with_patchy.chains(control))
        .enumerate()
        .filter(|(place, _)| *place != control)
        .map(|(place, (good, patchy))| match (good, &patchy) {
            (Some(chain), _) => post_chain(name(place), Way::Works, chain, &names),
            (None, Some(chain)) => post_chain(name(place), Way::Patchy, chain, &names),
            (None, None) => PostChain {
                post: name(place),
                way: Way::Nothing,
                through: Vec::new(),
                weakest_db: None,
            },
        })
        .collect();
    Ok(DirectNet {
        channel: channel.name.clone(),
        worn: carry.map(Carry::words),
        frequency_mhz: frequencies(&channel.service).0,
        posts: posts.iter().map(|p| p.name.clone()).collect(),
        parts: works.parts().iter().map(|part| names(part)).collect(),
        cuts: works
            .cuts()
            .iter()
            .map(|cut| SplitBy {
                post: name(cut.place),
                parts: cut.parts.iter().map(|part| names(part)).collect(),
            })
            .collect(),
        net_control: NetControl { post: name(control), stated: stated.is_some() },
        passing_on: passing_on(&posts, &chains),
        pairs,
        chains,
    })
}

/// The post with its radio at `carry`, if a person carries it.
fn worn(plan: &Plan, channel: &Channel, post: &Post, carry: Option<Carry>) -> Post {
    let radio = plan.radios.get(post.radio.unwrap_or(channel.carried));
    let as_planned = post.carry.or_else(|| radio?.carry);
    Post { carry: as_planned.map(|planned| carry.unwrap_or(planned)), ..post.clone() }
}

/// What links between posts are worked out from.
struct Ends<'a> {
    plan: &'a Plan,
    terrain: &'a Terrain,
    propagator: &'a Propagator,
    channel: &'a Channel,
}

impl Ends<'_> {
    /// The links between one post and others, both ways; the map projection is
    /// opened once for all of them.
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

fn post_chain(
    post: String,
    way: Way,
    chain: &Chain,
    names: &impl Fn(&[usize]) -> Vec<String>,
) -> PostChain {
    let between = chain.places.get(1..chain.links()).unwrap_or_default();
    PostChain { post, way, through: names(between), weakest_db: chain.weakest }
}

/// For each post that stands in another's chain, for whom.
fn passing_on(posts: &[Terminal], chains: &[PostChain]) -> Vec<PassesOn> {
    let mut passing: Vec<PassesOn> = posts
        .iter()
        .map(|post| PassesOn {
            post: post.name.clone(),
            whose: chains
                .iter()
                .filter(|chain| chain.through.contains(&post.name))
                .map(|chain| chain.post.clone())
                .collect(),
        })
        .filter(|passes| !passes.whose.is_empty())
        .collect();
    passing.sort_by_key(|passes| std::cmp::Reverse(passes.whose.len()));
    passing
}
