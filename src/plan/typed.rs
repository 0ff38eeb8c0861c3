//! The plan as a person types it, before anything is checked.
//!
//! Each table declares its fields: what is written there is what is read, what
//! an editor shows and what the manual's tables say.

mod choosing;
mod contacts;
mod events;
mod groups;
mod measures;
mod places;
mod power;
mod predictions;
mod radios;
mod spots;
mod surroundings;
mod trackers;

pub use choosing::*;
pub use contacts::*;
pub use events::*;
pub use groups::*;
pub(super) use measures::TEMPERATURE;
pub use places::*;
pub use power::*;
pub use predictions::*;
pub use radios::*;
pub use spots::*;
pub use surroundings::*;
pub use trackers::*;

use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserialize, Deserializer, Error, Visitor};
use serde_json::json;

use crate::field::{FieldRow, Table};
use crate::resolve::quoted;

/// A plan for the radio side of an event.
#[derive(Debug, JsonSchema)]
#[schemars(title = "Perchline plan", deny_unknown_fields)]
#[expect(dead_code, reason = "read table by table; this type only shapes the schema")]
pub(super) struct PlanText {
    pub event: event::Text,
    /// People to call, on the briefing.
    pub contact: Option<Vec<contact::Text>>,
    pub report: Option<report::Text>,
    pub terrain: terrain::Text,
    pub buildings: Option<buildings::Text>,
    pub land_cover: Option<land_cover::Text>,
    pub water: Option<water::Text>,
    pub place_names: Option<place_names::Text>,
    pub prediction: Option<prediction::Text>,
    pub map: Option<map::Text>,
    /// Kinds of radio that are at the event.
    #[schemars(length(min = 1))]
    pub radio: Vec<radio::Text>,
    /// Channels that are in use.
    #[schemars(length(min = 1))]
    pub channel: Vec<channel::Text>,
    /// Places where one person with a radio stands.
    #[schemars(length(min = 1))]
    pub post: Vec<post::Text>,
    /// Groups of people, each on its simplex channel without the relay.
    pub group: Option<Vec<group::Text>>,
    pub fallback: Option<fallback::Text>,
    /// Staging areas, as polygons.
    pub area: Option<Vec<area::Text>>,
    /// Routes, as lines.
    pub route: Option<Vec<route::Text>>,
    /// Roofs and hills where the relay could go.
    #[schemars(length(min = 1))]
    pub site: Vec<site::Text>,
    /// Packet trackers that move along routes.
    pub tracker: Option<Vec<tracker::Text>>,
    pub choose: Option<choose::Text>,
    pub masts: Option<masts::Text>,
    pub search: Option<search::Text>,
    pub forecast: Option<forecast::Text>,
    pub exposure: Option<exposure::Text>,
    /// Kinds of battery pack.
    pub pack: Option<Vec<pack::Text>>,
    /// Relays and digipeaters with their supplies.
    pub station: Option<Vec<station::Text>>,
    /// People with hand-helds.
    pub crew: Option<Vec<crew::Text>>,
    /// Channels of others that must stay clear.
    pub other_channel: Option<Vec<other_channel::Text>>,
}

/// The rows of a table's fields, with a text before their names.
type Rows = fn(&str) -> Vec<FieldRow>;

/// Every table that may stand at the top of a plan, and whether there may be many.
pub(super) const TABLES: &[(&str, bool, Rows)] = &[
    ("event", false, event::Text::rows),
    ("contact", true, contact::Text::rows),
    ("report", false, report::Text::rows),
    ("terrain", false, terrain::Text::rows),
    ("buildings", false, buildings::Text::rows),
    ("land_cover", false, land_cover::Text::rows),
    ("water", false, water::Text::rows),
    ("place_names", false, place_names::Text::rows),
    ("prediction", false, prediction::Text::rows),
    ("map", false, map::Text::rows),
    ("radio", true, radio::Text::rows),
    ("channel", true, channel::Text::rows),
    ("post", true, post::Text::rows),
    ("group", true, group::Text::rows),
    ("fallback", false, fallback::Text::rows),
    ("area", true, area::Text::rows),
    ("route", true, route::Text::rows),
    ("site", true, site::Text::rows),
    ("tracker", true, tracker::Text::rows),
    ("choose", false, choose::Text::rows),
    ("masts", false, masts::Text::rows),
    ("search", false, search::Text::rows),
    ("forecast", false, forecast::Text::rows),
    ("exposure", false, exposure::Text::rows),
    ("pack", true, pack::Text::rows),
    ("station", true, station::Text::rows),
    ("crew", true, crew::Text::rows),
    ("other_channel", true, other_channel::Text::rows),
];

/// The field of `[prediction]` whose words are the names of the methods, which
/// come after the plan.
pub(super) const METHOD: (&str, &str) = ("prediction", "method");

/// What the manual says of a field that names a file.
const FILE: &str = "a file, its path taken from the plan's folder";

/// One place: a position as text, or a named feature of a vector file.
#[derive(Debug, Clone)]
pub(super) enum PlaceText {
    Position(String),
    Feature(FeatureText),
}

