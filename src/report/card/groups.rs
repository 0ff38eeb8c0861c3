//! The cards of a plan with groups: of net control, of the posts in no group, and
//! of each group for its head, its bridges and everybody else.

use std::sync::Arc;

use perchline_plan::Plan;
use perchline_power::CrewNeeds;
use perchline_siting::direct::{
    BridgeScore, BridgeSide, DirectNet, Fallback, FirstChannel, GroupNet, Way, WordsWay,
};
use perchline_units::Megahertz;

use super::{Card, Entry, MANNERS, everybody, way_entries};
use crate::{Provenance, words};

/// A card and whose it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NamedCard {
    /// Whose it is, for the name of its files: a channel, net control, or a group
    /// with a role.
    pub whose: String,
    /// The channels that it tells of.
    pub channels: Vec<String>,
    /// What it says.
    pub card: Card,
}

/// Every card of a plan: one a net where it has no groups.
#[must_use]
pub fn cards(
    plan: &Plan,
    fallback: &Fallback,
    crews: &[CrewNeeds],
    provenance: &Provenance,
) -> Vec<NamedCard> {
    if plan.groups.is_empty() {
        let card = |net: &DirectNet| NamedCard {
            whose: net.channel.clone(),
            channels: vec![net.channel.clone()],
            card: Card::of(plan, net, fallback.first.as_ref(), provenance),
        };
        return fallback.nets.iter().map(|net| card(net)).collect();
    }
    let deck = Deck { plan, fallback, crews, provenance };
    let control = deck.control();
    let groups = fallback.groups.iter().flat_map(|group| deck.group(group));
    control.into_iter().chain(deck.in_no_group()).chain(groups).collect()
}

/// The role of whoever leads a group.
const HEAD: &str = "head";
/// The role of those who listen to a second channel.
const BRIDGE: &str = "bridge";
/// The role of everybody else in it.
const OTHERS: &str = "everybody else";

/// How good a way is, over how many, and both in words.
type How = (Way, usize, String);

/// What cards are made from.
struct Deck<'a> {
    plan: &'a Plan,
    fallback: &'a Fallback,
    crews: &'a [CrewNeeds],
    provenance: &'a Provenance,
}

