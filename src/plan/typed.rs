//! The plan as a person types it, before anything is checked.
//!
//! The JSON Schema is derived from these types, so what is written on the
//! fields here is what an editor shows.

mod choose;
mod contact;
mod power;
mod search;
mod tracker;

pub(super) use choose::*;
pub(super) use contact::*;
pub(super) use power::*;
pub(super) use search::*;
pub(super) use tracker::*;

use std::fmt;

use schemars::{JsonSchema, Schema, SchemaGenerator, json_schema};
use serde::de::{Deserialize, Deserializer, Error, Visitor};
use serde_json::json;
use toml::value::Datetime;

/// A plan for the radio side of an event.
#[derive(Debug, JsonSchema)]
#[schemars(title = "Perchline plan", deny_unknown_fields)]
#[expect(dead_code, reason = "read table by table; this type only shapes the schema")]
pub(super) struct PlanText {
    pub event: EventText,
    /// People to call, on the briefing.
    pub contact: Option<Vec<ContactText>>,
    pub report: Option<ReportText>,
    pub terrain: TerrainText,
    pub buildings: Option<BuildingsText>,
    pub land_cover: Option<LandCoverText>,
    pub prediction: Option<PredictionText>,
    pub map: Option<MapText>,
    /// Kinds of radio that are at the event.
    #[schemars(length(min = 1))]
    pub radio: Vec<RadioText>,
    /// Channels that are in use.
    #[schemars(length(min = 1))]
    pub channel: Vec<ChannelText>,
    /// Places where one person with a radio stands.
    #[schemars(length(min = 1))]
    pub post: Vec<PostText>,
    /// Staging areas, as polygons.
    pub area: Option<Vec<AreaText>>,
    /// Routes, as lines.
    pub route: Option<Vec<RouteText>>,
    /// Roofs and hills where the relay could go.
    #[schemars(length(min = 1))]
    pub site: Vec<SiteText>,
    /// Packet trackers that move along routes.
    pub tracker: Option<Vec<TrackerText>>,
    pub choose: Option<ChooseText>,
    pub masts: Option<MastsText>,
    pub search: Option<SearchText>,
    pub forecast: Option<ForecastText>,
    pub exposure: Option<ExposureText>,
    /// Kinds of battery pack.
    pub pack: Option<Vec<PackText>>,
    /// Relays and digipeaters with their supplies.
    pub station: Option<Vec<StationText>>,
    /// People with hand-helds.
    pub crew: Option<Vec<CrewText>>,
    /// Channels of others that must stay clear.
    pub other_channel: Option<Vec<OtherChannelText>>,
}

/// Every table that may stand at the top of a plan.
pub(super) const TABLES: &[&str] = &[
    "event",
    "contact",
    "report",
    "terrain",
    "buildings",
    "land_cover",
    "prediction",
    "map",
    "radio",
    "channel",
    "post",
    "area",
    "route",
    "site",
    "tracker",
    "choose",
    "masts",
    "search",
    "forecast",
    "exposure",
    "pack",
    "station",
    "crew",
    "other_channel",
];

/// The event and its times.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct EventText {
    /// Name of the event.
    #[schemars(length(min = 1, max = 80), extend("examples" = ["Ferry Lights half marathon"]))]
    pub name: String,
    /// The served agency: the organiser.
    pub agency: Option<String>,
    /// Start: local date and time, no quotes and no offset.
    #[schemars(with = "String", extend("pattern" = LOCAL_TIME, "examples" = ["2026-12-05T17:30:00"]))]
    pub starts: Datetime,
    /// End of the event: local date and time.
    #[schemars(with = "String", extend("pattern" = LOCAL_TIME))]
    pub ends: Datetime,
    /// When the last radio is taken down; the end if absent.
    #[schemars(with = "Option<String>", extend("pattern" = LOCAL_TIME))]
    pub tear_down: Option<Datetime>,
    /// IANA time zone of the times.
    #[schemars(extend("examples" = ["Atlantic/Azores", "Etc/GMT+2"]))]
    pub time_zone: String,
}

/// How results are written.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ReportText {
    /// Units of the report; metric if absent.
    #[schemars(extend("enum" = ["metric", "us"]))]
    pub units: Option<String>,
}

