//! Kinds of field: what may be typed into one and what it means.

use super::{Allowed, FieldRow, Table};
use crate::resolve::{Check, Entry};
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
    /// How a declaration states a default.
    type Given: Copy;
    /// What it means.
    type Value;

    /// What was typed means; nothing together with a problem.
    fn read(
        &self,
        check: &mut Check<'_>,
        entry: &Entry,
        field: &str,
        typed: &Self::Typed,
    ) -> Option<Self::Value>;

    /// What a default means.
    fn meant(&self, given: Self::Given) -> Self::Value;

    /// A default as it would be typed.
    fn written(&self, given: Self::Given) -> Value;
}

/// Units, each with its value in the unit of the field's range.
pub(crate) type Units = &'static [(&'static str, fn(f64) -> f64)];

/// Says what is wrong with a value outside its range: what was typed, in quotes,
/// its value in the unit of the range, least and most.
pub(crate) type Refusal = fn(&str, f64, f64, f64) -> String;

/// A number with its unit, as text.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Measure<T> {
    units: Units,
    unit: &'static str,
    least: f64,
    most: f64,
    open: bool,
    make: fn(f64) -> T,
    refusal: Option<Refusal>,
}

/// A number with one of `units`, from `least` to `most` of the first of them, of
/// which `make` makes what it means.
pub(crate) const fn measure<T>(
    units: Units,
    least: f64,
    most: f64,
    make: fn(f64) -> T,
) -> Measure<T> {
    let unit = match units {
        [(unit, _), ..] => unit,
        [] => "",
    };
    Measure { units, unit, least, most, open: false, make, refusal: None }
}

impl<T: Copy> Measure<T> {
    /// The range is in this unit, not in the first.
    pub(crate) const fn in_unit(self, unit: &'static str) -> Self {
        Self { unit, ..self }
    }

    /// The least value itself is refused.
    pub(crate) const fn above_least(self) -> Self {
        Self { open: true, ..self }
    }

    /// Values outside are refused in these words.
    pub(crate) const fn refused(self, refusal: Refusal) -> Self {
        Self { refusal: Some(refusal), ..self }
    }
}

impl<T> Measure<T> {
    fn names(&self) -> Vec<&'static str> {
        self.units.iter().map(|(name, _)| *name).collect()
    }

    fn holds(&self, value: f64) -> bool {
        (self.least..=self.most).contains(&value) && !(self.open && value <= self.least)
    }
}

impl<T> Kind for Measure<T> {
    type Typed = Quantity;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        quantity(&self.names())
    }

    fn allowed(&self) -> Allowed {
        let (least, most, open) = (self.least, self.most, self.open);
        Allowed::Quantity { units: self.names(), unit: self.unit, least, most, open }
    }
}

impl<T> Plain for Measure<T> {
    type Given = f64;
    type Value = T;

    fn read(
        &self,
        check: &mut Check<'_>,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<T> {
        let names = self.names();
        let (number, unit) = check.number(entry, field, typed, &names)?;
        let (_, convert) = self.units.get(unit)?;
        let value = convert(number);
        if self.holds(value) {
            return Some((self.make)(value));
        }
        let typed = crate::resolve::as_typed(typed);
        let (least, most) = (self.least, self.most);
        let text = match self.refusal {
            Some(refusal) => refusal(&typed, value, least, most),
            None => {
                format!("{typed} is out of range; {least} to {most} {} is allowed", self.unit)
            }
        };
        check.problem(entry, field, text);
        None
    }

    fn meant(&self, given: f64) -> T {
        (self.make)(given)
    }

    fn written(&self, given: f64) -> Value {
        format!("{given} {}", self.unit).into()
    }
}

/// A bare number, which has no unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Number<T> {
    least: f64,
    most: f64,
    open: bool,
    make: fn(f64) -> T,
    refusal: Option<Refusal>,
}

