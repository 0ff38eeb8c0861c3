//! Kinds of field: what may be typed into one and what it means.

use super::{Allowed, FieldCheck, FieldRow, Part, Table, Written};
use crate::typed::Quantity;
use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::DeserializeOwned;
use serde_json::Value;
use std::marker::PhantomData;

/// What may be typed into a field.
pub(crate) trait Kind {
    /// What the file holds.
    type Typed: DeserializeOwned;

    /// The part of the schema that says so.
    fn schema(&self, generator: &mut SchemaGenerator) -> Schema;

    /// How a value stands in the file.
    fn stands(&self) -> Written {
        Written::Text
    }

    /// The same for the manual.
    fn allowed(&self) -> Allowed {
        Allowed::Other
    }

    /// Values to show, of the texts of the declaration.
    fn examples(&self, texts: &[&str]) -> Vec<Value> {
        texts.iter().map(|text| Value::from(*text)).collect()
    }

    /// Such a value as it is typed.
    fn shown(&self, value: &Value) -> String {
        value.to_string()
    }

    /// Rows of the table that it holds, with `within` before their names.
    fn rows(&self, _within: &str) -> Vec<FieldRow> {
        Vec::new()
    }
}

/// A kind whose meaning depends on nothing else in the plan.
pub(crate) trait Plain: Kind {
    /// What it means.
    type Value;

    /// What was typed means; nothing together with a problem.
    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Self::Typed) -> Option<Self::Value>;
}

/// A kind that may have a default.
pub(crate) trait Defaulted: Plain {
    /// How a declaration states it.
    type Given: Copy;

    /// What it means.
    fn meant(&self, given: Self::Given) -> Self::Value;

    /// It as it would be typed.
    fn written(&self, given: Self::Given) -> Value;
}

/// `true` or `false`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flag;

impl Kind for Flag {
    type Typed = bool;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "boolean" })
    }

    fn stands(&self) -> Written {
        Written::Flag
    }

    fn allowed(&self) -> Allowed {
        Allowed::Flag
    }
}

impl Plain for Flag {
    type Value = bool;

    fn read(&self, _: &mut FieldCheck<'_, '_>, typed: bool) -> Option<bool> {
        Some(typed)
    }
}

impl Defaulted for Flag {
    type Given = bool;

    fn meant(&self, given: bool) -> bool {
        given
    }

    fn written(&self, given: bool) -> Value {
        given.into()
    }
}

/// One of a few words, each with its meaning.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Choice<T: 'static>(pub(crate) &'static [(&'static str, T)]);

impl<T: Copy> Choice<T> {
    fn names(&self) -> Vec<&'static str> {
        self.0.iter().map(|(word, _)| *word).collect()
    }
}

impl<T: Copy> Kind for Choice<T> {
    type Typed = String;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "enum": self.names() })
    }

    fn allowed(&self) -> Allowed {
        Allowed::Words(self.names().into_iter().map(str::to_owned).collect())
    }
}

impl<T: Copy> Plain for Choice<T> {
    type Value = T;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: String) -> Option<T> {
        check.word(&typed, self.0)
    }
}

impl<T: Copy + PartialEq> Defaulted for Choice<T> {
    type Given = T;

    fn meant(&self, given: T) -> T {
        given
    }

    fn written(&self, given: T) -> Value {
        self.0.iter().find(|(_, meaning)| *meaning == given).map_or("", |(word, _)| *word).into()
    }
}

/// One of a few numbers that stand for something, such as steps of a scale:
/// typed as text or bare, `3` and `3.0` alike.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Steps<T: 'static>(pub(crate) &'static [(&'static str, T)]);

impl<T: Copy> Kind for Steps<T> {
    type Typed = Quantity;

    fn schema(&self, generator: &mut SchemaGenerator) -> Schema {
        Choice(self.0).schema(generator)
    }

    fn allowed(&self) -> Allowed {
        Choice(self.0).allowed()
    }
}

impl<T: Copy> Plain for Steps<T> {
    type Value = T;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Quantity) -> Option<T> {
        let (Quantity::Text(text) | Quantity::Bare(text)) = &typed;
        let number = |text: &str| text.trim().parse::<f64>().ok();
        let step = self.0.iter().find(|(step, _)| number(step) == number(text));
        check.word(step.map_or(text.as_str(), |(step, _)| *step), self.0)
    }
}

impl<T: Copy + PartialEq> Defaulted for Steps<T> {
    type Given = T;

    fn meant(&self, given: T) -> T {
        given
    }

    fn written(&self, given: T) -> Value {
        Choice(self.0).written(given)
    }
}

