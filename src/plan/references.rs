//! Which fields of a plan name another entry of it.

/// A field that names an entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reference {
    /// The table that holds the field, at the top of the plan.
    pub table: &'static str,
    /// Its name; the fields that lead to it in front, as in `supply.pack`. Lists on
    /// the way hold it in each of their entries.
    pub field: &'static str,
    /// The tables of which it names an entry: where two have one of that name, the
    /// first.
    pub to: &'static [&'static str],
    /// How it stands there.
    pub stands: Naming,
}

/// How a name stands in a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Naming {
    /// It is the field's value, or one of a list in which each has its place.
    Whole,
    /// It is one of a list that stays right without it.
    InList,
    /// It may be the name of somebody else: one of the entry's posts where these say so.
    OfPosts,
    /// It is one of several in a text, as [`crate::Users`] reads it.
    InText,
}

const fn whole(table: &'static str, field: &'static str, to: &'static [&'static str]) -> Reference {
    Reference { table, field, to, stands: Naming::Whole }
}

/// Every field of a plan that names another entry.
pub const REFERENCES: &[Reference] = &[
    whole("contact", "channel", &["channel"]),
    whole("channel", "station", &["radio"]),
    whole("channel", "carried", &["radio"]),
    Reference { table: "channel", field: "users", to: &["post", "group"], stands: Naming::InText },
    whole("post", "radio", &["radio"]),
    Reference { table: "group", field: "posts", to: &["post"], stands: Naming::InList },
    whole("group", "channel", &["channel"]),
    Reference { table: "group", field: "head", to: &["post"], stands: Naming::OfPosts },
    whole("group", "net_control", &["post"]),
    whole("group", "carries", &["crew"]),
    whole("group", "bridge.post", &["post"]),
    whole("group", "bridge.to", &["channel", "group"]),
    whole("fallback", "first", &["channel"]),
    whole("tracker", "route", &["route"]),
    whole("tracker", "channel", &["channel"]),
    whole("tracker", "radio", &["radio"]),
    whole("choose", "channel", &["channel"]),
    whole("choose", "channels", &["channel"]),
    whole("choose", "spare", &["post", "site"]),
    whole("choose", "link.radio", &["radio"]),
    whole("station", "channel", &["channel"]),
    whole("station", "site", &["site"]),
    whole("station", "beside", &["station"]),
    whole("station", "supply.pack", &["pack"]),
    whole("crew", "pack", &["pack"]),
];
