//! What people read of a field: its description and its row in the manual.

use super::{Field, Kind, Presence};
use schemars::Schema;
use serde_json::{Map, Value, json};

/// A field of the plan as the manual's tables show it.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldRow {
    /// Its name; in a table inside of a table with the outer field in front, as
    /// in `antenna.gain`.
    pub field: String,
    /// What it is; Markdown.
    pub what: String,
    /// What holds where it is left out; Markdown, empty where it must be given.
    pub default: String,
    /// What may be typed.
    pub allowed: Allowed,
    /// The same in words; Markdown.
    pub allowed_words: String,
    /// The default as it would be typed, where there is one.
    pub typed_default: Option<Value>,
    /// Whether it must be given.
    pub required: bool,
    /// How a value stands in the file.
    pub written: Written,
    /// Tables of which it names an entry, or entries; empty where it names none.
    pub names: &'static [&'static str],
    /// Whether it may name something else as well.
    pub names_others: bool,
    /// Whether the manual has it at another table.
    pub elsewhere: bool,
}

/// How a value stands in the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// Text in quotes.
    Text,
    /// A bare number.
    Number,
    /// A bare whole number.
    Whole,
    /// `true` or `false`.
    Flag,
    /// A local date and time, without quotes.
    Time,
    /// A list of texts.
    List,
    /// A position as text, or a table that names a feature of a file.
    Place,
    /// A list of positions, or a table that names a feature of a file.
    Shape,
    /// A list of names, or a whole number.
    People,
    /// A table, whose fields have its name and a dot in front.
    Table,
    /// Tables, whose fields have its name and a dot in front.
    Tables,
}

/// What may be typed into a field.
#[derive(Debug, Clone, PartialEq)]
pub enum Allowed {
    /// A number with a unit, as text.
    Quantity {
        /// The units.
        units: Vec<&'static str>,
        /// The one of them that the range is in.
        unit: &'static str,
        /// The least value.
        least: f64,
        /// The greatest.
        most: f64,
        /// Whether the least itself is refused.
        open: bool,
        /// What else is, in words; empty where nothing is.
        also: &'static str,
    },
    /// A bare number.
    Number {
        /// The least value.
        least: f64,
        /// The greatest.
        most: f64,
        /// Whether the least itself is refused.
        open: bool,
    },
    /// A whole number.
    Whole {
        /// The least value.
        least: u32,
        /// The greatest.
        most: u32,
    },
    /// One of these words.
    Words(Vec<String>),
    /// `true` or `false`.
    Flag,
    /// What the field's meaning, and other fields, allow.
    Other,
}

/// A table whose fields are declared.
pub(crate) trait Table {
    /// The rows of its fields, with `within` before their names.
    fn rows(within: &str) -> Vec<FieldRow>;
}

impl Allowed {
    /// In words, as Markdown.
    fn words(&self) -> String {
        let code = |words: &[&str], quote: &str| {
            let listed: Vec<String> =
                words.iter().map(|word| format!("`{quote}{word}{quote}`")).collect();
            listed.join(", ")
        };
        let above = |open: bool, least: f64| match open {
            true => format!("above {least}, up to"),
            false => format!("{least} to"),
        };
        match self {
            Self::Quantity { units, unit, least, most, open, also } => {
                let mut range = format!("{} {most} {unit}", above(*open, *least));
                if !also.is_empty() {
                    range = format!("{range}, {also}");
                }
                let units = if units.len() > 1 { code(units, "") } else { String::new() };
                join(&range, &units)
            }
            Self::Number { least, most, open } => format!("{} {most}", above(*open, *least)),
            Self::Whole { least, most } => format!("{least} to {most}"),
            Self::Words(words) => code(&words.iter().map(String::as_str).collect::<Vec<_>>(), "\""),
            Self::Flag => code(&["true", "false"], ""),
            Self::Other => String::new(),
        }
    }
}

impl<K: Kind, P: Presence<K>> Field<K, P> {
    /// Its name in the file.
    pub(super) fn name(&self) -> &'static str {
        self.about.name.strip_prefix("r#").unwrap_or(self.about.name)
    }

    /// What it is, in one line.
    fn what(&self) -> String {
        self.about.what.split_whitespace().collect::<Vec<_>>().join(" ")
    }

    /// For an editor: what it is, and what holds where it is left out.
    pub(super) fn description(&self) -> String {
        let (what, silent) = (self.what(), self.presence.silent());
        let silent = match self.presence.written(&self.kind) {
            Some(Value::String(text)) => text,
            Some(value) => value.to_string(),
            None => silent.to_owned(),
        };
        match what.strip_suffix('.') {
            Some(said) if !silent.is_empty() => {
                format!("{said}; {} if absent.", silent.replace('`', ""))
            }
            _ => what,
        }
    }

    /// For the manual: what it is, with the note.
    pub(super) fn told(&self) -> String {
        let what = self.what();
        let what = what.strip_suffix('.').unwrap_or(&what);
        let mut letters = what.chars();
        // An abbreviation keeps its capitals.
        let told = match (letters.next(), letters.next()) {
            (Some(first), Some(second)) if !second.is_uppercase() => {
                format!("{}{second}{}", first.to_lowercase(), letters.as_str())
            }
            _ => what.to_owned(),
        };
        join(&told, self.about.note)
    }

    /// For the manual: what holds where it is left out.
    pub(super) fn default(&self) -> String {
        let default = match self.presence.written(&self.kind) {
            _ if !self.about.shown.is_empty() => self.about.shown.to_owned(),
            Some(Value::Number(number)) => number.as_f64().unwrap_or_default().to_string(),
            Some(value) => format!("`{value}`"),
            None => self.presence.silent().to_owned(),
        };
        match self.about.source {
            "" => default,
            source => format!("{default} ({source})"),
        }
    }

    /// For the manual: what may be typed.
    pub(super) fn allowed_words(&self) -> String {
        let words = join(&self.kind.allowed().words(), self.about.allowed);
        if words.is_empty() && !self.about.examples.is_empty() {
            let examples = self.kind.examples(self.about.examples);
            let listed: Vec<String> =
                examples.iter().map(|value| format!("`{}`", self.kind.shown(value))).collect();
            return format!("such as {}", listed.join(", "));
        }
        words
    }
}

/// Two parts of a cell, either of which may be empty.
fn join(first: &str, second: &str) -> String {
    match (first, second) {
        ("", only) | (only, "") => only.to_owned(),
        (first, second) => format!("{first}; {second}"),
    }
}

/// The schema of a table.
pub(crate) fn object(
    about: &str,
    properties: Map<String, Value>,
    required: Vec<Value>,
    either: &[&[&str]],
) -> Schema {
    let about: Vec<&str> = about.split_whitespace().collect();
    let mut schema = Schema::default();
    schema.insert("type".to_owned(), "object".into());
    schema.insert("description".to_owned(), about.join(" ").into());
    schema.insert("properties".to_owned(), properties.into());
    if !required.is_empty() {
        schema.insert("required".to_owned(), required.into());
    }
    schema.insert("additionalProperties".to_owned(), false.into());
    if !either.is_empty() {
        let either: Vec<Value> =
            either.iter().map(|fields| json!({ "required": fields })).collect();
        schema.insert("oneOf".to_owned(), either.into());
    }
    schema
}
