//! Reading the tables one by one, so that a slip in one does not hide the others.

use schemars::JsonSchema;
use serde::de::DeserializeOwned;
use toml::Spanned;
use toml::de::{DeValue, ValueDeserializer};

use super::names::suggestion;
use super::{Check, Entry};
use crate::locate::Document;
use crate::typed::TABLES;
use perchline_units::listed;

/// Entries of one kind that are read at most.
const MOST_ENTRIES: usize = 2000;

/// Slips of one entry, and unknown tables, that are told at most: each is looked
/// for anew, and nobody fixes more of them in one go.
const MOST_SLIPS: usize = 40;

impl<'p> Check<'p> {
    /// Looks for tables that do not exist and for those that every plan needs.
    pub(super) fn top_level(&mut self) {
        let root = self.document.root();
        let tables: Vec<&str> = TABLES.iter().map(|(table, ..)| *table).collect();
        let mut unknown = 0;
        for key in root.keys() {
            let key: &str = key.get_ref();
            if !tables.contains(&key) {
                unknown += 1;
                if unknown > MOST_SLIPS {
                    continue;
                }
                let text = format!(
                    "a plan has no such table or field at its top; the tables are {}{}",
                    tables.join(", "),
                    suggestion(key, tables.iter().copied()),
                );
                self.problem_of_plan(self.document.key_line(key), &super::check::quoted(key), text);
            }
        }
        if unknown > MOST_SLIPS {
            let text =
                format!("{} more tables or fields at its top are unknown", unknown - MOST_SLIPS);
            self.problem_of_plan(None, "", text);
        }
        for (table, why) in [
            ("event", "[event] with name, starts, ends and time_zone"),
            ("terrain", "[terrain] with files = [\"...\"]"),
            ("radio", "at least one [[radio]]"),
            ("channel", "at least one [[channel]]"),
            ("post", "at least one [[post]]: a place where someone with a radio stands"),
            ("site", "at least one [[site]]: a place where the relay could go"),
        ] {
            let empty = match root.get(table) {
                None => true,
                Some(value) => value.get_ref().as_array().is_some_and(|list| list.is_empty()),
            };
            if empty {
                let line = self.document.key_line(table);
                let text = format!(
                    "the plan needs {why}; sample-terrain/ferry-lights.toml is a complete plan to \
                     look at"
                );
                self.problem_of_plan(line, table, text);
            }
        }
    }

    /// A table that occurs once; `None` when it is absent or wrong.
    pub(super) fn table<T: DeserializeOwned + JsonSchema>(
        &mut self,
        table: &'static str,
    ) -> Option<T> {
        let value = self.document.root().get(table)?;
        let entry = Entry::single(table);
        if !value.get_ref().is_table() {
            let text = format!("this is one table: write [{table}] with single brackets, once");
            self.problem(&entry, "", text);
            return None;
        }
        self.typed(&entry, value)
    }

    /// The same where a plan may leave it out: then an empty one.
    pub(super) fn table_or_empty<T: DeserializeOwned + JsonSchema>(
        &mut self,
        table: &'static str,
    ) -> Option<T> {
        if self.has(table) { self.table(table) } else { T::deserialize(toml::Table::new()).ok() }
    }

    /// Whether the plan has this table or field at its top.
    pub(super) fn has(&self, table: &str) -> bool {
        self.document.root().contains_key(table)
    }

    /// Every entry of an array of tables; `None` in the place of a wrong one.
    pub(super) fn list<T: DeserializeOwned + JsonSchema>(
        &mut self,
        table: &'static str,
    ) -> Vec<(Entry, Option<T>)> {
        let Some(value) = self.document.root().get(table) else { return Vec::new() };
        let Some(items) = value.get_ref().as_array() else {
            let text = format!("these are many: write [[{table}]] with double brackets for each");
            self.problem(&Entry::single(table), "", text);
            return Vec::new();
        };
        if items.len() > MOST_ENTRIES {
            let text = format!(
                "these are {} entries, and {MOST_ENTRIES} are the most that are read",
                items.len()
            );
            self.problem(&Entry::single(table), "", text);
        }
        let mut entries = Vec::new();
        for (index, item) in items.iter().take(MOST_ENTRIES).enumerate() {
            let entry = Entry::of_list(table, index, Document::text_in(item, "name"));
            let typed = if item.get_ref().is_table() {
                self.typed(&entry, item)
            } else {
                let text =
                    format!("each {table} is a table: write [[{table}]] and its fields below");
                self.problem(&entry, "", text);
                None
            };
            entries.push((entry, typed));
        }
        entries
    }

    /// What `read` makes of every entry of an array of tables; `None` in the place
    /// of a wrong one.
    pub(super) fn each<T: DeserializeOwned + JsonSchema, V>(
        &mut self,
        table: &'static str,
        mut read: impl FnMut(&mut Self, &Entry, T) -> Option<V>,
    ) -> Vec<Option<V>> {
        let typed = self.list(table);
        typed.into_iter().map(|(entry, typed)| read(self, &entry, typed?)).collect()
    }

