//! Logs as people and devices write them: what is understood, what is rejected
//! with a reason, and that nothing gets lost.

use crate::support;
use std::fs;
use std::path::{Path, PathBuf};

use jiff::SignedDuration;
use perchline::heard::log::{self, Defaults, Log, LogError, Place};
use perchline::link::Direction;
use perchline::plan::{AudioQuality, Carry, Plan};
use perchline::units::{Dbm, Seconds};
use proptest::prelude::*;

fn plan() -> Plan {
    support::read_plan(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ferry-lights.toml"),
    )
}

fn defaults() -> Defaults {
    Defaults { channel: Some(0), site: Some(2), clock_offset: SignedDuration::ZERO }
}

fn read_as(name: &str, text: &[u8], plan: &Plan, defaults: &Defaults) -> Result<Log, LogError> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(name);
    fs::write(&file, text).unwrap();
    log::read(&[file], plan, defaults)
}

fn read(text: &str) -> Log {
    let log = read_as("log.csv", text.as_bytes(), &plan(), &defaults()).unwrap();
    assert_eq!(log.lost(), 0);
    log
}

#[test]
fn a_row_says_what_it_says() {
    let log = read(
        "time,post,direction,heard,daq,carry,level\n\
         17:05,Aid 3,out,yes,,hip,\n\
         2026-12-05 18:10,aid 4,in,,3.4,head,\n\
         2026-12-05T20:15:00Z,Aid 5,both,,,,S7\n",
    );
    assert_eq!((log.rows, log.counted, log.reports.len()), (3, 3, 4));
    let [first, second, third, fourth] = log.reports.as_slice() else { panic!() };
    assert_eq!((first.direction, first.said.heard), (Direction::TalkOut, Some(true)));
    assert_eq!(first.carry, Some(Carry::Hip));
    // The event's clock is two hours behind UTC.
    assert_eq!(first.time.unwrap().to_string(), "2026-12-05T19:05:00Z");
    assert_eq!(second.time.unwrap().to_string(), "2026-12-05T20:10:00Z");
    assert_eq!(second.said.quality.unwrap().at_least, Some(AudioQuality::Daq34));
    assert_eq!(third.time.unwrap().to_string(), "2026-12-05T20:15:00Z");
    assert_eq!(third.said.level.unwrap().level, Dbm::new(-105.0));
    assert_eq!((third.direction, fourth.direction), (Direction::TalkIn, Direction::TalkOut));
    assert!(matches!(first.place, Place::Post(index) if plan().posts[index].name == "Aid 3"));
}

/// Common practice, no source: spreadsheets write semicolons, commas in
/// numbers, other names for columns, and marks of their own.
#[test]
fn the_ways_of_spreadsheets_are_understood() {
    let plain = read("time,post,direction,level,heard\n17:05,Aid 3,out,-97.5 dBm,yes\n");
    for text in [
        "\u{feff}Time;Post;Direction;Level;Heard\r\n17:05;Aid 3;OUT;-97,5 dBm;Y\r\n",
        "Local time\tWhere\tWay\tdBm\tCopied\n1705\taid 3\ttalk-out\t-97.5\t1\n",
        "# the evening's log\n\ntime,post,direction,level,heard\n\n\"17:05\",\"Aid 3\",rx,\"-97,5\",ok\n,,,,\n",
    ] {
        let log = read(text);
        assert!(log.rejected.is_empty(), "{:?}", log.rejected);
        let strip = |log: &Log| {
            let report = &log.reports[0];
            (report.time, report.place.clone(), report.direction, report.said)
        };
        assert_eq!(strip(&log), strip(&plain), "{text}");
    }
    // Old spreadsheets write Latin-1.
    let latin = b"time,post,heard,note\n17:05,Aid 3,yes,caf\xe9\n";
    let log = read_as("log.csv", latin, &plan(), &defaults()).unwrap();
    assert_eq!((log.counted, log.lost()), (1, 0));
}

