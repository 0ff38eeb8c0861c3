//! Values of a plan's text as a person types them, by the declarations of its
//! fields: where each stands, how a form shows it, how it is written.

use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::LazyLock;

use toml_edit::{Array, Datetime, InlineTable, Item, Table, TableLike, Value};

use perchline_plan::{FieldRow, FieldTable, Written, form_tables};
use perchline_propagation::METHODS;

/// Every table of a plan with all of its fields.
static TABLES: LazyLock<Vec<FieldTable>> = LazyLock::new(|| {
    let methods: Vec<&str> = METHODS.iter().map(|method| method.name()).collect();
    form_tables(&methods)
});

/// Every table that a plan may have.
pub fn tables() -> &'static [FieldTable] {
    &TABLES
}

/// The table of this name.
#[must_use]
pub fn table(name: &str) -> Option<&'static FieldTable> {
    TABLES.iter().find(|table| table.table == name)
}

/// A step from a table to a field in it, and where that holds tables to one of
/// them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// The field's name.
    pub key: String,
    /// Which of its tables, counted from 0.
    pub index: Option<usize>,
}

/// The steps to a field such as `antenna.gain` or `band[0].from`.
#[must_use]
pub fn path(field: &str) -> Option<Vec<Step>> {
    let step = |part: &str| {
        let (key, index) = match part.split_once('[') {
            Some((key, index)) => (key, Some(index.strip_suffix(']')?.parse().ok()?)),
            None => (part, None),
        };
        (!key.is_empty()).then(|| Step { key: key.to_owned(), index })
    };
    field.split('.').map(step).collect()
}

/// The declaration of a field at the end of such steps.
#[must_use]
pub fn row(table: &'static FieldTable, path: &[Step]) -> Option<&'static FieldRow> {
    let name = path.iter().map(|step| step.key.as_str()).collect::<Vec<_>>().join(".");
    table.fields.iter().find(|row| row.field == name)
}

/// Something in a parsed plan.
#[derive(Clone, Copy)]
pub enum Node<'a> {
    /// A field's value, or a table.
    Item(&'a Item),
    /// One of several tables under headers.
    Table(&'a Table),
    /// One of the values of a list.
    Value(&'a Value),
}

impl<'a> Node<'a> {
    /// It as a table.
    #[must_use]
    pub fn table(self) -> Option<&'a dyn TableLike> {
        match self {
            Self::Item(item) => item.as_table_like(),
            Self::Table(table) => Some(table),
            Self::Value(value) => value.as_inline_table().map(|table| table as &dyn TableLike),
        }
    }

    /// It as a value.
    #[must_use]
    pub fn value(self) -> Option<&'a Value> {
        match self {
            Self::Item(item) => item.as_value(),
            Self::Table(_) => None,
            Self::Value(value) => Some(value),
        }
    }

    /// Whether it is a table inside of a line, in braces.
    #[must_use]
    pub fn is_inline(self) -> bool {
        self.value().is_some_and(Value::is_inline_table)
    }

    /// How many tables or values it holds, where it is a list.
    #[must_use]
    pub fn count(self) -> usize {
        match self {
            Self::Item(Item::ArrayOfTables(tables)) => tables.len(),
            _ => self.value().and_then(Value::as_array).map_or(0, Array::len),
        }
    }

    /// One of them.
    #[must_use]
    pub fn element(self, index: usize) -> Option<Self> {
        match self {
            Self::Item(Item::ArrayOfTables(tables)) => tables.get(index).map(Self::Table),
            _ => self.value()?.as_array()?.get(index).map(Self::Value),
        }
    }

    /// What a step leads to.
    #[must_use]
    pub fn step(self, step: &Step) -> Option<Self> {
        let field = Self::Item(self.table()?.get(&step.key)?);
        step.index.map_or(Some(field), |index| field.element(index))
    }

    /// The text in it under a name.
    #[must_use]
    pub fn text(self, key: &str) -> Option<&'a str> {
        self.table()?.get(key)?.as_str()
    }
}

/// The entries of a table, or the table itself where there is one alone.
#[must_use]
pub fn entries<'a>(root: &'a Table, table: &FieldTable) -> Vec<Node<'a>> {
    let Some(item) = root.get(table.table) else { return Vec::new() };
    let node = Node::Item(item);
    if table.many {
        (0..node.count()).filter_map(|i| node.element(i)).collect()
    } else {
        vec![node]
    }
}

/// The entry of a table with this name; a table of which there is one has none.
#[must_use]
pub fn entry<'a>(root: &'a Table, table: &FieldTable, name: &str) -> Option<Node<'a>> {
    let named = |node: &Node<'_>| {
        !table.many || node.text("name").is_some_and(|known| known.trim() == name.trim())
    };
    entries(root, table).into_iter().find(named)
}

/// Names of the entries of a table, in the order of the plan.
#[must_use]
pub fn names(root: &Table, table: &FieldTable) -> Vec<String> {
    let entries = if table.many { entries(root, table) } else { Vec::new() };
    entries.iter().filter_map(|node| node.text("name")).map(str::to_owned).collect()
}