/// A name: 1 to 80 characters, none of them a control character.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Label;

impl Kind for Label {
    type Typed = String;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string", "minLength": 1, "maxLength": crate::resolve::LONGEST_NAME,
        })
    }
}

impl Plain for Label {
    type Value = String;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: String) -> Option<String> {
        check.name(&typed);
        Some(typed)
    }
}

/// The name of an entry. `resolve` checks these together, for none may occur twice.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Name;

impl Kind for Name {
    type Typed = String;

    fn schema(&self, generator: &mut SchemaGenerator) -> Schema {
        Label.schema(generator)
    }
}

impl Plain for Name {
    type Value = String;

    fn read(&self, _: &mut FieldCheck<'_, '_>, typed: String) -> Option<String> {
        Some(typed)
    }
}

/// Any text.
#[derive(Debug, Clone, Copy)]
pub(crate) struct AnyText;

impl Kind for AnyText {
    type Typed = String;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string" })
    }
}

impl Plain for AnyText {
    type Value = String;

    fn read(&self, _: &mut FieldCheck<'_, '_>, typed: String) -> Option<String> {
        Some(typed)
    }
}

/// What a value of this type holds; `resolve` reads it, or it is a [`Part`].
#[derive(Debug)]
pub(crate) struct Of<T> {
    rows: fn(&str) -> Vec<FieldRow>,
    written: Written,
    elsewhere: bool,
    typed: PhantomData<fn() -> T>,
}

impl<T> Clone for Of<T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Of<T> {}

/// A value of this type, which stands like this.
pub(crate) const fn of<T>(written: Written) -> Of<T> {
    Of { rows: |_| Vec::new(), written, elsewhere: false, typed: PhantomData }
}

/// A table inside of the table.
pub(crate) const fn inner<T: Table>() -> Of<T> {
    Of { rows: T::rows, written: Written::Table, elsewhere: false, typed: PhantomData }
}

/// The same whose fields the manual has elsewhere.
pub(crate) const fn inner_as_elsewhere<T: Table>() -> Of<T> {
    Of { elsewhere: true, ..inner() }
}

/// Tables inside of the table.
pub(crate) const fn inner_list<T: Table>() -> Of<Vec<T>> {
    Of { rows: T::rows, written: Written::Tables, elsewhere: false, typed: PhantomData }
}

impl<T: DeserializeOwned + JsonSchema> Kind for Of<T> {
    type Typed = T;

    fn schema(&self, generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<T>()
    }

    fn stands(&self) -> Written {
        self.written
    }

    fn rows(&self, within: &str) -> Vec<FieldRow> {
        let mut rows = (self.rows)(within);
        rows.iter_mut().for_each(|row| row.elsewhere |= self.elsewhere);
        rows
    }
}

impl<T: DeserializeOwned + JsonSchema + Part> Plain for Of<T> {
    type Value = T::Part;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: T) -> Option<T::Part> {
        check.part(typed)
    }
}

/// A list.
#[derive(Debug)]
pub(crate) struct List<T> {
    most: Option<usize>,
    typed: PhantomData<fn() -> T>,
}

impl<T> Clone for List<T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for List<T> {}

/// A list with one entry or more, and this many at most.
pub(crate) const fn list<T>(most: Option<usize>) -> List<T> {
    List { most, typed: PhantomData }
}

impl<T: DeserializeOwned + JsonSchema> Kind for List<T> {
    type Typed = Vec<T>;

    fn schema(&self, generator: &mut SchemaGenerator) -> Schema {
        let items = generator.subschema_for::<T>();
        let mut schema = json_schema!({ "type": "array", "items": items, "minItems": 1 });
        if let Some(most) = self.most {
            schema.insert("maxItems".to_owned(), most.into());
        }
        schema
    }

    fn stands(&self) -> Written {
        Written::List
    }

    fn examples(&self, texts: &[&str]) -> Vec<Value> {
        if texts.is_empty() { Vec::new() } else { vec![texts.into()] }
    }

    fn shown(&self, value: &Value) -> String {
        let items: Vec<String> =
            value.as_array().into_iter().flatten().map(Value::to_string).collect();
        format!("[{}]", items.join(", "))
    }
}

/// A local date and time.
#[derive(Debug, Clone, Copy)]
pub(crate) struct LocalTime;

impl Kind for LocalTime {
    type Typed = toml::value::Datetime;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "pattern": r"^\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?$",
        })
    }

    fn stands(&self) -> Written {
        Written::Time
    }

    fn shown(&self, value: &Value) -> String {
        value.as_str().unwrap_or_default().to_owned()
    }
}
