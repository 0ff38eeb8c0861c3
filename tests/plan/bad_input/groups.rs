//! Groups of people, and what everybody does without the relay.

use super::*;
use perchline::plan::{AudioQuality, Bridge, Carry, Member, People, Users};

const TABLES: &str = r#"
[[channel]]
name = "Simplex"
kind = "simplex"
frequency = "146.55 MHz"
carried = "hand-held"

[[channel]]
name = "Aid simplex"
kind = "simplex"
frequency = "146.58 MHz"
carried = "hand-held"
users = "aid 1 and Aid"

[[group]]
name = "Aid"
posts = ["Aid 1"]
people = ["Runner 1", "Runner 2"]
channel = "Aid simplex"
head = "Runner 1"
net_control = "aid 1"
bridge = [{ post = "Aid 1", to = "Simplex" }, { person = "Runner 2" }]

[[group]]
name = "Wardens"
posts = ["Aid 2"]
people = 3
channel = "Simplex"
head = "Aid 2"

[fallback]
first = "Simplex"
"#;

fn with(from: &str, to: &str) -> String {
    assert!(TABLES.contains(from), "{from} is not in the tables");
    format!("{MINIMAL}{}", TABLES.replacen(from, to, 1))
}

/// One problem, on the line that holds `on`, of this field.
#[track_caller]
fn wrong(from: &str, to: &str, on: &str, field: &str, part: &str) {
    one_problem(&with(from, to), on, field, &[part]);
}

#[test]
fn groups_are_read() {
    let plan = read(with("[[group]]", "[[group]]")).unwrap();
    assert_eq!(plan.remarks, []);
    let [aid, wardens] = plan.groups.as_slice() else { panic!("{:?}", plan.groups) };
    let post = |name: &str| plan.posts.iter().position(|p| p.name == name).unwrap();
    let channel = |name: &str| plan.channels.iter().position(|c| c.name == name).unwrap();
    assert_eq!(aid.posts, [post("Aid 1")]);
    assert_eq!(aid.people, People::Named(vec!["Runner 1".to_owned(), "Runner 2".to_owned()]));
    assert_eq!(aid.channel, channel("Aid simplex"));
    assert_eq!(aid.head, Member::Person("Runner 1".to_owned()));
    assert_eq!(aid.net_control, Some(post("Aid 1")));
    let bridges = [
        Bridge { who: Member::Post(post("Aid 1")), to: Some(channel("Simplex")) },
        Bridge { who: Member::Person("Runner 2".to_owned()), to: None },
    ];
    assert_eq!(aid.bridges, bridges);
    assert_eq!((wardens.people.count(), wardens.net_control), (3, Some(post("Aid 2"))));
    assert_eq!(plan.fallback.first, Some(channel("Simplex")));
    assert_eq!(plan.group_of(post("Aid 1")).unwrap().name, "Aid");
    let users = |name: &str| plan.users_of(&plan.channels[channel(name)]);
    assert_eq!(users("Aid simplex"), Users::Only(vec![post("Aid 1")]));
    assert_eq!(users("Simplex"), Users::Anybody);
    // A group's name stands for its channel.
    let plan = read(with("to = \"Simplex\"", "to = \"wardens\"")).unwrap();
    assert_eq!(plan.groups[0].bridges[0].to, Some(channel("Simplex")));
}

/// The quality and the way to hold a radio that hold without the relay are not
/// those with it.
#[test]
fn a_plan_without_a_fallback_has_its_defaults() {
    let fallback = read(MINIMAL).unwrap().fallback;
    assert_eq!(fallback.first, None);
    assert_eq!((fallback.audio_quality, fallback.carry), (AudioQuality::Daq30, Carry::Head));
}

#[test]
fn a_group_whose_head_is_a_person_has_its_only_post_for_its_net() {
    let plan = read(with("net_control = \"aid 1\"\n", "")).unwrap();
    assert_eq!(plan.groups[0].net_control, Some(plan.groups[0].posts[0]));
}

