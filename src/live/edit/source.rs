//! The text of a plan with the place of everything in it, and the cuts that add
//! and take away while all else stays to the byte.

use std::ops::Range;

use serde_json::{Map, Value as Json};
use toml_edit::{Array, Document, Item, Table, TableLike, Value};

use super::{EditError, name_of};

/// A mark that editors on some systems put in front.
const MARK: char = '\u{feff}';

/// A plan's text, parsed where it stands.
pub(super) struct Source<'t> {
    /// The text without the mark in front.
    pub text: &'t str,
    document: Document<&'t str>,
    /// What ends a line.
    pub line_end: &'static str,
    mark: &'t str,
}

/// An entry of a kind that a plan has several of.
#[derive(Clone, Copy)]
pub(super) struct Entry<'d> {
    pub fields: &'d dyn TableLike,
    /// Its place among those of its kind.
    pub index: usize,
    stands: Stands<'d>,
}

/// How an entry stands in the text.
#[derive(Clone, Copy)]
enum Stands<'d> {
    /// Under a header of its own.
    Headed(&'d Table),
    /// As a value of this array.
    Listed(&'d Array),
}

/// What goes and what comes in its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cut {
    pub from: Range<usize>,
    pub new: String,
}

impl Cut {
    pub fn insert(at: usize, new: String) -> Self {
        Self { from: at..at, new }
    }

    fn remove(from: Range<usize>) -> Self {
        Self { from, new: String::new() }
    }
}

impl<'t> Source<'t> {
    pub fn parse(text: &'t str) -> Result<Self, EditError> {
        let bare = text.strip_prefix(MARK).unwrap_or(text);
        let mark = text.strip_suffix(bare).unwrap_or_default();
        let document = Document::parse(bare).map_err(|error| EditError::Toml(error.to_string()))?;
        let line_end = if bare.contains("\r\n") { "\r\n" } else { "\n" };
        Ok(Self { text: bare, document, line_end, mark })
    }

    /// All that the text says, whatever it looks like.
    pub fn said(&self) -> Json {
        said_by(self.document.as_table())
    }

    /// What stands at the top of the plan under this name.
    pub fn top(&self, name: &str) -> Option<&Item> {
        self.document.get(name)
    }

