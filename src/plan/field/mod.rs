//! Fields of the plan, each declared once.
//!
//! A declaration in `typed/` says what a field is, what may be typed and what
//! stands where nothing is typed. Reading it, its part of the JSON Schema and
//! its row in the manual all follow from there.

mod check;
mod kind;
mod measure;
mod presence;
mod row;
mod table;

pub(crate) use check::FieldCheck;
pub(crate) use kind::*;
pub(crate) use measure::*;
pub(crate) use presence::*;
pub use row::{Allowed, FieldRow, Written};
pub(crate) use row::{Table, object};
pub(crate) use table::{Part, part, table};

use crate::resolve::{Check, Entry};
use schemars::SchemaGenerator;
use serde_json::{Map, Value};

/// What people are told of a field.
#[derive(Debug, Clone, Copy)]
struct About {
    name: &'static str,
    what: &'static str,
    note: &'static str,
    source: &'static str,
    examples: &'static [&'static str],
    shown: &'static str,
    allowed: &'static str,
    names: &'static [&'static str],
    others_too: bool,
}

/// A declared field: what may be typed, and what holds where nothing is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Field<K, P> {
    kind: K,
    presence: P,
    about: About,
}

/// A field that must be typed.
pub(crate) type Required<K> = Field<K, Must>;
/// A field with a default.
pub(crate) type Usual<K> = Field<K, Or<<K as Defaulted>::Given>>;
/// A field that may be left out and then says nothing.
pub(crate) type Optional<K> = Field<K, May>;
/// A field that must be typed and whose meaning depends on more than itself:
/// `resolve` reads it.
pub(crate) type Left<K> = Field<K, Unread<Must>>;
/// The same that may be left out.
pub(crate) type LeftOptional<K> = Field<K, Unread<May>>;

/// Declares a field that must be typed.
pub(crate) const fn required<K: Copy>(kind: K) -> Required<K> {
    Field::new(kind, Must)
}

/// Declares a field with its default.
pub(crate) const fn usual<K: Defaulted + Copy>(kind: K, given: K::Given) -> Usual<K> {
    Field::new(kind, Or(given))
}

/// Declares a field that may be left out; `silent` tells what holds then.
pub(crate) const fn optional<K: Copy>(kind: K, silent: &'static str) -> Optional<K> {
    Field::new(kind, May(silent))
}

/// Declares a field that must be typed and that `resolve` reads.
pub(crate) const fn left<K: Copy>(kind: K) -> Left<K> {
    Field::new(kind, Unread(Must))
}

/// Declares a field that may be left out and that `resolve` reads.
pub(crate) const fn left_optional<K: Copy>(kind: K, silent: &'static str) -> LeftOptional<K> {
    Field::new(kind, Unread(May(silent)))
}

impl<K: Copy, P: Copy> Field<K, P> {
    const fn new(kind: K, presence: P) -> Self {
        let about = About {
            name: "",
            what: "",
            note: "",
            source: "",
            examples: &[],
            shown: "",
            allowed: "",
            names: &[],
            others_too: false,
        };
        Self { kind, presence, about }
    }

    const fn with(self, about: About) -> Self {
        Self { about, ..self }
    }

    /// Its name in the file, where that is not the one in the plan that is read.
    pub(crate) const fn named(self, name: &'static str) -> Self {
        self.with(About { name, ..self.about })
    }

    /// Name and description, which the table gives.
    pub(crate) const fn called(self, name: &'static str, what: &'static str) -> Self {
        self.with(About { name, what, ..self.about })
    }

    /// What the manual says beyond the description; Markdown.
    pub(crate) const fn note(self, note: &'static str) -> Self {
        self.with(About { note, ..self.about })
    }

    /// Where the default is from.
    pub(crate) const fn source(self, source: &'static str) -> Self {
        self.with(About { source, ..self.about })
    }

    /// Values as typed, to show.
    pub(crate) const fn such_as(self, examples: &'static [&'static str]) -> Self {
        self.with(About { examples, ..self.about })
    }

    /// How the manual writes the default, in place of the value; Markdown.
    pub(crate) const fn shown(self, shown: &'static str) -> Self {
        self.with(About { shown, ..self.about })
    }

    /// What the manual says is allowed, beyond what the kind says; Markdown.
    pub(crate) const fn allowed(self, allowed: &'static str) -> Self {
        self.with(About { allowed, ..self.about })
    }

    /// Tables of which it names an entry, or entries.
    pub(crate) const fn names(self, names: &'static [&'static str]) -> Self {
        self.with(About { names, ..self.about })
    }

    /// The same where it may name something else as well.
    pub(crate) const fn names_among_others(self, names: &'static [&'static str]) -> Self {
        self.with(About { names, others_too: true, ..self.about })
    }
}

impl<K: Defaulted> Usual<K> {
    /// What holds where it is left out: its default.
    pub(crate) fn absent(&self) -> K::Value {
        self.kind.meant(self.presence.0)
    }
}

impl<K: Plain> Optional<K> {
    /// What holds where it is left out.
    pub(crate) const fn absent(&self) -> Option<K::Value> {
        None
    }
}

/// What the types of a table need to know of a field.
pub(crate) trait Declared {
    /// What the file holds.
    type Typed;
    /// What reading gives.
    type Read;

    /// Reads it; `within` is put before the field's name in problems.
    fn read(
        &self,
        check: &mut Check<'_>,
        entry: &Entry,
        within: &str,
        typed: Self::Typed,
    ) -> Self::Read;

    /// Puts it into the schema of its table.
    fn put(
        &self,
        generator: &mut SchemaGenerator,
        properties: &mut Map<String, Value>,
        required: &mut Vec<Value>,
    );

    /// Its rows in the manual: its own, and those of the table that it holds.
    fn rows(&self, within: &str) -> Vec<FieldRow>;
}

impl<K: Kind, P: Presence<K>> Declared for Field<K, P> {
    type Typed = P::Typed;
    type Read = P::Read;

    fn read(&self, check: &mut Check<'_>, entry: &Entry, within: &str, typed: P::Typed) -> P::Read {
        let field = format!("{within}{}", self.name());
        self.presence.read(&self.kind, &mut FieldCheck::new(check, entry, &field), typed)
    }

    fn put(
        &self,
        generator: &mut SchemaGenerator,
        properties: &mut Map<String, Value>,
        required: &mut Vec<Value>,
    ) {
        let mut schema = self.kind.schema(generator);
        let description = self.description();
        if !description.is_empty() {
            schema.insert("description".to_owned(), description.into());
        }
        if let Some(default) = self.presence.written(&self.kind) {
            schema.insert("default".to_owned(), default);
        }
        let examples = self.kind.examples(self.about.examples);
        if !examples.is_empty() {
            schema.insert("examples".to_owned(), examples.into());
        }
        properties.insert(self.name().to_owned(), schema.to_value());
        if P::REQUIRED {
            required.push(self.name().into());
        }
    }

    fn rows(&self, within: &str) -> Vec<FieldRow> {
        let path = format!("{within}{}", self.name());
        let row = FieldRow {
            what: self.told(),
            default: self.default(),
            allowed: self.kind.allowed(),
            allowed_words: self.allowed_words(),
            typed_default: self.presence.written(&self.kind),
            required: P::REQUIRED,
            written: self.kind.stands(),
            names: self.about.names,
            names_others: self.about.others_too,
            elsewhere: false,
            field: path.clone(),
        };
        let inner = self.kind.rows(&format!("{path}."));
        std::iter::once(row).chain(inner).collect()
    }
}
