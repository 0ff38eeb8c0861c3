//! The posts of one simplex channel: who relays for whom.

use std::collections::HashSet;

use super::links::DirectLinks;
use super::{Chain, DirectNet, LinkGraph, NetControl, PassesOn, PostChain, SplitBy, Way};
use perchline_link::Outcome;
use perchline_plan::Post;
use perchline_units::Db;

/// Who is on a channel.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnChannel {
    /// The posts that may use it, by their places in the plan, in its order.
    pub posts: Vec<usize>,
    /// Those of them that stay on it; the others change to it to call, and pass
    /// nothing on there.
    pub stay: Vec<usize>,
    /// The post to which words go, one of those that stay; the best connected one
    /// if nothing says it.
    pub control: Option<usize>,
}

impl OnChannel {
    /// Every post on it, all day.
    #[must_use]
    pub fn everybody(posts: &[Post]) -> Self {
        Self::alone((0..posts.len()).collect(), posts.iter().position(|post| post.net_control))
    }

    /// These posts on it, all day.
    #[must_use]
    pub fn alone(posts: Vec<usize>, control: Option<usize>) -> Self {
        Self { stay: posts.clone(), posts, control }
    }
}

/// What counts as a link that works.
pub(super) fn works(outcome: Outcome) -> bool {
    outcome.works()
}

/// What counts as a link, patchy ones among them.
pub(super) fn works_or_patchy(outcome: Outcome) -> bool {
    outcome.works() || outcome == Outcome::Patchy
}

impl DirectNet {
    /// The net of those on the channel of `links`.
    ///
    /// Two posts are linked where the channel works both ways between them as the
    /// plan demands. Posts that these links do not bring to net control get a way
    /// over patchy ones where there is one.
    #[must_use]
    pub fn of(links: &DirectLinks, on: &OnChannel) -> Self {
        let places = Places::of(links, on);
        let graph = places.graph(works);
        let with_patchy = places.graph(works_or_patchy);
        let stays = |place: usize| places.stays(place);
        let stated = on.control.and_then(|control| on.posts.iter().position(|p| *p == control));
        let control = stated.or_else(|| graph.best_connected_among(stays)).unwrap_or(0);
        let chains = places.chains(control, &graph, &with_patchy);
        let name = |place: usize| places.name(place);
        let names = |places: &[usize]| places.iter().map(|p| name(*p)).collect::<Vec<_>>();
        let staying = |graph: &LinkGraph| {
            let parts = graph.parts().into_iter();
            let parts = parts.filter(|part| part.iter().any(|place| stays(*place)));
            parts.map(|part| names(&part)).collect::<Vec<_>>()
        };
        Self {
            channel: links.channel.clone(),
            frequency_mhz: links.frequency,
            terms: links.terms.clone(),
            posts: links.names(&on.posts),
            stay: links.names(&on.stay),
            pairs: links.among(&on.posts),
            parts: staying(&graph),
            parts_with_patchy: staying(&with_patchy),
            cuts: graph
                .cuts()
                .iter()
                .map(|cut| SplitBy {
                    post: name(cut.place),
                    parts: cut.parts.iter().map(|part| names(part)).collect(),
                })
                .collect(),
            net_control: NetControl { post: name(control), stated: stated.is_some() },
            passing_on: passing_on(&links.names(&on.posts), &chains),
            chains,
        }
    }
}

/// The posts of a net by their places in it.
struct Places<'a> {
    links: &'a DirectLinks,
    on: &'a OnChannel,
    stay: Vec<bool>,
}

impl<'a> Places<'a> {
    fn of(links: &'a DirectLinks, on: &'a OnChannel) -> Self {
        let staying: HashSet<&usize> = on.stay.iter().collect();
        let stay = on.posts.iter().map(|post| staying.contains(post)).collect();
        Self { links, on, stay }
    }

    fn stays(&self, place: usize) -> bool {
        self.stay.get(place).copied().unwrap_or_default()
    }

    fn name(&self, place: usize) -> String {
        let post = self.on.posts.get(place).copied();
        post.map_or_else(String::new, |post| self.links.names(&[post]).concat())
    }

    fn spare(&self, one: usize, other: usize, least: fn(Outcome) -> bool) -> Option<Db> {
        self.links.spare(*self.on.posts.get(one)?, *self.on.posts.get(other)?, least)
    }

    /// Those that stay, among themselves.
    fn graph(&self, least: fn(Outcome) -> bool) -> LinkGraph {
        let count = self.on.posts.len();
        let staying: Vec<usize> = (0..count).filter(|place| self.stays(*place)).collect();
        let pairs = staying.iter().enumerate().flat_map(|(nth, one)| {
            let others = staying.get(nth + 1..).unwrap_or_default();
            others.iter().map(move |other| (*one, *other))
        });
        let linked =
            pairs.filter_map(|(one, other)| Some((one, other, self.spare(one, other, least)?)));
        LinkGraph::new(count, linked)
    }

    /// How the words of everybody else get to `control`.
    fn chains(&self, control: usize, good: &LinkGraph, patchy: &LinkGraph) -> Vec<PostChain> {
        let (good, patchy) = (good.chains(control), patchy.chains(control));
        (0..self.on.posts.len())
            .filter(|place| *place != control)
            .map(|place| {
                let good = self.chain(place, &good, works);
                let patchy = || self.chain(place, &patchy, works_or_patchy);
                let (way, chain) = match good {
                    Some(chain) => (Way::Works, Some(chain)),
                    None => match patchy() {
                        Some(chain) => (Way::Patchy, Some(chain)),
                        None => (Way::Nothing, None),
                    },
                };
                let between = chain.as_ref().and_then(|c| c.places.get(1..c.links()));
                PostChain {
                    post: self.name(place),
                    way,
                    through: between.unwrap_or_default().iter().map(|p| self.name(*p)).collect(),
                    weakest_db: chain.and_then(|chain| chain.weakest),
                }
            })
            .collect()
    }

    /// The way of one post: of one that stays the known one, of another over the
    /// best of those that it reaches.
    fn chain(
        &self,
        place: usize,
        known: &[Option<Chain>],
        least: fn(Outcome) -> bool,
    ) -> Option<Chain> {
        if self.stays(place) {
            return known.get(place).cloned().flatten();
        }
        let steps = known.iter().enumerate().filter_map(|(next, onward)| {
            let onward = onward.as_ref().filter(|_| self.stays(next))?;
            let spare = self.spare(place, next, least)?;
            let weakest = onward.weakest.map_or(spare, |weakest| weakest.min(spare));
            Some((onward, weakest))
        });
        let best = steps.reduce(|best, step| {
            let shorter = step.0.links() < best.0.links();
            let stronger = step.0.links() == best.0.links() && step.1 > best.1;
            if shorter || stronger { step } else { best }
        });
        best.map(|(onward, weakest)| Chain {
            places: std::iter::once(place).chain(onward.places.iter().copied()).collect(),
            weakest: Some(weakest),
        })
    }
}

/// For each post that stands in another's chain, for whom.
fn passing_on(posts: &[String], chains: &[PostChain]) -> Vec<PassesOn> {
    let mut passing: Vec<PassesOn> = posts
        .iter()
        .map(|post| PassesOn {
            post: post.clone(),
            whose: chains
                .iter()
                .filter(|chain| chain.through.contains(post))
                .map(|chain| chain.post.clone())
                .collect(),
        })
        .filter(|passes| !passes.whose.is_empty())
        .collect();
    passing.sort_by_key(|passes| std::cmp::Reverse(passes.whose.len()));
    passing
}
