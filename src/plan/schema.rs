//! The plan's JSON Schema.

use super::typed::PlanText;

/// The JSON Schema (2020-12) of a plan, for editors that check TOML as one
/// types. It knows the shape and the units; what depends on other fields is
/// only checked by [`super::read`].
#[must_use]
pub fn schema() -> serde_json::Value {
    schemars::schema_for!(PlanText).to_value()
}
