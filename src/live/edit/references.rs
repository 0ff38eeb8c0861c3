//! What in a plan names an entry of it.

use std::ops::Range;

use perchline_plan::{Naming, Reference, references};
use perchline_units::shown;
use toml_edit::{Array, Item, TableLike, Value};

use super::EntryKind;
use super::source::Source;

/// A place in a plan that names an entry.
pub(super) struct Named<'d> {
    pub rule: &'static Reference,
    /// Which entry holds it, in words.
    pub label: String,
    /// What stands there.
    pub text: &'d str,
    pub span: Range<usize>,
    /// The list that holds it, and its place there.
    pub list: Option<(&'d Array, usize)>,
}

/// Every place that names the entry of this kind and name.
pub(super) fn naming<'d>(source: &'d Source<'_>, kind: EntryKind, name: &str) -> Vec<Named<'d>> {
    let mut all = Vec::new();
    for rule in references().iter().filter(|rule| rule.to.contains(&kind.table())) {
        for (label, fields) in holders(source, rule.table) {
            if rule.stands == Naming::OfPosts && !lists_post(fields, name) {
                continue;
            }
            let path: Vec<&str> = rule.field.split('.').collect();
            in_table(fields, &path, &mut |value, list| {
                let (Some(text), Some(span)) = (value.as_str(), value.span()) else { return };
                let is_meant = |text: &str| means(source, rule, text, kind, name);
                let meant = match rule.stands {
                    Naming::InText => {
                        parts(text).into_iter().any(|part| text.get(part).is_some_and(is_meant))
                    }
                    _ => is_meant(text),
                };
                if meant {
                    all.push(Named { rule, label: label.clone(), text, span, list });
                }
            });
        }
    }
    all
}

/// Whether `text` means the entry of this kind and name, and not another of it.
fn means(source: &Source<'_>, rule: &Reference, text: &str, kind: EntryKind, name: &str) -> bool {
    if !alike(text, name) {
        return false;
    }
    let first = rule.to.iter().find_map(|table| {
        let names = source.entries(table);
        let names: Vec<&str> = names.into_iter().filter_map(super::source::Entry::name).collect();
        let found = names.iter().find(|known| **known == text.trim());
        let found = found.or_else(|| names.iter().find(|known| alike(known, text)));
        found.map(|known| (*table, (*known).to_owned()))
    });
    first.is_some_and(|(table, known)| table == kind.table() && known == name.trim())
}

/// Names are the same, letter case aside.
pub(super) fn alike(a: &str, b: &str) -> bool {
    a.trim().to_lowercase() == b.trim().to_lowercase()
}

fn lists_post(group: &dyn TableLike, name: &str) -> bool {
    let posts = group.get("posts").and_then(Item::as_array);
    posts.into_iter().flatten().filter_map(Value::as_str).any(|post| alike(post, name))
}

/// The tables of this name, each with what to call it.
fn holders<'d>(source: &'d Source<'_>, table: &str) -> Vec<(String, &'d dyn TableLike)> {
    if let Some(single) = source.top(table).and_then(Item::as_table_like) {
        return vec![(format!("[{table}]"), single)];
    }
    let label = |name: Option<&str>| format!("{table} \"{}\"", shown(name.unwrap_or_default()));
    let entries = source.entries(table).into_iter();
    entries.map(|entry| (label(entry.name()), entry.fields)).collect()
}

type Found<'f, 'd> = &'f mut dyn FnMut(&'d Value, Option<(&'d Array, usize)>);

fn in_table<'d>(table: &'d dyn TableLike, path: &[&str], found: Found<'_, 'd>) {
    let [first, rest @ ..] = path else { return };
    match table.get(first) {
        Some(Item::Value(value)) => in_value(value, rest, None, found),
        Some(Item::Table(table)) => in_table(table, rest, found),
        Some(Item::ArrayOfTables(tables)) => {
            tables.iter().for_each(|table| in_table(table, rest, found));
        }
        Some(Item::None) | None => {}
    }
}

fn in_value<'d>(
    value: &'d Value,
    path: &[&str],
    list: Option<(&'d Array, usize)>,
    found: Found<'_, 'd>,
) {
    match value {
        Value::Array(array) => {
            for (index, value) in array.iter().enumerate() {
                in_value(value, path, Some((array, index)), found);
            }
        }
        Value::InlineTable(table) => in_table(table, path, found),
        _ if path.is_empty() => found(value, list),
        _ => {}
    }
}

/// The names in a text on the users of a channel: what stands between commas, and in
/// that between "and" and "&" as well.
fn parts(text: &str) -> Vec<Range<usize>> {
    let mut all = Vec::new();
    for part in between(text, 0..text.len(), &[",", ";"]) {
        let whole = trimmed(text, part.clone());
        let pieces = between(text, part, &[" and ", "&"]);
        if pieces.len() > 1 {
            all.extend(pieces.into_iter().map(|piece| trimmed(text, piece)));
        }
        all.push(whole);
    }
    all
}

/// The pieces of a part of a text that stand between these.
fn between(text: &str, within: Range<usize>, marks: &[&str]) -> Vec<Range<usize>> {
    let mut pieces = Vec::new();
    let mut start = within.start;
    let mut at = within.start;
    while let Some(rest) = text.get(at..within.end).filter(|rest| !rest.is_empty()) {
        if let Some(mark) = marks.iter().find(|mark| rest.starts_with(**mark)) {
            pieces.push(start..at);
            at += mark.len();
            start = at;
        } else {
            at += rest.chars().next().map_or(1, char::len_utf8);
        }
    }
    pieces.push(start..within.end);
    pieces
}

fn trimmed(text: &str, part: Range<usize>) -> Range<usize> {
    let piece = text.get(part.clone()).unwrap_or_default();
    let front = piece.len() - piece.trim_start().len();
    let start = part.start + front;
    start..start + piece.trim().len()
}

/// A text on the users of a channel with another name for one of them.
pub(super) fn renamed(text: &str, name: &str, to: &str) -> String {
    let mut made = text.to_owned();
    let is_it = |part: &Range<usize>| text.get(part.clone()).is_some_and(|p| alike(p, name));
    let mut found: Vec<Range<usize>> = parts(text).into_iter().filter(is_it).collect();
    found.sort_by_key(|part| part.start);
    found.dedup();
    for part in found.into_iter().rev() {
        made.replace_range(part, to);
    }
    made
}

/// A text on the users of a channel without one of them; `None` where nobody is left.
pub(super) fn without(text: &str, name: &str) -> Option<String> {
    let piece = |part: Range<usize>| text.get(part).map(str::trim);
    let stays = |piece: &&str| !piece.is_empty() && !alike(piece, name);
    let kept: Vec<String> = between(text, 0..text.len(), &[",", ";"])
        .into_iter()
        .filter_map(|part| {
            piece(part.clone()).filter(stays)?;
            let pieces = between(text, part, &[" and ", "&"]).into_iter().filter_map(piece);
            let left: Vec<&str> = pieces.filter(stays).collect();
            (!left.is_empty()).then(|| left.join(" and "))
        })
        .collect();
    (!kept.is_empty()).then(|| kept.join(", "))
}
