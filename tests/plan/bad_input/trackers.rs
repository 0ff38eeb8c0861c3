//! Trackers, and the post of net control.

use super::*;

const TABLES: &str = r#"
[[channel]]
name = "Beacons"
kind = "packet"
frequency = "144.8 MHz"
station = "relay"
carried = "hand-held"

[[tracker]]
name = "Last walker"
route = "Walk"
channel = "Beacons"
every = "90 s"
pace = "6:30 min/km"
packet = "70 bytes"
"#;

fn tracked(from: &str, to: &str) -> String {
    assert!(TABLES.contains(from), "{from} is not in the tables");
    format!("{MINIMAL}{}", TABLES.replacen(from, to, 1))
}

/// One problem, on the line that holds `on`, of this field of the tracker.
#[track_caller]
fn wrong(from: &str, to: &str, on: &str, field: &str, part: &str) {
    let text = tracked(from, to);
    let line = 1 + text.lines().position(|l| l.contains(on)).unwrap();
    let error = read(&text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    let field = match field {
        "" => "tracker \"Last walker\"".to_owned(),
        field => format!("tracker \"Last walker\": {field}"),
    };
    assert_eq!((problem.line(), problem.field()), (Some(line), field.as_str()), "{error}");
    assert!(problem.text().contains(part), "{part:?} is not in: {error}");
}

/// By hand: 6.5 min a kilometre is 2.564 m/s; 70 bytes at 1200 bits a second
/// are 0.467 s, with 0.3 s of key-up 0.767 s.
#[test]
fn a_tracker_is_read_in_its_units() {
    let plan = read(tracked("70", "70")).unwrap();
    assert_eq!(plan.remarks, []);
    let tracker = plan.trackers.first().unwrap();
    assert!((tracker.speed.value() - 1000.0 / 390.0).abs() < 1e-9);
    assert!((tracker.packet.value() - 0.766_667).abs() < 1e-6);
    assert_eq!((tracker.every.value(), tracker.count), (90.0, 1));
    assert_eq!(tracker.mount, plan::Mount::Person(plan::Carry::Head));
    let speed = |typed: &str| {
        let plan = read(tracked("pace = \"6:30 min/km\"", typed)).unwrap();
        plan.trackers.first().unwrap().speed.value()
    };
    assert!((speed("pace = \"8 min/mi\"") - 1609.344 / 480.0).abs() < 1e-9);
    assert!((speed("speed = \"18 km/h\"") - 5.0).abs() < 1e-9);
    assert!((speed("speed = \"10 mph\"") - 4.4704).abs() < 1e-9);
    let plan = read(tracked("channel = \"Beacons\"\n", "vehicle = true\n")).unwrap();
    assert_eq!(plan.trackers.first().unwrap().mount, plan::Mount::Vehicle);
}

#[test]
fn names_that_the_plan_does_not_have() {
    wrong("\"Walk\"", "\"Wlak\"", "Wlak", "route", "Did you mean \"Walk\"?");
    wrong("\"Beacons\"\nevery", "\"Net\"\nevery", "channel = \"Net\"", "channel", "voice");
    wrong("every", "radio = \"desk\"\nevery", "desk", "radio", "not a radio");
    let text = tracked("kind = \"packet\"", "kind = \"simplex\"")
        .replace(
            "station = \"relay\"\ncarried = \"hand-held\"\n\n[[tr",
            "carried = \"hand-held\"\n\n[[tr",
        )
        .replace("channel = \"Beacons\"\n", "");
    let error = read(&text).unwrap_err().to_string();
    assert!(error.contains("no packet channel"), "{error}");
}

#[test]
fn how_it_moves_and_rides() {
    wrong("6:30 min/km", "6:30", "6:30", "pace", "min/km");
    wrong("6:30 min/km", "6:75 min/km", "6:75", "pace", "min/km");
    wrong("6:30 min/km", "0 min/km", "0 min/km", "pace", "0.36 to 180 km/h");
    wrong("packet =", "speed = \"5 km/h\"\npacket =", "pace =", "pace", "one or the other");
    wrong("pace = \"6:30 min/km\"\n", "", "[[tracker]]", "pace", "one or the other");
    wrong("every", "carry = \"hip\"\nvehicle = true\nevery", "vehicle", "vehicle", "leave one");
    wrong("every", "radio = \"relay\"\nevery", "[[tracker]]", "carry", "vehicle = true");
}

#[test]
fn how_often_and_how_long() {
    wrong("\"90 s\"", "90", "every = ", "every", "no unit is ever guessed");
    wrong("90 s", "2 h", "every = ", "every", "s, min");
    wrong("90 s", "1 s", "every = ", "every", "5 to 3600 s");
    wrong("70 bytes", "700 bytes", "packet = ", "packet", "1 to 400 bytes");
    wrong("70 bytes", "12 s", "packet = ", "packet", "0.05 to 10 s");
    let never = tracked("90 s", "6 s").replace("70 bytes", "8 s");
    let error = read(&never).unwrap_err().to_string();
    assert!(error.contains("never ends"), "{error}");
    wrong("packet =", "count = 0\npacket =", "count", "count", "1 to 1000");
}

/// Nothing is taken silently.
#[test]
fn a_packet_that_is_not_stated_is_remarked() {
    let plan = read(tracked("packet = \"70 bytes\"\n", "")).unwrap();
    let [remark] = plan.remarks.as_slice() else { panic!("{:?}", plan.remarks) };
    assert!(remark.text.contains("0.9 s"), "{remark:?}");
}

#[test]
fn there_is_one_net_control() {
    let marked = |at: &str| format!("{at}\nnet_control = true");
    let (one, two) = ("at = \"47.1234, -35.2345\"", "at = \"47.1300 N 35.2400 W\"");
    let plan = read(changed(one, &marked(one))).unwrap();
    assert_eq!(plan.posts.iter().map(|p| p.net_control).collect::<Vec<_>>(), [true, false]);
    let text = changed(one, &marked(one)).replacen(two, &marked(two), 1);
    let line =
        1 + text.lines().enumerate().filter(|(_, l)| l.contains("net_control")).last().unwrap().0;
    let error = read(&text).unwrap_err();
    let [problem] = error.problems() else { panic!("not one problem:\n{error}") };
    assert_eq!((problem.line(), problem.field()), (Some(line), "post \"Aid 2\": net_control"));
    assert!(problem.text().contains("post \"Aid 1\" says"), "{error}");
}
