//! Fields of an entry set and cleared, entries copied and removed: by what a plan
//! declares, in its text.

use std::fmt;
use std::ops::Range;

use serde::{Deserialize, Deserializer, Serialize, de};
use toml_edit::{Array, ArrayOfTables, Document, DocumentMut, Item, Table, TableLike, Value};

use perchline_plan::FieldTable;

use super::edit::{EditError, EntryKind, rename, with_line_ends};
use super::lists::{decor, insert_item, remove_item, replace_items};
use super::values::{
    self, Node, Step, empty_table, entries, path, quoted, row, shown, tables, written,
};

/// Fields of one entry, set or cleared together: one may only be right with another.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Set {
    /// The table.
    pub table: TableName,
    /// The entry's name; empty for a table of which there is one.
    #[serde(default)]
    pub name: String,
    /// Whether the entry is one that the plan does not have yet.
    #[serde(default)]
    pub new: bool,
    /// The fields, in the order in which they are set.
    pub fields: Vec<FieldSet>,
}

/// What goes into a field.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldSet {
    /// Its name, such as `power`, `antenna.gain` or `band[0].from`.
    pub field: String,
    /// What was typed; nothing clears it.
    pub value: String,
    /// What stood there when it was typed; nothing for a field that was not set.
    /// Left out, it is not asked what stands there now.
    #[serde(default)]
    pub seen: Option<String>,
}

/// Another entry like one that there is.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CopyEntry {
    /// The table.
    pub table: TableName,
    /// The entry that is copied.
    pub name: String,
    /// What the copy is called.
    pub new_name: String,
}

/// An entry that goes.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RemoveEntry {
    /// The table.
    pub table: TableName,
    /// The entry.
    pub name: String,
}

/// A table that plans may have.
#[derive(Clone, Copy)]
pub struct TableName(&'static FieldTable);

impl TableName {
    /// Its name in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        self.0.table
    }

    /// Its declaration.
    #[must_use]
    pub const fn declared(self) -> &'static FieldTable {
        self.0
    }
}

impl fmt::Debug for TableName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl PartialEq for TableName {
    fn eq(&self, other: &Self) -> bool {
        self.word() == other.word()
    }
}

impl Eq for TableName {}

impl<'de> Deserialize<'de> for TableName {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let name = String::deserialize(deserializer)?;
        values::table(&name).map(Self).ok_or_else(|| {
            let known: Vec<&str> = tables().iter().map(|table| table.table).collect();
            de::Error::custom(format!(
                "a plan has no table \"{name}\"; the tables are {}",
                known.join(", ")
            ))
        })
    }
}

/// A field that somebody else has changed since it was looked at.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Crossed {
    /// The field.
    pub field: String,
    /// What was typed.
    pub mine: String,
    /// What stands there by now; empty where it is not set.
    pub theirs: String,
}

/// What is told of fields that somebody else has changed.
pub(super) fn crossed(fields: &[Crossed]) -> String {
    let or_nothing = |text: &str| match text {
        "" => "nothing".to_owned(),
        text => quoted(text, None),
    };
    let told = fields.iter().map(|Crossed { field, mine, theirs }| {
        format!("{field} stands at {} by now; here {}", or_nothing(theirs), or_nothing(mine))
    });
    let told = told.collect::<Vec<_>>().join(" was typed. ");
    format!("Another page has changed this since: {told} was typed")
}

impl Set {
    /// The plan's text with the fields set.
    ///
    /// # Errors
    /// [`EditError`] where the plan has no such entry or field, where a value is
    /// not of the field's kind, and where the field stands otherwise by now.
    pub fn make(&self, text: &str) -> Result<String, EditError> {
        let declared = self.table.declared();
        let begun = if self.new { add(text, declared, &self.name)? } else { text.to_owned() };
        if !self.new {
            self.stands_as_seen(text)?;
        }
        // A name comes last: the others look the entry up by the old one.
        let (names, others): (Vec<_>, Vec<_>) =
            self.fields.iter().partition(|set| declared.many && set.field == "name");
        let mut made = begun;
        for set in others.into_iter().chain(names) {
            made = self.set(&made, set)?;
        }
        Ok(made)
    }

    /// The entry's name before and after, where it gets another one.
    #[must_use]
    pub fn renames(&self) -> Option<(&str, &str)> {
        let name = self.fields.iter().find(|set| set.field == "name")?;
        let many = self.table.declared().many && !self.new;
        many.then_some((self.name.trim(), name.value.trim()))
    }

