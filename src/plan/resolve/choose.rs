//! What a set of sites has to keep.

use super::check::quoted;
use super::{Check, Entry, if_stated};
use crate::typed::choose;
use crate::{Channel, ChooseInputs, Service};

impl Check<'_> {
    /// What a set of sites has to keep; nothing asked where the plan is silent.
    pub(super) fn choose(&mut self, channels: &[Option<Channel>]) -> Option<ChooseInputs> {
        let typed: choose::Text = self.table_or_empty("choose")?;
        let entry = Entry::single("choose");
        let read = typed.read(self, &entry, "");
        let channel =
            if_stated(read.channel.as_ref(), |name| self.relay_channel(&entry, name, channels));
        read.with(choose::Resolved { channel })
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
