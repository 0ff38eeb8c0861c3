//! Names, and references by name.

use super::*;

#[test]
fn a_name_twice_letter_case_aside() {
    refused(
        "\"Aid 2\"",
        "\"AID 1\"",
        42,
        "post \"AID 1\": name",
        &["already the name of post \"Aid 1\" in line 38"],
    );
}

#[test]
fn posts_sites_areas_and_routes_share_their_names() {
    refused("\"Hotel\"", "\"walk\"", 66, "site \"walk\": name", &["route \"Walk\" in line 56"]);
}

#[test]
fn a_radio_twice() {
    let text = changed("name = \"relay\"", "name = \"Hand-Held\"");
    let error = read(text.replace("station = \"relay\"", "station = \"Hand-Held\"")).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!((problem.line(), problem.field()), (Some(20), "radio \"Hand-Held\": name"));
    assert!(problem.text().contains("in line 12"), "{error}");
}

#[test]
fn an_empty_name() {
    refused("\"Aid 1\"", "\" \"", 38, "post \" \": name", &["empty"]);
}

#[test]
fn a_long_name() {
    let long = format!("\"{}\"", "x".repeat(81));
    let error = read(changed("\"Aid 1\"", &long)).unwrap_err();
    assert_eq!(error.problems()[0].line(), Some(38));
    assert!(error.to_string().contains("81 characters"), "{error}");
    assert!(read(changed("\"Aid 1\"", &format!("\"{}\"", "x".repeat(80)))).is_ok());
}

#[test]
fn control_characters_do_not_reach_the_terminal() {
    for bad in ["a\\u001b[31mb", "a\\nb", "a\\u202eb"] {
        let error = read(changed("\"Aid 1\"", &format!("\"{bad}\""))).unwrap_err();
        assert_eq!(error.problems()[0].line(), Some(38));
        let printed = error.to_string();
        assert!(printed.contains("control character"), "{printed}");
        assert!(!printed.contains(['\u{1b}', '\u{202e}']), "{printed:?}");
    }
}

#[test]
fn html_and_path_separators_come_through_unchanged() {
    for name in ["<script>alert(1)</script>", "../../etc/passwd", "a\\\\b", "R&D \\\"north\\\""] {
        let plan = read(changed("\"Aid 1\"", &format!("\"{name}\""))).unwrap();
        let meant = name.replace("\\\\", "\\").replace("\\\"", "\"");
        assert_eq!(plan.posts[0].name, meant);
    }
}

#[test]
fn a_radio_that_is_not_in_the_plan() {
    refused(
        "weight = 2",
        "radio = \"handheld\"",
        44,
        "post \"Aid 2\": radio",
        &[
            "\"handheld\" is not a radio of this plan; the radios are \"hand-held\", \"relay\"",
            "Did you mean \"hand-held\"?",
        ],
    );
    refused(
        "station = \"relay\"",
        "station = \"repeater\"",
        34,
        "channel \"Net\": station",
        &["not a radio"],
    );
}
