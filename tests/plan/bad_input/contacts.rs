//! People to call.

use super::*;

const CONTACT: &str = r#"
[[contact]]
name = "Net"
role = "Anything"
phone = "+1 (555) 0142"
channel = "net"
note = "Until the last radio is down"
"#;

fn with(from: &str, to: &str) -> String {
    assert!(CONTACT.contains(from), "{from} is not in the table");
    format!("{MINIMAL}{}", CONTACT.replacen(from, to, 1))
}

/// One problem of this field of the contact, on the line that holds `on`.
#[track_caller]
fn wrong(from: &str, to: &str, on: &str, field: &str, part: &str) {
    one_problem(&with(from, to), on, &format!("contact \"Net\": {field}"), &[part]);
}

#[test]
fn a_contact_is_read() {
    let plan = read(with("\"Net\"", "\"Net\"")).unwrap();
    let contact = plan.contacts.first().unwrap();
    assert_eq!(contact.phone.as_deref(), Some("+1 (555) 0142"));
    assert_eq!(contact.channel, Some(0), "letter case aside");
    assert!(read(MINIMAL).unwrap().contacts.is_empty());
}

#[test]
fn there_is_a_way_to_reach_them() {
    let without = "phone = \"+1 (555) 0142\"\nchannel = \"net\"\n";
    wrong(without, "", "[[contact]]", "phone", "say how they are reached");
}

#[test]
fn a_number_is_one() {
    let number = "+1 (555) 0142";
    wrong(number, "call me", "phone", "phone", "holds \"c\"");
    wrong(number, "- 55", "phone", "phone", "2 digits; 3 is the least");
    wrong(number, &"5".repeat(41), "phone", "phone", "longer than 40");
}

#[test]
fn a_channel_is_one_of_the_plan() {
    wrong("\"net\"", "\"Nat\"", "\"Nat\"", "channel", "Did you mean \"Net\"?");
}

#[test]
fn fields_and_names_are_known_ones() {
    wrong("note =", "notes =", "notes =", "notes", "Did you mean \"note\"?");
    wrong("\"Anything\"", "\"\"", "role", "role", "empty");
    let twice = format!("{MINIMAL}{CONTACT}{}", CONTACT.replace("\"Net\"", "\"NET\""));
    let error = read(twice).unwrap_err().to_string();
    assert!(error.contains("already the name of contact"), "{error}");
}
