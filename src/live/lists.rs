//! Lists of a plan's text that get and lose items, comments between them untouched.

use toml_edit::{Array, Value};

/// Gives a list the items of another: those that it has already stay as they stand,
/// comments between them too.
pub(super) fn replace_items(old: &mut Array, new: &Array) {
    let text = |value: &Value| match value.as_str() {
        Some(text) => text.to_owned(),
        None => value.to_string().trim().to_owned(),
    };
    let (had, want): (Vec<_>, Vec<_>) =
        (old.iter().map(text).collect(), new.iter().map(text).collect());
    let same = |(a, b): &(&String, &String)| a == b;
    let first = had.iter().zip(&want).take_while(same).count();
    let most = had.len().min(want.len()) - first;
    let last = had.iter().rev().zip(want.iter().rev()).take_while(same).count().min(most);
    let (had, want) = (had.len() - last, want.len() - last);
    for index in first..had.max(want) {
        match new.get(index.min(want)).filter(|_| index < want) {
            Some(value) if index < had => {
                old.replace(index, value.clone());
            }
            Some(value) => insert_item(old, index, value.clone()),
            // Each time the first of those that are too many.
            None => remove_item(old, want),
        }
    }
}

/// Inserts an item as its neighbours stand: on a line of its own or in a row. A
/// comment at the end of the line before stays there.
pub(super) fn insert_item(array: &mut Array, index: usize, mut item: Value) {
    let first = array.get(0).map(|value| decor(value).0);
    let line = first.as_deref().and_then(|first| first.rsplit_once('\n'));
    let line = line.map(|(_, indent)| format!("\n{indent}"));
    let mut prefix = match (&line, index) {
        (Some(line), _) => line.clone(),
        (None, 0) => first.unwrap_or_default(),
        (None, _) => " ".to_owned(),
    };
    let mut suffix = String::new();
    let at_end = index == array.len();
    let trailing = array.trailing().as_str().unwrap_or_default().to_owned();
    if !at_end {
        if let Some(next) = array.get_mut(index) {
            let (comment, rest) = end_of_line(&decor(next).0, index > 0);
            prefix.insert_str(0, &comment);
            let rest = if index == 0 && line.is_none() { " ".to_owned() } else { rest };
            next.decor_mut().set_prefix(rest);
        }
    } else if array.trailing_comma() {
        let (comment, rest) = end_of_line(&trailing, true);
        prefix.insert_str(0, &comment);
        array.set_trailing(rest);
    } else if let Some(last) = index.checked_sub(1).and_then(|last| array.get_mut(last)) {
        let (comment, rest) = end_of_line(&decor(last).1, true);
        prefix.insert_str(0, &comment);
        last.decor_mut().set_suffix("");
        suffix = rest;
    }
    item.decor_mut().set_prefix(prefix);
    item.decor_mut().set_suffix(suffix);
    array.insert_formatted(index, item);
}

/// The comment that ends a line, where one does, and what stands after it.
fn end_of_line(text: &str, is_one: bool) -> (String, String) {
    let end = text.find('\n').unwrap_or(text.len());
    match text.split_at_checked(end) {
        Some((comment, rest)) if is_one && comment.contains('#') => {
            (comment.to_owned(), rest.to_owned())
        }
        _ => (String::new(), text.to_owned()),
    }
}

/// Takes an item out; comments around it stay, and what stands before the first and
/// after the last.
pub(super) fn remove_item(array: &mut Array, index: usize) {
    let Some((before, after)) = array.get(index).map(decor) else { return };
    array.remove(index);
    let comments = before.rsplit_once('\n').map_or("", |(lines, _)| lines);
    let comments = if comments.contains('#') { comments } else { "" };
    let (trailing_comma, is_first) = (array.trailing_comma(), index == 0);
    if let Some(next) = array.get_mut(index) {
        let own = decor(next).0;
        let plain = is_first && !own.contains('#');
        next.decor_mut().set_prefix(if plain { before } else { format!("{comments}{own}") });
    } else if trailing_comma {
        let trailing = array.trailing().as_str().unwrap_or_default();
        let trailing = format!("{comments}{trailing}");
        array.set_trailing(trailing);
    } else if let Some(last) = index.checked_sub(1).and_then(|last| array.get_mut(last)) {
        last.decor_mut().set_suffix(format!("{comments}{after}"));
    }
}

/// What stands before and after a value.
pub(super) fn decor(value: &Value) -> (String, String) {
    let text = |raw: Option<&toml_edit::RawString>| {
        raw.and_then(|raw| raw.as_str()).unwrap_or_default().to_owned()
    };
    (text(value.decor().prefix()), text(value.decor().suffix()))
}
