//! Packet trackers that move along routes.

use perchline_units::{MetresPerSecond, Seconds};

use super::Carry;

/// Trackers of one kind on one route.
#[derive(Debug, Clone, PartialEq)]
pub struct Tracker {
    /// Name in the plan.
    pub name: String,
    /// How many there are; 1 or more.
    pub count: u32,
    /// Index into [`super::Plan::routes`] of the route that they follow.
    pub route: usize,
    /// Index into [`super::Plan::channels`] of their packet channel.
    pub channel: usize,
    /// Index into [`super::Plan::radios`].
    pub radio: usize,
    /// What it rides on.
    pub mount: Mount,
    /// Time from one beacon to the next.
    pub every: Seconds,
    /// Time on the air of one beacon, key-up included.
    pub packet: Seconds,
    /// Speed along the route.
    pub speed: MetresPerSecond,
}

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
