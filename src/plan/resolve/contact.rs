//! People to call.

use super::{Check, Entry, if_stated};
use crate::Contact;
use crate::typed::contact;

impl Check<'_> {
    /// Every contact; `None` in the place of a wrong one.
    pub(super) fn contacts(&mut self) -> Vec<Option<Contact>> {
        self.each("contact", Self::contact)
    }

    fn contact(&mut self, entry: &Entry, typed: contact::Text) -> Option<Contact> {
        if typed.phone.is_none() && typed.channel.is_none() {
            let text =
                "say how they are reached, with phone = \"555-0142\", channel = \"...\" or both";
            self.problem(entry, "phone", text);
        }
        let read = typed.read(self, entry, "");
        let channel = if_stated(read.channel.as_ref(), |name| {
            self.entry_named(entry, "channel", "channel", name)
        });
        read.with(contact::Resolved { channel })
    }
}
