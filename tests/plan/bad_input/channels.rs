//! Channels.

use super::*;

#[test]
fn frequency_out_of_range() {
    for bad in ["14.6 MHz", "146.34 GHz", "146.34 kHz"] {
        let to = format!("\"{bad}\"");
        refused("\"146.34 MHz\"", &to, 31, "channel \"Net\": input", &["25 to 6000 MHz"]);
    }
}

#[test]
fn input_and_output_the_same() {
    refused("146.94", "146.34", 32, "channel \"Net\": output", &["same"]);
    // The same frequency in another unit.
    refused("\"146.94 MHz\"", "\"146340 kHz\"", 32, "channel \"Net\": output", &["same"]);
}

#[test]
fn fields_that_the_kind_needs_or_has_not() {
    refused("output = \"146.94 MHz\"\n", "", 28, "channel \"Net\": output", &["missing"]);
    refused(
        "tone = \"100.0 Hz\"",
        "frequency = \"146.5 MHz\"",
        33,
        "channel \"Net\": frequency",
        &["leave it out"],
    );
}

#[test]
fn a_tone_that_no_radio_has() {
    refused("\"100.0 Hz\"", "\"1000 Hz\"", 33, "channel \"Net\": tone", &["out of range"]);
}
