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

/// Drawings and pages are XML 1.0, which holds some of them nowhere.
#[test]
fn what_is_no_character_is_in_no_name() {
    for (typed, number) in [
        ("\\uFFFF", "U+FFFF"),
        ("\u{ffff}", "U+FFFF"),
        ("\\uFFFE", "U+FFFE"),
        ("\\uFDD0", "U+FDD0"),
        ("\\uFDEF", "U+FDEF"),
        ("\\U0001FFFE", "U+1FFFE"),
        ("\\U0010FFFF", "U+10FFFF"),
        ("\\u0001", "U+0001"),
        ("\\u000B", "U+000B"),
        ("\\u0085", "U+0085"),
    ] {
        let error = read(changed("\"Aid 1\"", &format!("\"Aid {typed} 1\""))).unwrap_err();
        let [problem] = error.problems() else { panic!("{typed}: not one problem:\n{error}") };
        assert_eq!(problem.line(), Some(38), "{error}");
        assert!(problem.field().ends_with("name") && problem.text().contains(number), "{error}");
        assert!(!error.to_string().contains(['\u{ffff}', '\u{fffe}', '\u{b}']), "{error:?}");
    }
    // What looks odd and is a character comes through.
    for odd in ["\u{fffd}", "\u{fdcf}", "\u{fdf0}", "\u{10000}", "\u{e000}", "\u{1F4FB}"] {
        assert!(read(changed("\"Aid 1\"", &format!("\"Aid {odd}\""))).is_ok(), "{odd}");
    }
}

#[test]
fn what_is_no_character_is_in_no_other_text_either() {
    let contact = "[[contact]]\nname = \"Net\"\nrole = \"Radios\"\nphone = \"555 0142\"\nnote = \"a\\uFFFFb\"\n\n[[post]]";
    let at = 1 + MINIMAL.lines().position(|line| line == "[[post]]").unwrap();
    let text = MINIMAL.replacen("[[post]]", contact, 1);
    let error = read(text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!(problem.line(), Some(at + 4), "{error}");
    assert_eq!(problem.field(), "contact \"Net\": note", "{error}");
    assert!(problem.text().contains("U+FFFF"), "{error}");
    // In a path, and in a list of them, there is none either.
    let error = read(changed("\"hill.asc\"", "\"hill\\uFFFE.asc\"")).unwrap_err();
    assert!(error.to_string().contains("terrain: files[0]"), "{error}");
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