/// What a field is shown as and typed as: a text without its quotes, a list line
/// by line, all else as it stands in `source`.
#[must_use]
pub fn shown(node: Node<'_>, source: &str) -> String {
    match (node, node.value()) {
        (_, Some(Value::String(text))) => text.value().clone(),
        (_, Some(Value::Array(items))) => {
            let items = items.iter().map(|item| shown(Node::Value(item), source));
            items.collect::<Vec<_>>().join("\n")
        }
        (_, Some(value)) => slice(source, value.span()).trim().to_owned(),
        // A named feature that has a header of its own.
        (Node::Item(Item::Table(table)), None) => {
            let fields = table.iter().filter_map(|(key, item)| {
                Some(format!("{key} = {}", slice(source, item.as_value()?.span()).trim()))
            });
            format!("{{ {} }}", fields.collect::<Vec<_>>().join(", "))
        }
        _ => String::new(),
    }
}

fn slice(source: &str, span: Option<Range<usize>>) -> &str {
    span.and_then(|span| source.get(span)).unwrap_or_default()
}

/// What an entry holds.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Held {
    /// Each field as it is typed.
    pub values: BTreeMap<String, String>,
    /// How many tables each field of such holds.
    pub counts: BTreeMap<String, usize>,
}

/// Everything that an entry of a table holds.
#[must_use]
pub fn held(table: &'static FieldTable, entry: Node<'_>, source: &str) -> Held {
    let mut held = Held::default();
    gather(table, entry, source, ("", ""), &mut held);
    held
}

/// `within` are the fields that hold the node, as declared and with their numbers.
fn gather(
    table: &'static FieldTable,
    node: Node<'_>,
    source: &str,
    within: (&str, &str),
    held: &mut Held,
) {
    let Some(fields) = node.table() else { return };
    for (key, item) in fields.iter() {
        let declared = format!("{}{key}", within.0);
        let here = format!("{}{key}", within.1);
        let Some(row) = table.fields.iter().find(|row| row.field == declared) else { continue };
        let node = Node::Item(item);
        match row.written {
            Written::Table => {
                gather(table, node, source, (&format!("{declared}."), &format!("{here}.")), held);
            }
            Written::Tables => {
                for (index, element) in
                    (0..node.count()).filter_map(|i| Some((i, node.element(i)?)))
                {
                    let inside = format!("{here}[{index}].");
                    gather(table, element, source, (&format!("{declared}."), &inside), held);
                }
                held.counts.insert(here, node.count());
            }
            _ => {
                held.values.insert(here, shown(node, source));
            }
        }
    }
}

/// A value as it is written for what was typed, with the quotes of the old one
/// where they will do; or why it cannot be written.
///
/// # Errors
/// What was found and what is allowed.
pub fn written(row: &FieldRow, typed: &str, old: Option<&str>) -> Result<String, String> {
    let text = typed.trim();
    let parsed = || text.parse::<Value>().ok();
    let refused = |wanted: &str| {
        let allowed = plain(&row.allowed_words);
        let allowed = if allowed.is_empty() { allowed } else { format!("; {allowed}") };
        Err(format!("{} is not {wanted}{allowed}", quoted(text, None)))
    };
    let or_raw = |is: fn(&Value) -> bool, otherwise: String| match parsed() {
        Some(value) if is(&value) => text.to_owned(),
        _ => otherwise,
    };
    Ok(match row.written {
        Written::Text => quoted(text, old),
        Written::Number if parsed().is_some_and(|v| v.is_float() || v.is_integer()) => {
            text.to_owned()
        }
        Written::Number => return refused("a number"),
        Written::Whole if parsed().is_some_and(|v| v.is_integer()) => text.to_owned(),
        Written::Whole => return refused("a whole number"),
        Written::Flag if matches!(text, "true" | "false") => text.to_owned(),
        Written::Flag => return Err(format!("{} is not true or false", quoted(text, None))),
        Written::Time if text.parse::<Datetime>().is_ok() => text.to_owned(),
        Written::Time => {
            return Err(format!(
                "{} is not a local date and time; write it such as 2026-12-05T17:30:00",
                quoted(text, None)
            ));
        }
        Written::List => list(text),
        Written::Place => or_raw(Value::is_inline_table, quoted(text, old)),
        Written::Shape => or_raw(Value::is_inline_table, list(text)),
        Written::People => or_raw(Value::is_integer, list(text)),
        Written::Table => or_raw(Value::is_inline_table, quoted(text, old)),
        Written::Tables => or_raw(Value::is_array, quoted(text, old)),
    })
}

/// The lines of a text without those that are empty.
pub fn lines(text: &str) -> impl Iterator<Item = &str> {
    text.lines().map(str::trim).filter(|line| !line.is_empty())
}

fn list(text: &str) -> String {
    let items: Vec<String> = lines(text).map(|line| quoted(line, None)).collect();
    format!("[{}]", items.join(", "))
}