    fn stands_as_seen(&self, text: &str) -> Result<(), EditError> {
        let document = parse(text)?;
        let entry = values::entry(&document, self.table.declared(), &self.name);
        if entry.is_none() && self.table.declared().many {
            return Err(self.gone());
        }
        let mut otherwise = Vec::new();
        for FieldSet { field, value, seen } in &self.fields {
            let Some(seen) = seen else { continue };
            let steps = path(field).unwrap_or_default();
            let stands = entry.and_then(|entry| walk(entry, &steps));
            let theirs = stands.map_or_else(String::new, |node| shown(node, text));
            if theirs != *seen && theirs != *value {
                otherwise.push(Crossed { field: field.clone(), mine: value.clone(), theirs });
            }
        }
        if otherwise.is_empty() { Ok(()) } else { Err(EditError::Crossed(otherwise)) }
    }

    fn gone(&self) -> EditError {
        EditError::Gone { kind: self.table.word(), name: self.name.clone() }
    }

    fn refused(&self, field: &str, text: String) -> EditError {
        let (table, name) = (self.table.word(), self.name.clone());
        EditError::Value { table, name, field: field.to_owned(), text }
    }

    /// The text with one field set.
    fn set(
        &self,
        text: &str,
        FieldSet { field, value, .. }: &FieldSet,
    ) -> Result<String, EditError> {
        let declared = self.table.declared();
        let no_field = || self.refused(field, format!("a {} has no such field", declared.table));
        let steps = path(field).ok_or_else(no_field)?;
        let row = row(declared, &steps).ok_or_else(no_field)?;
        let document = parse(text)?;
        let entry = values::entry(&document, declared, &self.name);
        if entry.is_none() && declared.many {
            return Err(self.gone());
        }
        let stands = entry.and_then(|entry| walk(entry, &steps));
        if value.trim().is_empty() {
            return match (entry, stands) {
                (Some(entry), Some(_)) => clear(text, (declared, &self.name), entry, &steps),
                _ => Ok(text.to_owned()),
            };
        }
        if stands.is_some_and(|node| shown(node, text) == *value) {
            return Ok(text.to_owned());
        }
        let old = stands.and_then(Node::value);
        let span = old.and_then(Value::span);
        let source = span.clone().and_then(|span| text.get(span));
        let new = written(row, value, source).map_err(|why| self.refused(field, why))?;
        if row.field == "name"
            && let Some((old, new)) = self.renames()
            && let Some(kind) = EntryKind::of_table(declared.table)
        {
            return rename(text, kind, old, new);
        }
        let is_list = |text: &str| text.starts_with('[');
        match (span, source) {
            (Some(span), Some(source)) if !is_list(source) || !is_list(&new) => {
                Ok(splice(text, [(span, new)]))
            }
            _ => {
                let new: Value = new.parse().map_err(toml)?;
                in_document(text, |document| {
                    let entry = entry_mut(document, declared, &self.name)?;
                    put(entry.0, entry.1, &steps, new)
                })?
                .ok_or_else(|| self.refused(field, "there is no place for it here".to_owned()))
            }
        }
    }
}

impl CopyEntry {
    /// The plan's text with the copy after the last entry.
    ///
    /// # Errors
    /// [`EditError`] where the plan has no such entry.
    pub fn make(&self, text: &str) -> Result<String, EditError> {
        let (declared, new) = (self.table.declared(), self.new_name.trim());
        let name: Value = quoted(new, None).parse().map_err(toml)?;
        let made = in_document(text, |document| {
            let (index, _) = place(document, declared, &self.name)?;
            match document.get_mut(declared.table)? {
                Item::ArrayOfTables(tables) => {
                    let mut copy = tables.get(index)?.clone();
                    at_the_end(&mut copy);
                    copy.decor_mut().set_prefix("\n");
                    named(&mut copy, name);
                    tables.push(copy);
                }
                Item::Value(Value::Array(array)) => {
                    let mut copy = array.get(index)?.clone();
                    named(copy.as_inline_table_mut()?, name);
                    let last = array.len();
                    insert_item(array, last, copy);
                }
                _ => return None,
            }
            Some(())
        })?;
        let (kind, name) = (self.table.word(), self.name.clone());
        made.ok_or(EditError::Gone { kind, name })
    }
}

