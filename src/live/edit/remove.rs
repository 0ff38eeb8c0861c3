//! An entry of a plan taken away, and another name for one.

use std::ops::Range;

use perchline_plan::Naming;
use serde_json::Value as Json;

use super::references::{Named, naming, renamed, without};
use super::source::{Cut, Source};
use super::{EditError, EntryKind, written};
use crate::values::quoted;

/// The text without an entry. Lists that stay right without it lose its name;
/// whatever else names it keeps it in the plan.
pub(super) fn remove(text: &str, kind: EntryKind, name: &str) -> Result<String, EditError> {
    let source = Source::parse(text)?;
    let entry = source.entry(kind.table(), name)?;
    if kind.is_required() && source.entries(kind.table()).len() == 1 {
        return Err(EditError::Last { kind: kind.word(), name: name.trim().to_owned() });
    }
    let mut cuts = source.remove(entry);
    let mut needed: Vec<String> = Vec::new();
    let places = naming(&source, kind, name);
    for place in &places {
        match let_go(&source, place, name) {
            Some(more) => cuts.extend(more),
            None => needed.push(format!("{} in {}", place.label, place.rule.field)),
        }
    }
    if !needed.is_empty() {
        needed.dedup();
        return Err(EditError::Needed {
            kind: kind.word(),
            name: name.trim().to_owned(),
            by: needed.join(", "),
        });
    }
    let index = entry.index;
    let touched: Vec<&str> = places.iter().map(|place| place.rule.table).collect();
    let made = source.with(cuts);
    let mut expected = source.said();
    if let Some(Json::Array(entries)) = expected.get_mut(kind.table())
        && index < entries.len()
    {
        entries.remove(index);
    }
    let found = Source::parse(&made).map(|made| made.said());
    if found.is_ok_and(|found| is_same(&expected, &found, &touched)) {
        Ok(made)
    } else {
        Err(scattered(kind, name))
    }
}

/// Whether two plans say the same but for some tables; an empty list says nothing.
fn is_same(expected: &Json, found: &Json, but: &[&str]) -> bool {
    let nothing = Json::Array(Vec::new());
    let keys = |said: &'_ Json| {
        said.as_object().into_iter().flatten().map(|(key, _)| key.clone()).collect::<Vec<_>>()
    };
    let of = |said: &Json, key: &str| said.get(key).unwrap_or(&nothing).clone();
    keys(expected)
        .iter()
        .chain(&keys(found))
        .filter(|key| !but.contains(&key.as_str()))
        .all(|key| of(expected, key) == of(found, key))
}

/// What has to be cut where a place no longer names an entry; `None` where it must.
fn let_go(source: &Source<'_>, place: &Named<'_>, name: &str) -> Option<Vec<Cut>> {
    match (place.rule.stands, place.list) {
        (Naming::InList, Some((list, index))) if list.len() > 1 => {
            Some(source.remove_from(list, index))
        }
        (Naming::InText, _) => {
            let left = without(place.text, name)?;
            Some(vec![Cut { from: place.span.clone(), new: written(&left) }])
        }
        _ => None,
    }
}

/// The text with another name for an entry, wherever the plan names it.
pub(crate) fn rename(
    text: &str,
    kind: EntryKind,
    name: &str,
    to: &str,
) -> Result<String, EditError> {
    let source = Source::parse(text)?;
    let entry = source.entry(kind.table(), name)?;
    let own = entry.fields.get("name").and_then(toml_edit::Item::span);
    let Some(own) = own else { return Err(scattered(kind, name)) };
    // In the quotes that stand there.
    let named = |at: &Range<usize>| quoted(to.trim(), source.text.get(at.clone()));
    let mut cuts = vec![Cut { new: named(&own), from: own }];
    for place in naming(&source, kind, name) {
        let new = match place.rule.stands {
            Naming::InText if to.contains([',', ';']) => {
                return Err(EditError::NotInText { name: to.trim().to_owned(), by: place.label });
            }
            Naming::InText => written(&renamed(place.text, name, to.trim())),
            _ => named(&place.span),
        };
        cuts.push(Cut { from: place.span, new });
    }
    Ok(source.with(cuts))
}

fn scattered(kind: EntryKind, name: &str) -> EditError {
    EditError::Scattered { kind: kind.word(), name: name.trim().to_owned() }
}
