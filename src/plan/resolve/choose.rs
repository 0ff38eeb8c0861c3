//! What a set of sites has to keep.

use super::check::quoted;
use super::{Check, Entry, if_stated};
use crate::typed::{choose, link};
use crate::{Channel, ChooseInputs, Radio, RelayLink, Service, SpareRelay};
use perchline_units::Megahertz;

impl Check<'_> {
    /// What a set of sites has to keep; nothing asked where the plan is silent.
    pub(super) fn choose(
        &mut self,
        channels: &[Option<Channel>],
        radios: &[Option<Radio>],
    ) -> Option<ChooseInputs> {
        let typed: choose::Text = self.table_or_empty("choose")?;
        let entry = Entry::single("choose");
        let read = typed.read(self, &entry, "");
        let channel = if_stated(read.channel.as_ref(), |name| {
            self.relay_channel(&entry, "channel", name, channels)
        });
        let link = if_stated(read.link.as_ref(), |link| self.link(&entry, link.clone(), radios));
        if link.is_some_and(|link| link.is_some()) && read.linked == Some(false) {
            let text = "the link's radios do not count: linked = true does not say that the \
                        relays are linked";
            self.remark(&entry, "link", text);
        }
        let spare = if_stated(read.spare.as_ref(), |name| self.spare(&entry, name));
        let further = match &read.channels {
            Some(names) => self.further_channels(&entry, names, channels),
            None => Some([None; ChooseInputs::FURTHER]),
        };
        if let (Some(_), Some(channel), Some(further)) = (&read.channels, channel, further) {
            let is_relay = |c: &Option<Channel>| c.as_ref().is_some_and(Channel::is_relay);
            let first = channel.or_else(|| channels.iter().position(is_relay));
            let all: Vec<usize> = first.into_iter().chain(further.into_iter().flatten()).collect();
            self.hold_apart(&entry, &all, channels);
            if let Some(relays) = read.relays.filter(|relays| *relays > all.len()) {
                let text = format!(
                    "{relays} relays need {} channels beside the first one's, and {} stand here",
                    relays - 1,
                    all.len() - 1
                );
                self.problem(&entry, "channels", text);
            }
            if read.linked == Some(true) && read.link.is_none() {
                let text = "relays on pairs of their own do not hear each other, and linked = true \
                            asks that they do; name the radios between the roofs with link = { \
                            radio, frequency }, or leave linked out";
                self.problem(&entry, "channels", text);
            }
        }
        read.with(choose::Resolved { channel, channels: further, link, spare })
    }

    /// The relay channels of all relays but the first.
    fn further_channels(
        &mut self,
        entry: &Entry,
        names: &[String],
        channels: &[Option<Channel>],
    ) -> Option<[Option<usize>; ChooseInputs::FURTHER]> {
        let mut further = [None; ChooseInputs::FURTHER];
        let mut sound = true;
        for (number, name) in names.iter().enumerate() {
            let field = format!("channels[{number}]");
            let Some(place) = further.get_mut(number) else {
                let text = format!(
                    "{} channels stand here, and {} beside the first relay's are the most",
                    names.len(),
                    ChooseInputs::FURTHER
                );
                self.problem(entry, "channels", text);
                return None;
            };
            *place = self.relay_channel(entry, &field, name, channels);
            sound &= place.is_some();
        }
        sound.then_some(further)
    }

    /// Tells of relays that would hear each other's users or each other.
    fn hold_apart(&mut self, entry: &Entry, all: &[usize], channels: &[Option<Channel>]) {
        let known: Vec<(&Channel, [Megahertz; 2])> = all
            .iter()
            .filter_map(|index| channels.get(*index)?.as_ref())
            .filter_map(|channel| match channel.service {
                Service::Relay { input, output, .. } => Some((channel, [input, output])),
                _ => None,
            })
            .collect();
        for (place, (one, [input, output])) in known.iter().enumerate() {
            for (other, [in_other, out_other]) in known.iter().skip(place + 1) {
                let names = (quoted(&one.name), quoted(&other.name));
                let text = if one.name == other.name {
                    format!("{} is named for two relays; give each a channel of its own", names.0)
                } else if input == in_other || output == out_other {
                    format!(
                        "{} and {} receive or transmit on the same frequency; relays that serve \
                         one event need pairs that differ in both",
                        names.0, names.1
                    )
                } else if input == out_other || output == in_other {
                    format!(
                        "one of {} and {} receives where the other transmits, and would relay it; \
                         give them pairs that differ in both",
                        names.0, names.1
                    )
                } else {
                    continue;
                };
                self.problem(entry, "channels", text);
            }
        }
    }

    /// The radios between roofs.
    fn link(
        &mut self,
        entry: &Entry,
        typed: link::Text,
        radios: &[Option<Radio>],
    ) -> Option<RelayLink> {
        const FIELD: &str = "link.radio";
        let read = typed.read(self, entry, "link.");
        let radio = self.radio_named(entry, FIELD, &read.radio);
        let known = radio.and_then(|index| radios.get(index)?.as_ref());
        if known.is_some_and(|radio| radio.carry.is_some()) {
            let text = format!(
                "{} is carried by a person and links no roofs; name a radio without carry",
                quoted(&read.radio)
            );
            self.problem(entry, FIELD, text);
            return None;
        }
        read.with(link::Resolved { radio })
    }

    /// The post or site at which the spare lies.
    fn spare(&mut self, entry: &Entry, name: &str) -> Option<SpareRelay> {
        let place = |check: &Self, table| check.index_of(table, name);
        if let Some(post) = place(self, "post") {
            return Some(SpareRelay::AtPost(post));
        }
        if let Some(site) = place(self, "site") {
            return Some(SpareRelay::OnSite(site));
        }
        let text = format!("the plan has no post or site {}", quoted(name));
        self.problem(entry, "spare", text);
        None
    }

    /// The relay channel with this name, which stands in this field.
    fn relay_channel(
        &mut self,
        entry: &Entry,
        field: &str,
        name: &str,
        channels: &[Option<Channel>],
    ) -> Option<usize> {
        let index = self.entry_named(entry, field, "channel", name)?;
        let is_relay = |channel: &Channel| matches!(channel.service, Service::Relay { .. });
        if channels.get(index)?.as_ref().is_some_and(|c| !is_relay(c)) {
            let text = format!("{} has no relay; name a channel of kind \"relay\"", quoted(name));
            self.problem(entry, field, text);
            return None;
        }
        Some(index)
    }
}