impl Deck<'_> {
    fn ways_of(&self, wanted: impl Fn(&str) -> bool) -> Vec<WordsWay> {
        self.fallback.ways.iter().filter(|way| wanted(&way.post)).cloned().collect()
    }

    fn card(&self, title: String, channel: (&str, Megahertz), entries: Vec<Entry>) -> Card {
        Card::with(self.plan, self.provenance, title, channel, entries)
    }

    /// The card of the event's net control: it listens before anybody calls.
    fn control(&self) -> Option<NamedCard> {
        let first = self.fallback.first.as_ref()?;
        let mut entries = vec![entry(
            &first.net_control,
            format!(
                "listen on {} as soon as the relay is silent, call the roll, stay there.",
                first.channel
            ),
        )];
        entries.extend(self.reached());
        entries.extend(self.fallback.groups.iter().map(whole_group));
        let title = format!("{}, relay silent", first.net_control);
        let card = self.card(title, (&first.channel, first.frequency_mhz), entries);
        let channels = vec![first.channel.clone()];
        Some(NamedCard { whose: "Net control".to_owned(), channels, card })
    }

    /// Whom net control reaches: directly, through whom, and whom not.
    fn reached(&self) -> Vec<Entry> {
        let mut reached: Vec<(How, Vec<&str>)> = Vec::new();
        for way in &self.fallback.ways {
            let through: Vec<&str> = way.through().collect();
            let how = match (way.way, through.as_slice()) {
                (Way::Nothing, _) => "No radio path".to_owned(),
                (_, []) => "Direct".to_owned(),
                (_, through) => {
                    format!(
                        "Through {}",
                        through.iter().rev().copied().collect::<Vec<_>>().join(", ")
                    )
                }
            };
            let how = if way.way == Way::Patchy { format!("{how}, patchy") } else { how };
            let key = (way.way, through.len(), how);
            match reached.iter_mut().find(|(known, _)| *known == key) {
                Some((_, posts)) => posts.push(&way.post),
                None => reached.push((key, vec![&way.post])),
            }
        }
        reached.sort_by_key(|((way, through, _), _)| (*way, *through));
        reached.into_iter().map(|((.., how), posts)| entry(&how, stop(&posts.join(", ")))).collect()
    }

    /// The card of the posts in no group, which stay on the first channel.
    fn in_no_group(&self) -> Option<NamedCard> {
        let (first, net) = (self.fallback.first.as_ref()?, self.fallback.first_net()?);
        let post = |name: &str| self.plan.posts.iter().position(|post| post.name == name);
        let is_alone = |name: &str| post(name).is_some_and(|p| self.plan.group_of(p).is_none());
        let ways = self.ways_of(is_alone);
        if ways.is_empty() {
            return None;
        }
        // Net control has a card of its own.
        let reads = |name: &str| is_alone(name) && name != first.net_control;
        let mut entries = vec![change(first, reads), everybody(&net.terms)];
        entries.extend(way_entries(&ways, Some(&first.channel)));
        entries.push(self.silence(Some(first), reads));
        let title = "If the relay falls silent".to_owned();
        let card = self.card(title, (&first.channel, first.frequency_mhz), entries);
        let channels = vec![first.channel.clone()];
        Some(NamedCard { whose: first.channel.clone(), channels, card })
    }

    fn group(&self, group: &GroupNet) -> Vec<NamedCard> {
        let mut roles = vec![(HEAD, self.head(group))];
        if !group.bridges.is_empty() {
            roles.push((BRIDGE, self.bridges(group)));
        }
        roles.push((OTHERS, Vec::new()));
        roles.into_iter().map(|(role, own)| self.role(group, role, own)).collect()
    }

    /// The card of a role: what everybody of the group knows, with `own` in it.
    fn role(&self, group: &GroupNet, role: &str, own: Vec<Entry>) -> NamedCard {
        let first = self.fallback.first.as_ref();
        let (channel, frequency) = first
            .map_or((group.channel.as_str(), group.frequency_mhz), |first| {
                (first.channel.as_str(), first.frequency_mhz)
            });
        let reads = |name: &str| group.posts.iter().any(|post| post == name);
        let mut entries: Vec<Entry> = first.map(|first| change(first, reads)).into_iter().collect();
        entries.push(self.then(group, role));
        entries.push(match self.fallback.first_net().map(Arc::as_ref).or(group.net.as_ref()) {
            Some(net) => everybody(&net.terms),
            None => entry("Everybody", MANNERS.to_owned()),
        });
        entries.extend(own);
        let ways = self.ways_of(reads);
        // Who works on another channel than the first is told on which each call is.
        let said = (group.channel == channel).then_some(channel);
        entries.extend(way_entries(&ways, said));
        entries.push(self.silence(first, reads));
        let card = self.card(format!("{}, {role}", group.group), (channel, frequency), entries);
        let channels = vec![group.channel.clone()];
        NamedCard { whose: format!("{} {role}", group.group), channels, card }
    }

    /// What the group does once it has answered on the first channel. Nobody is told to
    /// call the post at which they stand.
    fn then(&self, group: &GroupNet, role: &str) -> Entry {
        let control = group.net.as_ref().map(|net| net.net_control.post.as_str());
        let bridges = |name: &str| group.bridges.iter().any(|bridge| bridge.who == name);
        let reads = |name: &str| match role {
            HEAD => name == group.head,
            BRIDGE => bridges(name),
            _ => name != group.head && !bridges(name),
        };
        let is_head = role == HEAD;
        let call = match control {
            Some(control) if is_head && control == group.head => "run the net".to_owned(),
            Some(control) if reads(control) => {
                format!("{control} runs the net, the others call it")
            }
            Some(control) => format!("call {control}, which runs the net"),
            None if is_head => "call your people".to_owned(),
            None if reads(&group.head) => format!("{} leads, the others call it", group.head),
            None => format!("call {}", group.head),
        };
        let stays = self.fallback.first.as_ref().is_some_and(|f| f.channel == group.channel);
        let go = if stays {
            format!("stay on {}", group.channel)
        } else {
            format!("work on {}, {}", group.channel, megahertz(group.frequency_mhz))
        };
        entry("Then", format!("{go}: {call}."))
    }

    /// What the head of a group does besides.
    fn head(&self, group: &GroupNet) -> Vec<Entry> {
        let mut entries = vec![entry("You lead", leads(group))];
        let crew = group
            .carries
            .as_ref()
            .and_then(|name| self.crews.iter().find(|crew| crew.crew == *name));
        if let Some(packs) = crew.and_then(|crew| crew.packs_each) {
            entries.push(entry("Packs", format!("{packs} each until the last radio is down.")));
        }
        entries
    }

    /// What those do who bridge a group to another channel.
    fn bridges(&self, group: &GroupNet) -> Vec<Entry> {
        group.bridges.iter().flat_map(|bridge| self.bridge(group, bridge)).collect()
    }

    fn bridge(&self, group: &GroupNet, bridge: &BridgeScore) -> Vec<Entry> {
        let Some(to) = &bridge.to else {
            return vec![entry(&bridge.who, "no channel to bridge to is known.".to_owned())];
        };
        let mut body = format!("listen on {} and {}", group.channel, to);
        let whose: Vec<&str> = self.fallback.relayed_by(&bridge.who).collect();
        if !whose.is_empty() {
            body += &format!("; relay for {}", whose.join(", "));
        }
        let own = bridge.own.as_ref().map(heard);
        let mut entries = vec![entry(&bridge.who, format!("{body}."))];
        entries.extend(own.map(|own| entry(&format!("You reach on {}", group.channel), own)));
        if bridge.two_radios.is_some() {
            let body = "while one sends, the other hears nothing beside it: say \"wait\" on both, \
                        send short."
                .to_owned();
            entries.push(entry("Two radios", body));
        }
        entries
    }

    /// What to do where nobody answers; nobody who `reads` it is to telephone themselves.
    fn silence(&self, first: Option<&FirstChannel>, reads: impl Fn(&str) -> bool) -> Entry {
        let again = first.map_or_else(String::new, |first| format!(" on {}", first.channel));
        let phone = telephone(self.plan, reads);
        let phone = phone
            .map_or_else(String::new, |(name, phone)| format!("telephone {name}, {phone}, or "));
        let body = format!(
            "walk into the open where it is safe, call again{again}; then {phone}send somebody."
        );
        entry("No answer", body)
    }
}

