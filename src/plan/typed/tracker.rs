//! Packet trackers as typed.

use schemars::JsonSchema;

use super::{Quantity, pattern};

/// Packet trackers of one kind that move along one route.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("oneOf" = [{"required": ["pace"]}, {"required": ["speed"]}]))]
pub(crate) struct TrackerText {
    /// Name in the reports.
    #[schemars(length(min = 1, max = 80), extend("examples" = ["Last runner"]))]
    pub name: String,
    /// Name of the route that it follows, from its first point on.
    pub route: String,
    /// Name of the packet channel; may be left out where the plan has only one.
    pub channel: Option<String>,
    /// Name of its radio; the channel's carried radio if absent.
    pub radio: Option<String>,
    /// Where a person wears it; as the radio says if absent.
    #[schemars(extend("enum" = ["head", "shoulder", "hip"]))]
    pub carry: Option<String>,
    /// Whether it rides on a vehicle, its antenna in the open; false if absent.
    pub vehicle: Option<bool>,
    /// Time from one beacon to the next.
    #[schemars(extend("pattern" = pattern("s|min"), "examples" = ["2 min", "30 s"]))]
    pub every: Quantity,
    /// Pace along the route; this or the speed.
    #[schemars(extend(
        "pattern" = r"^\s*([0-9]+:[0-5][0-9]|[0-9]+\.?[0-9]*)\s*min/(km|mi)\s*$",
        "examples" = ["6:30 min/km", "9 min/mi"]
    ))]
    pub pace: Option<Quantity>,
    /// Speed along the route; this or the pace.
    #[schemars(extend("pattern" = pattern("m/s|km/h|mph"), "examples" = ["15 km/h"]))]
    pub speed: Option<Quantity>,
    /// How many there are; 1 if absent.
    #[schemars(range(min = 1, max = 1000))]
    pub count: Option<i64>,
    /// Time on the air of one beacon, key-up included, or its bytes at 1200
    /// bits a second; 0.9 s if absent.
    #[schemars(extend("pattern" = pattern("s|ms|bytes"), "examples" = ["0.9 s", "70 bytes"]))]
    pub packet: Option<Quantity>,
}
