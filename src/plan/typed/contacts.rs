//! People to call, as typed.

use crate::field::{
    AnyText, FieldCheck, Kind, Label, LeftOptional, Name, Optional, Plain, Required, left_optional,
    optional, required, table,
};
use crate::resolve::quoted;
use schemars::{Schema, SchemaGenerator, json_schema};

table! {
    /// Somebody to call, on the briefing for the organiser.
    #[derive(Debug, Clone, PartialEq, Eq)]
    contact as Contact {
        /// Name of the person or desk.
        name: Required<Name> as String = required(Name)
            .note("no two contacts share one")
            .such_as(&["Net Control"]),
        /// What to call them for.
        role: Optional<Label> as Option<String> = optional(Label, "none")
            .such_as(&["Anything about the radios"]),
        /// Telephone number.
        phone: Optional<Phone> as Option<String> = optional(Phone, "none")
            .such_as(&["555-0142", "+1 555 0142"])
            .allowed("digits and any of `- + ( ) . / # *`, 3 digits to 40 characters, such as \
                      `\"555-0142\"`"),
        /// Name of the channel on which they listen.
        channel: LeftOptional<AnyText> => Option<usize>, "Its index in `Plan::channels`." =
            left_optional(AnyText, "none").names(&["channel"]),
        /// Anything else: hours, where they sit.
        note: Optional<AnyText> as Option<String> = optional(AnyText, "none")
            .such_as(&["Until the last radio is down"]),
    }
}

/// Longest telephone number, in characters: with a country and an extension.
const LONGEST_PHONE: usize = 40;

/// Fewest digits of a telephone number: emergency numbers have three.
const FEWEST_DIGITS: usize = 3;

/// A telephone number: digits, and what people write between them.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Phone;

impl Kind for Phone {
    type Typed = String;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        const DIGIT: &str = "[-+()./# *0-9]*[0-9]";
        let digits = DIGIT.repeat(FEWEST_DIGITS);
        json_schema!({ "type": "string", "pattern": format!(r"^\s*{digits}[-+()./# *0-9]*$") })
    }
}

impl Plain for Phone {
    type Value = String;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: String) -> Option<String> {
        let digits = typed.chars().filter(char::is_ascii_digit).count();
        let odd = typed.chars().find(|c| !(c.is_ascii_digit() || "-+()./# *".contains(*c)));
        let text = if let Some(odd) = odd {
            format!(
                "{} holds {}; a telephone number has digits and any of - + ( ) . / # *; the rest \
                 goes into note",
                quoted(&typed),
                quoted(&odd.to_string())
            )
        } else if digits < FEWEST_DIGITS {
            format!("{} has {digits} digits; {FEWEST_DIGITS} is the least", quoted(&typed))
        } else if typed.chars().count() > LONGEST_PHONE {
            format!("the number is longer than {LONGEST_PHONE} characters")
        } else {
            return Some(typed.trim().to_owned());
        };
        check.problem(text);
        None
    }
}