/// Elevation files.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct TerrainText {
    /// Files, relative to the plan's folder; the first wins where tiles overlap.
    #[schemars(length(min = 1))]
    pub files: Vec<String>,
    /// Unit of the heights, for files that do not say.
    #[schemars(extend("enum" = ["m", "ft", "us-ft"]))]
    pub height_unit: Option<String>,
    /// Coordinate system, for files that carry none.
    #[schemars(extend("examples" = ["EPSG:32625"]))]
    pub crs: Option<String>,
    /// Whether gaps are filled from their rims; false if absent.
    pub fill_gaps: Option<bool>,
    /// Side of a cell to work with, for files too fine or too large: the mean of
    /// the first file's cells inside; its own cells if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["10 m"]))]
    pub cell: Option<Quantity>,
}

/// Buildings, burnt into the surface that paths run over.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct BuildingsText {
    /// Vector files of footprints, relative to the plan's folder.
    #[schemars(length(min = 1))]
    pub files: Vec<String>,
    /// Side of a cell of the surface; 5 m if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["2 m"]))]
    pub cell: Option<Quantity>,
    /// Height of one storey in metres; 3.0 if absent.
    #[schemars(range(min = 2.0, max = 6.0))]
    pub metres_per_level: Option<f64>,
    /// Height of a building that states neither height nor storeys; 6 m if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["6 m"]))]
    pub default_height: Option<Quantity>,
}

/// Land cover: what grows and stands where no footprint is.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct LandCoverText {
    /// Raster of class codes, relative to the plan's folder.
    pub file: String,
    /// A mapping that comes with the program, or a mapping file.
    #[schemars(extend("examples" = ["global-10", "national-30", "my-classes.toml"]))]
    pub classes: String,
}

/// How losses are predicted and what counts as working.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PredictionText {
    /// Propagation method; delta-bullington if absent.
    pub method: Option<String>,
    /// Effective-earth factor; 4/3 if absent.
    #[schemars(range(min = 0.5, max = 10.0))]
    pub k_factor: Option<f64>,
    /// Fall of the air's refractivity in the lowest kilometre, in place of k_factor.
    #[schemars(extend("pattern" = pattern("[Nn]/[Kk][Mm]"), "examples" = ["45 N/km"]))]
    pub delta_n: Option<Quantity>,
    /// Refractivity of the air at sea level, for p1812; 325 N if absent.
    #[schemars(extend("pattern" = pattern("[Nn]"), "examples" = ["325 N"]))]
    pub n0: Option<Quantity>,
    /// Share of an average year for which losses hold, for p1812; 50 % if absent.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["50 %"]))]
    pub time_percent: Option<Quantity>,
    /// Polarization of the antennas; vertical if absent.
    #[schemars(extend("enum" = ["vertical", "horizontal"]))]
    pub polarization: Option<String>,
    /// Delivered audio quality wanted; 3.4 if absent.
    #[schemars(extend("enum" = ["3.0", "3.4", "4.0"]))]
    pub audio_quality: Option<Quantity>,
    /// Share of locations that must work, 50 to 99.9 %; 95 % if absent.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["95 %"]))]
    pub reliability: Option<Quantity>,
    /// Standard deviation of the location variability, 0 to 20 dB; if absent
    /// 5.6 dB, which holds some model error too, or with p1812 its own.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["5.6 dB"]))]
    pub variability: Option<Quantity>,
    /// Standard deviation of what the method gets wrong, 0 to 20 dB; 0 dB if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["4 dB"]))]
    pub model_error: Option<Quantity>,
    /// Radio noise around every place that does not state its own; residential if absent.
    #[schemars(extend("enum" = ENVIRONMENTS))]
    pub environment: Option<String>,
    /// What a packet needs above the 12 dB SINAD point; 10 dB if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["10 dB"]))]
    pub packet_over_sinad: Option<Quantity>,
    /// A file of corrections that `perchline debrief` wrote after an earlier event.
    #[schemars(extend("examples" = ["calibration.toml"]))]
    pub calibration: Option<String>,
}

