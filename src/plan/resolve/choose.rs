//! What a set of sites has to keep.

use super::check::quoted;
use super::quantity::LENGTHS;
use super::{Check, Entry};
use crate::typed::ChooseText;
use crate::{Channel, ChooseInputs, Service};

/// Relays that sites can be chosen for.
const RELAYS: std::ops::RangeInclusive<u32> = 1..=ChooseInputs::MOST_RELAYS as u32;

impl Check<'_> {
    /// What a set of sites has to keep; nothing asked where the plan is silent.
    pub(super) fn choose(&mut self, channels: &[Option<Channel>]) -> Option<ChooseInputs> {
        let silent = ChooseInputs::default();
        if !self.has("choose") {
            return Some(silent);
        }
        let typed: ChooseText = self.table("choose")?;
        let entry = Entry::single("choose");
        let relays = match typed.relays {
            Some(relays) => self.whole(&entry, "relays", relays, RELAYS).map(|n| n as usize),
            None => Some(silent.relays),
        };
        let channel = match &typed.channel {
            Some(name) => self.relay_channel(&entry, name, channels).map(Some),
            None => Some(None),
        };
        let locked_doors = match typed.locked_doors {
            Some(doors) => self.whole(&entry, "locked_doors", doors, 0..=100).map(Some),
            None => Some(None),
        };
        let total_mast = match &typed.total_mast {
            Some(mast) => {
                self.length_in(&entry, "total_mast", mast, LENGTHS, 0.0..=4000.0).map(Some)
            }
            None => Some(None),
        };
        Some(ChooseInputs {
            relays: relays?,
            channel: channel?,
            linked: typed.linked.unwrap_or(silent.linked),
            locked_doors: locked_doors?,
            total_mast: total_mast?,
            whole_area: typed.whole_area.unwrap_or(silent.whole_area),
            digipeater: typed.digipeater.unwrap_or(silent.digipeater),
        })
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