/// An entry with a colon after its head.
fn entry(head: &str, body: String) -> Entry {
    Entry::new(format!("{head}:"), body)
}

fn stop(text: &str) -> String {
    format!("{text}.")
}

fn megahertz(frequency: Megahertz) -> String {
    format!("{} MHz", words::megahertz(frequency))
}

/// What everybody does first; net control answers nobody where it `reads` it itself.
fn change(first: &FirstChannel, reads: impl Fn(&str) -> bool) -> Entry {
    let on = format!("{}, {}", first.channel, megahertz(first.frequency_mhz));
    let control = &first.net_control;
    let body = if reads(control) {
        format!("change to {on}; {control} calls the roll, the others answer.")
    } else {
        format!("change to {on}, answer {control}.")
    };
    entry("Relay silent", body)
}

/// Whom to telephone: the first of the plan's contacts with a number who is none of
/// those that read it.
pub(crate) fn telephone(plan: &Plan, reads: impl Fn(&str) -> bool) -> Option<(&str, &str)> {
    let known = plan.contacts.iter().filter(|contact| !reads(&contact.name));
    known.into_iter().find_map(|contact| Some((contact.name.as_str(), contact.phone.as_deref()?)))
}

/// A group for others: its channel, who leads it, who bridges it.
pub(crate) fn whole_group(group: &GroupNet) -> Entry {
    let bridges: Vec<&str> = group
        .bridges
        .iter()
        .filter(|bridge| !bridge.is_deaf())
        .map(|bridge| bridge.who.as_str())
        .collect();
    let who = match bridges.as_slice() {
        [] => format!("head {}", group.head),
        [only] if *only == group.head => format!("head and bridge {only}"),
        some => format!("head {}, bridge {}", group.head, some.join(", ")),
    };
    let on = format!("{}, {}", group.channel, megahertz(group.frequency_mhz));
    entry(&group.group, format!("on {on}; {who}."))
}

/// Whom its head leads, and through whom net control of the group reaches them.
fn leads(group: &GroupNet) -> String {
    let Some(net) = &group.net else {
        let people = if group.people == 1 { "person" } else { "people" };
        return format!("{} {people}, who may be anywhere.", group.people);
    };
    let control = &net.net_control.post;
    let own: Vec<WordsWay> = net.ways().filter(|way| group.posts.contains(&way.post)).collect();
    let roll: Vec<String> = own
        .iter()
        .filter(|way| way.post != group.head)
        .map(|way| {
            let call = match way.through().last() {
                Some(through) if through == group.head => format!("{} through you", way.post),
                Some(through) => format!("{} through {through}", way.post),
                None => way.post.clone(),
            };
            match way.way {
                Way::Works => call,
                Way::Patchy => format!("{call} (patchy)"),
                Way::Nothing => format!("{} (no radio path)", way.post),
            }
        })
        .collect();
    let people = match group.people {
        0 => None,
        1 => Some("1 person, who may be anywhere".to_owned()),
        people => Some(format!("{people} people, who may be anywhere")),
    };
    let reached =
        if group.head == *control { String::new() } else { format!(", as {control} reaches them") };
    let led: Vec<String> = (!roll.is_empty())
        .then(|| format!("{}{reached}", roll.join(", ")))
        .into_iter()
        .chain(people)
        .collect();
    if led.is_empty() { "nobody but you.".to_owned() } else { format!("{}.", led.join("; ")) }
}

/// Whom a bridge reaches on one side.
fn heard(side: &BridgeSide) -> String {
    let listed = |names: &[String], after: &str| {
        let names: Vec<String> = names.iter().map(|name| format!("{name}{after}")).collect();
        names
    };
    let names = [listed(&side.works, ""), listed(&side.patchy, " (patchy)")].concat();
    if names.is_empty() {
        return "nobody of the group.".to_owned();
    }
    stop(&names.join(", "))
}
