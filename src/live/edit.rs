//! Changes to the text of a plan that leave everything else in it as it was
//! typed, comments and order too.

mod add;
mod kinds;
mod references;
mod remove;
mod reshape;
mod source;

use perchline_units::shown;
use serde::Deserialize;
use toml_edit::{DocumentMut, Item, TableLike, Value};

pub use add::NewEntry;
pub use kinds::EntryKind;
pub(crate) use remove::rename;
pub use reshape::Corner;

use super::set::{CopyEntry, Crossed, RemoveEntry, Set, crossed};

/// A change as a page asks for it. Values are text as one types it into a
/// plan; whether they make sense is for the plan's reader to say.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
#[serde(tag = "change", rename_all = "kebab-case", deny_unknown_fields)]
pub enum Change {
    /// A site's or a post's position.
    Place {
        /// Which of the two.
        kind: PlaceKind,
        /// Its name.
        name: String,
        /// Where it goes, in any way that a plan takes.
        at: String,
    },
    /// Height of a site's antenna over its roof.
    Mast {
        /// The site.
        site: String,
        /// Such as "6 m".
        height: String,
    },
    /// A radio's transmitter output.
    Power {
        /// The radio.
        radio: String,
        /// Such as "5 W".
        power: String,
    },
    /// Where a radio is worn.
    Carry {
        /// The radio.
        radio: String,
        /// `head`, `shoulder` or `hip`.
        carry: String,
    },
    /// The propagation method.
    Method {
        /// Its name.
        method: String,
    },
    /// Fields of an entry, as a form asks for it.
    Set(Set),
    /// Another entry like one that there is.
    CopyEntry(CopyEntry),
    /// An entry that goes.
    RemoveEntry(RemoveEntry),
    /// New entries, all at once.
    Add {
        /// What they are.
        entries: Vec<NewEntry>,
    },
    /// An entry is taken away.
    Remove {
        /// Its kind.
        kind: EntryKind,
        /// Its name.
        name: String,
    },
    /// An area or a route gets other points.
    #[serde(skip)]
    Reshape {
        /// Which of the two.
        kind: EntryKind,
        /// Its name.
        name: String,
        /// Its points.
        corners: Vec<Corner>,
    },
    /// An entry gets another name, wherever the plan names it.
    Rename {
        /// Its kind.
        kind: EntryKind,
        /// Its name.
        name: String,
        /// Its new name.
        to: String,
    },
}

/// What can be moved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum PlaceKind {
    /// A candidate site.
    Site,
    /// A post.
    Post,
}

impl PlaceKind {
    /// Its table in a plan.
    #[must_use]
    pub const fn table(self) -> &'static str {
        match self {
            Self::Site => "site",
            Self::Post => "post",
        }
    }
}

/// Why a change does not fit a plan.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EditError {
    /// The text is not TOML.
    #[error("the plan is not TOML any more: {0}")]
    Toml(String),
    /// Nothing has that name.
    #[error("the plan has no {kind} \"{name}\" any more")]
    Gone {
        /// The table.
        kind: &'static str,
        /// The name that was looked for.
        name: String,
    },
    /// A table is something else.
    #[error("{0} is not a table in this plan")]
    NoTable(&'static str),
    /// A value cannot be written into a field.
    #[error("{field}: {text}")]
    Value {
        /// The table.
        table: &'static str,
        /// The entry.
        name: String,
        /// The field.
        field: String,
        /// What was found, and what is allowed.
        text: String,
    },
    /// Somebody else has changed the same fields.
    #[error("{}", crossed(_0))]
    Crossed(Vec<Crossed>),
    /// A plan has to have one of a kind, and it is the last.
    #[error(
        "{kind} \"{}\" stays: it is the only one, and a plan has one at least; add another first",
        shown(name)
    )]
    Last {
        /// What it is.
        kind: &'static str,
        /// Its name.
        name: String,
    },
    /// Something in the plan leans on it.
    #[error("{kind} \"{}\" stays: the plan names it at {by}; change that first", shown(name))]
    Needed {
        /// What it is.
        kind: &'static str,
        /// Its name.
        name: String,
        /// What names it, and in which fields.
        by: String,
    },
    /// Its tables do not stand together.
    #[error(
        "{kind} \"{}\" is written in parts that stand apart in the plan's file; change it there",
        shown(name)
    )]
    Scattered {
        /// What it is.
        kind: &'static str,
        /// Its name.
        name: String,
    },
    /// The plan has nothing to take what is missing from.
    #[error("{0}")]
    Lacks(&'static str),
    /// A name cannot stand in a text that lists several.
    #[error(
        "\"{}\" has a comma or a semicolon, and {by} lists it in users, where these stand between names; leave it out of the name",
        shown(name)
    )]
    NotInText {
        /// The name.
        name: String,
        /// What lists it.
        by: String,
    },
}

