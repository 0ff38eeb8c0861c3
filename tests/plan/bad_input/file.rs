//! The file as a whole.

use super::*;

#[test]
fn a_missing_file() {
    let error = plan::read("no/such/plan.toml".as_ref(), METHODS).unwrap_err();
    assert!(error.to_string().starts_with("no/such/plan.toml: there is no such file"));
}

#[test]
fn a_folder() {
    let (folder, _) = folder("");
    let error = plan::read(folder.path(), METHODS).unwrap_err();
    assert!(error.to_string().contains("this is a folder"));
}

#[test]
fn an_empty_plan_says_what_is_needed() {
    for text in ["", "\n# only a comment\n", "\u{feff}"] {
        let text = read(text).unwrap_err().to_string();
        for part in ["[event]", "[[radio]]", "[[site]]", "ferry-lights.toml"] {
            assert!(text.contains(part), "{text}");
        }
    }
}

#[test]
fn a_plan_of_ten_megabytes() {
    let mut text = MINIMAL.to_owned();
    text.push_str(&"# filler\n".repeat(10 * 1024 * 1024 / 9));
    let error = read(&text).unwrap_err().to_string();
    assert!(error.contains("10.0 MiB") && error.contains("4 MiB"), "{error}");
}

#[test]
fn the_limit_itself_is_allowed() {
    let mut text = MINIMAL.to_owned();
    text.push('#');
    text.push_str(&"x".repeat(MAX_PLAN_BYTES as usize - text.len()));
    assert!(read(&text).is_ok());
    text.push('x');
    assert!(read(&text).is_err());
}

#[test]
fn bytes_that_are_no_utf_8() {
    let mut bytes = b"[event]\nname = \"".to_vec();
    bytes.extend([0xe9, b'"', b'\n']);
    let error = read(bytes).unwrap_err();
    assert_eq!(error.problems()[0].line(), Some(2));
    assert!(error.to_string().contains("walk.toml:2: a plan is text in UTF-8"), "{error}");
}

#[test]
fn a_mark_of_byte_order_is_no_matter() {
    assert!(read(format!("\u{feff}{MINIMAL}")).is_ok());
}

#[test]
fn windows_line_ends_are_no_matter() {
    let text = changed("weight = 2", "weight = -2").replace('\n', "\r\n");
    assert_eq!(read(text).unwrap_err().problems()[0].line(), Some(44));
}

#[test]
fn a_slip_of_toml() {
    refused("power = \"5 W\"", "power = = \"5 W\"", 13, "", &["not TOML"]);
}

#[test]
fn every_problem_is_told_in_the_order_of_lines() {
    let text = changed("mast = \"3 m\"", "mast = \"3\"")
        .replace("weight = 2", "weight = nan")
        .replace("power = \"5 W\"", "power = \"-5 W\"");
    let error = read(text).unwrap_err();
    let lines: Vec<_> = error.problems().iter().map(|p| p.line().unwrap()).collect();
    assert_eq!(lines, [13, 44, 63]);
    let printed = error.to_string();
    assert_eq!(printed.lines().count(), 3);
    assert!(printed.contains("walk.toml:13: radio \"hand-held\": power: "), "{printed}");
}
