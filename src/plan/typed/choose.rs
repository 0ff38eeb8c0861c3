//! What a set of sites has to keep, as typed.

use schemars::JsonSchema;

use super::{Quantity, pattern};

/// How many relays there are and what their sites have to keep together.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ChooseText {
    /// Relays at hand, so sites to choose at most; 2 if absent.
    #[schemars(range(min = 1, max = 4))]
    pub relays: Option<i64>,
    /// The relay channel that is predicted; the plan's first if absent.
    pub channel: Option<String>,
    /// Whether the relays pass words on to each other over the air; false if absent.
    pub linked: Option<bool>,
    /// Sites with `locked = true` at most; any number if absent.
    #[schemars(range(min = 0, max = 100))]
    pub locked_doors: Option<i64>,
    /// Length of mast at hand for all sites together; any if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["9 m"]))]
    pub total_mast: Option<Quantity>,
    /// Whether the whole map counts as an area of weight 1; false if absent.
    pub whole_area: Option<bool>,
    /// Whether a site for the packet digipeater is chosen as well; true if absent.
    pub digipeater: Option<bool>,
}