impl Change {
    /// The entry that is changed: its table and name.
    #[must_use]
    pub fn entry(&self) -> (&'static str, &str) {
        match self {
            Self::Place { kind, name, .. } => (kind.table(), name),
            Self::Mast { site, .. } => ("site", site),
            Self::Power { radio, .. } | Self::Carry { radio, .. } => ("radio", radio),
            Self::Method { .. } => ("prediction", ""),
            Self::Set(set) => (set.table.word(), &set.name),
            Self::CopyEntry(copy) => (copy.table.word(), &copy.name),
            Self::RemoveEntry(gone) => (gone.table.word(), &gone.name),
            Self::Add { entries } => {
                entries.first().map_or(("", ""), |entry| (entry.kind().table(), entry.name()))
            }
            Self::Remove { kind, name }
            | Self::Reshape { kind, name, .. }
            | Self::Rename { kind, name, .. } => (kind.table(), name),
        }
    }

    /// The entry's name before and after, where it gets another one.
    #[must_use]
    pub fn renames(&self) -> Option<(&'static str, &str, &str)> {
        match self {
            Self::Set(set) => set.renames().map(|(old, new)| (set.table.word(), old, new)),
            Self::Rename { kind, name, to } => Some((kind.table(), name.trim(), to.trim())),
            _ => None,
        }
    }

    /// The field that is changed and its new value; `None` where whole entries are.
    #[must_use]
    pub fn field(&self) -> Option<(&'static str, &str)> {
        Some(match self {
            Self::Place { at, .. } => ("at", at),
            Self::Mast { height, .. } => ("mast", height),
            Self::Power { power, .. } => ("power", power),
            Self::Carry { carry, .. } => ("carry", carry),
            Self::Method { method } => ("method", method),
            Self::Set(_)
            | Self::CopyEntry(_)
            | Self::RemoveEntry(_)
            | Self::Add { .. }
            | Self::Remove { .. }
            | Self::Reshape { .. }
            | Self::Rename { .. } => return None,
        })
    }

    /// The plan's text with this change made.
    ///
    /// # Errors
    /// [`EditError`] when the plan has nothing of that name.
    pub fn make(&self, text: &str) -> Result<String, EditError> {
        match self {
            Self::Add { entries } => add::add(text, entries).map(|(text, _)| text),
            Self::Remove { kind, name } => remove::remove(text, *kind, name),
            Self::Rename { kind, name, to } => remove::rename(text, *kind, name, to),
            Self::Reshape { kind, name, corners } => reshape::reshape(text, *kind, name, corners),
            Self::Set(set) => set.make(text),
            Self::CopyEntry(copy) => copy.make(text),
            Self::RemoveEntry(gone) => gone.make(text),
            _ => self.set(text),
        }
    }

    /// What an addition takes for fields that nobody has typed, in words.
    #[must_use]
    pub fn taken(&self, text: &str) -> Vec<String> {
        match self {
            Self::Add { entries } => add::add(text, entries).map_or_else(|_| vec![], |(_, t)| t),
            _ => Vec::new(),
        }
    }

    /// One field set, in text as the plan has it.
    fn set(&self, text: &str) -> Result<String, EditError> {
        let Some((field, new)) = self.field() else { return Ok(text.to_owned()) };
        let mut document: DocumentMut =
            text.parse().map_err(|e: toml_edit::TomlError| EditError::Toml(e.to_string()))?;
        let (kind, name) = self.entry();
        let table = match kind {
            "prediction" => document
                .entry(kind)
                .or_insert_with(toml_edit::table)
                .as_table_like_mut()
                .ok_or(EditError::NoTable(kind))?,
            _ => entry_mut(document.get_mut(kind), name)
                .ok_or_else(|| EditError::Gone { kind, name: name.to_owned() })?,
        };
        set(table, field, new);
        let changed = document.to_string();
        // A value of several lines stays the value that was asked for.
        Ok(with_line_ends(text, &changed, !new.contains('\n')))
    }
}

/// `changed` with the line ends that `text` has where the two are alike; toml_edit
/// keeps none but its own. What is new ends as on Windows too with `new_too`.
pub(super) fn with_line_ends(text: &str, changed: &str, new_too: bool) -> String {
    if !text.contains("\r\n") {
        return changed.to_owned();
    }
    let old: Vec<&str> = text.split_inclusive('\n').collect();
    let new: Vec<&str> = changed.split_inclusive('\n').collect();
    let alike = |(a, b): &(&&str, &&str)| bare(a) == bare(b);
    let first = old.iter().zip(&new).take_while(alike).count();
    let most = old.len().min(new.len()) - first;
    let last = old.iter().rev().zip(new.iter().rev()).take_while(alike).count().min(most);
    let (Some(front), Some(back)) = (old.get(..first), old.get(old.len() - last..)) else {
        return changed.to_owned();
    };
    let between = new.get(first..new.len() - last).unwrap_or_default();
    let between = between.iter().map(|line| match line.strip_suffix('\n') {
        Some(line) if new_too => format!("{}\r\n", bare(line)),
        _ => (*line).to_owned(),
    });
    front.concat() + &between.collect::<String>() + &back.concat()
}