    /// All entries of a kind.
    pub fn entries<'d>(&'d self, kind: &str) -> Vec<Entry<'d>> {
        match self.top(kind) {
            Some(Item::ArrayOfTables(tables)) => {
                let entry = |(index, table)| Entry {
                    fields: table as &dyn TableLike,
                    index,
                    stands: Stands::Headed(table),
                };
                tables.iter().enumerate().map(entry).collect()
            }
            Some(Item::Value(Value::Array(array))) => {
                let entry = |(index, value): (usize, &'d Value)| {
                    let fields = value.as_inline_table()? as &dyn TableLike;
                    Some(Entry { fields, index, stands: Stands::Listed(array) })
                };
                array.iter().enumerate().filter_map(entry).collect()
            }
            _ => Vec::new(),
        }
    }

    /// The entry of a kind with this name.
    pub fn entry(&self, kind: &'static str, name: &str) -> Result<Entry<'_>, EditError> {
        let mut entries = self.entries(kind).into_iter();
        entries
            .find(|entry| entry.name() == Some(name.trim()))
            .ok_or_else(|| EditError::Gone { kind, name: name.to_owned() })
    }

    /// The text with these cuts made; none may lie in another.
    pub fn with(&self, mut cuts: Vec<Cut>) -> String {
        cuts.sort_by_key(|cut| (cut.from.start, cut.from.end));
        let mut made = self.mark.to_owned();
        let mut at = 0;
        for Cut { from, new } in cuts {
            made += self.text.get(at..from.start).unwrap_or_default();
            made += &new;
            at = at.max(from.end);
        }
        made + self.text.get(at..).unwrap_or_default()
    }

    /// Puts entries, each as lines of `key = value`, behind the last of their kind.
    pub fn insert(&self, kind: &str, entries: &[Vec<(&'static str, String)>]) -> Vec<Cut> {
        let inline = |fields: &Vec<(&str, String)>| {
            let fields: Vec<String> = fields.iter().map(|(k, v)| format!("{k} = {v}")).collect();
            format!("{{ {} }}", fields.join(", "))
        };
        if let Some(Item::Value(Value::Array(array))) = self.top(kind) {
            return self.append(array, &entries.iter().map(inline).collect::<Vec<_>>());
        }
        let end = self.line_end;
        let block = |fields: &Vec<(&str, String)>| {
            let lines: String = fields.iter().map(|(k, v)| format!("{end}{k} = {v}")).collect();
            format!("{end}{end}[[{kind}]]{lines}")
        };
        let last = self.entries(kind).last().and_then(|last| extent(*last));
        let at = match last {
            Some(last) => self.end_of_line(last.end),
            None => self.text.trim_end().len(),
        };
        let text: String = entries.iter().map(block).collect();
        vec![Cut::insert(at, text)]
    }

    /// Puts values behind the last of an array.
    fn append(&self, array: &Array, values: &[String]) -> Vec<Cut> {
        let list = values.join(", ");
        let Some(last) = array.iter().last().and_then(Value::span) else {
            let open = array.span().map_or(0, |span| span.start + 1);
            return vec![Cut::insert(open, list)];
        };
        let comma = self.comma_after(last.end);
        let end = self.end_of_line(comma.unwrap_or(last.end));
        let rest = self.text.get(comma.map_or(last.end, |at| at + 1)..end).unwrap_or_default();
        let own_line = self.begins_line(last.start) && is_quiet(rest);
        if own_line {
            let start = self.start_of_line(last.start);
            let indent = self.text.get(start..last.start).unwrap_or_default();
            let between = format!(",{}{indent}", self.line_end);
            let lines = format!("{}{indent}{}", self.line_end, values.join(&between));
            return match comma {
                Some(_) => vec![Cut::insert(end, lines + ",")],
                None => {
                    vec![Cut::insert(last.end, ",".to_owned()), Cut::insert(end, lines)]
                }
            };
        }
        match comma {
            Some(at) => vec![Cut::insert(at + 1, format!(" {list},"))],
            None => vec![Cut::insert(last.end, format!(", {list}"))],
        }
    }

    /// Takes an entry away, with the comment directly above it.
    pub fn remove(&self, entry: Entry<'_>) -> Vec<Cut> {
        if let Stands::Listed(array) = entry.stands {
            return self.remove_from(array, entry.index);
        }
        let Some(extent) = extent(entry) else { return Vec::new() };
        let end = self.end_of_line(extent.end);
        let mut start = self.under_comments(self.start_of_line(extent.start));
        let above = self.line_above(start);
        if let Some(blank) = above.clone().filter(|above| self.is_blank(above)) {
            start = blank.start;
        }
        let from = match self.line_above(start) {
            Some(line) => line.end..end,
            // At the very front what follows moves up.
            None => start..self.after_line(end),
        };
        vec![Cut::remove(from)]
    }

    /// Takes a value out of an array.
    pub fn remove_from(&self, array: &Array, index: usize) -> Vec<Cut> {
        let Some(own) = array.get(index).and_then(Value::span) else { return Vec::new() };
        let before = index.checked_sub(1).and_then(|index| array.get(index)?.span());
        let comma = self.comma_after(own.end);
        let mut cuts = Vec::new();
        if comma.is_none()
            && let Some(at) = before.and_then(|before| self.comma_after(before.end))
        {
            cuts.push(Cut::remove(at..at + 1));
        }
        let end = comma.map_or(own.end, |at| at + 1);
        let line = self.end_of_line(end);
        let quiet = is_quiet(self.text.get(end..line).unwrap_or_default());
        if self.begins_line(own.start) && quiet {
            let start = self.under_comments(self.start_of_line(own.start));
            let start = self.line_above(start).map_or(start, |above| above.end);
            cuts.push(Cut::remove(start..line));
            return cuts;
        }
        let spaces = |text: &str| text.len() - text.trim_start_matches([' ', '\t']).len();
        let from = if index == 0 {
            let after = self.text.get(end..).unwrap_or_default();
            own.start..end + spaces(after)
        } else {
            let front = self.text.get(..own.start).unwrap_or_default();
            front.trim_end_matches([' ', '\t']).len()..end
        };
        cuts.push(Cut::remove(from));
        cuts
    }

    /// Where a comma follows a value of an array, whatever comments stand between.
    fn comma_after(&self, mut at: usize) -> Option<usize> {
        loop {
            let rest = self.text.get(at..)?;
            let next = rest.chars().next()?;
            match next {
                ',' => return Some(at),
                '#' => at = self.end_of_line(at),
                _ if next.is_whitespace() => at += next.len_utf8(),
                _ => return None,
            }
        }
    }

    /// The end of the line that holds `at`, before what ends it.
    fn end_of_line(&self, at: usize) -> usize {
        let rest = self.text.get(at..).unwrap_or_default();
        let line = rest.split('\n').next().unwrap_or_default();
        at + line.strip_suffix('\r').unwrap_or(line).len()
    }

    /// Past what ends the line that ends at `at`.
    fn after_line(&self, at: usize) -> usize {
        let rest = self.text.get(at..).unwrap_or_default();
        let next = rest.strip_prefix("\r\n").or_else(|| rest.strip_prefix('\n')).unwrap_or(rest);
        self.text.len() - next.len()
    }

    fn start_of_line(&self, at: usize) -> usize {
        let front = self.text.get(..at).unwrap_or_default();
        front.rfind('\n').map_or(0, |end| end + 1)
    }

    /// The line above the one that starts at `start`.
    fn line_above(&self, start: usize) -> Option<Range<usize>> {
        let end = start.checked_sub(1)?;
        let front = self.start_of_line(end);
        Some(front..self.end_of_line(front))
    }

    fn is_blank(&self, line: &Range<usize>) -> bool {
        self.text.get(line.clone()).is_some_and(|line| line.trim().is_empty())
    }

    fn begins_line(&self, at: usize) -> bool {
        self.is_blank(&(self.start_of_line(at)..at))
    }

    /// The start of the first of the comment lines directly above a line.
    fn under_comments(&self, mut start: usize) -> usize {
        while let Some(above) = self.line_above(start) {
            let line = self.text.get(above.clone()).unwrap_or_default();
            if !line.trim_start().starts_with('#') {
                break;
            }
            start = above.start;
        }
        start
    }
}

impl<'d> Entry<'d> {
    pub fn name(self) -> Option<&'d str> {
        name_of(self.fields)
    }

    /// A field of it that is text.
    pub fn text(self, field: &str) -> Option<&'d str> {
        self.fields.get(field)?.as_str()
    }
}

