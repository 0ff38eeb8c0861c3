//! People to call, as typed.

use crate::field::{
    AnyText, Label, Left, LeftOptional, Matching, Optional, left, left_optional, optional, table,
};

table! {
    /// Somebody to call, on the briefing for the organiser.
    contact {
        /// Name of the person or desk.
        name: Left<Label> = left(Label)
            .note("no two contacts share one")
            .such_as(&["Net Control"]),
        /// What to call them for.
        role: Optional<Label> = optional(Label, "none")
            .such_as(&["Anything about the radios"]),
        /// Telephone number.
        phone: LeftOptional<Matching> = left_optional(PHONE, "none")
            .such_as(&["555-0142", "+1 555 0142"])
            .allowed("digits and any of `- + ( ) . / # *`, 3 digits to 40 characters, such as \
                      `\"555-0142\"`"),
        /// Name of the channel on which they listen.
        channel: LeftOptional<AnyText> = left_optional(AnyText, "none"),
        /// Anything else: hours, where they sit.
        note: Optional<AnyText> = optional(AnyText, "none")
            .such_as(&["Until the last radio is down"]),
    }
}

/// Digits, and what people write between them.
const PHONE: Matching =
    Matching(r"^\s*[-+()./# *0-9]*[0-9][-+()./# *0-9]*[0-9][-+()./# *0-9]*[0-9][-+()./# *0-9]*$");