#[test]
fn every_row_that_does_not_count_is_listed_with_its_line_and_a_reason() {
    let text = "time,post,direction,heard,daq,rst,level,carry,channel,site\n\
         17:05,Aid 3,out,yes,,,,,,\n\
         17:05,Aid 3,out,yes,,,,,,\n\
         17:06,Aid 33,out,yes,,,,,,\n\
         17:07,Aid 3,sideways,yes,,,,,,\n\
         25:07,Aid 3,out,yes,,,,,,\n\
         17:08,Aid 3,out,maybe,,,,,,\n\
         17:09,Aid 3,out,,9,,,,,\n\
         17:10,Aid 3,out,,,99,,,,\n\
         17:11,Aid 3,out,,,,S12,,,\n\
         17:12,Aid 3,out,,,,,,,\n\
         17:13,,out,yes,,,,,,\n\
         17:14,Aid 3,out,no,3.4,,,,,\n\
         17:15,Aid 3,out,yes,,,,pocket,,\n\
         17:16,Aid 3,out,yes,,,,,Simplex,\n\
         17:17,Aid 3,out,yes,,,,,Nowhere,\n\
         17:18,Aid 3,out,yes,,,,,,Moon\n\
         17:19,Aid 3,out,yes,,,,,,,,extra\n";
    let log = read(text);
    assert_eq!((log.rows, log.counted), (17, 1));
    let reasons: Vec<(usize, &str)> =
        log.rejected.iter().map(|r| (r.origin.line, r.reason.as_str())).collect();
    for (line, says) in [
        (3, "the same as line 2"),
        (4, "did you mean \"Aid 3\"?"),
        (5, "write in"),
        (6, "no time"),
        (7, "neither yes nor no"),
        (8, "no step from 1 to 5"),
        (9, "readability 1 to 5"),
        (10, "neither S units"),
        (11, "neither whether it was heard nor how well"),
        (12, "neither a post nor a position"),
        (13, "one of them is wrong"),
        (14, "none of head, shoulder, hip"),
        (15, "radio to radio"),
        (16, "no channel \"Nowhere\""),
        (17, "no site \"Moon\""),
        (18, "12 cells, the line of names 10"),
    ] {
        let found = reasons.iter().find(|(at, _)| *at == line);
        assert!(found.is_some_and(|(_, reason)| reason.contains(says)), "{line}: {found:?}");
    }
    assert_eq!(reasons.len(), 16);
}

/// From radio to radio a row says who spoke and who listened, and counts one way unless
/// it says both; everything else is told.
#[test]
fn reports_from_radio_to_radio_name_both_ends() {
    let log = read(
        "time,from,to,channel,direction,carry,heard,daq\n\
         17:05,Aid 3,Aid 4,Simplex,,hip,no,\n\
         17:06,Aid 3,\"46.98488, -34.90740\",Simplex,both,,,3\n\
         17:07,Aid 3,,Simplex,,,yes,\n\
         17:08,Aid 3,Aid 3,Simplex,,,yes,\n\
         17:09,Aid 3,Aid 44,Simplex,,,yes,\n\
         17:10,Aid 3,Aid 4,Simplex,in,,yes,\n\
         17:11,Aid 3,Aid 4,Relay,in,,yes,\n",
    );
    let plan = plan();
    let post = |name: &str| Place::Post(plan.posts.iter().position(|p| p.name == name).unwrap());
    assert_eq!((log.rows, log.counted, log.reports.len()), (7, 3, 4));
    let [one, there, back, relay] = log.reports.as_slice() else { panic!() };
    assert_eq!((&one.place, one.to.as_ref()), (&post("Aid 3"), Some(&post("Aid 4"))));
    assert_eq!((one.site, one.direction, one.carry), (None, Direction::TalkIn, Some(Carry::Hip)));
    assert_eq!(one.said.heard, Some(false));
    assert_eq!((there.direction, back.direction), (Direction::TalkIn, Direction::TalkOut));
    assert!(matches!(there.to, Some(Place::At(_))) && there.to == back.to);
    // Where there is a station, who listened is of no concern.
    assert_eq!((relay.site, relay.to.as_ref()), (Some(2), None));
    for (line, says) in [
        (4, "a report from radio to radio names both ends"),
        (5, "the same place at both ends"),
        (6, "no post \"Aid 44\""),
        (7, "leave it empty, or write both"),
    ] {
        let found = log.rejected.iter().find(|r| r.origin.line == line).unwrap();
        assert!(found.reason.contains(says), "{line}: {}", found.reason);
    }
}

