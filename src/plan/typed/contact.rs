//! People to call, as typed.

use schemars::JsonSchema;

/// Somebody to call, on the briefing for the organiser.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ContactText {
    /// Name of the person or desk.
    #[schemars(length(min = 1, max = 80), extend("examples" = ["Net Control"]))]
    pub name: String,
    /// What to call them for.
    #[schemars(extend("examples" = ["Anything about the radios"]))]
    pub role: Option<String>,
    /// Telephone number.
    #[schemars(extend("pattern" = PHONE, "examples" = ["555-0142", "+1 555 0142"]))]
    pub phone: Option<String>,
    /// Name of the channel on which they listen.
    pub channel: Option<String>,
    /// Anything else: hours, where they sit.
    pub note: Option<String>,
}

/// Digits, and what people write between them.
const PHONE: &str =
    r"^\s*[-+()./# *0-9]*[0-9][-+()./# *0-9]*[0-9][-+()./# *0-9]*[0-9][-+()./# *0-9]*$";
