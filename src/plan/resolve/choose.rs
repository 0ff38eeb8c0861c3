//! What a set of sites has to keep.

use super::check::quoted;
use super::{Check, Entry, if_stated};
use crate::typed::{choose, link};
use crate::{Channel, ChooseInputs, Radio, RelayLink, Service, SpareRelay};

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
        let channel =
            if_stated(read.channel.as_ref(), |name| self.relay_channel(&entry, name, channels));
        let link = if_stated(read.link.as_ref(), |link| self.link(&entry, link.clone(), radios));
        if link.is_some_and(|link| link.is_some()) && read.linked == Some(false) {
            let text = "the link's radios do not count: linked = true does not say that the \
                        relays are linked";
            self.remark(&entry, "link", text);
        }
        let spare = if_stated(read.spare.as_ref(), |name| self.spare(&entry, name));
        read.with(choose::Resolved { channel, link, spare })
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

    /// The relay channel with this name.
    fn relay_channel(
        &mut self,
        entry: &Entry,
        name: &str,
        channels: &[Option<Channel>],
    ) -> Option<usize> {
        let index = self.entry_named(entry, "channel", "channel", name)?;
        let is_relay = |channel: &Channel| matches!(channel.service, Service::Relay { .. });
        if channels.get(index)?.as_ref().is_some_and(|c| !is_relay(c)) {
            let text = format!("{} has no relay; name a channel of kind \"relay\"", quoted(name));
            self.problem(entry, "channel", text);
            return None;
        }
        Some(index)
    }
}
