//! Numbers, with a unit or without, and their ranges.

use super::{Allowed, Defaulted, FieldCheck, Kind, Plain, Written};
use crate::typed::Quantity;
use schemars::{Schema, SchemaGenerator, json_schema};
use serde_json::Value;

/// Units, each with its value in the unit of the field's range.
pub(crate) type Units = &'static [(&'static str, fn(f64) -> f64)];

/// Says what is wrong with a value outside its range: what was typed, in quotes if
/// it has a unit, its value in the unit of the range, least and most.
pub(crate) type Refusal = fn(&str, f64, f64, f64) -> String;

/// What a number may be.
#[derive(Debug, Clone, Copy)]
struct Range {
    least: f64,
    most: f64,
    /// Whether the least value itself is refused.
    open: bool,
    refusal: Option<Refusal>,
}

impl Range {
    const fn new(least: f64, most: f64) -> Self {
        Self { least, most, open: false, refusal: None }
    }

    /// What is wrong with a value, if something is; `after` the range stands its unit.
    fn refuses(&self, typed: &str, value: f64, after: &str) -> Option<String> {
        let Self { least, most, open, refusal } = *self;
        if (least..=most).contains(&value) && !(open && value <= least) {
            return None;
        }
        Some(match refusal {
            Some(refusal) => refusal(typed, value, least, most),
            None => format!("{typed} is out of range; {least} to {most}{after} is allowed"),
        })
    }
}

/// A number with its unit, as text.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Measure<T> {
    units: Units,
    unit: &'static str,
    range: Range,
    also: &'static str,
    /// What to write where there is nothing to measure.
    for_none: Option<&'static str>,
    make: fn(f64) -> T,
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
    Measure { units, unit, range: Range::new(least, most), also: "", for_none: None, make }
}

impl<T: Copy> Measure<T> {
    /// The range is in this unit, not in the first.
    pub(crate) const fn in_unit(self, unit: &'static str) -> Self {
        Self { unit, ..self }
    }

    /// The least value itself is refused.
    pub(crate) const fn above_least(self) -> Self {
        Self { range: Range { open: true, ..self.range }, ..self }
    }

    /// Values outside are refused in these words.
    pub(crate) const fn refused(self, refusal: Refusal) -> Self {
        Self { range: Range { refusal: Some(refusal), ..self.range }, ..self }
    }

    /// Whoever types "none" is told this.
    pub(crate) const fn for_none(self, told: &'static str) -> Self {
        Self { for_none: Some(told), ..self }
    }

    /// The manual says this after the range: that of another unit, say.
    pub(crate) const fn also(self, also: &'static str) -> Self {
        Self { also, ..self }
    }
}

impl<T> Measure<T> {
    fn names(&self) -> Vec<&'static str> {
        self.units.iter().map(|(name, _)| *name).collect()
    }

    /// What `number` means, where it stands for what was `typed`, and its unit.
    pub(crate) fn read_as(
        &self,
        check: &mut FieldCheck<'_, '_>,
        number: &Quantity,
        typed: &Quantity,
    ) -> Option<(T, &'static str)> {
        if let Some(told) = self.for_none.filter(|_| typed.quoted() == "\"none\"") {
            check.problem(format!("{} is no distance; {told}", typed.quoted()));
            return None;
        }
        let (number, unit) = check.number(number, &self.names())?;
        let (unit, convert) = self.units.get(unit)?;
        let value = convert(number);
        match self.range.refuses(&typed.quoted(), value, &format!(" {}", self.unit)) {
            Some(text) => {
                check.problem(text);
                None
            }
            None => Some(((self.make)(value), unit)),
        }
    }
}

impl<T> Kind for Measure<T> {
    type Typed = Quantity;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        quantity(&self.names())
    }

    fn allowed(&self) -> Allowed {
        let (units, unit, also) = (self.names(), self.unit, self.also);
        let Range { least, most, open, .. } = self.range;
        Allowed::Quantity { units, unit, least, most, open, also }
    }
}

impl<T> Plain for Measure<T> {
    type Value = T;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Quantity) -> Option<T> {
        self.read_as(check, &typed, &typed).map(|(value, _)| value)
    }
}

impl<T> Defaulted for Measure<T> {
    type Given = f64;

    fn meant(&self, given: f64) -> T {
        (self.make)(given)
    }

    fn written(&self, given: f64) -> Value {
        format!("{given} {}", self.unit).into()
    }
}

