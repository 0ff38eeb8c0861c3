//! Tables and fields that are missing, unknown or of the wrong kind.

use super::*;

#[test]
fn an_unknown_field() {
    refused(
        "mast = \"3 m\"",
        "mast = \"3 m\"\nmastt = 3",
        64,
        "site \"Elevator\": mastt",
        &["no such field", "Did you mean \"mast\"?"],
    );
}

#[test]
fn an_unknown_field_inside_a_field() {
    refused(
        "pattern = \"dipole\"",
        "patern = \"dipole\"",
        14,
        "radio \"hand-held\": antenna.patern",
        &["gain, pattern", "Did you mean \"pattern\"?"],
    );
}

#[test]
fn an_unknown_table() {
    refused("[terrain]", "[terain]\n[terrain]", 8, "\"terain\"", &["Did you mean \"terrain\"?"]);
}

#[test]
fn a_missing_field() {
    refused("at = \"47.1234, -35.2345\"\n", "", 37, "post \"Aid 1\": at", &["is missing"]);
}

#[test]
fn every_slip_in_one_table_is_told() {
    let text = changed("power = \"5 W\"", "power = true")
        .replacen("pattern = \"dipole\"", "patern = \"dipole\"", 1)
        .replacen("carry = \"head\"", "carry = 3\ncary = \"hip\"", 1)
        .replacen("sensitivity = \"0.25 uV\"\n", "", 1);
    let error = read(text).unwrap_err();
    let told: Vec<_> = error.problems().iter().map(|p| (p.line().unwrap(), p.field())).collect();
    let hand_held = "radio \"hand-held\"";
    let expected =
        [(11, "sensitivity"), (13, "power"), (14, "antenna.patern"), (16, "carry"), (17, "cary")]
            .map(|(line, field)| (line, format!("{hand_held}: {field}")));
    assert_eq!(told, expected.each_ref().map(|(line, field)| (*line, field.as_str())), "{error}");
}

#[test]
fn a_field_inside_a_field_is_missing() {
    refused(", pattern = \"dipole\"", "", 14, "radio \"hand-held\": antenna.pattern", &["missing"]);
}

#[test]
fn single_brackets_for_a_list() {
    refused("[[route]]", "[route]", 55, "route", &["[[route]]"]);
}

#[test]
fn double_brackets_for_one_table() {
    refused("[terrain]", "[[terrain]]", 8, "terrain", &["[terrain]"]);
}

#[test]
fn no_sites_and_no_posts() {
    let (before, _) = MINIMAL.split_once("[[site]]").unwrap();
    let error = read(before).unwrap_err().to_string();
    assert!(error.contains("at least one [[site]]"), "{error}");
    let without = MINIMAL.split_once("[[post]]").unwrap().0.to_owned()
        + "[[area]]"
        + MINIMAL.split_once("[[area]]").unwrap().1;
    let error = read(&without).unwrap_err().to_string();
    assert!(error.contains("at least one [[post]]"), "{error}");
    let error = read(format!("post = []\n{without}")).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!((problem.line(), problem.field()), (Some(1), "post"));
}

#[test]
fn text_where_a_switch_is_needed() {
    refused("must = true", "must = \"yes\"", 45, "post \"Aid 2\": must", &["true or false"]);
}