impl RemoveEntry {
    /// The plan's text without the entry.
    ///
    /// # Errors
    /// [`EditError`] where the plan has no such entry.
    pub fn make(&self, text: &str) -> Result<String, EditError> {
        let declared = self.table.declared();
        let made = in_document(text, |document| {
            let (index, many) = place(document, declared, &self.name)?;
            if many == 1 {
                return document.remove(declared.table).map(|_| ());
            }
            remove_element(document.get_mut(declared.table)?, index)
        })?;
        let (kind, name) = (self.table.word(), self.name.clone());
        made.ok_or(EditError::Gone { kind, name })
    }
}

fn toml(error: toml_edit::TomlError) -> EditError {
    EditError::Toml(error.to_string())
}

pub(super) fn parse(text: &str) -> Result<Document<&str>, EditError> {
    Document::parse(text).map_err(toml)
}

/// What the steps lead to from an entry.
fn walk<'a>(entry: Node<'a>, steps: &[Step]) -> Option<Node<'a>> {
    steps.iter().try_fold(entry, Node::step)
}

/// The text with other text in the place of these parts of it.
pub(super) fn splice(
    text: &str,
    parts: impl IntoIterator<Item = (Range<usize>, String)>,
) -> String {
    let mut parts: Vec<_> = parts.into_iter().collect();
    parts.sort_by_key(|(range, _)| range.start);
    let mut made = text.to_owned();
    for (range, new) in parts.into_iter().rev() {
        if made.get(range.clone()).is_some() {
            made.replace_range(range, &new);
        }
    }
    made
}

/// The text as it is after a change of the parsed document; nothing where there is
/// nothing to change.
fn in_document(
    text: &str,
    change: impl FnOnce(&mut DocumentMut) -> Option<()>,
) -> Result<Option<String>, EditError> {
    let mut document: DocumentMut = text.parse().map_err(toml)?;
    let done = change(&mut document);
    Ok(done.map(|()| with_line_ends(text, &document.to_string(), true)))
}

/// Which of how many entries has this name.
fn place(document: &DocumentMut, declared: &FieldTable, name: &str) -> Option<(usize, usize)> {
    let entries = if declared.many { entries(document, declared) } else { Vec::new() };
    let named =
        |node: &Node<'_>| node.text("name").is_some_and(|known| known.trim() == name.trim());
    Some((entries.iter().position(named)?, entries.len()))
}

/// An entry to be changed, and whether it is one in braces. A table that there may
/// be one of comes to be where it is not.
fn entry_mut<'d>(
    document: &'d mut DocumentMut,
    declared: &FieldTable,
    name: &str,
) -> Option<(&'d mut dyn TableLike, bool)> {
    if !declared.many {
        let item = document.entry(declared.table).or_insert_with(toml_edit::table);
        let inline = item.is_inline_table();
        return Some((item.as_table_like_mut()?, inline));
    }
    let (index, _) = place(document, declared, name)?;
    element_mut(document.get_mut(declared.table)?, index)
}

/// One of several tables, and whether it is one in braces; the one after the last
/// comes to be.
fn element_mut(item: &mut Item, index: usize) -> Option<(&mut dyn TableLike, bool)> {
    match item {
        Item::ArrayOfTables(tables) => {
            if tables.len() == index {
                tables.push(Table::new());
            }
            Some((tables.get_mut(index)?, false))
        }
        Item::Value(Value::Array(array)) => {
            if array.len() == index {
                insert_item(array, index, empty_table());
            }
            Some((array.get_mut(index)?.as_inline_table_mut()?, true))
        }
        _ => None,
    }
}

fn remove_element(item: &mut Item, index: usize) -> Option<()> {
    match item {
        Item::ArrayOfTables(tables) if index < tables.len() => {
            tables.remove(index);
        }
        Item::Value(Value::Array(array)) if index < array.len() => remove_item(array, index),
        _ => return None,
    }
    Some(())
}

/// Puts a value where the steps lead to; tables on the way come to be.
fn put(table: &mut dyn TableLike, inline: bool, steps: &[Step], value: Value) -> Option<()> {
    let (step, rest) = steps.split_first()?;
    if rest.is_empty() && step.index.is_none() {
        match (table.get_mut(&step.key), value) {
            (Some(Item::Value(Value::Array(old))), Value::Array(new)) => replace_items(old, &new),
            (Some(old), value) if old.is_value() => *old = Item::Value(value),
            (old, value) => {
                if old.is_some() {
                    table.remove(&step.key);
                }
                insert_last(table, inline, &step.key, value);
            }
        }
        return Some(());
    }
    if !table.contains_key(&step.key) {
        let empty = match step.index {
            Some(_) => Value::Array(Array::new()),
            None => empty_table(),
        };
        insert_last(table, inline, &step.key, empty);
    }
    let item = table.get_mut(&step.key)?;
    let (inner, inline) = match step.index {
        Some(index) => element_mut(item, index)?,
        None => {
            let inline = item.is_inline_table();
            (item.as_table_like_mut()?, inline)
        }
    };
    put(inner, inline, rest, value)
}

