//! The plan's JSON Schema.

use super::typed::{METHOD, PlanText};
use serde_json::Value;

/// The JSON Schema (2020-12) of a plan, for editors that check TOML as one
/// types. It knows the shape and the units; what depends on other fields is
/// only checked by [`super::read()`].
///
/// `methods` are the names of the propagation methods that a plan may ask
/// for, as in [`super::read()`]; the first is the default.
#[must_use]
pub fn schema(methods: &[&str]) -> Value {
    let mut schema = schemars::schema_for!(PlanText).to_value();
    let (table, field) = METHOD;
    let place = format!("/$defs/{table}/properties/{field}");
    if let Some(Value::Object(method)) = schema.pointer_mut(&place) {
        method.insert("enum".to_owned(), methods.into());
        method.insert("default".to_owned(), methods.first().copied().into());
    }
    schema
}
