//! Packet trackers that move along routes.

use super::Carry;

/// What a tracker rides on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Mount {
    /// A person, who wears it so.
    Person(Carry),
    /// A vehicle, its antenna in the open.
    Vehicle,
}

impl Mount {
    /// How a person wears it, if one does.
    #[must_use]
    pub const fn carry(self) -> Option<Carry> {
        match self {
            Self::Person(carry) => Some(carry),
            Self::Vehicle => None,
        }
    }

    /// What it rides on, in words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Person(carry) => carry.words(),
            Self::Vehicle => "on a vehicle",
        }
    }
}