/// The area and detail of the maps.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct MapText {
    /// Side of a coverage cell; the terrain's own cell if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["20 m"]))]
    pub cell: Option<Quantity>,
    /// Border around everything that the plan names; 500 m if absent.
    #[schemars(extend("pattern" = pattern("m|ft|km|mi"), "examples" = ["500 m"]))]
    pub margin: Option<Quantity>,
    /// A file of picture tiles, .mbtiles or .pmtiles, to draw under the maps of
    /// `brief` and `live`.
    #[schemars(extend("examples" = ["town.mbtiles"]))]
    pub tiles: Option<String>,
}

/// A kind of radio: transmitter, receiver, antenna and what lies between.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RadioText {
    /// Name by which channels and posts refer to it.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// Transmitter output in W or dBm.
    #[schemars(extend("pattern" = pattern("[Ww]|[Dd][Bb][Mm]"), "examples" = ["5 W", "37 dBm"]))]
    pub power: Quantity,
    pub antenna: AntennaText,
    /// Line between radio and antenna; none if absent.
    pub feed_line: Option<FeedLineText>,
    /// Duplexer or filter loss, once in each direction; none if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["1.5 dB"]))]
    pub filter_loss: Option<Quantity>,
    /// Level at the receiver for 12 dB SINAD: uV across 50 ohm, or dBm.
    #[schemars(extend("pattern" = pattern("[uµμ][Vv]|[Dd][Bb][Mm]"), "examples" = ["0.25 uV", "-119 dBm"]))]
    pub sensitivity: Quantity,
    /// Channel bandwidth, 12.5 kHz or 25 kHz.
    #[schemars(extend("pattern" = pattern("kHz"), "examples" = ["12.5 kHz", "25 kHz"]))]
    pub bandwidth: Quantity,
    /// Where a person wears it; a fixed station if absent.
    #[schemars(extend("enum" = ["head", "shoulder", "hip"]))]
    pub carry: Option<String>,
    /// Body loss in place of the table's.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["6 dB"]))]
    pub body_loss: Option<Quantity>,
    /// Height above ground of an antenna that is not on a site's mast.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["1.5 m"]))]
    pub antenna_height: Option<Quantity>,
}

/// An antenna.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct AntennaText {
    /// Peak gain in dBi or dBd.
    #[schemars(extend("pattern" = pattern("[Dd][Bb][IiDd]"), "examples" = ["-5 dBd", "6 dBi"]))]
    pub gain: Quantity,
    /// Pattern in the vertical plane.
    #[schemars(extend("enum" = ["isotropic", "dipole", "collinear"]))]
    pub pattern: String,
}

/// A feed line: its loss, or a cable's type and length.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("oneOf" = [{"required": ["loss"]}, {"required": ["type", "length"]}]))]
pub(super) struct FeedLineText {
    /// Its loss.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["1 dB"]))]
    pub loss: Option<Quantity>,
    /// A cable by name.
    #[serde(rename = "type")]
    #[schemars(extend("examples" = ["RG-58", "RG-213"]))]
    pub cable: Option<String>,
    /// The cable's length.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["3 m"]))]
    pub length: Option<Quantity>,
}

/// A channel and the radios at its ends.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct ChannelText {
    /// Name by which people call it.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// What runs on it.
    #[schemars(extend("enum" = ["relay", "simplex", "packet"]))]
    pub kind: String,
    /// Relay: where it listens.
    #[schemars(extend("pattern" = pattern("[KkMmGg][Hh][Zz]"), "examples" = ["146.34 MHz"]))]
    pub input: Option<Quantity>,
    /// Relay: where it transmits.
    #[schemars(extend("pattern" = pattern("[KkMmGg][Hh][Zz]"), "examples" = ["146.94 MHz"]))]
    pub output: Option<Quantity>,
    /// Simplex and packet: the one frequency.
    #[schemars(extend("pattern" = pattern("[KkMmGg][Hh][Zz]"), "examples" = ["144.39 MHz"]))]
    pub frequency: Option<Quantity>,
    /// Relay and packet: name of the radio at the site.
    pub station: Option<String>,
    /// Name of the radio that posts carry.
    pub carried: String,
    /// Access tone.
    #[schemars(extend("pattern" = pattern("Hz"), "examples" = ["100.0 Hz"]))]
    pub tone: Option<Quantity>,
    /// What it is for, on the channel sheet.
    pub function: Option<String>,
    /// Who uses it, on the channel sheet.
    pub users: Option<String>,
}

