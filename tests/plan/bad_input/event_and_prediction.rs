//! The event, how to predict, and elevation files.

use super::*;

#[test]
fn the_end_before_the_start() {
    refused("2026-12-05T21:00:00", "2026-12-05T16:00:00", 5, "event: ends", &["starts at"]);
}

#[test]
fn tear_down_before_the_end() {
    let to = "ends = 2026-12-05T21:00:00\ntear_down = 2026-12-05T20:00:00";
    refused("ends = 2026-12-05T21:00:00", to, 6, "event: tear_down", &["before"]);
}

#[test]
fn times_with_an_offset_in_quotes_or_without_a_clock() {
    refused("2026-12-05T17:30:00", "2026-12-05T17:30:00Z", 4, "event: starts", &["offset"]);
    refused("2026-12-05T17:30:00", "\"2026-12-05\"", 4, "event: starts", &["without quotes"]);
    refused("2026-12-05T17:30:00", "2026-12-05", 4, "event: starts", &["date with a time"]);
}

#[test]
fn an_unknown_time_zone() {
    refused("Etc/GMT+2", "Atlantic/Azorez", 6, "event: time_zone", &["\"Atlantic/Azores\"?"]);
}

#[test]
fn a_time_that_the_clocks_skip() {
    // Clocks went from 2:00 to 3:00 on 29 March 2026 in the European Union.
    let text = changed("Etc/GMT+2", "Europe/Paris")
        .replace("2026-12-05T17:30:00", "2026-03-29T02:30:00")
        .replace("2026-12-05T21:00:00", "2026-03-29T05:00:00");
    let plan = read(text).unwrap();
    assert!(plan.remarks.iter().any(|r| r.about == "event: starts"), "{:?}", plan.remarks);
}

#[test]
fn prediction_out_of_range() {
    for (field, bad) in [
        ("reliability", "\"49.9 %\""),
        ("reliability", "\"100 %\""),
        ("reliability", "\"0.95\""),
        ("k_factor", "0.4"),
        ("k_factor", "nan"),
        ("k_factor", "11"),
        ("delta_n", "45"),
        ("delta_n", "\"-40 N/km\""),
        ("delta_n", "\"157 N/km\""),
        ("n0", "\"249 N\""),
        ("n0", "\"401 N\""),
        ("time_percent", "\"0.5 %\""),
        ("time_percent", "\"51 %\""),
        ("time_percent", "10"),
        ("variability", "\"-1 dB\""),
        ("audio_quality", "\"3.2\""),
        ("environment", "\"urban\""),
        ("polarization", "\"circular\""),
    ] {
        let to = format!("[prediction]\n{field} = {bad}\n\n[terrain]");
        let error = read(changed("[terrain]", &to)).unwrap_err();
        let problem = &error.problems()[0];
        let expected = format!("prediction: {field}");
        assert_eq!((problem.line(), problem.field()), (Some(9), expected.as_str()), "{error}");
    }
}

#[test]
fn an_unknown_method_lists_those_that_are_known() {
    let to = "[prediction]\nmethod = \"bullington\"\n\n[terrain]";
    refused("[terrain]", to, 9, "prediction: method", &["\"delta-bullington\"", "free-space"]);
}

#[test]
fn a_missing_elevation_file() {
    refused(
        "[\"hill.asc\"]",
        "[\"hill.asc\",\n \"dale.tif\"]",
        10,
        "terrain: files[1]",
        &["there is no file", "dale.tif"],
    );
}

#[test]
fn remote_elevation() {
    for bad in ["/vsicurl/https://example.com/a.tif", "https://example.com/a.tif"] {
        let to = format!("\"{bad}\"");
        refused("\"hill.asc\"", &to, 9, "terrain: files[0]", &["on this machine"]);
    }
}

#[test]
fn refraction_stated_twice() {
    let to = "[prediction]\nk_factor = 1.33\ndelta_n = \"45 N/km\"\n\n[terrain]";
    refused("[terrain]", to, 10, "prediction: delta_n", &["k_factor and delta_n", "delete"]);
}

#[test]
fn a_fall_with_the_sign_of_a_gradient() {
    let to = "[prediction]\ndelta_n = \"-40 N/km\"\n\n[terrain]";
    refused("[terrain]", to, 9, "prediction: delta_n", &["-40 N/km", "0 to 120 N/km"]);
}

/// ITU-R P.1812 equation (6): 157 / (157 - 45) = 1.4018.
#[test]
fn the_radio_climate_is_read() {
    let climate = "[prediction]\ndelta_n = \"45 N/km\"\nn0 = \"310 N\"\ntime_percent = \"10 %\"";
    let plan = read(changed("[terrain]", &format!("{climate}\n\n[terrain]"))).unwrap();
    let found = plan.prediction;
    assert!((found.k_factor - 1.401_785_7).abs() < 1e-6, "{}", found.k_factor);
    assert_eq!(found.delta_n.map(|lapse| lapse.value()), Some(45.0));
    assert_eq!((found.n0.value(), found.time.value()), (310.0, 10.0));
    let silent = read(MINIMAL).unwrap().prediction;
    assert_eq!((silent.n0.value(), silent.time.value()), (325.0, 50.0));
    assert_eq!((silent.delta_n, silent.k_factor), (None, 4.0 / 3.0));
}