/// A text in TOML's quotes, those of the `old` value where they will do.
#[must_use]
pub fn quoted(text: &str, old: Option<&str>) -> String {
    let single = old.is_some_and(|old| old.starts_with('\'') && !old.starts_with("'''"));
    if single && !text.chars().any(|c| c == '\'' || c.is_control()) {
        return format!("'{text}'");
    }
    let mut written = String::from("\"");
    for c in text.chars() {
        match c {
            '"' => written.push_str("\\\""),
            '\\' => written.push_str("\\\\"),
            '\n' => written.push_str("\\n"),
            '\r' => written.push_str("\\r"),
            '\t' => written.push_str("\\t"),
            c if c.is_control() => written.push_str(&format!("\\u{:04X}", u32::from(c))),
            c => written.push(c),
        }
    }
    written.push('"');
    written
}

/// What the manual says, without its Markdown: for a page, which shows text as it is.
#[must_use]
pub fn plain(markdown: &str) -> String {
    let mut text = String::new();
    let mut rest = markdown;
    while let Some((before, link)) = rest.split_once('[') {
        let parts = link.split_once(']').and_then(|(words, after)| {
            let (_, after) = after.strip_prefix('(')?.split_once(')')?;
            Some((words, after))
        });
        text.push_str(before);
        match parts {
            Some((words, after)) => {
                text.push_str(words);
                rest = after;
            }
            None => {
                text.push('[');
                rest = link;
            }
        }
    }
    text.push_str(rest);
    text.replace('`', "")
}

/// An empty table in braces.
#[must_use]
pub fn empty_table() -> Value {
    Value::InlineTable(InlineTable::new())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_lead_to_declarations() {
        let station = table("station").unwrap();
        let found = |field: &str| row(station, &path(field)?).map(|row| row.written);
        assert_eq!(found("supply.converter.output"), Some(Written::Text));
        assert_eq!(found("item[3].count"), Some(Written::Whole));
        assert_eq!(found("item[3].recharges"), Some(Written::List));
        assert_eq!(found("item"), Some(Written::Tables));
        assert_eq!(found("on"), Some(Written::Time));
        for wrong in ["", ".", "item[", "item[x].count", "nothing", "[0]"] {
            assert_eq!(found(wrong), None, "{wrong}");
        }
        // What the manual tells at the stations stands in the forms of crews too.
        let crew = table("crew").unwrap();
        assert!(row(crew, &path("currents.transmit").unwrap()).is_some());
    }

    #[test]
    fn what_the_manual_says_is_told_without_markdown() {
        let told =
            "a folder ends in a slash: `\"terrain/\"` ([terrain.md](terrain.md#a)), `[choose]`";
        assert_eq!(plain(told), "a folder ends in a slash: \"terrain/\" (terrain.md), [choose]");
        assert_eq!(plain("`[\"A\", \"B\"]` or `4`"), "[\"A\", \"B\"] or 4");
        for table in tables() {
            for row in &table.fields {
                assert!(!plain(&row.allowed_words).contains("]("), "{}", row.field);
            }
        }
    }

    #[test]
    fn values_are_written_as_declared() {
        let as_declared = |name: &str, field: &str, typed: &str| {
            let row = row(table(name).unwrap(), &path(field).unwrap()).unwrap();
            written(row, typed, None)
        };
        let good = |name, field, typed| as_declared(name, field, typed).unwrap();
        assert_eq!(good("radio", "power", " 5 W "), "\"5 W\"");
        assert_eq!(good("post", "weight", "0.5"), "0.5");
        assert_eq!(good("pack", "cells", "6"), "6");
        assert_eq!(good("post", "must", "true"), "true");
        assert_eq!(good("event", "starts", "2026-12-05T17:30:00"), "2026-12-05T17:30:00");
        assert_eq!(
            good("group", "posts", "Aid \"1\"\n\nAid 2\n"),
            "[\"Aid \\\"1\\\"\", \"Aid 2\"]"
        );
        assert_eq!(good("group", "people", "4"), "4");
        assert_eq!(good("group", "people", "4 b"), "[\"4 b\"]");
        let feature = "{ file = \"a.gpx\", name = \"Hill\" }";
        assert_eq!(good("post", "at", feature), feature);
        assert_eq!(good("route", "line", feature), feature);
        assert_eq!(good("post", "at", "{ file ="), "\"{ file =\"");
        let bad = |name, field, typed| as_declared(name, field, typed).unwrap_err();
        assert_eq!(bad("pack", "cells", "6.5"), "\"6.5\" is not a whole number; 1 to 40");
        assert_eq!(bad("post", "must", "yes"), "\"yes\" is not true or false");
        assert!(bad("post", "weight", "0,5").starts_with("\"0,5\" is not a number; "));
        assert!(bad("event", "starts", "5 pm").contains("write it such as 2026-"));
    }

    #[test]
    fn quotes_stay_as_they_were_where_they_will_do() {
        assert_eq!(quoted("a \"b\" \\", Some("'x'")), "'a \"b\" \\'");
        assert_eq!(quoted("it's", Some("'x'")), "\"it's\"");
        for text in ["\u{7}\u{7f}", "a\r\nb\t", "«Ω»", "\"\"\"", "\\u0041"] {
            let value: Value = quoted(text, None).parse().unwrap();
            assert_eq!(value.as_str(), Some(text));
        }
    }
}