/// A line or an outline: positions as text, or a named feature of a vector file.
#[derive(Debug, Clone)]
pub(super) enum ShapeText {
    Positions(Vec<String>),
    Feature(FeatureText),
}

/// A named feature of a vector file.
#[derive(Debug, Clone, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("required" = ["file", "name"]))]
pub(super) struct FeatureText {
    /// GeoJSON, GPX, KML, GeoPackage, Shapefile or CSV file, relative to the plan's folder.
    pub file: String,
    /// The feature's name in the file. Where it is missing, the names there are told.
    #[serde(default)]
    pub name: String,
    /// The layer, where the file has several that hold the name.
    pub layer: Option<String>,
}

/// A number and its unit as typed. A bare number is kept apart, so that its
/// error can say which unit is missing.
#[derive(Debug, Clone)]
pub(super) enum Quantity {
    Text(String),
    Bare(String),
}

impl Quantity {
    /// It in quotes, for a problem.
    pub fn quoted(&self) -> String {
        let (Self::Text(text) | Self::Bare(text)) = self;
        quoted(text)
    }
}

impl<'de> Deserialize<'de> for Quantity {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Typed;
        impl Visitor<'_> for Typed {
            type Value = Quantity;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number with its unit in quotes")
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<Quantity, E> {
                Ok(Quantity::Text(text.to_owned()))
            }
            fn visit_i64<E: Error>(self, number: i64) -> Result<Quantity, E> {
                Ok(Quantity::Bare(number.to_string()))
            }
            fn visit_u64<E: Error>(self, number: u64) -> Result<Quantity, E> {
                Ok(Quantity::Bare(number.to_string()))
            }
            fn visit_f64<E: Error>(self, number: f64) -> Result<Quantity, E> {
                Ok(Quantity::Bare(number.to_string()))
            }
        }
        deserializer.deserialize_any(Typed)
    }
}

impl JsonSchema for Quantity {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Quantity".into()
    }
    fn json_schema(_: &mut SchemaGenerator) -> Schema {
        json_schema!({ "type": "string" })
    }
}

impl<'de> Deserialize<'de> for PlaceText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Typed;
        impl<'de> Visitor<'de> for Typed {
            type Value = PlaceText;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "a position in quotes such as \"47.1234, -35.2345\", \
                     or { file = \"places.gpx\", name = \"Aid 3\" }",
                )
            }
            fn visit_str<E: Error>(self, text: &str) -> Result<PlaceText, E> {
                Ok(PlaceText::Position(text.to_owned()))
            }
            fn visit_map<A: serde::de::MapAccess<'de>>(
                self,
                map: A,
            ) -> Result<PlaceText, A::Error> {
                let fields = serde::de::value::MapAccessDeserializer::new(map);
                FeatureText::deserialize(fields).map(PlaceText::Feature)
            }
        }
        deserializer.deserialize_any(Typed)
    }
}

impl JsonSchema for PlaceText {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Place".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let feature = generator.subschema_for::<FeatureText>();
        json_schema!({
            "description": "A position as decimal degrees, degrees and minutes, a Maidenhead \
                            locator, UTM or MGRS, or a named feature of a vector file.",
            "anyOf": [{ "type": "string", "minLength": 4 }, feature],
            "examples": ["47.1234, -35.2345", "47°07'24\"N 35°14'04\"W", "HN27jc48",
                         "25T 412345E 5212345N", "25TDN1234512345",
                         json!({ "file": "places.gpx", "name": "Aid 3" })],
        })
    }
}

impl<'de> Deserialize<'de> for ShapeText {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Typed;
        impl<'de> Visitor<'de> for Typed {
            type Value = ShapeText;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "a list of positions in quotes, \
                     or { file = \"places.gpx\", name = \"Course\" }",
                )
            }
            fn visit_seq<A: serde::de::SeqAccess<'de>>(
                self,
                seq: A,
            ) -> Result<ShapeText, A::Error> {
                let items = serde::de::value::SeqAccessDeserializer::new(seq);
                Vec::deserialize(items).map(ShapeText::Positions)
            }
            fn visit_map<A: serde::de::MapAccess<'de>>(
                self,
                map: A,
            ) -> Result<ShapeText, A::Error> {
                let fields = serde::de::value::MapAccessDeserializer::new(map);
                FeatureText::deserialize(fields).map(ShapeText::Feature)
            }
        }
        deserializer.deserialize_any(Typed)
    }
}

impl JsonSchema for ShapeText {
    fn inline_schema() -> bool {
        true
    }
    fn schema_name() -> std::borrow::Cow<'static, str> {
        "Shape".into()
    }
    fn json_schema(generator: &mut SchemaGenerator) -> Schema {
        let feature = generator.subschema_for::<FeatureText>();
        json_schema!({
            "anyOf": [
                { "type": "array", "minItems": 2, "items": { "type": "string", "minLength": 4 } },
                feature,
            ],
        })
    }
}