#[test]
fn positions_and_posts_mean_the_same_place() {
    let plan = plan();
    let log = read("position,heard\n\"46.98488, -34.90740\",no\n25T CN 56550 04720,yes\n");
    let [first, .., last] = log.reports.as_slice() else { panic!() };
    let at = |place: &Place| match place {
        Place::At(at) => *at,
        Place::Post(post) => plan.posts[*post].at,
    };
    let post = |name: &str| plan.posts.iter().find(|p| p.name == name).unwrap().at;
    assert!(at(&first.place).distance(post("Level crossing")).value() < 1.0);
    assert!(at(&last.place).distance(post("Aid 3")).value() < 1.0);
    let log =
        read("lat,lon,heard\n46.98488,-34.90740,no\n\"46,98488\",\"-34,90740\",yes\n95,0,yes\n");
    assert_eq!((log.counted, log.rejected.len()), (2, 1));
}

#[test]
fn gpx_waypoints_are_reports() {
    let text = r#"<?xml version="1.0"?><gpx version="1.1" creator="t" xmlns="http://www.topografix.com/GPX/1/1">
<wpt lat="46.98488" lon="-34.90740"><time>2026-12-05T19:00:00Z</time><name>1</name><desc>heard: no; direction: in</desc></wpt>
<wpt lat="46.99" lon="-34.90"><name>2</name><desc>59; hip</desc></wpt>
<wpt lat="46.99" lon="-34.91"><name>3</name><desc>weather fine</desc></wpt>
<wpt lat="46.98488" lon="-34.90740"><time>2026-12-05T19:00:00Z</time><name>4</name><desc>heard: no; direction: in</desc></wpt>
</gpx>"#;
    let log = read_as("walk.gpx", text.as_bytes(), &plan(), &defaults()).unwrap();
    assert_eq!((log.rows, log.counted, log.rejected.len(), log.lost()), (4, 2, 2, 0));
    assert_eq!(log.reports[0].said.heard, Some(false));
    assert_eq!(log.reports[0].direction, Direction::TalkIn);
    assert_eq!(log.reports[1].said.level.unwrap().level, Dbm::new(-93.0));
    assert_eq!(log.reports[1].carry, Some(Carry::Hip));
    assert!(log.rejected[0].reason.contains("not understood"));
    assert!(log.rejected[1].reason.contains("the same as waypoint 1"));
}

/// A packet log holds what came; what did not come is in its gaps.
#[test]
fn beacons_that_did_not_come_are_counted() {
    let mut plan = plan();
    let lead = plan.trackers.iter().position(|t| t.name == "Lead car").unwrap();
    plan.trackers[lead].every = Seconds::new(60.0);
    let text = "time,tracker,lat,lon\n\
        2026-12-05T18:40:00Z,Lead car,46.990,-34.900\n\
        2026-12-05T18:41:00Z,Lead car,46.991,-34.900\n\
        2026-12-05T18:45:00Z,Lead car,46.995,-34.900\n\
        2026-12-05T20:00:00Z,Lead car,46.999,-34.900\n";
    let log = read_as("packets.csv", text.as_bytes(), &plan, &defaults()).unwrap();
    assert_eq!((log.rows, log.counted, log.lost()), (4, 4, 0));
    // Three between 18:41 and 18:45; the long silence is a switched-off car.
    assert_eq!(log.missing_beacons, 3);
    let silent: Vec<_> = log.reports.iter().filter(|r| r.said.heard == Some(false)).collect();
    let latitudes: Vec<f64> = silent
        .iter()
        .map(|r| match r.place {
            Place::At(at) => (at.latitude().value() * 1e4).round() / 1e4,
            Place::Post(_) => panic!(),
        })
        .collect();
    assert_eq!(latitudes, [46.992, 46.993, 46.994]);
    assert!(log.reports.iter().all(|r| r.direction == Direction::TalkIn));
    assert_eq!(log.reports[0].channel, plan.trackers[lead].channel);
}