/// A bare number from `least` to `most`.
pub(crate) const fn number<T>(least: f64, most: f64, make: fn(f64) -> T) -> Number<T> {
    Number { least, most, open: false, make, refusal: None }
}

impl<T: Copy> Number<T> {
    /// The least value itself is refused.
    pub(crate) const fn above_least(self) -> Self {
        Self { open: true, ..self }
    }

    /// Values outside are refused in these words.
    pub(crate) const fn refused(self, refusal: Refusal) -> Self {
        Self { refusal: Some(refusal), ..self }
    }
}

impl<T> Kind for Number<T> {
    type Typed = f64;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        let least = if self.open { "exclusiveMinimum" } else { "minimum" };
        json_schema!({ "type": "number", least: self.least, "maximum": self.most })
    }

    fn allowed(&self) -> Allowed {
        Allowed::Number { least: self.least, most: self.most, open: self.open }
    }
}

impl<T> Plain for Number<T> {
    type Given = f64;
    type Value = T;

    fn read(&self, check: &mut Check<'_>, entry: &Entry, field: &str, typed: &f64) -> Option<T> {
        let (value, least, most) = (*typed, self.least, self.most);
        if (least..=most).contains(&value) && !(self.open && value <= least) {
            return Some((self.make)(value));
        }
        let text = match self.refusal {
            Some(refusal) => refusal(&value.to_string(), value, least, most),
            None => format!("{value} is out of range; {least} to {most} is allowed"),
        };
        check.problem(entry, field, text);
        None
    }

    fn meant(&self, given: f64) -> T {
        (self.make)(given)
    }

    fn written(&self, given: f64) -> Value {
        given.into()
    }
}

/// A whole number.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Whole<T> {
    least: u32,
    most: u32,
    make: fn(u32) -> T,
}

/// A whole number from `least` to `most`.
pub(crate) const fn whole(least: u32, most: u32) -> Whole<u32> {
    Whole { least, most, make: |value| value }
}

/// The same that counts things in memory.
pub(crate) const fn count(least: u32, most: u32) -> Whole<usize> {
    Whole { least, most, make: |value| value as usize }
}

impl<T> Kind for Whole<T> {
    type Typed = i64;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "integer", "format": "int64", "minimum": self.least, "maximum": self.most,
        })
    }

    fn allowed(&self) -> Allowed {
        Allowed::Whole { least: self.least, most: self.most }
    }
}

impl<T> Plain for Whole<T> {
    type Given = u32;
    type Value = T;

    fn read(&self, check: &mut Check<'_>, entry: &Entry, field: &str, typed: &i64) -> Option<T> {
        let range = self.least..=self.most;
        if let Some(value) = u32::try_from(*typed).ok().filter(|value| range.contains(value)) {
            return Some((self.make)(value));
        }
        let text = format!("{typed} is out of range; {} to {} is allowed", self.least, self.most);
        check.problem(entry, field, text);
        None
    }

    fn meant(&self, given: u32) -> T {
        (self.make)(given)
    }

    fn written(&self, given: u32) -> Value {
        given.into()
    }
}

/// `true` or `false`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Flag;

impl Kind for Flag {
    type Typed = bool;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "boolean" })
    }

    fn allowed(&self) -> Allowed {
        Allowed::Flag
    }
}

impl Plain for Flag {
    type Given = bool;
    type Value = bool;

    fn read(&self, _: &mut Check<'_>, _: &Entry, _: &str, typed: &bool) -> Option<bool> {
        Some(*typed)
    }

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

impl<T: Copy + PartialEq> Plain for Choice<T> {
    type Given = T;
    type Value = T;

    fn read(&self, check: &mut Check<'_>, entry: &Entry, field: &str, typed: &String) -> Option<T> {
        check.word(entry, field, typed, self.0)
    }

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

impl<T: Copy + PartialEq> Plain for Steps<T> {
    type Given = T;
    type Value = T;

