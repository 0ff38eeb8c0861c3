//! Forms of a plan, made from the declarations of its fields: what a page needs to
//! build one, and what an entry holds.

use std::collections::BTreeMap;

use serde::Serialize;
use serde_json::Value;
use toml_edit::Document;

use perchline_plan::{Allowed, FieldRow, FieldTable, Written};

use super::values::{self, Held, plain, tables};

/// A table of the plan as its form is built.
#[derive(Debug, Serialize)]
pub struct TableView {
    table: &'static str,
    /// One of its entries, in words.
    one: String,
    heading: String,
    many: bool,
    fields: Vec<FieldView>,
}

/// A field as its form has it.
#[derive(Debug, Serialize)]
struct FieldView {
    field: &'static str,
    /// How a value is typed: "text", "number", "flag", "lines", "table", "tables".
    kind: &'static str,
    what: String,
    allowed: String,
    /// What holds where it is not set.
    default: String,
    /// The words of which it is one.
    words: Vec<String>,
    /// Tables of which it names an entry, or entries.
    names: &'static [&'static str],
    /// Whether it may name something else as well.
    names_others: bool,
    required: bool,
}

/// An entry of the plan in its form.
#[derive(Debug, Serialize)]
pub struct FormView {
    table: &'static str,
    name: String,
    /// Names of all entries of the table.
    names: Vec<String>,
    values: BTreeMap<String, String>,
    counts: BTreeMap<String, usize>,
    /// Names that its fields may name, by table.
    choices: BTreeMap<&'static str, Vec<String>>,
}

/// Every table with its fields.
#[must_use]
pub fn declarations() -> Vec<TableView> {
    tables().iter().map(TableView::of).collect()
}

impl TableView {
    fn of(declared: &'static FieldTable) -> Self {
        let one = declared.table.replace('_', " ");
        let mut letters = one.chars();
        let first = letters.next().map(|first| first.to_uppercase().to_string());
        let end = if declared.many { "s" } else { "" };
        Self {
            table: declared.table,
            heading: format!("{}{}{end}", first.unwrap_or_default(), letters.as_str()),
            one,
            many: declared.many,
            fields: declared.fields.iter().map(FieldView::of).collect(),
        }
    }
}

impl FieldView {
    fn of(row: &'static FieldRow) -> Self {
        let default = match &row.typed_default {
            Some(Value::String(text)) => text.clone(),
            Some(Value::Bool(flag)) => flag.to_string(),
            _ => plain(&row.default),
        };
        Self {
            field: &row.field,
            kind: match row.written {
                Written::Text | Written::Place | Written::Time => "text",
                Written::Number | Written::Whole => "number",
                Written::Flag => "flag",
                Written::List | Written::Shape | Written::People => "lines",
                Written::Table => "table",
                Written::Tables => "tables",
            },
            what: plain(&row.what),
            allowed: plain(&row.allowed_words),
            default,
            words: match &row.allowed {
                Allowed::Words(words) => words.clone(),
                _ => Vec::new(),
            },
            names: row.names,
            names_others: row.names_others,
            required: row.required,
        }
    }
}

impl FormView {
    /// An entry of a plan's text; the first of its table where no name is asked for.
    /// Nothing where there is no such table or entry.
    #[must_use]
    pub fn of(text: &str, table: &str, name: Option<&str>) -> Option<Self> {
        let declared = values::table(table)?;
        let document = Document::parse(text).ok()?;
        let names = values::names(&document, declared);
        let name = match name {
            Some(name) => name,
            None => names.first().map_or("", String::as_str),
        };
        let entry = values::entry(&document, declared, name);
        if entry.is_none() && declared.many && !(name.is_empty() && names.is_empty()) {
            return None;
        }
        let held = entry.map(|entry| values::held(declared, entry, text));
        let Held { values, counts } = held.unwrap_or_default();
        let choices = declared.fields.iter().flat_map(|row| row.names);
        let choices = choices
            .filter_map(|table| Some((*table, values::names(&document, values::table(table)?))));
        Some(Self {
            table: declared.table,
            choices: choices.collect(),
            name: name.to_owned(),
            names,
            values,
            counts,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const FULL: &str = include_str!("../../tests/plans/full.toml");

    #[test]
    fn a_form_holds_what_was_typed() {
        let form = FormView::of(FULL, "radio", Some("hand-held")).unwrap();
        let value = |field: &str| form.values.get(field).map(String::as_str);
        assert_eq!(value("power"), Some("37 dBm"));
        assert_eq!(value("antenna.gain"), Some("-5 dBd"));
        assert_eq!(value("band[0].to"), Some("0.47 GHz"));
        assert_eq!(form.counts.get("band"), Some(&1));
        assert_eq!(form.names, ["hand-held", "relay", "desk"]);
        let form = FormView::of(FULL, "group", None).unwrap();
        assert_eq!(form.values.get("people").map(String::as_str), Some("Runner"));
        assert_eq!(form.values.get("bridge[1].person").map(String::as_str), Some("Runner"));
        assert_eq!(form.choices["post"], ["Aid 1", "Net control"]);
        let form = FormView::of(FULL, "event", None).unwrap();
        assert_eq!(form.values.get("starts").map(String::as_str), Some("2026-12-05T17:30:00"));
        let form = FormView::of(FULL, "area", None).unwrap();
        let feature = "{ file = \"places.geojson\", name = \"Lantern field\" }";
        assert_eq!(form.values.get("outline").map(String::as_str), Some(feature));
        let form = FormView::of(FULL, "buildings", None).unwrap();
        assert!(form.values.is_empty());
        assert!(FormView::of(FULL, "radio", Some("gone")).is_none());
        assert!(FormView::of(FULL, "nothing", None).is_none());
    }

    #[test]
    fn every_field_of_every_table_has_its_form() {
        let tables = declarations();
        let radio = tables.iter().find(|table| table.table == "radio").unwrap();
        assert_eq!((radio.heading.as_str(), radio.one.as_str()), ("Radios", "radio"));
        let document = Document::parse(FULL).unwrap();
        for (key, _) in document.iter() {
            assert!(tables.iter().any(|table| table.table == key), "{key}");
        }
        let carried = |table: &str, field: &str| {
            let table = tables.iter().find(|t| t.table == table).unwrap();
            table.fields.iter().find(|f| f.field == field).unwrap().names.to_vec()
        };
        assert_eq!(carried("channel", "carried"), ["radio"]);
        assert_eq!(carried("tracker", "route"), ["route"]);
        // Each table that is named is one whose entries have names.
        for field in tables.iter().flat_map(|table| &table.fields) {
            assert!(field.names.iter().all(|name| values::table(name).unwrap().many));
            assert!(!field.what.is_empty(), "{}", field.field);
        }
    }
}