/// From the header of an entry to the end of the last that belongs to it.
fn extent(entry: Entry<'_>) -> Option<Range<usize>> {
    let Stands::Headed(table) = entry.stands else { return None };
    let header = table.span()?;
    Some(header.start..furthest(table).max(header.end))
}

/// Whether nothing but a comment stands in the rest of a line.
fn is_quiet(rest: &str) -> bool {
    let rest = rest.trim_start();
    rest.is_empty() || rest.starts_with('#')
}

/// The end of the last value or header in a table.
fn furthest(table: &dyn TableLike) -> usize {
    let of = |item: &Item| match item {
        Item::None => 0,
        Item::Value(value) => value.span().map_or(0, |span| span.end),
        Item::Table(table) => table.span().map_or(0, |span| span.end).max(furthest(table)),
        Item::ArrayOfTables(tables) => {
            let ends = tables.iter().map(|t| t.span().map_or(0, |s| s.end).max(furthest(t)));
            ends.max().unwrap_or(0)
        }
    };
    table.iter().map(|(_, item)| of(item)).max().unwrap_or(0)
}

fn said_by(table: &dyn TableLike) -> Json {
    let of = |item: &Item| match item {
        Item::None => Json::Null,
        Item::Value(value) => said_in(value),
        Item::Table(table) => said_by(table),
        Item::ArrayOfTables(tables) => tables.iter().map(|table| said_by(table)).collect(),
    };
    let fields = table.iter().map(|(key, item)| (key.to_owned(), of(item)));
    Json::Object(fields.collect::<Map<_, _>>())
}

fn said_in(value: &Value) -> Json {
    match value {
        Value::String(text) => Json::from(text.value().as_str()),
        Value::Integer(number) => Json::from(*number.value()),
        Value::Float(number) => Json::from(number.value().to_string()),
        Value::Boolean(flag) => Json::from(*flag.value()),
        Value::Datetime(time) => Json::from(time.value().to_string()),
        Value::Array(array) => array.iter().map(said_in).collect(),
        Value::InlineTable(table) => said_by(table),
    }
}