    fn read(
        &self,
        check: &mut Check<'_>,
        entry: &Entry,
        field: &str,
        typed: &Quantity,
    ) -> Option<T> {
        let (Quantity::Text(text) | Quantity::Bare(text)) = typed;
        let number = |text: &str| text.trim().parse::<f64>().ok();
        let step = self.0.iter().find(|(step, _)| number(step) == number(text));
        check.word(entry, field, step.map_or(text.as_str(), |(step, _)| *step), self.0)
    }

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
    type Given = &'static str;
    type Value = String;

    fn read(
        &self,
        check: &mut Check<'_>,
        entry: &Entry,
        field: &str,
        typed: &String,
    ) -> Option<String> {
        check.name(entry, field, typed);
        Some(typed.clone())
    }

    fn meant(&self, given: &'static str) -> String {
        given.to_owned()
    }

    fn written(&self, given: &'static str) -> Value {
        given.into()
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
    type Given = &'static str;
    type Value = String;

    fn read(&self, _: &mut Check<'_>, _: &Entry, _: &str, typed: &String) -> Option<String> {
        Some(typed.clone())
    }

    fn meant(&self, given: &'static str) -> String {
        given.to_owned()
    }

    fn written(&self, given: &'static str) -> Value {
        given.into()
    }
}

/// Text that agrees with a pattern, which `resolve` reads.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Matching(pub(crate) &'static str);

impl Kind for Matching {
    type Typed = String;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string", "pattern": self.0 })
    }
}

/// A quantity of a form that `resolve` reads: this holds what an editor
/// can check of it.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Form {
    /// A number with one of these units.
    Units(&'static [&'static str]),
    /// Text that agrees with this pattern.
    Pattern(&'static str),
}

impl Kind for Form {
    type Typed = Quantity;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        match self {
            Self::Units(units) => quantity(units),
            Self::Pattern(pattern) => json_schema!({ "type": "string", "pattern": pattern }),
        }
    }
}

/// Anything else: what its type says.
#[derive(Debug)]
pub(crate) struct Of<T> {
    rows: fn(&str) -> Vec<FieldRow>,
    typed: PhantomData<fn() -> T>,
}

impl<T> Clone for Of<T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Of<T> {}

/// A value of this type.
pub(crate) const fn of<T>() -> Of<T> {
    Of { rows: |_| Vec::new(), typed: PhantomData }
}

/// A table inside of the table.
pub(crate) const fn inner<T: Table>() -> Of<T> {
    Of { rows: T::rows, typed: PhantomData }
}

/// Tables inside of the table.
pub(crate) const fn inner_list<T: Table>() -> Of<Vec<T>> {
    Of { rows: T::rows, typed: PhantomData }
}

impl<T: DeserializeOwned + JsonSchema> Kind for Of<T> {
    type Typed = T;

    fn schema(&self, generator: &mut SchemaGenerator) -> Schema {
        generator.subschema_for::<T>()
    }

    fn rows(&self, within: &str) -> Vec<FieldRow> {
        (self.rows)(within)
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

    fn shown(&self, value: &Value) -> String {
        value.as_str().unwrap_or_default().to_owned()
    }
}

/// The schema of a number that is followed by one of these units, whose letter
/// case does not count.
fn quantity(units: &[&str]) -> Schema {
    let any_case = |unit: &&str| {
        let letters = unit.chars().map(|c| match c {
            'u' => "[uUµμ]".to_owned(),
            c if c.is_ascii_alphabetic() => {
                format!("[{}{}]", c.to_ascii_uppercase(), c.to_ascii_lowercase())
            }
            c => c.to_string(),
        });
        letters.collect::<String>()
    };
    let units: Vec<String> = units.iter().map(any_case).collect();
    let pattern = format!(
        r"^\s*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?\s*({})\s*$",
        units.join("|")
    );
    json_schema!({ "type": "string", "pattern": pattern })
}
