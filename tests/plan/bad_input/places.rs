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
