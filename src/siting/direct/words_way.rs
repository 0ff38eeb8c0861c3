//! How everybody's words get to the event's net control: straight on the first
//! channel, or on the group's channel and over a bridge.

use std::collections::HashMap;

use serde::Serialize;

use super::links::DirectLinks;
use super::net::{works, works_or_patchy};
use super::{Chain, DirectNet, LinkGraph, PostChain, Way};
use perchline_link::Outcome;
use perchline_units::Db;

/// How a post's words get to the event's net control without the relay.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WordsWay {
    /// The post.
    pub post: String,
    /// How good the way is.
    pub way: Way,
    /// Who is called on which channel, one after the other: the post itself calls
    /// the first, and net control is the last. None where there is no way.
    pub calls: Vec<Call>,
    /// What the weakest link of the way has to spare, both ways together.
    pub weakest_db: Option<Db>,
}

impl WordsWay {
    /// Those who pass the words on, nearest to the post first.
    pub fn through(&self) -> impl Iterator<Item = &str> {
        let between = self.calls.len().saturating_sub(1);
        self.calls.iter().take(between).map(|call| call.post.as_str())
    }

    /// The same way as a net on one channel has it.
    pub(super) fn on(channel: &str, control: &str, chain: &PostChain) -> Self {
        let call = |post: &str| Call { post: post.to_owned(), channel: channel.to_owned() };
        let calls = match chain.way {
            Way::Nothing => Vec::new(),
            Way::Works | Way::Patchy => {
                chain.through.iter().map(String::as_str).chain([control]).map(call).collect()
            }
        };
        Self { post: chain.post.clone(), way: chain.way, calls, weakest_db: chain.weakest_db }
    }

    /// The better of two: the one that works, then the one with fewer people
    /// between, then this one.
    pub(super) fn or_better(self, other: Option<Self>) -> Self {
        match other {
            Some(other) if (other.way, other.calls.len()) < (self.way, self.calls.len()) => other,
            _ => self,
        }
    }
}

/// Somebody called on a channel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Call {
    /// The post that is called.
    pub post: String,
    /// The channel.
    pub channel: String,
}

/// Every post on every channel on which it stays, with the links of each channel,
/// and from channel to channel where a post listens to two.
pub(super) struct Layers<'a> {
    /// Of each node the place of its channel in the list, and of its post in the plan.
    nodes: Vec<(usize, usize)>,
    /// The node of a post on a channel.
    known: HashMap<(usize, usize), usize>,
    links: Vec<&'a DirectLinks>,
    good: Vec<Option<Chain>>,
    patchy: Vec<Option<Chain>>,
}

impl<'a> Layers<'a> {
    /// The channels, each with the posts that stay on it, and the node to which
    /// words go: the place of its channel in this list, and of its post in the plan.
    pub(super) fn of(channels: &[(&'a DirectLinks, &[usize])], to: (usize, usize)) -> Self {
        let nodes: Vec<(usize, usize)> = channels
            .iter()
            .enumerate()
            .flat_map(|(channel, (_, posts))| posts.iter().map(move |post| (channel, *post)))
            .collect();
        let known: HashMap<_, _> = nodes.iter().copied().zip(0..).collect();
        let links: Vec<&DirectLinks> = channels.iter().map(|(links, _)| *links).collect();
        let chains = |least| {
            let graph = LinkGraph::new(nodes.len(), edges(&nodes, &links, least));
            known.get(&to).map_or_else(Vec::new, |to| graph.chains(*to))
        };
        let (good, patchy) = (chains(works), chains(works_or_patchy));
        Self { nodes, known, links, good, patchy }
    }

    /// The way of a post from the channel on which it stays.
    pub(super) fn way(&self, channel: usize, post: usize) -> Option<WordsWay> {
        let node = *self.known.get(&(channel, post))?;
        let name = self.name(node)?;
        let chain = |known: &[Option<Chain>]| known.get(node).cloned().flatten();
        let (way, chain) = match (chain(&self.good), chain(&self.patchy)) {
            (Some(chain), _) => (Way::Works, chain),
            (None, Some(chain)) => (Way::Patchy, chain),
            (None, None) => {
                let (way, calls) = (Way::Nothing, Vec::new());
                return Some(WordsWay { post: name, way, calls, weakest_db: None });
            }
        };
        let steps = chain.places.iter().zip(chain.places.iter().skip(1));
        let calls = steps.filter_map(|(from, to)| self.call(*from, *to)).collect();
        // A post that listens to two channels is no link.
        let weakest_db = chain.weakest.filter(|weakest| weakest.value().is_finite());
        Some(WordsWay { post: name, way, calls, weakest_db })
    }

    /// The call from one node to another; nothing where both are one post.
    fn call(&self, from: usize, to: usize) -> Option<Call> {
        let ((_, caller), (channel, called)) = (*self.nodes.get(from)?, *self.nodes.get(to)?);
        let channel = self.links.get(channel)?.channel.clone();
        (caller != called).then(|| self.name(to)).flatten().map(|post| Call { post, channel })
    }

    fn name(&self, node: usize) -> Option<String> {
        let (channel, post) = *self.nodes.get(node)?;
        self.links.get(channel)?.names(&[post]).pop()
    }
}

/// Links within each channel, and those of posts with themselves on two.
fn edges(
    nodes: &[(usize, usize)],
    links: &[&DirectLinks],
    least: fn(Outcome) -> bool,
) -> Vec<(usize, usize, Db)> {
    let mut edges = Vec::new();
    for (one, (channel, post)) in nodes.iter().enumerate() {
        for (other, (on, heard)) in nodes.iter().enumerate().skip(one + 1) {
            let spare = if post == heard {
                Some(Db::new(f64::INFINITY))
            } else if channel == on {
                links.get(*channel).and_then(|links| links.spare(*post, *heard, least))
            } else {
                None
            };
            edges.extend(spare.map(|spare| (one, other, spare)));
        }
    }
    edges
}

impl DirectNet {
    /// The way of each post that may use it to its net control.
    pub fn ways(&self) -> impl Iterator<Item = WordsWay> {
        let control = &self.net_control.post;
        self.chains.iter().map(|chain| WordsWay::on(&self.channel, control, chain))
    }
}
