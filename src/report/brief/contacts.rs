//! Whom to call.

use serde::Serialize;

use perchline_plan::{Contact, Plan};

use super::plain;

/// Somebody to call.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ContactLine {
    /// Name of the person or desk.
    pub name: String,
    /// What for.
    pub role: Option<String>,
    /// The number, if there is one.
    pub phone: Option<String>,
    /// The radio channel, if they listen on one.
    pub channel: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

impl ContactLine {
    /// How they are reached, in words.
    #[must_use]
    pub fn reached(&self) -> String {
        let radio = self.channel.as_ref().map(|c| format!("radio channel {c}"));
        [self.phone.clone(), radio].into_iter().flatten().collect::<Vec<_>>().join(" or ")
    }
}

/// The plan's contacts.
pub(super) fn lines(plan: &Plan) -> Vec<ContactLine> {
    let line = |contact: &Contact| ContactLine {
        name: plain(&contact.name),
        role: contact.role.as_deref().map(plain),
        phone: contact.phone.as_deref().map(plain),
        channel: contact
            .channel
            .and_then(|index| plan.channels.get(index))
            .map(|channel| plain(&channel.name)),
        note: contact.note.as_deref().map(plain),
    };
    plan.contacts.iter().map(line).collect()
}
