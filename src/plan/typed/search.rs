//! Mast heights and the search for spots as typed.

use schemars::JsonSchema;

use super::{ENVIRONMENTS, Quantity, ShapeText, pattern};

/// Which mast heights `masts` tries.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct MastsText {
    /// Greatest height of an antenna over the roof that is tried; 15 m if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["15 m"]))]
    pub highest: Option<Quantity>,
    /// Whether the station's feed line, a cable whose length the plan states for
    /// the site's own mast, is longer on a longer mast; false if absent.
    pub feed_line_grows: Option<bool>,
}

/// Where `search` looks for spots that nobody listed.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SearchText {
    /// Outline of the ground to search: its corners in order, or a polygon of a
    /// vector file; the whole map if absent.
    pub inside: Option<ShapeText>,
    /// Height of the antenna over the ground or roof that it stands on; 6 m if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["6 m"]))]
    pub mast: Option<Quantity>,
    /// Vector file of roads: every line in it counts as one.
    pub roads: Option<String>,
    /// Least distance between two spots of the list; 300 m if absent.
    #[schemars(extend("pattern" = pattern("m|ft|km|mi"), "examples" = ["300 m"]))]
    pub keep_apart: Option<Quantity>,
    /// Radio noise at every spot; that of the plan if absent.
    #[schemars(extend("enum" = ENVIRONMENTS))]
    pub environment: Option<String>,
    /// Points that stand for each area and each route in the search, at most; 8 if absent.
    #[schemars(range(min = 1, max = 100))]
    pub samples: Option<i64>,
}