#[test]
fn nobody_is_in_two_groups() {
    let field = "group \"Wardens\": posts[0]";
    let part = "is in group \"Aid\" already in line";
    let twice = "posts = [\"AID 1\"]";
    let text = with("posts = [\"Aid 2\"]", twice).replace("head = \"Aid 2", "head = \"AID 1\" #");
    let error = read(&text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    let line = 1 + text.lines().position(|l| l == twice).unwrap();
    assert_eq!((problem.line(), problem.field()), (Some(line), field));
    assert!(problem.text().contains(part) && problem.text().contains("bridge = "), "{error}");
    let twice = "people = [\"runner 1\"]";
    wrong("people = 3", twice, twice, "group \"Wardens\": people[0]", part);
    let twice = "posts = [\"Aid 1\", \"Aid 1\"]";
    wrong("posts = [\"Aid 1\"]", twice, twice, "group \"Aid\": posts[1]", "this group already");
}

#[test]
fn a_head_is_one_of_the_group() {
    let head = "head = \"Runner 1\"";
    wrong(head, "", "[[group]]", "group \"Aid\": head", "missing");
    let field = "group \"Aid\": head";
    let of = "it has \"Aid 1\", \"Runner 1\", \"Runner 2\"";
    wrong(head, "head = \"Aid 2\"", "head = \"Aid 2\"", field, of);
    wrong(head, "head = \"Runer 1\"", "Runer 1", field, "Did you mean \"Runner 1\"?");
    let head = "head = \"Aid 2\"";
    let field = "group \"Wardens\": head";
    wrong(head, "head = \"Warden 1\"", "Warden 1", field, "list them by name");
}

#[test]
fn a_group_has_somebody() {
    let text = with("posts = [\"Aid 2\"]\npeople = 3\n", "");
    let error = read(&text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!(problem.field(), "group \"Wardens\": posts");
    assert!(problem.text().contains("nobody is in it"), "{error}");
    let people = "group \"Wardens\": people";
    wrong("people = 3", "people = 0", "people = 0", people, "1 to 10000");
    wrong("people = 3", "people = 10001", "people = 10001", people, "1 to 10000");
    wrong("people = 3", "people = []", "people = []", people, "empty");
    wrong(
        "people = 3",
        "people = [\"\"]",
        "people = [\"\"]",
        "group \"Wardens\": people[0]",
        "empty",
    );
    wrong("people = 3", "people = \"three\"", "\"three\"", people, "list of names");
}

#[test]
fn names_are_those_of_the_plan() {
    let posts = "group \"Aid\": posts[0]";
    wrong(
        "posts = [\"Aid 1\"]",
        "posts = [\"Aid 11\"]",
        "Aid 11",
        posts,
        "Did you mean \"Aid 1\"?",
    );
    let channel = "group \"Aid\": channel";
    let own = "channel = \"Aid simplex\"";
    wrong(own, "channel = \"Aid simples\"", "simples", channel, "Did you mean \"Aid simplex\"?");
    let relay = "channel = \"Net\"";
    wrong(own, relay, relay, channel, "the plan has \"Simplex\", \"Aid simplex\"");
    let control = "group \"Aid\": net_control";
    wrong("\"aid 1\"", "\"Runner 1\"", "net_control = \"Runner 1\"", control, "it has \"Aid 1\"");
    let carries = "group \"Aid\": carries";
    let head = "head = \"Runner 1\"";
    wrong(head, &format!("{head}\ncarries = \"Kit\""), "\"Kit\"", carries, "not a crew");
    let radio = format!("{head}\ncarries = \"hand-held\"");
    wrong(head, &radio, "carries", carries, "is a radio; name the [[crew]]");
    let first = "fallback: first";
    wrong("first = \"Simplex\"", "first = \"Net\"", "first =", first, "kind \"simplex\"");
    wrong("first = \"Simplex\"", "first = \"Simple\"", "first =", first, "Did you mean");
    let twice = with("name = \"Wardens\"", "name = \"AID\"");
    assert!(read(twice).unwrap_err().to_string().contains("already the name of group"));
}

#[test]
fn a_bridge_is_of_the_group_and_leads_elsewhere() {
    let bridge = "{ post = \"Aid 1\", to = \"Simplex\" }";
    let whole = "group \"Aid\": bridge[0]";
    let post = "group \"Aid\": bridge[0].post";
    let to = "group \"Aid\": bridge[0].to";
    wrong(bridge, "{ post = \"Aid 2\" }", "bridge =", post, "not of this group");
    wrong(bridge, "{ post = \"Runner 1\" }", "bridge =", post, "it has \"Aid 1\"");
    wrong(bridge, "{ to = \"Simplex\" }", "bridge =", whole, "one or the other");
    let both = "{ post = \"Aid 1\", person = \"Runner 1\" }";
    wrong(bridge, both, "bridge =", whole, "one or the other");
    wrong("to = \"Simplex\"", "to = \"Net\"", "bridge =", to, "kind \"simplex\"");
    wrong("to = \"Simplex\"", "to = \"Aid\"", "bridge =", to, "the group's own channel");
    wrong("to = \"Simplex\"", "to = \"Aid simplex\"", "bridge =", to, "the group's own channel");
    wrong("to = \"Simplex\"", "to = \"Smplex\"", "bridge =", to, "Did you mean \"Simplex\"?");
    wrong(
        "to = \"Simplex\"",
        "too = \"Simplex\"",
        "bridge =",
        "group \"Aid\": bridge[0].too",
        "to",
    );
    let twice = "group \"Aid\": bridge[1]";
    wrong("{ person = \"Runner 2\" }", bridge, "bridge =", twice, "already");
}

#[test]
fn users_are_held_against_groups_and_the_fallback() {
    let users = "channel \"Aid simplex\": users";
    wrong("first = \"Simplex\"", "first = \"Aid simplex\"", "users =", users, "leave one");
    let remarks = |to: &str| {
        let plan = read(with("users = \"aid 1 and Aid\"", to)).unwrap();
        plan.remarks.into_iter().map(|r| (r.about, r.text)).collect::<Vec<_>>()
    };
    let [(about, text)] = &remarks("users = \"Aid 1, walkers\"")[..] else { panic!() };
    assert!(about == users && text.contains("\"walkers\""), "{text}");
    let [(about, text)] = &remarks("users = \"Aid 2\"")[..] else { panic!() };
    assert!(about == users && text.contains("all of group \"Aid\""), "{text}");
}

#[test]
fn a_crew_has_as_many_people_as_carry_its_kit() {
    let crew = r#"
[[pack]]
name = "pack"
chemistry = "li-ion"
cells = 2
capacity = "1500 mAh"
[[crew]]
name = "Kit"
people = 3
currents = { transmit = "1.5 A", receive = "250 mA", standby = "70 mA" }
traffic = { keyed = "5 %", listening = "20 %" }
cutoff = "6.4 V"
pack = "pack"
kept_at = "12 °C"
"#;
    let read_with = |people: &str| {
        let text = with("people = 3", &format!("people = {people}\ncarries = \"Kit\"")) + crew;
        read(text).unwrap().remarks
    };
    assert_eq!(read_with("2"), []);
    let remarks = read_with("3");
    let [remark] = remarks.as_slice() else { panic!("{remarks:?}") };
    assert_eq!(remark.about, "crew \"Kit\": people");
    assert!(remark.text.contains("4 people"), "{}", remark.text);
}
