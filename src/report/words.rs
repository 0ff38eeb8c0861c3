//! Plain words for outcomes and directions, the same in every report.

use crate::link::{Direction, Outcome};

/// An outcome for people who do not know decibels.
#[must_use]
pub const fn outcome_words(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "Clear both ways, with room to spare",
        Outcome::Clear => "Clear both ways",
        Outcome::Patchy => "Patchy: move a few steps and try again",
        Outcome::OneWay => "One way only: heard, or hearing, not both",
        Outcome::NoContact => "No contact expected",
        Outcome::Unknown => "Not known: gap in the terrain file",
    }
}

/// The same in a word or two, for tables.
#[must_use]
pub const fn outcome_short(outcome: Outcome) -> &'static str {
    match outcome {
        Outcome::Strong => "clear, to spare",
        Outcome::Clear => "clear",
        Outcome::Patchy => "patchy",
        Outcome::OneWay => "one way",
        Outcome::NoContact => "no contact",
        Outcome::Unknown => "not known",
    }
}

/// The trade's word for a direction.
#[must_use]
pub const fn direction_words(direction: Direction) -> &'static str {
    match direction {
        Direction::TalkIn => "talk-in",
        Direction::TalkOut => "talk-out",
    }
}

/// What every prediction must say of itself.
pub const CAVEATS: &[&str] = &[
    "A prediction from bare terrain: buildings and trees are not in it and will make it worse.",
    "Walk it with the real radios before anyone relies on it.",
];

/// Cautions for whoever carries the equipment up.
pub const CAUTIONS: &[&str] = &[
    "Keep people away from a transmitting antenna: check the distance against the local limits for radio-frequency exposure.",
    "Stay behind the parapet or be tied on; never raise a mast within reach of a power line; come down before lightning.",
    "Keep battery terminals covered and packs out of the wet.",
    "Local codes, the owner of the building and licensed practice come first.",
];
