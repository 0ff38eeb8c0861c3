//! The corrections that the reports teach, as a file for the next plan.

use crate::Provenance;
use crate::outputs::{OutboxSlot, OutputError};

use super::DebriefContent;

/// Writes the corrections as TOML; nothing where the reports teach none.
pub(crate) fn write_toml(
    content: &DebriefContent<'_>,
    slot: OutboxSlot<'_>,
) -> Result<(), OutputError> {
    match content.debrief.learned.file(&made(content.provenance)) {
        Some(file) => slot.bytes(file.as_bytes()),
        None => Ok(()),
    }
}

/// What made a calibration, as TOML.
fn made(provenance: &Provenance) -> String {
    let quoted = |text: &str| toml::Value::String(text.to_owned()).to_string();
    let inputs: Vec<String> =
        provenance.inputs.iter().map(|i| quoted(&format!("{} {}", i.sha256, i.name()))).collect();
    format!(
        "by = {}\nmethod = {}\nat = {}\nfrom = [\n  {},\n]\n",
        quoted(&format!("perchline {}", provenance.version)),
        quoted(provenance.method),
        quoted(&provenance.made_at),
        inputs.join(",\n  ")
    )
}