/// A place where one person with a radio stands.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct PostText {
    /// Name on the map.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    pub at: PlaceText,
    /// Weight in the ranking, above zero; 1 if absent.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub weight: Option<f64>,
    /// Whether a site that misses it is no good; false if absent.
    pub must: Option<bool>,
    /// Whether net control sits here, which one post at most may say; false if absent.
    pub net_control: Option<bool>,
    /// Name of a radio of its own, in place of the channel's carried one.
    pub radio: Option<String>,
    /// Carry position, in place of the radio's.
    #[schemars(extend("enum" = ["head", "shoulder", "hip"]))]
    pub carry: Option<String>,
    /// Says that it is inside a building, and how that is made.
    #[schemars(extend("enum" = ["traditional", "efficient"]))]
    pub indoors: Option<String>,
    /// Says that it is on the street where a building's footprint holds it.
    pub street: Option<bool>,
    /// Radio noise here, in place of the plan's.
    #[schemars(extend("enum" = ENVIRONMENTS))]
    pub environment: Option<String>,
}

/// A staging area.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct AreaText {
    /// Name on the map.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// Its corners in order, or a polygon of a vector file.
    pub outline: ShapeText,
    /// Weight in the ranking, above zero; 1 if absent.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub weight: Option<f64>,
    /// Radio noise here, in place of the plan's.
    #[schemars(extend("enum" = ENVIRONMENTS))]
    pub environment: Option<String>,
}

/// A route.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct RouteText {
    /// Name on the map.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// Its points in order, or a line of a vector file.
    pub line: ShapeText,
    /// Weight in the ranking, above zero; 1 if absent.
    #[schemars(extend("exclusiveMinimum" = 0))]
    pub weight: Option<f64>,
    /// Radio noise here, in place of the plan's.
    #[schemars(extend("enum" = ENVIRONMENTS))]
    pub environment: Option<String>,
}

/// A candidate place for a relay or digipeater.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct SiteText {
    /// Name on the map and after `--site`.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    pub at: PlaceText,
    /// Height of the surface that the mast stands on; the footprint's building if absent.
    #[schemars(extend(
        "pattern" = r"^\s*([-+]?[0-9.]+([eE][-+]?[0-9]+)?\s*(m|ft)\s+above\s+(ground|sea|sea level)|building)\s*$",
        "examples" = ["14 m above ground", "92 m above sea", "building"]
    ))]
    pub roof: Option<Quantity>,
    /// Height of the antenna above that surface.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["3 m"]))]
    pub mast: Quantity,
    /// Whether it may be used at all; true if absent.
    pub available: Option<bool>,
    /// Whether somebody with a key has to come; false if absent.
    pub locked: Option<bool>,
    /// How one gets up there.
    pub access: Option<String>,
    /// Anything else.
    pub notes: Option<String>,
    /// Radio noise here, in place of the plan's.
    #[schemars(extend("enum" = ENVIRONMENTS))]
    pub environment: Option<String>,
    /// Says that an unusually high roof or mast is meant as written.
    pub tall: Option<bool>,
}

/// One place: a position as text, or a named feature of a vector file.
#[derive(Debug)]
pub(super) enum PlaceText {
    Position(String),
    Feature(FeatureText),
}

/// A line or an outline: positions as text, or a named feature of a vector file.
#[derive(Debug)]
pub(super) enum ShapeText {
    Positions(Vec<String>),
    Feature(FeatureText),
}

/// A named feature of a vector file.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(super) struct FeatureText {
    /// GeoJSON, GPX, KML, GeoPackage, Shapefile or CSV file, relative to the plan's folder.
    pub file: String,
    /// The feature's name in the file.
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

const ENVIRONMENTS: [&str; 4] = ["city", "residential", "rural", "quiet-rural"];
const LOCAL_TIME: &str = r"^\d{4}-\d{2}-\d{2}[Tt ]\d{2}:\d{2}(:\d{2}(\.\d+)?)?$";

/// Pattern of a number that is followed by one of `units`.
fn pattern(units: &str) -> String {
    format!(r"^\s*[-+]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][-+]?[0-9]+)?\s*({units})\s*$")
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
