//! Through the day: what the page says of each moment, held against the budgets that
//! `power` prints, the hours and paces of the plan, and the strips of the site shown.

use jiff::ZonedDateTime;
use serde_json::{Value, json};

use crate::support::live::{Served, copy, serve, serve_copy};
use crate::support::{perchline, said};
use perchline::power::Feed;
use perchline::report::words::{percent, short};

/// The stops of the plan as it stands: seconds and words.
fn stops(served: &Served) -> Vec<(i64, String)> {
    let told = served.get("hours").json();
    let stops = told["stops"].as_array().unwrap();
    let of = |stop: &Value| {
        (stop["second"].as_i64().unwrap(), stop["words"].as_str().unwrap().to_owned())
    };
    stops.iter().map(of).collect()
}

fn moment(served: &Served, second: i64) -> Value {
    let answer = served.get(&format!("moment?second={second}"));
    assert_eq!(answer.status, 200, "{}", answer.json());
    answer.json()
}

/// The moment at a time of the sample's day.
fn at(served: &Served, time: &str) -> Value {
    let second: ZonedDateTime = format!("2026-12-05T{time}:00[Etc/GMT+2]").parse().unwrap();
    moment(served, second.timestamp().as_second())
}

/// What it says of something.
fn words<'v>(moment: &'v Value, part: &str, name: &str) -> &'v str {
    let all = moment[part].as_array().unwrap();
    let found = all.iter().find(|told| told["name"] == name);
    found.unwrap_or_else(|| panic!("no {name} in {moment}"))["words"].as_str().unwrap()
}

fn mark<'v>(moment: &'v Value, name: &str) -> Option<&'v Value> {
    moment["marks"].as_array().unwrap().iter().find(|mark| mark["name"] == name)
}

