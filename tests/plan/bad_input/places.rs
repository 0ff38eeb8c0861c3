//! Positions, outlines and routes.

use super::*;

#[test]
fn swapped_where_the_latitude_cannot_be() {
    refused(
        "47.1234, -35.2345",
        "-135.2345, 47.1234",
        39,
        "post \"Aid 1\": at",
        &["swapped", "did you mean \"47.1234, -135.2345\"?"],
    );
}

#[test]
fn swapped_where_only_the_other_places_tell() {
    refused(
        "47.1234, -35.2345",
        "-35.2345, 47.1234",
        39,
        "post \"Aid 1\": at",
        &["look swapped", "did you mean \"47.1234, -35.2345\"?"],
    );
}

#[test]
fn a_forgotten_minus() {
    refused(
        "47.1234, -35.2345",
        "47.1234, 35.2345",
        39,
        "post \"Aid 1\": at",
        &["sign", "did you mean \"47.1234, -35.2345\"?"],
    );
}

#[test]
fn latitude_and_longitude_out_of_range() {
    for bad in ["97.1234, -235.2345", "NaN, -35.2345", "47.1234, -181"] {
        let error = read(changed("47.1234, -35.2345", bad)).unwrap_err();
        let problem = &error.problems()[0];
        assert_eq!((problem.line(), problem.field()), (Some(39), "post \"Aid 1\": at"));
    }
}

#[test]
fn a_corner_has_its_own_line() {
    refused(
        "\"47.1200, -35.2300\"",
        "\"somewhere\"",
        51,
        "area \"Lanterns\": outline[1]",
        &["not a position"],
    );
}

#[test]
fn no_power_line_is_no_distance() {
    let text = changed("mast =", "power_line = \"none\"\nmast =");
    one_problem(
        &text,
        "power_line",
        "site \"Elevator\": power_line",
        &["how far round you looked"],
    );
}

#[test]
fn an_outline_that_crosses_itself() {
    refused(
        "\"47.1200, -35.2300\",\n  \"47.1250, -35.2300\"",
        "\"47.1250, -35.2300\",\n  \"47.1250, -35.2400\",\n  \"47.1200, -35.2300\"",
        49,
        "area \"Lanterns\": outline",
        &["without crossing"],
    );
}

#[test]
fn two_corners_and_one_point() {
    refused("  \"47.1250, -35.2300\",\n", "", 49, "area \"Lanterns\": outline", &["three"]);
    refused(", \"47.1300, -35.2400\"]", "]", 57, "route \"Walk\": line", &["two"]);
}

#[test]
fn coarse_positions_are_remarked() {
    remarked("47.1234, -35.2345", "47.12, -35.23", "post \"Aid 1\": at", "1113 m");
}

#[test]
fn coarse_corners_are_remarked_once() {
    let plan = read(MINIMAL.replace("47.1200, -35.2", "47.12, -35.2")).unwrap();
    let about: Vec<_> = plan.remarks.iter().map(|r| r.about.as_str()).collect();
    assert_eq!(about, ["area \"Lanterns\": outline", "route \"Walk\": line"]);
    assert!(plan.remarks[0].text.contains("2 of 3 positions"), "{:?}", plan.remarks);
}

#[test]
fn a_plan_across_the_180th_meridian() {
    let text = MINIMAL.replace("-35.2300", "179.9990").replace("35.2", "179.9");
    let error = read(text).unwrap_err().to_string();
    assert!(error.contains("180th meridian"), "{error}");
}

#[test]
fn weights_are_above_zero_and_finite() {
    for bad in ["0", "-1", "nan", "inf"] {
        let to = format!("weight = {bad}");
        refused("weight = 2", &to, 44, "post \"Aid 2\": weight", &["above 0"]);
    }
}

/// A crowd's loss has its hours, both of them, in their order, during the event.
#[test]
fn extra_loss_at_hours_that_are_none() {
    let post = |lines: &str| format!("at = \"47.1234, -35.2345\"\n{lines}");
    let hours = |from: &str, to: &str| {
        post(&format!(
            "extra_loss = \"6 dB\"\nextra_loss_from = 2026-12-05T{from}:00\nextra_loss_to = 2026-12-05T{to}:00"
        ))
    };
    let at = "at = \"47.1234, -35.2345\"";
    let refused = |lines: &str, line, field: &str, parts: &[&str]| {
        refused(at, lines, line, &format!("post \"Aid 1\": {field}"), parts);
    };
    refused(&hours("16:00", "18:00"), 41, "extra_loss_from", &["16:00 is outside the event"]);
    refused(&hours("18:00", "23:59"), 42, "extra_loss_to", &["23:59 is outside the event"]);
    refused(&hours("18:30", "18:00"), 42, "extra_loss_to", &["ends at", "begins at"]);
    let half = post("extra_loss = \"6 dB\"\nextra_loss_to = 2026-12-05T18:30:00");
    refused(&half, 41, "extra_loss_to", &["go together"]);
    let bare = post("extra_loss_from = 2026-12-05T18:00:00\nextra_loss_to = 2026-12-05T18:30:00");
    refused(&bare, 40, "extra_loss_from", &["the loss itself is missing"]);
    refused(&post("extra_loss = \"-3 dB\""), 40, "extra_loss", &["0 to 60"]);
    let good = hours("18:00", "18:30");
    remarked(at, &good, "post \"Aid 1\": extra_loss", "18:00 to 18:30 count in every result");
    let plan = read(changed(at, &good)).unwrap();
    assert_eq!(plan.posts[0].extra_loss.map(|loss| loss.value()), Some(6.0));
}
