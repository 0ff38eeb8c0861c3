//! The fallback card: what to do when the relay falls silent, in the size of a
//! bank card (ISO/IEC 7810 ID-1, 85.6 by 54.0 mm, from memory), for every
//! post's pocket.

mod drawing;
mod groups;
mod text;
mod ways;

pub(super) use drawing::write_sides;
pub use groups::{NamedCard, cards};
pub(crate) use groups::{telephone, whole_group};
pub use text::card_text;
pub(super) use text::write_text;
pub(crate) use ways::{calls, entries as way_entries};

use perchline_plan::Plan;
use perchline_siting::direct::{DirectNet, FirstChannel, SplitBy, Terms, WordsWay};
use perchline_units::Megahertz;

use super::{Provenance, words};

/// What stands on a card, before it is laid out.
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
const MANNERS: &str = "listen, then speak. Life at risk: the local emergency number first.";

impl Card {
    /// The card of a channel's net, where everybody changes to `first` first.
    #[must_use]
    pub fn of(
        plan: &Plan,
        net: &DirectNet,
        first: Option<&FirstChannel>,
        provenance: &Provenance,
    ) -> Self {
        let control = &net.net_control.post;
        let mut entries: Vec<Entry> = first.map(|first| order(first, net)).into_iter().collect();
        if !net.net_control.stated {
            let why = format!("{control}, the best connected post (proposed, not in the plan).");
            entries.push(Entry::new("Net control:".to_owned(), why));
        }
        entries.push(everybody(&net.terms));
        let ways: Vec<WordsWay> = net.ways().collect();
        entries.extend(way_entries(&ways, Some(&net.channel)));
        entries.extend(net.cuts.iter().map(|cut| split(cut, control)));
        let title = "If the relay falls silent".to_owned();
        Self::with(plan, provenance, title, (&net.channel, net.frequency_mhz), entries)
    }

    /// A card that names a channel and says this.
    fn with(
        plan: &Plan,
        provenance: &Provenance,
        title: String,
        (channel, frequency): (&str, Megahertz),
        mut entries: Vec<Entry>,
    ) -> Self {
        if plan.channels.iter().any(|channel| channel.placeholder) {
            let body = "these frequencies are nobody's: not to be handed out.".to_owned();
            entries.insert(0, Entry::new("PLACEHOLDER:".to_owned(), body));
        }
        let digest: String = plan.sha256.chars().take(8).collect();
        let date = provenance.made_at.get(..10).unwrap_or(&provenance.made_at);
        Self {
            title,
            event: plan.event.name.clone(),
            channel: channel.to_owned(),
            frequency: words::megahertz(frequency),
            entries,
            foot: format!("Predicted, not walked. {date}, plan {digest}"),
        }
    }
}

/// Who listens where before anybody calls.
pub(crate) fn order(first: &FirstChannel, net: &DirectNet) -> Entry {
    if first.channel == net.channel {
        let body = format!("listen on {} as soon as the relay is silent.", first.channel);
        return Entry::new(format!("{}:", first.net_control), body);
    }
    let mhz = words::megahertz(first.frequency_mhz);
    let body = format!("change to {}, {mhz} MHz; here only if told to.", first.channel);
    Entry::new("First:".to_owned(), body)
}

/// What everybody does, and how the radio is held.
fn everybody(terms: &Terms) -> Entry {
    let held = terms.held.map_or_else(String::new, |held| format!("radio {held}; "));
    Entry::new("Everybody:".to_owned(), format!("{held}{MANNERS}"))
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
