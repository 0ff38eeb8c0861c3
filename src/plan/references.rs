//! Which fields of a plan name another entry of it.

use std::sync::LazyLock;

use crate::form_tables;

/// A field that names an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reference {
    /// The table that holds the field, at the top of the plan.
    pub table: &'static str,
    /// Its name; the fields that lead to it in front, as in `supply.pack`. Lists on
    /// the way hold it in each of their entries.
    pub field: String,
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

/// Every field of a plan that names another entry, by its declaration.
pub fn references() -> &'static [Reference] {
    static ALL: LazyLock<Vec<Reference>> = LazyLock::new(|| {
        let declared = form_tables(&[]).into_iter().flat_map(|table| {
            let naming = table.fields.into_iter().filter(|row| !row.names.is_empty());
            naming.map(move |row| Reference {
                table: table.table,
                stands: stands(table.table, &row.field),
                field: row.field,
                to: row.names,
            })
        });
        // A text for people, in which some of these may stand.
        let users = Reference {
            table: "channel",
            field: "users".to_owned(),
            to: &["post", "group"],
            stands: Naming::InText,
        };
        declared.chain([users]).collect()
    });
    &ALL
}

/// How names stand in a declared field.
fn stands(table: &str, field: &str) -> Naming {
    match (table, field) {
        ("group", "posts") => Naming::InList,
        ("group", "head") => Naming::OfPosts,
        _ => Naming::Whole,
    }
}
