//! Names: what may be one, that none occurs twice, and which was meant.

use std::collections::HashMap;

use super::check::quoted;
use super::{Check, Entry};
use crate::plan::locate::Document;
use crate::units::is_unprintable;

/// Longest name, in characters: what a label on a map can carry.
const LONGEST: usize = 80;

/// Longest text, in bytes, that may be a slip for something: comparing takes the
/// product of the lengths.
const LONGEST_MEANT: usize = 200;

/// Names that a message lists at most.
const MOST_LISTED: usize = 40;

/// Tables whose entries share one set of names.
const KINDS: &[&[&str]] = &[
    &["radio"],
    &["channel", "other_channel"],
    &["post", "area", "route", "site"],
    &["tracker"],
    &["contact"],
    &["pack"],
    &["station"],
    &["crew"],
];

impl Check<'_> {
    /// Checks every name in the plan.
    pub(super) fn names(&mut self) {
        let document = self.document;
        for kind in KINDS {
            let mut seen: HashMap<String, (Entry, Option<usize>)> = HashMap::new();
            let mut found: Vec<(&'static str, usize, String)> = Vec::new();
            for table in *kind {
                for (index, name) in names_in(document, table).into_iter().enumerate() {
                    found.extend(name.map(|name| (*table, index, name.to_owned())));
                }
            }
            found.sort_by_key(|(table, index, _)| document.line(table, Some(*index), "name"));
            for (table, index, name) in found {
                let entry = Entry::of_list(table, index, Some(&name));
                self.name(&entry, "name", &name);
                let key = name.trim().to_lowercase();
                if key.is_empty() {
                    continue;
                }
                if let Some((first, line)) = seen.get(&key) {
                    let line = line.map_or(String::new(), |line| format!(" in line {line}"));
                    let text = format!(
                        "{} is already the name of {}{line}; names must differ, letter case aside",
                        quoted(&name),
                        first.label(),
                    );
                    self.problem(&entry, "name", text);
                } else {
                    let line = document.line(table, Some(index), "name");
                    seen.insert(key, (entry, line));
                }
            }
        }
    }

    /// Checks one name.
    pub(super) fn name(&mut self, entry: &Entry, field: &str, name: &str) {
        let count = name.chars().count();
        if name.trim().is_empty() {
            self.problem(entry, field, "the name is empty; write one");
        } else if count > LONGEST {
            let text = format!("the name has {count} characters; {LONGEST} is the most");
            self.problem(entry, field, text);
        } else if name.chars().any(is_unprintable) {
            let text = format!(
                "{} holds a control character (a tab, a line break or such); leave it out",
                quoted(name)
            );
            self.problem(entry, field, text);
        }
    }

    /// The index of the radio with this name.
    pub(super) fn radio_named(&mut self, entry: &Entry, field: &str, name: &str) -> Option<usize> {
        self.entry_named(entry, field, "radio", name)
    }

    /// The index of the entry of `table` with this name.
    pub(super) fn entry_named(
        &mut self,
        entry: &Entry,
        field: &str,
        table: &str,
        name: &str,
    ) -> Option<usize> {
        let names = names_in(self.document, table);
        let found = names
            .iter()
            .position(|known| known.is_some_and(|known| known == name))
            .or_else(|| names.iter().position(|n| n.is_some_and(|n| n.eq_ignore_ascii_case(name))));
        if found.is_none() {
            let known: Vec<&str> = names.iter().copied().flatten().collect();
            let mut listed: Vec<String> =
                known.iter().take(MOST_LISTED).map(|name| quoted(name)).collect();
            if known.len() > MOST_LISTED {
                listed.push(format!("and {} more", known.len() - MOST_LISTED));
            }
            let text = format!(
                "{} is not a {table} of this plan; the {table}s are {}{}",
                quoted(name),
                if listed.is_empty() { "none".to_owned() } else { listed.join(", ") },
                suggestion(name, known),
            );
            self.problem(entry, field, text);
        }
        found
    }

    /// One of a few words.
    pub(super) fn word<T: Copy>(
        &mut self,
        entry: &Entry,
        field: &str,
        typed: &str,
        words: &[(&str, T)],
    ) -> Option<T> {
        let found = words.iter().find(|(word, _)| word.eq_ignore_ascii_case(typed.trim()));
        if found.is_none() {
            let listed: Vec<String> = words.iter().map(|(word, _)| format!("\"{word}\"")).collect();
            let text = format!(
                "{} is not one of {}{}",
                quoted(typed),
                listed.join(", "),
                suggestion(typed, words.iter().map(|(word, _)| *word)),
            );
            self.problem(entry, field, text);
        }
        found.map(|(_, meaning)| *meaning)
    }
}

/// The names in an array of tables, in its order; `None` for an entry without one.
fn names_in<'d>(document: &'d Document<'_>, table: &str) -> Vec<Option<&'d str>> {
    document
        .root()
        .get(table)
        .and_then(|value| value.get_ref().as_array())
        .map(|items| items.iter().map(|item| Document::text_in(item, "name")).collect())
        .unwrap_or_default()
}

/// `. Did you mean "x"?`, or nothing when no candidate comes near.
pub(super) fn suggestion<'c>(typed: &str, candidates: impl IntoIterator<Item = &'c str>) -> String {
    let typed = typed.trim().to_lowercase();
    if typed.len() > LONGEST_MEANT {
        return String::new();
    }
    candidates
        .into_iter()
        .map(|candidate| {
            (strsim::normalized_damerau_levenshtein(&candidate.to_lowercase(), &typed), candidate)
        })
        .filter(|(likeness, _)| *likeness >= 0.5)
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .map_or(String::new(), |(_, candidate)| format!(". Did you mean {}?", quoted(candidate)))
}
