//! Names of columns, in the ways in which people write them.

/// What a column holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Column {
    Time,
    Date,
    Post,
    To,
    Position,
    Latitude,
    Longitude,
    Channel,
    Site,
    Direction,
    Carry,
    Heard,
    Daq,
    Rst,
    Level,
    Tracker,
    Caller,
    Note,
}

/// Names for each, letter case, spaces and units aside.
const NAMES: &[(Column, &[&str])] = &[
    (Column::Time, &["time", "timestamp", "when", "datetime", "local time"]),
    (Column::Date, &["date", "day"]),
    (Column::Post, &["post", "place", "where", "location name", "who", "from"]),
    (Column::To, &["to", "heard by", "listener", "other end"]),
    (Column::Position, &["position", "at", "location", "coordinates"]),
    (Column::Latitude, &["latitude", "lat"]),
    (Column::Longitude, &["longitude", "lon", "long", "lng"]),
    (Column::Channel, &["channel", "ch"]),
    (Column::Site, &["site", "station site", "relay site"]),
    (Column::Direction, &["direction", "way", "dir"]),
    (Column::Carry, &["carry", "worn", "carried"]),
    (Column::Heard, &["heard", "copied", "works", "worked", "ok"]),
    (Column::Daq, &["daq", "audio quality", "quality"]),
    (Column::Rst, &["rst", "rs", "report", "readability"]),
    (
        Column::Level,
        &["level", "signal", "s-meter", "s meter", "smeter", "s", "dbm", "rssi", "strength"],
    ),
    (Column::Tracker, &["tracker", "beacon"]),
    (Column::Caller, &["call", "station", "source"]),
    (Column::Note, &["note", "notes", "comment", "remark", "remarks", "operator", "by"]),
];

impl Column {
    /// The column of this name.
    pub(super) fn named(name: &str) -> Option<Self> {
        let plain = name.trim().to_lowercase().replace('_', " ");
        let plain = plain.split(['(', '[']).next().unwrap_or_default().trim();
        NAMES.iter().find(|(_, names)| names.contains(&plain)).map(|(column, _)| *column)
    }

    /// The name that messages use.
    pub(super) fn name(self) -> &'static str {
        NAMES
            .iter()
            .find(|(column, _)| *column == self)
            .and_then(|(_, names)| names.first())
            .copied()
            .unwrap_or("column")
    }
}

/// Every first name, for a message.
pub(super) fn known_names() -> String {
    let names: Vec<_> = NAMES.iter().filter_map(|(_, names)| names.first().copied()).collect();
    names.join(", ")
}
