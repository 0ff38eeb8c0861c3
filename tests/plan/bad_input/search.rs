//! Mast heights and the search for spots.

use super::*;

/// Asserts that the minimal plan with these lines behind it has one problem in
/// this field, whose text holds `part`.
#[track_caller]
fn refused_with(lines: &str, field: &str, part: &str) {
    let error = read(format!("{MINIMAL}\n{lines}\n")).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!(problem.field(), field, "{error}");
    assert!(problem.line() > Some(MINIMAL.lines().count()), "{error}");
    assert!(problem.text().contains(part), "{part:?} is not in: {error}");
}

#[test]
fn a_plan_without_either_has_the_usual_ones() {
    let plan = read(MINIMAL).unwrap();
    assert_eq!(plan.masts.highest.value(), 15.0);
    assert!(!plan.masts.feed_line_grows);
    assert_eq!((plan.search.mast.value(), plan.search.keep_apart.value()), (6.0, 300.0));
    assert_eq!((plan.search.samples, plan.search.inside), (8, None));
    assert!(plan.search.roads.is_none());
}

#[test]
fn heights_and_distances_have_units_and_ranges() {
    refused_with("[masts]\nhighest = \"90 m\"", "masts: highest", "1 to 60 m");
    refused_with("[masts]\nhighest = 12", "masts: highest", "bare number");
    refused_with("[search]\nmast = \"6\"", "search: mast", "no unit");
    refused_with("[search]\nmast = \"0 m\"", "search: mast", "0.5 to 60 m");
    refused_with("[search]\nkeep_apart = \"5 m\"", "search: keep_apart", "10 to 20000 m");
    refused_with("[search]\nsamples = 0", "search: samples", "1 to 100");
    refused_with("[search]\nroofs = true", "search: roofs", "no such field");
}

#[test]
fn an_area_has_corners_in_order_and_roads_are_a_file() {
    refused_with(
        "[search]\ninside = [\"47.00, -34.90\", \"47.01, -34.90\"]",
        "search: inside",
        "three corners or more",
    );
    refused_with(
        "[search]\ninside = [\"47.00, -34.90\", \"47.01, -34.89\", \"47.01, -34.90\", \"47.00, -34.89\"]",
        "search: inside",
        "no valid area",
    );
    refused_with("[search]\nroads = \"roads.geojson\"", "search: roads", "there is no file");
    refused_with("[search]\nroads = \"https://x/roads.gpx\"", "search: roads", "not a plain file");
}