/// A number with its unit whose greatest value another field decides as well:
/// `resolve` checks that, and tells of it what was typed.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Tied<T>(pub(crate) Measure<T>);

/// A value with what was typed.
#[derive(Debug, Clone)]
pub(crate) struct AsTyped<T> {
    /// What it means.
    pub(crate) value: T,
    /// What was typed, in quotes.
    pub(crate) quoted: String,
    /// The unit that was typed.
    pub(crate) unit: &'static str,
}

impl<T> Kind for Tied<T> {
    type Typed = Quantity;

    fn schema(&self, generator: &mut SchemaGenerator) -> Schema {
        self.0.schema(generator)
    }
}

impl<T> Plain for Tied<T> {
    type Value = AsTyped<T>;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Quantity) -> Option<AsTyped<T>> {
        let (value, unit) = self.0.read_as(check, &typed, &typed)?;
        Some(AsTyped { value, quoted: typed.quoted(), unit })
    }
}

/// One of a few numbers with this unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sizes<T: 'static> {
    /// What it is a size of, for its problem.
    pub(crate) what: &'static str,
    pub(crate) unit: &'static str,
    pub(crate) sizes: &'static [(f64, T)],
}

impl<T> Sizes<T> {
    fn words(&self) -> Vec<String> {
        self.sizes.iter().map(|(size, _)| format!("{size} {}", self.unit)).collect()
    }
}

impl<T> Kind for Sizes<T> {
    type Typed = Quantity;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        quantity(&[self.unit])
    }

    fn allowed(&self) -> Allowed {
        Allowed::Words(self.words())
    }
}

impl<T: Copy> Plain for Sizes<T> {
    type Value = T;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Quantity) -> Option<T> {
        let (value, _) = check.number(&typed, &[self.unit])?;
        let found = self.sizes.iter().find(|(size, _)| (size - value).abs() < 1e-9);
        if found.is_none() {
            let words = self.words().join("\" or \"");
            let text = format!(
                "{value} {} is not a {} that is known; write \"{words}\"",
                self.unit, self.what
            );
            check.problem(text);
        }
        found.map(|(_, meaning)| *meaning)
    }
}

/// A bare number, which has no unit.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Number<T> {
    range: Range,
    make: fn(f64) -> T,
}

/// A bare number from `least` to `most`.
pub(crate) const fn number<T>(least: f64, most: f64, make: fn(f64) -> T) -> Number<T> {
    Number { range: Range::new(least, most), make }
}

impl<T: Copy> Number<T> {
    /// The least value itself is refused.
    pub(crate) const fn above_least(self) -> Self {
        Self { range: Range { open: true, ..self.range }, ..self }
    }

    /// Values outside are refused in these words.
    pub(crate) const fn refused(self, refusal: Refusal) -> Self {
        Self { range: Range { refusal: Some(refusal), ..self.range }, ..self }
    }
}

impl<T> Kind for Number<T> {
    type Typed = f64;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        let Range { least, most, open, .. } = self.range;
        let from = if open { "exclusiveMinimum" } else { "minimum" };
        json_schema!({ "type": "number", from: least, "maximum": most })
    }

    fn stands(&self) -> Written {
        Written::Number
    }

    fn allowed(&self) -> Allowed {
        let Range { least, most, open, .. } = self.range;
        Allowed::Number { least, most, open }
    }
}

impl<T> Plain for Number<T> {
    type Value = T;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: f64) -> Option<T> {
        match self.range.refuses(&typed.to_string(), typed, "") {
            Some(text) => {
                check.problem(text);
                None
            }
            None => Some((self.make)(typed)),
        }
    }
}

impl<T> Defaulted for Number<T> {
    type Given = f64;

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

    fn stands(&self) -> Written {
        Written::Whole
    }

    fn allowed(&self) -> Allowed {
        Allowed::Whole { least: self.least, most: self.most }
    }
}

impl<T> Plain for Whole<T> {
    type Value = T;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: i64) -> Option<T> {
        let range = self.least..=self.most;
        if let Some(value) = u32::try_from(typed).ok().filter(|value| range.contains(value)) {
            return Some((self.make)(value));
        }
        let text = format!("{typed} is out of range; {} to {} is allowed", self.least, self.most);
        check.problem(text);
        None
    }
}

impl<T> Defaulted for Whole<T> {
    type Given = u32;

    fn meant(&self, given: u32) -> T {
        (self.make)(given)
    }

    fn written(&self, given: u32) -> Value {
        given.into()
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