#[test]
fn a_clock_in_another_zone_is_noticed_and_can_be_put_right() {
    let text = "time,post,heard\n\
        2026-12-06T05:05:00Z,Aid 1,yes\n2026-12-06T05:35:00Z,Aid 2,yes\n";
    let log = read(text);
    let said = &log.remarks.iter().find(|r| r.about == "log: time").unwrap().text;
    assert!(said.contains("all 4 times lie outside the event's hours"), "{said}");
    assert!(said.contains("--clock-offset"), "{said}");
    let shifted = Defaults { clock_offset: SignedDuration::from_hours(-9), ..defaults() };
    let log = read_as("log.csv", text.as_bytes(), &plan(), &shifted).unwrap();
    assert!(log.remarks.iter().all(|r| r.about != "log: time"), "{:?}", log.remarks);
}

/// A time of day with a zone and no date could be of two days.
#[test]
fn a_zone_needs_a_date() {
    let log = read("time,post,heard\n17:05Z,Aid 1,yes\n17:05+02:00,Aid 2,yes\n17:05,Aid 3,yes\n");
    assert_eq!((log.counted, log.rejected.len()), (1, 2));
    assert!(log.rejected.iter().all(|r| r.reason.contains("a zone needs a date")));
}

#[test]
fn one_walk_logged_twice_counts_once() {
    let (plan, folder) = (plan(), tempfile::tempdir().unwrap());
    let files = ["a.csv", "b.csv"].map(|name| folder.path().join(name));
    let row = "2026-12-05T19:05:00Z,Aid 3,out,yes\n";
    fs::write(&files[0], format!("time,post,direction,heard\n{row}")).unwrap();
    let more = "2026-12-05T19:06:00Z,Aid 3,out,no\n";
    fs::write(&files[1], format!("time;post;direction;heard\n{row}{more}").replace(',', ";"))
        .unwrap();
    let log = log::read(&files, &plan, &defaults()).unwrap();
    assert_eq!((log.rows, log.counted, log.reports.len(), log.lost()), (3, 2, 2, 0));
    assert!(log.rejected[0].reason.contains("a.csv:2; it counts once"), "{:?}", log.rejected);
    assert_eq!(log.rejected[0].origin.line, 2);
}

#[test]
fn a_post_and_a_position_mean_one_place() {
    let log = read(
        "post,lat,lon,heard\nLevel crossing,46.98490,-34.90745,yes\nLevel crossing,47.0,-34.9,yes\n",
    );
    assert_eq!((log.counted, log.rejected.len()), (1, 1));
    assert!(matches!(log.reports[0].place, Place::Post(_)));
    assert!(log.rejected[0].reason.contains("one of them is wrong"), "{:?}", log.rejected);
}

/// Whoever called in is of no concern in a voice log; in a packet log it is all.
#[test]
fn callers_are_trackers_where_the_plan_knows_them() {
    let log = read("time,call,post,heard\n17:05,Jo,Aid 1,yes\n");
    assert_eq!((log.counted, log.reports[0].tracker), (1, None));
    let log = read("time,call,lat,lon\n17:05,Lead car,46.99,-34.9\n17:06,Nobody,46.99,-34.9\n");
    assert!(log.reports[0].tracker.is_some());
    assert_eq!((log.reports[0].direction, log.rejected.len()), (Direction::TalkIn, 1));
}

