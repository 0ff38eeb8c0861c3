//! Roofs and masts.

use super::*;

#[test]
fn a_roof_of_400_m_is_questioned() {
    let to = "\"400 m above ground\"";
    refused(
        "\"30 m above ground\"",
        to,
        62,
        "site \"Elevator\": roof",
        &["if feet were meant write \"400 ft above ground\" (121.9 m)", "tall = true"],
    );
    let tall = "\"400 m above ground\"\ntall = true";
    remarked("\"30 m above ground\"", tall, "site \"Elevator\": roof", "unusually high");
    assert!(read(changed("\"30 m above ground\"", "\"400 ft above ground\"")).is_ok());
}

#[test]
fn a_mast_of_100_m_is_questioned() {
    refused(
        "mast = \"3 m\"",
        "mast = \"100 m\"",
        63,
        "site \"Elevator\": mast",
        &["\"100 ft\" (30.5 m)"],
    );
}

#[test]
fn negative_heights() {
    refused("\"3 m\"", "\"-3 m\"", 63, "site \"Elevator\": mast", &["negative"]);
    refused("\"30 m above", "\"-30 m above", 62, "site \"Elevator\": roof", &["below"]);
}

#[test]
fn a_roof_says_what_it_is_above() {
    for bad in ["\"30 m\"", "\"30 m above roof\"", "30", "\"30 above ground\""] {
        let error = read(changed("\"30 m above ground\"", bad)).unwrap_err();
        let problem = &error.problems()[0];
        assert_eq!((problem.line(), problem.field()), (Some(62), "site \"Elevator\": roof"));
    }
}