    /// Reads one table; every field that is missing or of the wrong kind is told.
    fn typed<T: DeserializeOwned + JsonSchema>(
        &mut self,
        entry: &Entry,
        value: &Spanned<DeValue<'p>>,
    ) -> Option<T> {
        let told = self.told();
        let mut rest = value.clone();
        let mut error = match T::deserialize(ValueDeserializer::from(rest.clone())) {
            Ok(typed) => return Some(typed),
            Err(error) => error,
        };
        for missing in required::<T>().iter().filter(|field| value.get_ref().get(*field).is_none())
        {
            let text = format!("this is missing, and every {} needs it", entry.table);
            self.problem(entry, missing, text);
        }
        // The deserializer stops at the first slip. Without the field that held
        // it, the next one comes to light.
        for _ in 0..MOST_SLIPS {
            let start = error.span().map_or(value.span().start, |span| span.start);
            let field = field_at(value, start);
            let top = field.split(['.', '[']).next().unwrap_or_default();
            let removed = match rest.get_mut() {
                DeValue::Table(table) => table.remove(top).is_some(),
                _ => false,
            };
            // What is left is a field that was never there, or the one just removed.
            if !removed {
                // A slip without a place must not pass: nothing is left out unsaid.
                if self.told() == told {
                    self.slip(entry, field, start, error.message());
                }
                return None;
            }
            self.slip(entry, field, start, error.message());
            error = match T::deserialize(ValueDeserializer::from(rest.clone())) {
                Ok(_) => return None,
                Err(error) => error,
            };
        }
        self.problem(entry, "", "more is wrong here than is told at once; fix this first");
        None
    }

    /// Tells one slip that the deserializer found.
    fn slip(&mut self, entry: &Entry, mut field: String, start: usize, message: &str) {
        let text = if let Some(missing) = quoted_part(message, "missing field `") {
            field.push('.');
            field.push_str(missing);
            "this is missing here".to_owned()
        } else if let Some(unknown) = quoted_part(message, "unknown field `") {
            let allowed: Vec<&str> = message
                .split_once("expected")
                .map(|(_, list)| list.split('`').skip(1).step_by(2).collect())
                .unwrap_or_default();
            format!(
                "there is no such field here; the fields are {}{}",
                allowed.join(", "),
                suggestion(unknown, allowed.iter().copied()),
            )
        } else {
            plain_words(message)
        };
        self.problem_at(Some(self.document.line_at(start)), entry, &field, text);
    }
}

/// The fields that a table must have, as its schema says.
fn required<T: JsonSchema>() -> Vec<String> {
    let schema = schemars::schema_for!(T);
    let fields = schema.get("required").and_then(|list| list.as_array());
    fields.into_iter().flatten().filter_map(|name| name.as_str().map(str::to_owned)).collect()
}

/// The text between a prefix and the next back-tick.
fn quoted_part<'m>(message: &'m str, prefix: &str) -> Option<&'m str> {
    message.strip_prefix(prefix)?.split('`').next()
}

/// What the deserializer says, for someone who writes no code.
fn plain_words(message: &str) -> String {
    let message = listed(message)
        .replace("invalid type: ", "found ")
        .replace("floating point", "number")
        .replace("integer", "number")
        .replace("sequence", "list")
        .replace("map", "table")
        .replace("expected a boolean", "expected true or false")
        .replace("boolean", "switch")
        .replace("expected a string", "expected text")
        .replace("string", "text")
        .replace("f64", "a number")
        .replace("i64", "a whole number")
        .replace('`', "\"");
    if message.contains("expected a TOML datetime") {
        return "write the local date and time without quotes, such as 2026-12-05T17:30:00"
            .to_owned();
    }
    if message.contains("expected text") {
        return format!("{message}; put it in quotes");
    }
    // Names of our own types mean nothing to the reader.
    match message.split_once("expected struct ") {
        Some((found, _)) => format!("{found}expected a table such as {{ field = \"...\" }}"),
        None => message,
    }
}

/// The path of the deepest field that starts at or holds a byte of the source.
fn field_at(value: &Spanned<DeValue<'_>>, byte: usize) -> String {
    let mut path = String::new();
    let mut node = value;
    loop {
        let next = match node.get_ref() {
            DeValue::Table(table) => table
                .iter()
                .find(|(key, inner)| key.span().contains(&byte) || inner.span().contains(&byte))
                .map(|(key, inner)| {
                    let dot = if path.is_empty() { "" } else { "." };
                    (format!("{dot}{}", key.get_ref()), inner)
                }),
            DeValue::Array(items) => items
                .iter()
                .enumerate()
                .find(|(_, inner)| inner.span().contains(&byte))
                .map(|(index, inner)| (format!("[{index}]"), inner)),
            _ => None,
        };
        let Some((step, inner)) = next else { return path };
        path.push_str(&step);
        node = inner;
    }
}