/// Inserts a value after the others. In braces the space before the closing one
/// goes on being there.
fn insert_last(table: &mut dyn TableLike, inline: bool, key: &str, mut value: Value) {
    if inline && let Some(last) = last_value(table) {
        let end = last.decor().suffix().and_then(|end| end.as_str()).unwrap_or(" ").to_owned();
        last.decor_mut().set_suffix("");
        value.decor_mut().set_prefix(" ");
        value.decor_mut().set_suffix(end);
    }
    table.insert(key, Item::Value(value));
}

fn last_value(table: &mut dyn TableLike) -> Option<&mut Value> {
    table.iter_mut().last().and_then(|(_, item)| item.as_value_mut())
}

/// The text without a field: its line goes, and with the last field of a table that
/// table.
fn clear(
    text: &str,
    of: (&'static FieldTable, &str),
    entry: Node<'_>,
    steps: &[Step],
) -> Result<String, EditError> {
    let Some((last, outer)) = steps.split_last() else { return Ok(text.to_owned()) };
    let holder = walk(entry, outer);
    let in_a_line = holder.is_some_and(Node::is_inline);
    let found = holder.and_then(Node::table).and_then(|table| table.get_key_value(&last.key));
    let line = found.and_then(|(key, item)| Some(key.span()?.start..item.as_value()?.span()?.end));
    let made = match line {
        Some(range) if !in_a_line && last.index.is_none() => {
            splice(text, [(whole_lines(text, range), String::new())])
        }
        _ => in_document(text, |document| {
            let (entry, _) = entry_mut(document, of.0, of.1)?;
            remove(entry, steps)
        })?
        .unwrap_or_else(|| text.to_owned()),
    };
    emptied(made, of, outer)
}

/// From the start of the line in which a range begins to the end of that in which
/// it ends.
fn whole_lines(text: &str, range: Range<usize>) -> Range<usize> {
    let before = text.get(..range.start).and_then(|text| text.rfind('\n'));
    let after = text.get(range.end..).and_then(|text| text.find('\n'));
    before.map_or(0, |at| at + 1)..after.map_or(text.len(), |at| range.end + at + 1)
}

fn remove(table: &mut dyn TableLike, steps: &[Step]) -> Option<()> {
    let (step, rest) = steps.split_first()?;
    if !rest.is_empty() {
        let item = table.get_mut(&step.key)?;
        let inner = match step.index {
            Some(index) => element_mut(item, index)?.0,
            None => item.as_table_like_mut()?,
        };
        return remove(inner, rest);
    }
    let item = table.get_mut(&step.key)?;
    if let Some(index) = step.index {
        remove_element(item, index)?;
        let left = Node::Item(item).count();
        return if left > 0 { Some(()) } else { table.remove(&step.key).map(|_| ()) };
    }
    let end = item.as_value().map(|value| decor(value).1);
    let is_last = table.iter().last().is_some_and(|(key, _)| key == step.key);
    table.remove(&step.key)?;
    if is_last && let (Some(end), Some(last)) = (end, last_value(table)) {
        last.decor_mut().set_suffix(end);
    }
    Some(())
}

/// Takes out what holds nothing any more: a table inside of an entry, or a table of
/// which there is one and to which no comment belongs.
fn emptied(
    text: String,
    of: (&'static FieldTable, &str),
    outer: &[Step],
) -> Result<String, EditError> {
    let document = parse(&text)?;
    let Some(entry) = values::entry(&document, of.0, of.1) else { return Ok(text) };
    let Some(holder) = walk(entry, outer).and_then(Node::table) else { return Ok(text) };
    if !holder.is_empty() || outer.last().is_some_and(|step| step.index.is_some()) {
        return Ok(text);
    }
    if !outer.is_empty() {
        return clear(&text, of, entry, outer);
    }
    let is_bare = |table: &Table| {
        let decor = table.decor();
        [decor.prefix(), decor.suffix()].iter().flatten().all(|raw| {
            raw.span().is_none_or(|span| text.get(span).is_some_and(|text| text.trim().is_empty()))
        })
    };
    let bare = matches!(entry, Node::Item(Item::Table(table)) if is_bare(table));
    if of.0.many || !bare {
        return Ok(text);
    }
    let made = in_document(&text, |document| document.remove(of.0.table).map(|_| ()))?;
    Ok(made.unwrap_or(text))
}

/// The text with a new entry that has nothing but its name.
fn add(text: &str, declared: &'static FieldTable, name: &str) -> Result<String, EditError> {
    if !declared.many {
        return Ok(text.to_owned());
    }
    let name: Value = quoted(name.trim(), None).parse().map_err(toml)?;
    let made = in_document(text, |document| {
        let item = document
            .entry(declared.table)
            .or_insert_with(|| Item::ArrayOfTables(ArrayOfTables::new()));
        let end = Node::Item(item).count();
        let (entry, inline) = element_mut(item, end)?;
        insert_last(entry, inline, "name", name);
        Some(())
    })?;
    made.ok_or(EditError::NoTable(declared.table))
}

/// Gives an entry another name.
fn named(table: &mut dyn TableLike, mut name: Value) {
    match table.get_mut("name") {
        Some(Item::Value(old)) => {
            *name.decor_mut() = old.decor().clone();
            *old = name;
        }
        _ => {
            table.insert("name", Item::Value(name));
        }
    }
}

/// Lets a table and those inside of it be written after all that stand before it.
fn at_the_end(table: &mut Table) {
    table.set_position(None);
    for (_, item) in table.iter_mut() {
        match item {
            Item::Table(inner) => at_the_end(inner),
            Item::ArrayOfTables(tables) => tables.iter_mut().for_each(at_the_end),
            _ => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_plan::Written;

    const FULL: &str = include_str!("../../tests/plans/full.toml");

    fn set(table: &str, name: &str, fields: &[(&str, &str)]) -> Set {
        let fields = fields.iter().map(|(field, value)| FieldSet {
            field: (*field).to_owned(),
            value: (*value).to_owned(),
            seen: None,
        });
        let table = TableName(values::table(table).unwrap());
        Set { table, name: name.to_owned(), new: false, fields: fields.collect() }
    }

    fn with(text: &str, table: &str, name: &str, field: &str, value: &str) -> String {
        let made = set(table, name, &[(field, value)]).make(text);
        made.unwrap_or_else(|e| panic!("{table} {name} {field} {value:?}: {e}"))
    }

    /// Table, entry, field and value of all that a plan sets.
    fn every(text: &str) -> Vec<(&'static FieldTable, String, String, String)> {
        let document = Document::parse(text).unwrap();
        let mut all = Vec::new();
        for table in tables() {
            for entry in entries(&document, table) {
                let name = if table.many { entry.text("name").unwrap() } else { "" };
                for (field, value) in values::held(table, entry, text).values {
                    all.push((table, name.to_owned(), field, value));
                }
            }
        }
        assert!(all.len() > 250, "{}", all.len());
        all
    }

    /// Some other value of the field.
    fn another(table: &'static FieldTable, field: &str, value: &str) -> String {
        let other = match row(table, &path(field).unwrap()).unwrap().written {
            Written::Text => "of \"another\" \\ kind",
            Written::Number => "7.25",
            Written::Whole | Written::People => "17",
            Written::Flag if value == "true" => "false",
            Written::Flag => "true",
            Written::Time => "2031-01-02T03:04:05",
            Written::List | Written::Shape => "one\ntwo\nthree",
            Written::Place => "12.5, -30.25",
            Written::Table | Written::Tables => panic!("{field}"),
        };
        assert_ne!(other, value);
        other.to_owned()
    }

    /// The full plan, with a comment after every value, and as on Windows.
    fn plans() -> [String; 3] {
        let commented = FULL.lines().enumerate().map(|(number, line)| {
            let comment =
                if line.contains('=') { format!("  # note {number}") } else { String::new() };
            format!("{line}{comment}\n")
        });
        let commented: String = commented.collect();
        [FULL.to_owned(), commented.clone(), commented.replace('\n', "\r\n")]
    }

    #[test]
    fn every_field_set_and_set_back_leaves_the_text() {
        for plan in plans() {
            for (table, name, field, value) in every(&plan) {
                let other = another(table, &field, &value);
                let changed = with(&plan, table.table, &name, &field, &other);
                assert_ne!(changed, plan, "{name} {field}");
                let is_name = table.many && field == "name";
                let now = if is_name { &other } else { &name };
                let document = Document::parse(changed.as_str()).unwrap();
                let entry = values::entry(&document, table, now).unwrap();
                let stands = walk(entry, &path(&field).unwrap()).unwrap();
                assert_eq!(shown(stands, &changed), other, "{name} {field}");
                assert_eq!(
                    with(&changed, table.table, now, &field, &value),
                    plan,
                    "{name} {field}"
                );
            }
        }
    }

    #[test]
    fn all_fields_set_one_after_the_other_and_back_leave_the_text() {
        let [_, plan, _] = plans();
        let all = every(&plan);
        let mut text = plan.clone();
        for (table, name, field, value) in &all {
            if field != "name" {
                text = with(&text, table.table, name, field, &another(table, field, value));
            }
        }
        let comments = |text: &str| text.matches("# note").count();
        assert_eq!(comments(&text), comments(&plan));
        for (table, name, field, value) in
            all.iter().rev().filter(|(_, _, field, _)| field != "name")
        {
            text = with(&text, table.table, name, field, value);
        }
        assert_eq!(text, plan);
    }

    #[test]
    fn what_was_not_set_is_added_and_cleared_again() {
        for plan in plans() {
            let mut tried = 0;
            let document = Document::parse(plan.as_str()).unwrap();
            for table in tables() {
                let entry = entries(&document, table).first().copied();
                let name = entry.filter(|_| table.many).map_or("", |e| e.text("name").unwrap());
                let held = entry.map(|e| values::held(table, e, &plan)).unwrap_or_default();
                for row in &table.fields {
                    if matches!(row.written, Written::Table | Written::Tables) {
                        continue;
                    }
                    let steps: Vec<&str> = row.field.split('.').collect();
                    let mut here = String::new();
                    let mut added = None;
                    for (at, step) in steps.iter().enumerate() {
                        here = format!("{here}{}{step}", if at > 0 { "." } else { "" });
                        let outer = steps[..=at].join(".");
                        let is_list = table
                            .fields
                            .iter()
                            .any(|r| r.field == outer && r.written == Written::Tables);
                        if is_list {
                            if !held.counts.contains_key(&here) {
                                added.get_or_insert_with(|| format!("{here}[0]"));
                            }
                            here.push_str("[0]");
                        }
                    }
                    if held.values.contains_key(&here) {
                        continue;
                    }
                    let changed = with(&plan, table.table, name, &here, &another(table, &here, ""));
                    assert_ne!(changed, plan);
                    // A table that came to be with its first field goes by itself.
                    let back =
                        with(&changed, table.table, name, added.as_deref().unwrap_or(&here), "");
                    assert_eq!(back, plan, "{} {here}", table.table);
                    tried += 1;
                }
            }
            assert!(tried > 40, "{tried}");
        }
    }

    #[test]
    fn a_field_that_is_cleared_takes_its_line_and_no_comment_above_it() {
        let plan = "# a\n[event] # b\nname = \"x\" # c\n# d\nagency = \"y\" # e\n\n# f\n[[post]]\nname = \"p\"\nat = { file = \"a.gpx\", name = \"b\" }\n";
        let cleared = with(plan, "event", "", "agency", "");
        assert_eq!(cleared, plan.replace("agency = \"y\" # e\n", ""));
        // What is not there is not cleared, and a required one is for the reader to miss.
        assert_eq!(with(&cleared, "event", "", "agency", " "), cleared);
        assert_eq!(
            with(plan, "post", "p", "at", ""),
            plan.replace("at = { file = \"a.gpx\", name = \"b\" }\n", "")
        );
    }

    #[test]
    fn lists_keep_their_lines_and_comments() {
        let plan = "[[area]]\nname = \"a\"\noutline = [\n  \"1, 2\", # mill\n  \"3, 4\",\n  # the far end\n  \"5, 6\"\n] # all\n";
        let lines = |lines: &str| with(plan, "area", "a", "outline", lines);
        assert_eq!(lines("1, 2\n3, 5\n5, 6"), plan.replace("3, 4", "3, 5"));
        assert_eq!(
            lines("1, 2\n3, 4\n5, 6\n7, 8"),
            plan.replace("\"5, 6\"\n]", "\"5, 6\",\n  \"7, 8\"\n]")
        );
        assert_eq!(lines("0, 0\n1, 2\n3, 4\n5, 6"), plan.replace("[\n", "[\n  \"0, 0\",\n"));
        let fewer = lines("1, 2\n5, 6");
        assert_eq!(fewer, plan.replace("\n  \"3, 4\",", ""));
        let middle = plan.replace("# mill", "# mill\n  \"9, 9\",");
        assert_eq!(lines("1, 2\n9, 9\n3, 4\n5, 6"), middle);
        let commas = plan.replace("\"5, 6\"", "\"5, 6\", # gate");
        let lines = |text: &str, lines: &str| with(text, "area", "a", "outline", lines);
        let more = commas.replace("# gate", "# gate\n  \"7, 8\",");
        assert_eq!(lines(&commas, "1, 2\n3, 4\n5, 6\n7, 8"), more);
        assert_eq!(lines(&more, "1, 2\n3, 4\n5, 6"), commas);
        let few = lines(&commas, "1, 2");
        assert_eq!(few.matches('#').count(), commas.matches('#').count());
        let row = "[[group]]\nname = \"g\"\nposts = [ \"a\", \"b\" ]\n";
        for (lines, list) in [
            ("a\nb\nc", "[ \"a\", \"b\", \"c\" ]"),
            ("b", "[ \"b\" ]"),
            ("a", "[ \"a\" ]"),
            ("c\na\nb", "[ \"c\", \"a\", \"b\" ]"),
        ] {
            assert_eq!(
                with(row, "group", "g", "posts", lines),
                row.replace("[ \"a\", \"b\" ]", list)
            );
        }
    }

    #[test]
    fn entries_in_braces_stay_there() {
        let plan = "post = [{ name = \"Aid 1\", at = \"1, 2\" }, {name=\"B\"}] # short\r\n";
        let set = with(plan, "post", "Aid 1", "weight", "2");
        assert_eq!(set, plan.replace("\"1, 2\" }", "\"1, 2\", weight = 2 }"));
        assert_eq!(with(&set, "post", "Aid 1", "weight", ""), plan);
        assert_eq!(
            with(plan, "post", "B", "must", "true"),
            plan.replace("\"B\"", "\"B\", must = true")
        );
    }

    #[test]
    fn what_names_an_entry_follows_its_new_name() {
        let renamed = with(FULL, "radio", "hand-held", "name", "HT \"9\"");
        assert!(!renamed.contains("\"hand-held\""));
        let quoted = "\"HT \\\"9\\\"\"";
        assert_eq!(renamed.matches(quoted).count(), FULL.matches("\"hand-held\"").count());
        let renamed = with(FULL, "post", "Aid 1", "name", "Mill");
        assert!(!renamed.contains("Aid 1"));
        assert_eq!(renamed.matches("\"Mill\"").count(), FULL.matches("\"Aid 1\"").count());
        // The text on the users of a channel, and the group that is called so.
        let renamed = with(FULL, "group", "Aid", "name", "First aid");
        assert!(renamed.contains("users = \"First aid\""), "{renamed}");
        // The pack of a station and of a crew.
        let renamed = with(FULL, "pack", "box", "name", "Case");
        assert_eq!(
            renamed.matches("pack = \"Case\"").count(),
            FULL.matches("pack = \"box\"").count()
        );
        // A person of the same name is nobody's post.
        let person = FULL.replace("\"Runner\"", "\"Net control \"");
        let renamed = with(&person, "pack", "box", "name", "Net control");
        assert_eq!(
            renamed.matches("\"Net control \"").count(),
            person.matches("\"Net control \"").count()
        );
        let users = "[[channel]]\nname = \"c\"\nusers = \"Aid 1, Van; and others\"\n[[post]]\nname = \"Van\"\n";
        assert!(with(users, "post", "Van", "name", "Bus").contains("\"Aid 1, Bus; and others\""));
    }

    #[test]
    fn what_somebody_else_has_changed_is_told() {
        let mut mine = set("radio", "desk", &[("power", "10 W"), ("antenna.gain", "2 dBd")]);
        let theirs = with(FULL, "radio", "desk", "power", "20 W");
        mine.fields[0].seen = Some("25 W".to_owned());
        mine.fields[1].seen = Some("0 dBd".to_owned());
        assert!(mine.make(FULL).unwrap().contains("\"10 W\""));
        let error = mine.make(&theirs).unwrap_err();
        let crossed = Crossed {
            field: "power".to_owned(),
            mine: "10 W".to_owned(),
            theirs: "20 W".to_owned(),
        };
        assert_eq!(error, EditError::Crossed(vec![crossed]));
        let told = "Another page has changed this since: power stands at \"20 W\" by now; here \"10 W\" was typed";
        assert_eq!(error.to_string(), told);
        // Both typed the same.
        let same = with(FULL, "radio", "desk", "power", "10 W");
        assert!(mine.make(&same).is_ok());
        // Cleared there, and not set here yet.
        let mut mine = set("event", "", &[("agency", "Ferry club")]);
        mine.fields[0].seen = Some("Harbour council".to_owned());
        let error = mine.make(&with(FULL, "event", "", "agency", "")).unwrap_err();
        assert!(error.to_string().contains("stands at nothing by now"), "{error}");
        mine.fields[0].seen = Some(String::new());
        assert!(matches!(mine.make(FULL), Err(EditError::Crossed(_))));
    }

    #[test]
    fn an_entry_is_copied_and_removed() {
        for plan in plans() {
            let table = TableName(values::table("radio").unwrap());
            let copy = CopyEntry { table, name: "hand-held".into(), new_name: "Copy «1»".into() };
            let copied = copy.make(&plan).unwrap();
            let document = Document::parse(copied.as_str()).unwrap();
            assert_eq!(values::names(&document, table.declared()).last().unwrap(), "Copy «1»");
            let held = |name: &str| {
                let entry = values::entry(&document, table.declared(), name).unwrap();
                values::held(table.declared(), entry, &copied)
            };
            let (mut new, old) = (held("Copy «1»"), held("hand-held"));
            assert_eq!(new.counts, old.counts);
            new.values.insert("name".into(), "hand-held".into());
            assert_eq!(new.values, old.values);
            let removed = RemoveEntry { table, name: "Copy «1»".into() }.make(&copied).unwrap();
            assert_eq!(removed, plan);
            for name in ["hand-held", "relay", "desk"] {
                let removed = RemoveEntry { table, name: name.into() }.make(&plan).unwrap();
                let document = Document::parse(removed.as_str()).unwrap();
                let names = values::names(&document, table.declared());
                assert!(names.len() == 2 && !names.contains(&name.to_owned()));
            }
        }
    }

    #[test]
    fn a_new_entry_gets_all_its_fields_at_once() {
        let fields = [("chemistry", "agm"), ("cells", "6"), ("capacity", "9 Ah")];
        let mut new = set("pack", " Spare ", &fields);
        new.new = true;
        let made = new.make("[event]\nname = \"x\"\n").unwrap();
        assert_eq!(
            made,
            "[event]\nname = \"x\"\n\n[[pack]]\nname = \"Spare\"\nchemistry = \"agm\"\ncells = 6\ncapacity = \"9 Ah\"\n"
        );
        let table = TableName(values::table("pack").unwrap());
        let gone = RemoveEntry { table, name: "Spare".into() }.make(&made).unwrap();
        assert_eq!(gone, "[event]\nname = \"x\"\n");
        let item = with(FULL, "crew", "Posts", "item[2].name", "lamp");
        let item = with(&item, "crew", "Posts", "item[2].weight", "1 kg");
        assert!(item.contains("[[crew.item]]\nname = \"lamp\"\nweight = \"1 kg\"\n"), "{item}");
        assert_eq!(with(&item, "crew", "Posts", "item[2]", ""), FULL);
        let bridge = with(FULL, "group", "Aid", "bridge[2].person", "Runner");
        assert_eq!(
            bridge,
            FULL.replace(
                "{ person = \"Runner\" }]",
                "{ person = \"Runner\" }, { person = \"Runner\" }]"
            )
        );
        assert_eq!(with(&bridge, "group", "Aid", "bridge[2]", ""), FULL);
    }

    #[test]
    fn what_does_not_fit_is_told() {
        let told = |table: &str, name: &str, field: &str, value: &str| {
            set(table, name, &[(field, value)]).make(FULL).unwrap_err().to_string()
        };
        assert_eq!(
            told("radio", "none", "power", "5 W"),
            "the plan has no radio \"none\" any more"
        );
        assert_eq!(told("radio", "desk", "volume", "5"), "volume: a radio has no such field");
        assert_eq!(
            told("pack", "box", "cells", "six"),
            "cells: \"six\" is not a whole number; 1 to 40"
        );
        assert!(told("crew", "Posts", "item[9].name", "x").contains("no place for it"));
        let unknown = r#"{ "change": "set", "table": "radios", "fields": [] }"#;
        let error = serde_json::from_str::<super::super::edit::Change>(unknown).unwrap_err();
        assert!(
            error.to_string().contains("no table \"radios\"; the tables are event, "),
            "{error}"
        );
        for text in
            ["a \"b\"", "'''", "]\n[[site]]\nname = 'x'", "\u{7}", "<b>", "日本 العربية Ελληνικά"]
        {
            let made = with(FULL, "event", "", "agency", text);
            let document = Document::parse(made.as_str()).unwrap();
            let value = document["event"]["agency"].as_str().unwrap();
            assert_eq!((value, document["site"].as_array_of_tables().unwrap().len()), (text, 2));
        }
    }
}