/// A line without its end.
fn bare(line: &str) -> &str {
    let line = line.strip_suffix('\n').unwrap_or(line);
    line.strip_suffix('\r').unwrap_or(line)
}

/// A field of an entry as the plan has it, where it is text.
#[must_use]
pub fn typed(document: &DocumentMut, kind: &str, name: &str, field: &str) -> Option<String> {
    let entries = document.get(kind)?;
    let find = |table: &dyn TableLike| {
        (name_of(table) == Some(name.trim())).then(|| table.get(field)?.as_str().map(str::to_owned))
    };
    match entries {
        Item::ArrayOfTables(tables) => tables.iter().find_map(|t| find(t))?,
        Item::Value(Value::Array(array)) => {
            array.iter().filter_map(Value::as_inline_table).find_map(|t| find(t))?
        }
        _ => None,
    }
}

/// A text as a plan has it.
fn written(text: &str) -> String {
    Value::from(text).to_string()
}

fn name_of(table: &dyn TableLike) -> Option<&str> {
    table.get("name").and_then(Item::as_str).map(str::trim)
}

fn entry_mut<'a>(entries: Option<&'a mut Item>, name: &str) -> Option<&'a mut dyn TableLike> {
    match entries? {
        Item::ArrayOfTables(tables) => tables
            .iter_mut()
            .find(|table| name_of(*table) == Some(name.trim()))
            .map(|table| table as &mut dyn TableLike),
        Item::Value(Value::Array(array)) => array
            .iter_mut()
            .filter_map(Value::as_inline_table_mut)
            .find(|table| name_of(*table) == Some(name.trim()))
            .map(|table| table as &mut dyn TableLike),
        _ => None,
    }
}

/// Puts a value in the place of another, what stands around it untouched.
fn set(table: &mut dyn TableLike, field: &str, new: &str) {
    let mut value = Value::from(new);
    if let Some(old) = table.get(field).and_then(Item::as_value) {
        *value.decor_mut() = old.decor().clone();
    }
    match table.get_mut(field) {
        Some(item) => *item = Item::Value(value),
        None => {
            table.insert(field, Item::Value(value));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PLAN: &str = "\
# the evening before
[event]
name = \"Lights\" # the name

[[post]]
name = \"Aid 1\"
at = \"47.0, -34.9\"   # by the mill
weight = 2

[[post]]
name = \"Aid 2\"
at = { file = \"places.geojson\", name = \"Aid 2\" } # surveyed

[[site]] # borrowed
name = \"Car park\"
mast = \"3 m\"
";

    fn place(name: &str, at: &str) -> Change {
        Change::Place { kind: PlaceKind::Post, name: name.into(), at: at.into() }
    }

    #[test]
    fn one_value_changes_and_nothing_else() {
        let moved = place("Aid 1", "47.1, -34.8").make(PLAN).unwrap();
        assert_eq!(moved, PLAN.replace("\"47.0, -34.9\"", "\"47.1, -34.8\""));
        let moved = place("Aid 2", "47.1, -34.8").make(PLAN).unwrap();
        let table = "{ file = \"places.geojson\", name = \"Aid 2\" }";
        assert_eq!(moved, PLAN.replace(table, "\"47.1, -34.8\""));
        let mast = Change::Mast { site: "Car park".into(), height: "20 ft".into() };
        assert_eq!(mast.make(PLAN).unwrap(), PLAN.replace("3 m", "20 ft"));
    }

    #[test]
    fn what_was_not_there_is_added() {
        let method = Change::Method { method: "p1812".into() };
        let with = method.make(PLAN).unwrap();
        assert_eq!(with, format!("{PLAN}\n[prediction]\nmethod = \"p1812\"\n"));
        assert_eq!(method.make(&with).unwrap(), with);
    }

    #[test]
    fn inline_tables_and_windows_line_ends_stay() {
        let inline = "post = [{ name = \"Aid 1\", at = \"1, 2\" }] # short\r\n";
        let moved = place("Aid 1", "3, 4").make(inline).unwrap();
        assert_eq!(moved, inline.replace("1, 2", "3, 4"));
        let mixed = "# \r\n[[post]]\nname = \"Aid 1\"\r\nat = \"1, 2\"\r\nnote = '''a\nb'''\n";
        let moved = place("Aid 1", "3, 4").make(mixed).unwrap();
        assert_eq!(moved, mixed.replace("1, 2", "3, 4"));
    }

    #[test]
    fn hostile_values_stay_values() {
        let at = "\"\n[[site]]\nname = 'x'\n\u{7}";
        let moved = place("Aid 1", at).make(PLAN).unwrap();
        let document: DocumentMut = moved.parse().unwrap();
        assert_eq!(typed(&document, "post", "Aid 1", "at").as_deref(), Some(at));
        assert_eq!(document["site"].as_array_of_tables().unwrap().len(), 1);
    }

    #[test]
    fn what_is_gone_is_said() {
        let error = place("Aid 9", "1, 2").make(PLAN).unwrap_err();
        assert_eq!(error.to_string(), "the plan has no post \"Aid 9\" any more");
    }
}
