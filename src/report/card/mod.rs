//! The fallback card: what to do when the relay falls silent, in the size of a
//! bank card (ISO/IEC 7810 ID-1, 85.6 by 54.0 mm, from memory), for every
//! post's pocket.

mod drawing;
mod print_size;
mod text;

pub use drawing::{draw, draw_svg};
pub use text::card_text;

use crate::plan::Plan;
use crate::siting::direct::{DirectNet, PostChain, SplitBy, Way};

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
    /// What to do, or what is the matter.
    pub head: String,
    /// Whom it concerns.
    pub body: String,
}

impl Entry {
    fn new(head: String, body: String) -> Self {
        Self { head, body }
    }
}

/// What everybody does before speaking (common practice, no source).
const MANNERS: &str = "listen first, one at a time, short words, emergencies before all.";

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
        entries.push(Entry::new("Everybody:".to_owned(), MANNERS.to_owned()));
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
            foot: format!("A prediction: walk it with the radios first. {date}, plan {digest}"),
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
            let head = match chain.way {
                Way::Works => capital(&call),
                Way::Patchy => format!("Patchy, move and try again: {call}"),
                Way::Nothing => "No way by radio, send somebody".to_owned(),
            };
            Entry::new(format!("{head}:"), format!("{}.", posts.join(", ")))
        })
        .collect()
}

/// What the silence of a post does to the others.
fn split(cut: &SplitBy, control: &str) -> Entry {
    let without_control = cut.parts.iter().filter(|part| !part.iter().any(|post| post == control));
    let parts: Vec<String> = without_control.map(|part| part.join(", ")).collect();
    if cut.post == control {
        let head = format!("If {} falls silent, these parts do not hear each other:", cut.post);
        Entry::new(head, format!("{}.", parts.join(" / ")))
    } else {
        let head = format!("If {} falls silent, cut off:", cut.post);
        Entry::new(head, format!("{}.", parts.join(", ")))
    }
}

fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
