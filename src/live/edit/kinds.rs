//! The kinds of entry of which a plan has several.

use serde::Deserialize;

/// A kind of entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum EntryKind {
    /// A place where one person with a radio stands.
    Post,
    /// A roof or hill where the relay could go.
    Site,
    /// A staging area.
    Area,
    /// A route.
    Route,
    /// People who work together on one simplex channel.
    Group,
    /// A relay or digipeater with its supply.
    Station,
    /// A kind of radio.
    Radio,
    /// A channel.
    Channel,
    /// Packet trackers of one kind.
    Tracker,
    /// A kind of battery pack.
    Pack,
    /// People with the same kit.
    Crew,
    /// Somebody to call.
    Contact,
    /// A channel of somebody else.
    OtherChannel,
}

impl EntryKind {
    /// Every kind.
    pub const ALL: [Self; 13] = [
        Self::Post,
        Self::Site,
        Self::Area,
        Self::Route,
        Self::Group,
        Self::Station,
        Self::Radio,
        Self::Channel,
        Self::Tracker,
        Self::Pack,
        Self::Crew,
        Self::Contact,
        Self::OtherChannel,
    ];

    /// Its table in a plan.
    #[must_use]
    pub const fn table(self) -> &'static str {
        match self {
            Self::Post => "post",
            Self::Site => "site",
            Self::Area => "area",
            Self::Route => "route",
            Self::Group => "group",
            Self::Station => "station",
            Self::Radio => "radio",
            Self::Channel => "channel",
            Self::Tracker => "tracker",
            Self::Pack => "pack",
            Self::Crew => "crew",
            Self::Contact => "contact",
            Self::OtherChannel => "other_channel",
        }
    }

    /// The kind whose table this is; `None` for a table of which there is one.
    #[must_use]
    pub fn of_table(table: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|kind| kind.table() == table)
    }

    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::OtherChannel => "other channel",
            _ => self.table(),
        }
    }

    /// Whether a plan has to have one.
    pub(super) const fn is_required(self) -> bool {
        matches!(self, Self::Post | Self::Site | Self::Radio | Self::Channel)
    }
}
