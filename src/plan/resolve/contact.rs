//! People to call.

use super::check::quoted;
use super::{Check, Entry};
use crate::Contact;
use crate::typed::contact;

/// Longest telephone number, in characters: with a country and an extension.
const LONGEST_PHONE: usize = 40;

/// Fewest digits of a telephone number: emergency numbers have three.
const FEWEST_DIGITS: usize = 3;

impl Check<'_> {
    /// Every contact; `None` in the place of a wrong one.
    pub(super) fn contacts(&mut self) -> Vec<Option<Contact>> {
        self.list::<contact::Text>("contact")
            .into_iter()
            .map(|(entry, typed)| self.contact(&entry, typed?))
            .collect()
    }

    fn contact(&mut self, entry: &Entry, typed: contact::Text) -> Option<Contact> {
        let typed = typed.read(self, entry, "");
        if typed.phone.is_none() && typed.channel.is_none() {
            let text =
                "say how they are reached, with phone = \"555-0142\", channel = \"...\" or both";
            self.problem(entry, "phone", text);
        }
        if let Some(phone) = &typed.phone {
            self.phone(entry, phone);
        }
        let channel = match &typed.channel {
            Some(name) => Some(self.entry_named(entry, "channel", "channel", name)?),
            None => None,
        };
        Some(Contact {
            name: typed.name,
            role: typed.role?,
            phone: typed.phone.map(|phone| phone.trim().to_owned()),
            channel,
            note: typed.note?,
        })
    }

    fn phone(&mut self, entry: &Entry, phone: &str) {
        let digits = phone.chars().filter(char::is_ascii_digit).count();
        let odd = phone.chars().find(|c| !(c.is_ascii_digit() || "-+()./# *".contains(*c)));
        let text = if let Some(odd) = odd {
            format!(
                "{} holds {}; a telephone number has digits and any of - + ( ) . / # *; the rest \
                 goes into note",
                quoted(phone),
                quoted(&odd.to_string())
            )
        } else if digits < FEWEST_DIGITS {
            format!("{} has {digits} digits; {FEWEST_DIGITS} is the least", quoted(phone))
        } else if phone.chars().count() > LONGEST_PHONE {
            format!("the number is longer than {LONGEST_PHONE} characters")
        } else {
            return;
        };
        self.problem(entry, "phone", text);
    }
}
