//! An entry's new name, in all that names it.

use std::ops::Range;

use toml_edit::Value;

use perchline_plan::{FieldRow, FieldTable};

use super::edit::EditError;
use super::set::{parse, splice};
use super::values::{self, Node, entries, quoted, tables};

/// The text in which all that names an entry names it by its new name.
pub(super) fn follow(
    text: &str,
    declared: &'static FieldTable,
    old: &str,
    new: &str,
) -> Result<String, EditError> {
    let document = parse(text)?;
    let mut parts = Vec::new();
    for table in tables() {
        let rows: Vec<&FieldRow> = table.fields.iter().filter(|row| names(row, declared)).collect();
        // Texts on who uses a channel name posts and groups among others.
        let users = table.table == "channel" && matches!(declared.table, "post" | "group");
        for entry in entries(&document, table) {
            for row in &rows {
                // A name that another table has as well is that one's first.
                let mut taken = row.names.iter().take_while(|name| **name != declared.table);
                let is_taken = |name: &&str| {
                    let table = values::table(name);
                    table.is_some_and(|t| values::names(&document, t).iter().any(|n| same(n, old)))
                };
                if !taken.any(is_taken) {
                    let keys: Vec<&str> = row.field.split('.').collect();
                    rename(entry, &keys, (old, new), text, &mut parts);
                }
            }
            let value = entry.table().and_then(|table| table.get("users")?.as_value());
            if let Some(value) = value.filter(|_| users) {
                parts.extend(renamed_users(value, (old, new), text));
            }
        }
    }
    Ok(splice(text, parts))
}

fn names(row: &FieldRow, table: &FieldTable) -> bool {
    row.names.contains(&table.table)
}

fn same(known: &str, name: &str) -> bool {
    known.trim().to_lowercase() == name.trim().to_lowercase()
}

/// Gathers the places of a field that hold the old name, with the new one.
fn rename(
    node: Node<'_>,
    keys: &[&str],
    (old, new): (&str, &str),
    text: &str,
    parts: &mut Vec<(Range<usize>, String)>,
) {
    let Some((key, rest)) = keys.split_first() else {
        let values = match node.value() {
            Some(Value::Array(items)) => items.iter().collect(),
            value => value.into_iter().collect::<Vec<_>>(),
        };
        for value in values {
            if let (Some(name), Some(span)) = (value.as_str(), value.span())
                && same(name, old)
            {
                let quotes = text.get(span.clone());
                parts.push((span, quoted(new, quotes)));
            }
        }
        return;
    };
    let Some(inner) = node.table().and_then(|table| table.get(key)).map(Node::Item) else { return };
    let is_list = rest.is_empty() || inner.table().is_some();
    let inside: Vec<Node<'_>> = if is_list {
        vec![inner]
    } else {
        (0..inner.count()).filter_map(|index| inner.element(index)).collect()
    };
    for inner in inside {
        rename(inner, rest, (old, new), text, parts);
    }
}

/// A text on who uses a channel, in which a post or a group has its new name.
fn renamed_users(
    value: &Value,
    (old, new): (&str, &str),
    text: &str,
) -> Option<(Range<usize>, String)> {
    let (users, span) = (value.as_str()?, value.span()?);
    let mut changed = String::new();
    let mut rest = users;
    while !rest.is_empty() {
        let end = rest.find([',', ';']).map_or(rest.len(), |at| at + 1);
        let (part, after) = rest.split_at_checked(end)?;
        let name = part.trim_end_matches([',', ';']);
        if same(name, old) {
            changed.push_str(&part.replacen(name.trim(), new, 1));
        } else {
            changed.push_str(part);
        }
        rest = after;
    }
    (changed != users).then(|| (span.clone(), quoted(&changed, text.get(span))))
}
