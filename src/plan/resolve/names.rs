//! Names: what may be one, that none occurs twice, and which was meant.

use std::collections::{HashMap, HashSet};

use toml::Spanned;
use toml::de::DeValue;

use super::check::quoted;
use super::{Check, Entry};
use crate::locate::Document;
use perchline_units::{is_noncharacter, is_unprintable};

/// Longest name, in characters: what a label on a map can carry.
pub(crate) const LONGEST: usize = 80;

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
    &["group"],
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
    pub(crate) fn name(&mut self, entry: &Entry, field: &str, name: &str) {
        let count = name.chars().count();
        if name.trim().is_empty() {
            self.problem(entry, field, "the name is empty; write one");
        } else if count > LONGEST {
            let text = format!("the name has {count} characters; {LONGEST} is the most");
            self.problem(entry, field, text);
        } else if let Some(odd) = name.chars().find(|c| is_unprintable(*c)) {
            let text = format!("{} holds {}; leave it out", quoted(name), odd_character(odd));
            self.problem(entry, field, text);
        }
    }

    /// Tells texts that no page or drawing can hold, but for lines of the plan in
    /// which something else is wrong.
    pub(super) fn texts(&mut self) {
        let told: HashSet<usize> = self.lines_told().collect();
        let mut found = Vec::new();
        for (table, value) in self.document.root().iter() {
            odd_texts(value, table.get_ref(), None, &mut found);
        }
        for Odd { about, byte, character } in found {
            let line = self.document.line_at(byte);
            if !told.contains(&line) {
                let text = format!("this holds {}; leave it out", odd_character(character));
                self.problem_of_plan(Some(line), &about, text);
            }
        }
    }

    /// The names in an array of tables, in its order; `None` for an entry without one.
    pub(super) fn names_in(&self, table: &str) -> Vec<Option<&str>> {
        names_in(self.document, table)
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
        let found = self.index_of(table, name);
        if found.is_none() {
            let names = names_in(self.document, table);
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

    /// The same where it is no fault if there is none.
    pub(super) fn index_of(&self, table: &str, name: &str) -> Option<usize> {
        let names = names_in(self.document, table);
        let exactly = names.iter().position(|known| known.is_some_and(|known| known == name));
        exactly
            .or_else(|| names.iter().position(|n| n.is_some_and(|n| n.eq_ignore_ascii_case(name))))
    }

    /// One of a few words.
    pub(crate) fn word<T: Copy>(
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

/// A text, or the name of a field, with something in it that is no character.
struct Odd {
    about: String,
    byte: usize,
    character: char,
}

/// Finds them in a value and all that it holds. `table` is at the top of the
/// plan; `entry` is what to call the entry of it and the field in that.
fn odd_texts(
    value: &Spanned<DeValue<'_>>,
    table: &str,
    entry: Option<(&str, &str)>,
    found: &mut Vec<Odd>,
) {
    let about = || match entry {
        None => table.to_owned(),
        Some((label, "")) => label.to_owned(),
        Some((label, field)) => format!("{label}: {field}"),
    };
    let odd = |text: &str| text.chars().find(|c| never_in_xml(*c));
    match value.get_ref() {
        DeValue::String(text) => {
            let byte = value.span().start;
            found.extend(odd(text).map(|character| Odd { about: about(), byte, character }));
        }
        DeValue::Table(fields) => {
            for (key, inner) in fields {
                let byte = key.span().start;
                let key = key.get_ref();
                found.extend(odd(key).map(|character| Odd { about: about(), byte, character }));
                match entry {
                    None => odd_texts(inner, table, Some((table, key)), found),
                    Some((label, "")) => odd_texts(inner, table, Some((label, key)), found),
                    Some((label, field)) => {
                        odd_texts(inner, table, Some((label, &format!("{field}.{key}"))), found);
                    }
                }
            }
        }
        DeValue::Array(items) => {
            for (index, inner) in items.iter().enumerate() {
                match entry {
                    None => {
                        let label = match Document::text_in(inner, "name") {
                            Some(name) => format!("{table} {}", quoted(name)),
                            None => format!("{table} {}", index + 1),
                        };
                        odd_texts(inner, table, Some((&label, "")), found);
                    }
                    Some((label, field)) => {
                        odd_texts(inner, table, Some((label, &format!("{field}[{index}]"))), found);
                    }
                }
            }
        }
        _ => {}
    }
}

/// Whether pages and drawings, which are XML 1.0, cannot hold this.
fn never_in_xml(c: char) -> bool {
    is_noncharacter(c) || (c < ' ' && !matches!(c, '\t' | '\n' | '\r'))
}

/// What a character is that a text may not hold, with its number.
fn odd_character(c: char) -> String {
    let number = u32::from(c);
    if is_noncharacter(c) {
        format!("U+{number:04X}, which Unicode says is no character")
    } else {
        format!("a control character (a tab, a line break or such), U+{number:04X}")
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