/// The stations of `power --json`.
fn budgets(served: &Served) -> Vec<Value> {
    let folder = served.copy.folder.path();
    let output = perchline(folder, &["power", "plan.toml", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let document: Value = serde_json::from_slice(&output.stdout).unwrap();
    document["result"]["stations"].as_array().unwrap().clone()
}

fn time(value: &Value) -> ZonedDateTime {
    value.as_str().unwrap().parse().unwrap()
}

#[test]
fn the_day_stops_at_every_time_of_the_plan() {
    let served = serve();
    let stops = stops(&served);
    let words: Vec<&str> = stops.iter().map(|(_, words)| words.as_str()).collect();
    assert_eq!(words.first().unwrap(), &"13:00, Digipeater switched on");
    assert!(words.last().unwrap().starts_with("22:00, last radio down"), "{words:?}");
    assert!(stops.windows(2).all(|pair| pair[0].0 < pair[1].0), "{words:?}");
    for told in [
        "15:00, Relay switched on",
        "16:30, event starts",
        "18:00, Grain elevator closes",
        "20:30, event ends",
        "14:00, Hotel opens",
        "13:15",
        "21:45",
    ] {
        assert!(words.contains(&told), "{told}: {words:?}");
    }
    // What power works out is a stop of its own.
    let dies = time(&budgets(&served)[1]["poor"]["dies_at"]);
    let told = dies.strftime("%H:%M, Digipeater dies in the poor case").to_string();
    assert!(words.contains(&told.as_str()), "{told}: {words:?}");
    // A time that is none of them is refused.
    assert_eq!(served.get("moment?second=0").status, 422);
    assert_eq!(served.get("moment").status, 400);
}

/// The page against `power --json` and against the engine's own budgets, moment by moment.
#[test]
fn stations_are_on_the_air_as_power_has_it() {
    let served = serve();
    let printed = budgets(&served);
    let opened = served.desk.lock().opened.clone();
    let known = &opened.energy().stations;
    assert_eq!(printed.len(), 2);
    for (budget, printed) in known.iter().zip(&printed) {
        assert_eq!(printed["station"], budget.station.as_str());
        let (on, off) = (time(&printed["on"]), time(&printed["off"]));
        let poor = &printed["poor"];
        let dies = poor["dies_at"].as_str().map(|at| at.parse::<ZonedDateTime>().unwrap());
        let dies = dies.filter(|dies| *dies < off);
        let mut before = f64::INFINITY;
        let mut seen = 0;
        for (second, _) in stops(&served) {
            let moment = moment(&served, second);
            let told = words(&moment, "stations", &budget.station);
            let holds = moment["stations"].as_array().unwrap();
            let holds = holds.iter().find(|s| s["name"] == budget.station.as_str()).unwrap();
            let now = jiff::Timestamp::from_second(second)
                .unwrap()
                .to_zoned_datetime(on.time_zone().clone());
            let runs = on <= now
                && now <= off
                && dies
                    .as_ref()
                    .is_none_or(|dies| now.timestamp().as_second() < dies.timestamp().as_second());
            assert_eq!(holds["holds"], runs, "{now} {told}");
            if now < on {
                assert_eq!(told, format!("off: switched on at {}", on.strftime("%H:%M")));
            } else if runs {
                let Feed::Set { set: 1, left } = budget.feed_at(&now) else { panic!("{now}") };
                assert!(left <= before, "{now}: {left} after {before}");
                before = left;
                seen += 1;
                assert!(
                    told.contains(&format!("{} left in the poor case", percent(left))),
                    "{told}"
                );
            } else if now <= off {
                let dies = dies.as_ref().unwrap();
                let since = dies.strftime("OFF THE AIR since %H:%M in the poor case").to_string();
                assert!(told.starts_with(&since), "{told}");
            }
        }
        assert!(seen > 10, "{seen}");
        // What is left at the end is what `power` says, and full when it is switched on.
        let Feed::Set { left, .. } = budget.feed_at(&on) else { panic!("{on}") };
        assert_eq!(left, 1.0);
        match budget.feed_at(&off) {
            Feed::Set { left, .. } => assert_eq!(json!(left), poor["left_at_end"]),
            feed => assert!(matches!(feed, Feed::Dead { .. }) && dies.is_some(), "{feed:?}"),
        }
    }
    let shown = served.settled();
    assert_eq!(shown["look"]["channel"], "Relay");
    // The station that is looked at is crossed out where it is shown, by word too.
    let site = shown["look"]["site"].as_str().unwrap();
    let early = at(&served, "14:00");
    let crossed = mark(&early, site).unwrap();
    assert_eq!(crossed["states"], json!(["off-air"]));
    assert_eq!(crossed["words"], "Relay off");
    assert!(mark(&at(&served, "17:00"), site).is_none());
}

/// With spare sets the packs are changed when `power` says, and each set begins full.
#[test]
fn a_change_of_packs_puts_the_next_set_in() {
    let spares = |count: u32| {
        serve_copy(copy("ferry-lights.toml", |text| {
            let cutoff = "pack = \"hand-held pack\"\ncutoff = \"6.4 V\"\n[station.roof]";
            let more = format!(
                "pack = \"hand-held pack\"\nspares = {count}\ncutoff = \"6.4 V\"\n[station.roof]"
            );
            assert!(text.contains(cutoff));
            text.replace(cutoff, &more)
        }))
    };
    let served = spares(3);
    let digipeater = &budgets(&served)[1];
    let changes = digipeater["changes"].as_array().unwrap();
    assert!((1..=3).contains(&changes.len()), "{changes:?}");
    let stops = stops(&served);
    for (change, set) in changes.iter().zip(2..) {
        let when = time(change);
        let clock = when.strftime("%H:%M").to_string();
        let told = format!("Digipeater: packs changed, set {set} goes in");
        let (second, _) = stops
            .iter()
            .find(|(_, words)| words.starts_with(&clock) && words.ends_with(&told))
            .unwrap_or_else(|| panic!("{clock} {told}: {stops:?}"));
        let now = moment(&served, *second);
        let said = words(&now, "stations", "Digipeater");
        assert!(said.contains(&format!("set {set} of 4: 100 % left")), "{said}");
        let before = stops.iter().rev().find(|(earlier, _)| earlier < second).unwrap().0;
        let earlier = moment(&served, before);
        let said = words(&earlier, "stations", "Digipeater");
        assert!(said.contains(&format!("set {} of 4", set - 1)), "{said}");
        assert!(said.ends_with(&when.strftime("change packs by %H:%M").to_string()), "{said}");
    }
    assert!(words(&at(&served, "22:00"), "stations", "Digipeater").starts_with("on the air"));
    // Where sets are missing for the changes, none is counted on: `power` names another
    // pack then, and the first one dies when it says.
    let few = spares(0);
    let dies = time(&budgets(&few)[1]["poor"]["dies_at"]);
    let said = at(&few, "22:00");
    let since = dies.strftime("OFF THE AIR since %H:%M").to_string();
    assert!(words(&said, "stations", "Digipeater").starts_with(&since));
}

#[test]
fn sites_people_and_routes_are_as_the_plan_has_their_times() {
    let served = serve_copy(copy("ferry-lights.toml", |text| {
        text.replace(
            "name = \"Aid 1\"\n",
            "name = \"Aid 1\"\nextra_loss = \"6 dB\"\nextra_loss_from = 2026-12-05T17:00:00\nextra_loss_to = 2026-12-05T18:00:00\n",
        )
        .replace("name = \"Posts\"\npeople = 16\n", "name = \"Posts\"\npeople = 16\nshift = \"4 h\"\n")
    }));
    let state = served.settled();
    let score = served.desk.lock().latest.score.clone().unwrap();
    let before = at(&served, "13:00");
    assert_eq!(before["time"], "13:00, set-up");
    assert_eq!(words(&before, "sites", "Hotel"), "CLOSED: opens at 14:00");
    assert_eq!(mark(&before, "Hotel").unwrap()["states"], json!(["shut"]));
    assert_eq!(words(&before, "sites", "Hospital"), "hours not stated");
    assert!(words(&before, "sites", "Car park").starts_with("open until Sun 06 Dec 06:00"));
    assert_eq!(mark(&before, "Medical tent").unwrap()["words"], "not on shift yet");
    assert!(words(&before, "routes", "Half marathon").starts_with("front, Lead car: at the start"));
    assert_eq!(before["underway"], json!([]));
    assert_eq!(before["air"], "7 °C in the air, as forecast");

    let evening = at(&served, "17:30");
    assert_eq!(evening["time"], "17:30, event under way");
    assert!(words(&evening, "sites", "Grain elevator").starts_with("open until 18:00"));
    assert!(words(&evening, "people", "Aid 1").starts_with("6 dB of extra loss until 18:00"));
    assert!(words(&evening, "people", "Crew Posts").starts_with("on shift until 20:30"));
    assert!(mark(&evening, "Medical tent").is_none());
    // By hand: 18 km/h and 9 min/km, an hour after the start.
    let route = words(&evening, "routes", "Half marathon");
    assert!(route.contains("front, Lead car: 18.00 km along"), "{route}");
    assert!(route.contains("tail, Last runners: 6.67 km along"), "{route}");
    // What radio comes to there is what the strip of the site that is shown says.
    for (along, told) in [(18_000.0, "18.00"), (20_000.0 / 3.0, "6.67")] {
        let classes = &score.routes[0].classes;
        let there = classes.iter().find(|c| c.stretch.to_m.value() > along).unwrap().outcome;
        let radio = format!("{told} km along ({} there)", short(there).to_lowercase());
        assert!(route.contains(&radio), "{radio}: {route}");
    }
    let underway = evening["underway"].as_array().unwrap();
    assert_eq!(underway.len(), 2);
    assert_eq!((&underway[0]["who"], &underway[1]["who"]), (&json!("front"), &json!("tail")));
    // On the line of the route, to two cells.
    let line: Vec<(f64, f64)> =
        serde_json::from_value(state["routes"][0]["points"].clone()).unwrap();
    for one in underway {
        let (column, row) = (one["column"].as_f64().unwrap(), one["row"].as_f64().unwrap());
        let away = line.windows(2).map(|pair| distance((column, row), pair[0], pair[1]));
        let away = away.fold(f64::INFINITY, f64::min);
        assert!(away < 2.0, "{one} is {away} cells off");
    }

    let late = at(&served, "21:00");
    assert_eq!(late["time"], "21:00, tear-down");
    assert!(words(&late, "sites", "Grain elevator").starts_with("CLOSED since 18:00"));
    assert!(words(&late, "sites", "College library").starts_with("open until 21:00"));
    assert_eq!(
        words(&late, "people", "Crew Posts").split(';').next(),
        Some("SHIFT OVER since 20:30")
    );
    assert_eq!(mark(&late, "First-aid post").unwrap()["states"], json!(["unmanned"]));
    assert!(mark(&late, "Aid 2").is_none(), "whose shift it is the plan does not say");
    assert!(words(&late, "people", "Aid 1").starts_with("no extra loss now"));
    assert!(
        words(&late, "routes", "Half marathon").contains("tail, Last runners: at the end since")
    );
    assert_eq!(late["underway"], json!([]));
}

/// How far a point is from a piece of a line.
fn distance(at: (f64, f64), from: (f64, f64), to: (f64, f64)) -> f64 {
    let (along, across) = (to.0 - from.0, to.1 - from.1);
    let length = (along * along + across * across).max(1e-12);
    let part = (((at.0 - from.0) * along + (at.1 - from.1) * across) / length).clamp(0.0, 1.0);
    (at.0 - from.0 - part * along).hypot(at.1 - from.1 - part * across)
}

#[test]
fn what_the_plan_does_not_say_is_told_as_not_known() {
    let served = serve();
    let told = served.get("hours").json();
    let told: Vec<&str> =
        told["not_known"].as_array().unwrap().iter().map(|t| t.as_str().unwrap()).collect();
    for part in [
        "When 10 of 16 posts are manned the plan does not say",
        "all are taken to leave at its start at 16:30",
        "Hours are not stated for Hospital, Ridge overlook.",
    ] {
        assert!(told.iter().any(|line| line.contains(part)), "{part}: {told:?}");
    }
    // Without stations, crews and trackers there is little to know, and the page says so.
    let bare = serve_copy(copy("ferry-lights.toml", |text| {
        let head = text.split("# --- packet trackers").next().unwrap().to_owned();
        let sites = text.split("# --- candidate sites").nth(1).unwrap();
        let sites = sites.split("# --- two relays").next().unwrap();
        format!("{head}\n#{sites}").replace("carries = \"Posts\"\n", "")
    }));
    let told = bare.get("hours").json()["not_known"].to_string();
    for part in [
        "When posts are manned the plan does not say",
        "How fast anybody is on Half marathon the plan does not say",
        "What feeds the station of Relay the plan does not say.",
        "What feeds the station of Packet the plan does not say.",
    ] {
        assert!(told.contains(part), "{part}: {told}");
    }
    let moment = at(&bare, "17:30");
    assert_eq!(moment["stations"], json!([]));
    assert_eq!(moment["routes"], json!([]));
    assert!(
        moment["headline"].as_str().unwrap().starts_with("no station of which the power is known")
    );
}

/// A change of the plan changes the moments.
#[test]
fn the_day_follows_a_change() {
    let served = serve();
    served.settled();
    let fields = json!([{ "field": "tear_down", "value": "2026-12-05T23:00:00" }]);
    let body = json!({ "change": "set", "table": "event", "fields": fields });
    let answer = served.post("change", &body);
    assert_eq!(answer.status, 200, "{}", answer.json());
    let last = stops(&served).pop().unwrap().1;
    assert!(last.starts_with("23:00, last radio down"), "{last}");
}
