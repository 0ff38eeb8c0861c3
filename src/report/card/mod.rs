//! The fallback card: what to do when the relay falls silent, in the size of a
//! bank card (ISO/IEC 7810 ID-1, 85.6 by 54.0 mm, from memory), for every
//! post's pocket.

mod drawing;
mod text;

pub(super) use drawing::write_sides;
pub use text::card_text;
pub(super) use text::write_text;

use perchline_plan::Plan;
use perchline_siting::direct::{DirectNet, PostChain, SplitBy, Way};

use super::{Provenance, words};

/// What stands on the card of one channel, before it is laid out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Card {
    /// What it is for.
    pub title: String,
    /// The event.
    pub event: String,
    /// The channel's name.
    pub channel: String,
    /// Its frequency in MHz as a radio shows it.
    pub frequency: String,
    /// What it says, in order.
    pub entries: Vec<Entry>,
    /// What it rests on.
    pub foot: String,
}

/// One thing that a card says.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Entry {
    /// Whom it concerns, so that people find themselves.
    pub head: String,
    /// What to do.
    pub body: String,
}

impl Entry {
    fn new(head: String, body: String) -> Self {
        Self { head, body }
    }
}

/// What everybody does before speaking (common practice, no source).
const MANNERS: &str = "listen, then speak; emergencies first.";

impl Card {
    /// The card of a channel's net.
    #[must_use]
    pub fn of(plan: &Plan, net: &DirectNet, provenance: &Provenance) -> Self {
        let control = &net.net_control.post;
        let mut entries = Vec::new();
        if !net.net_control.stated {
            let why = format!("{control}, the best connected post (proposed, not in the plan).");
            entries.push(Entry::new("Net control:".to_owned(), why));
        }
        let held = net.worn.map_or_else(String::new, |worn| format!("radio {worn}; "));
        entries.push(Entry::new("Everybody:".to_owned(), format!("{held}{MANNERS}")));
        entries.extend(ways(net));
        entries.extend(net.cuts.iter().map(|cut| split(cut, control)));
        let digest: String = plan.sha256.chars().take(8).collect();
        let date = provenance.made_at.get(..10).unwrap_or(&provenance.made_at);
        Self {
            title: "If the relay falls silent".to_owned(),
            event: plan.event.name.clone(),
            channel: net.channel.clone(),
            frequency: words::megahertz(net.frequency_mhz),
            entries,
            foot: format!("Predicted, not walked. {date}, plan {digest}"),
        }
    }
}

/// Who calls whom, those with the shortest way first.
fn ways(net: &DirectNet) -> Vec<Entry> {
    let mut groups: Vec<(&PostChain, Vec<&str>)> = Vec::new();
    for chain in &net.chains {
        let alike = |(first, _): &&mut (&PostChain, Vec<&str>)| {
            first.way == chain.way && first.through == chain.through
        };
        match groups.iter_mut().find(alike) {
            Some((_, posts)) => posts.push(&chain.post),
            None => groups.push((chain, vec![&chain.post])),
        }
    }
    let rank = |way: Way| match way {
        Way::Works => 0,
        Way::Patchy => 1,
        Way::Nothing => 2,
    };
    groups.sort_by_key(|(chain, _)| (rank(chain.way), chain.through.len()));
    let control = &net.net_control.post;
    groups
        .into_iter()
        .map(|(chain, posts)| {
            let call = match chain.through.split_first() {
                None => format!("call {control}"),
                Some((first, [])) => format!("call {first}, who tells {control}"),
                Some((first, rest)) => {
                    format!("call {first}, on over {} to {control}", rest.join(", "))
                }
            };
            let body = match chain.way {
                Way::Works => format!("{call}."),
                Way::Patchy => format!("{call}. Patchy: move, try again."),
                Way::Nothing => "no way by radio, send somebody.".to_owned(),
            };
            Entry::new(format!("{}:", posts.join(", ")), body)
        })
        .collect()
}

/// What the silence of a post does to the others.
fn split(cut: &SplitBy, control: &str) -> Entry {
    let without_control = cut.parts.iter().filter(|part| !part.iter().any(|post| post == control));
    let parts: Vec<String> = without_control.map(|part| part.join(", ")).collect();
    let head = format!("If {} falls silent too,", cut.post);
    if cut.post == control {
        Entry::new(format!("{head} parts:"), format!("{}.", parts.join(" / ")))
    } else {
        Entry::new(format!("{head} cut off:"), format!("{}.", parts.join(", ")))
    }
}
