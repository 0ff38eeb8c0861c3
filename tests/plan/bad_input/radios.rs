//! Radios, antennas and feed lines.

use super::*;

#[test]
fn negative_and_zero_power() {
    for power in ["-5 W", "0 W"] {
        let to = format!("power = \"{power}\"");
        refused("power = \"5 W\"", &to, 13, "radio \"hand-held\": power", &["above zero"]);
    }
}

#[test]
fn a_bare_number() {
    refused(
        "power = \"5 W\"",
        "power = 5",
        13,
        "radio \"hand-held\": power",
        &["5 is a bare number", "W, dBm", "\"5 W\""],
    );
    refused("mast = \"3 m\"", "mast = 3.5", 63, "site \"Elevator\": mast", &["3.5", "m, ft"]);
}

#[test]
fn a_unit_is_missing_or_foreign() {
    refused("\"5 W\"", "\"5\"", 13, "radio \"hand-held\": power", &["no unit"]);
    refused("\"5 W\"", "\"5 V\"", 13, "radio \"hand-held\": power", &["W, dBm"]);
    refused("\"5 W\"", "\"five W\"", 13, "radio \"hand-held\": power", &["number"]);
}

#[test]
fn not_a_number_and_infinity() {
    for power in ["nan", "inf", "-inf"] {
        let to = format!("power = {power}");
        refused("power = \"5 W\"", &to, 13, "radio \"hand-held\": power", &["bare number"]);
    }
    refused("\"5 W\"", "\"NaN W\"", 13, "radio \"hand-held\": power", &["number"]);
    refused("\"5 W\"", "\"1e999 W\"", 13, "radio \"hand-held\": power", &["number"]);
}

#[test]
fn much_power_is_questioned() {
    remarked("\"5 W\"", "\"500 W\"", "radio \"hand-held\": power", "500 W is a lot");
    refused("\"5 W\"", "\"50000 W\"", 13, "radio \"hand-held\": power", &["out of range"]);
}

#[test]
fn gain_out_of_range() {
    refused("\"6 dBi\"", "\"26 dBi\"", 22, "radio \"relay\": antenna.gain", &["-30 to 25 dBi"]);
    refused("\"6 dBi\"", "\"6 dB\"", 22, "radio \"relay\": antenna.gain", &["dBi, dBd"]);
}

#[test]
fn an_unknown_pattern() {
    refused(
        "\"collinear\"",
        "\"colinear\"",
        22,
        "radio \"relay\": antenna.pattern",
        &["Did you mean \"collinear\"?"],
    );
}

#[test]
fn sensitivity_out_of_range() {
    // A level in uV typed as dBm, and a forgotten minus.
    for bad in ["0.25 dBm", "119 dBm", "-150 dBm", "250 uV", "0 uV"] {
        let error = read(changed("\"-119 dBm\"", &format!("\"{bad}\""))).unwrap_err();
        let problem = &error.problems()[0];
        assert_eq!((problem.line(), problem.field()), (Some(25), "radio \"relay\": sensitivity"));
    }
}

#[test]
fn an_unknown_cable_lists_those_that_are_known() {
    refused("RG-213", "RG-999", 23, "radio \"relay\": feed_line.type", &["RG-58", "RG-213"]);
}

#[test]
fn a_feed_line_of_both_kinds() {
    refused("length = \"10 m\"", "loss = \"1 dB\"", 23, "radio \"relay\": feed_line", &["loss"]);
}

#[test]
fn an_unknown_bandwidth() {
    let from = "bandwidth = \"12.5 kHz\"\ncarry";
    let to = "bandwidth = \"20 kHz\"\ncarry";
    refused(from, to, 16, "radio \"hand-held\": bandwidth", &["12.5 kHz", "25 kHz"]);
}

#[test]
fn a_carried_radio_without_carry() {
    refused("carry = \"head\"\n", "", 34, "channel \"Net\": carried", &["how it is carried"]);
}

#[test]
fn a_station_that_is_carried() {
    refused(
        "station = \"relay\"",
        "station = \"hand-held\"",
        34,
        "channel \"Net\": station",
        &["carried by a person"],
    );
}