/// A beacon that is reported as not heard is not missed twice.
#[test]
fn silence_that_is_reported_is_not_added_again() {
    let plan = plan();
    let car = plan.trackers.iter().find(|t| t.name == "Lead car").unwrap();
    assert_eq!(car.every, Seconds::new(60.0));
    let text = "time,tracker,lat,lon,heard\n\
        2026-12-05T18:40:00Z,Lead car,46.990,-34.900,yes\n\
        2026-12-05T18:41:00Z,Lead car,46.991,-34.900,no\n\
        2026-12-05T18:42:00Z,Lead car,46.992,-34.900,yes\n";
    let log = read_as("p.csv", text.as_bytes(), &plan, &defaults()).unwrap();
    assert_eq!((log.reports.len(), log.missing_beacons), (3, 0));
}

#[test]
fn what_is_no_log_is_told() {
    let plan = plan();
    for (text, says) in [
        ("", "the log is empty"),
        ("\n\n  \n", "the log is empty"),
        ("time,post,heard\n", "the log is empty"),
        ("time,heard\n17:05,yes\n", "no column gives a place"),
        ("time,post\n17:05,Aid 1\n", "no column gives what was heard"),
        ("post,place,heard\nAid 1,Aid 1,yes\n", "two columns give the post"),
        ("<html></html>", "this is no log"),
        ("<gpx version=\"1.1\" creator=\"t\"></gpx>", "no waypoint"),
    ] {
        let error = read_as("log.csv", text.as_bytes(), &plan, &defaults()).unwrap_err();
        assert!(error.to_string().contains(says), "{text:?}: {error}");
    }
    let error = log::read(&[PathBuf::from("/no/such.csv")], &plan, &defaults()).unwrap_err();
    assert!(error.to_string().contains("cannot be read"), "{error}");
}

/// Cells as people leave them: known words, near misses, junk.
fn cell() -> impl Strategy<Value = String> {
    prop_oneof![
        prop::sample::select(vec![
            "17:05",
            "Aid 3",
            "Aid 9",
            "out",
            "both",
            "yes",
            "no",
            "3.4",
            "59",
            "S9+10",
            "-97 dBm",
            "hip",
            "Relay",
            "Car park",
            "46.99, -34.90",
            "",
            "NaN",
            "1e400",
            "-",
            "\u{202e}",
        ])
        .prop_map(str::to_owned),
        "[ -~]{0,12}",
        "\\PC{0,6}",
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever the rows hold: each counts or is listed, none is lost, nothing panics.
    #[test]
    fn no_row_is_ever_lost(rows in prop::collection::vec(prop::collection::vec(cell(), 1..9), 1..30)) {
        let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
        writer.write_record(["time", "post", "direction", "heard", "daq", "level", "carry"]).unwrap();
        for row in &rows {
            writer.write_record(row).unwrap();
        }
        let text = writer.into_inner().unwrap();
        match read_as("log.csv", &text, &plan(), &defaults()) {
            Ok(log) => {
                prop_assert_eq!(log.lost(), 0);
                prop_assert!(log.rows <= rows.len());
            }
            Err(error) => prop_assert!(matches!(error, LogError::Empty { .. }), "{error}"),
        }
    }

    /// Any bytes at all.
    #[test]
    fn any_bytes_are_read_or_refused(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        if let Ok(log) = read_as("log.csv", &bytes, &plan(), &defaults()) {
            prop_assert_eq!(log.lost(), 0);
        }
    }
}

#[test]
fn figure_of_lost_rows() {
    let mut text = "time,post,direction,heard,daq,level,carry\n".to_owned();
    for n in 0..3000 {
        text += &format!(
            "17:{:02},Aid {},{},{},,,\n",
            n % 60,
            n % 9,
            ["in", "out", "up", "?"][n % 4],
            ["yes", "no", "", "x"][n % 4]
        );
    }
    let log = read(&text);
    assert_eq!(log.rows, 3000);
    assert!(log.counted > 10 && log.rejected.len() > 1000);
    println!("figure log_rows_lost {} rows", log.lost());
}
