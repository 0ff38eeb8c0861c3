//! The plan at hand over HTTP: who is answered, what changes and what stays.

use crate::support;
use std::fs;
use std::io::{BufRead, BufReader};
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use crate::support::live::{copy, serve, serve_copy, serve_with};
use perchline::assessment::Assessment;
use perchline::report::layers;
use serde_json::{Value, json};

const SITE: &str = "Grain elevator";

/// The first line that a program prints.
fn first_line(program: &mut Child) -> String {
    let mut line = String::new();
    BufReader::new(program.stdout.take().unwrap()).read_line(&mut line).unwrap();
    line
}

#[test]
fn nobody_else_is_answered() {
    let served = serve();
    let (path, port) = (served.path(), served.port);
    let ask = |method: &str, path: &str, head: &str, body: &str| {
        served.raw(&format!(
            "{method} /{path} HTTP/1.1\r\n{head}connection: close\r\ncontent-length: {}\r\n\r\n{body}",
            body.len()
        ))
    };
    let own = format!("host: 127.0.0.1:{port}\r\n");
    let json = "content-type: application/json\r\n";
    let good = ask("GET", &format!("{path}/state"), &own, "");
    assert!(good.starts_with("HTTP/1.1 200"), "{good}");
    assert!(
        ask("GET", &format!("{path}/state"), &format!("host: localhost:{port}\r\n"), "")
            .starts_with("HTTP/1.1 200")
    );
    // A name that somebody else has pointed at this machine.
    for host in ["evil.example", "evil.example:80", "127.0.0.1", "127.0.0.1:1", "[::1]", ""] {
        let answer = ask("GET", &format!("{path}/state"), &format!("host: {host}\r\n"), "");
        assert!(answer.starts_with("HTTP/1.1 421"), "{host}: {answer}");
        assert!(!answer.contains("Ferry"), "{host}");
    }
    // Without the token, with part of it, with another.
    for other in ["", "state", &path[..10], &"0".repeat(32), "../state", "%2e%2e/state"] {
        let answer = ask("GET", &format!("{other}/state"), &own, "");
        assert!(answer.starts_with("HTTP/1.1 404"), "{other}: {answer}");
    }
    // From another page, or as a form would send it.
    let undo = format!("{path}/undo");
    for head in [
        format!("{own}{json}origin: https://evil.example\r\n"),
        format!("{own}{json}origin: null\r\n"),
        format!("{own}{json}origin: http://127.0.0.1:1\r\n"),
        format!("{own}content-type: text/plain\r\n"),
        format!("{own}content-type: application/x-www-form-urlencoded\r\n"),
        own.clone(),
    ] {
        let answer = ask("POST", &undo, &head, "{}");
        assert!(answer.starts_with("HTTP/1.1 403"), "{head}: {answer}");
    }
    let answer =
        ask("POST", &undo, &format!("{own}{json}origin: http://127.0.0.1:{port}\r\n"), "{}");
    assert!(answer.starts_with("HTTP/1.1 422"), "nothing to undo: {answer}");
    assert!(ask("OPTIONS", &undo, &own, "").starts_with("HTTP/1.1 403"));
    // Whatever is answered may be read by this page alone.
    for answer in [good, answer] {
        let head = answer.split("\r\n\r\n").next().unwrap().to_lowercase();
        assert!(!head.contains("access-control"), "{head}");
        assert!(head.contains("content-security-policy: default-src 'none'"), "{head}");
        assert!(head.contains("cross-origin-resource-policy: same-origin"), "{head}");
        assert!(head.contains("cache-control: no-store"), "{head}");
    }
}

#[test]
fn a_site_is_dragged_and_the_coverage_follows_and_goes_back() {
    let served = serve();
    let first = served.settled();
    let before = served.get("coverage.png");
    assert_eq!((before.status, before.stage.as_str()), (200, "scored"));
    // Three points on the way are one step for undo.
    for (column, passing) in [(120.0, true), (90.0, true), (60.0, false)] {
        served.drag(SITE, column, 100.0, passing);
    }
    let moved = served.settled();
    let after = served.get("coverage.png");
    assert_ne!(after.body, before.body);
    assert_eq!(moved["changed"], true);
    let site = |state: &Value| {
        state["sites"].as_array().unwrap().iter().find(|s| s["name"] == SITE).unwrap().clone()
    };
    assert!((site(&moved)["at"]["column"].as_f64().unwrap() - 60.0).abs() < 0.01);
    assert_eq!(served.post("undo", &json!({})).status, 200);
    let back = served.settled();
    assert_eq!(site(&back)["at"], site(&first)["at"]);
    assert_eq!(back["changed"], false);
    assert_eq!((&back["can_undo"], &back["can_redo"]), (&json!(false), &json!(true)));
    assert!(served.get("coverage.png").body == before.body, "the same state, another picture");
    assert_eq!(served.post("redo", &json!({})).status, 200);
    served.settled();
    assert!(served.get("coverage.png").body == after.body);
}

/// A drag that begins where the mark stands takes nothing back but itself.
#[test]
fn a_drag_to_the_same_spot_costs_no_step() {
    let served = serve();
    let column = |state: &Value| {
        let sites = state["sites"].as_array().unwrap();
        let at = &sites.iter().find(|s| s["name"] == SITE).unwrap()["at"];
        at["column"].as_f64().unwrap().round()
    };
    served.drag(SITE, 150.0, 100.0, false);
    for (to, passing) in [(150.0, true), (160.0, true), (170.0, true), (180.0, false)] {
        served.drag(SITE, to, 100.0, passing);
    }
    assert_eq!(column(&served.get("state").json()), 180.0);
    assert_eq!(served.post("undo", &json!({})).status, 200);
    assert_eq!(column(&served.get("state").json()), 150.0);
    assert_eq!(served.get("state").json()["can_undo"], true);
}

/// What is said of a point is what the map shows there, and the way to it is that of the
/// path.
#[test]
fn the_value_under_the_pointer_is_that_of_the_map() {
    let served = serve();
    served.settled();
    let picture = served.desk.lock().latest.picture.clone().unwrap();
    let coverage = &picture.coverage;
    let (rows, columns) = coverage.outcome.dim();
    let mut seen = std::collections::BTreeSet::new();
    for step in 1..40 {
        let (column, row) = (columns * step / 40, rows * ((step * 7) % 40) / 40);
        let query = format!("here?column={}&row={}", column as f64 + 0.3, row as f64 + 0.8);
        let told = served.get(&query).json();
        let cell = (row, column);
        let outcome = serde_json::to_value(coverage.outcome[cell]).unwrap();
        assert_eq!(told["outcome"], outcome, "{cell:?}");
        assert_eq!(told["coarse"], false);
        assert_eq!(told["at"], json!([column as f64 + 0.5, row as f64 + 0.5]));
        let figures = told["lines"][1].as_str().unwrap();
        for (way, layer) in
            [("Talk-in", &coverage.talk_in_margin), ("talk-out", &coverage.talk_out_margin)]
        {
            let margin = f64::from(layer[cell]);
            let side = if margin < -0.05 { "short" } else { "in hand" };
            let wanted = format!("{way} {:.1} dB {side}", margin.abs());
            assert!(figures.contains(&wanted), "{wanted}: {figures}");
        }
        // The ground runs from the station to the cell, and the line starts at its antenna.
        let points = told["profile"]["points"].as_array().unwrap();
        let along: Vec<f64> = points.iter().map(|p| p[0].as_f64().unwrap()).collect();
        assert!(along.is_sorted() && points.len() <= 90, "{along:?}");
        let antenna = told["profile"]["antennas"][0].as_f64().unwrap();
        assert!(antenna > points[0][1].as_f64().unwrap(), "{told}");
        seen.insert(outcome.to_string());
    }
    assert!(seen.len() >= 3, "one corner of the map alone: {seen:?}");
    for off in ["here?column=-1&row=5", "here?column=5&row=1e9", "here?column=nan&row=5"] {
        assert_eq!(served.get(off).status, 422, "{off}");
    }
    assert_eq!(served.get("here?column=5").status, 400);
}

/// One engine: what the page shows is what `coverage` computes, cell for cell.
#[test]
fn the_picture_is_of_the_engine_of_every_verb() {
    let served = serve();
    served.drag(SITE, 200.0, 150.0, false);
    served.settled();
    let state = served.desk.lock();
    let text = state.text().to_owned();
    let shown = state.latest.picture.clone().unwrap();
    let score = state.latest.score.clone().unwrap();
    drop(state);
    fs::write(&served.copy.plan, text).unwrap();
    let opened = Assessment::read(&served.copy.plan).unwrap();
    let plan = &opened.plan;
    let site = plan.sites.iter().find(|s| s.name == SITE).unwrap();
    let (grid, never) = (opened.map_grid().unwrap(), false.into());
    let inputs = opened.rank_inputs(&grid, &|| (), &never);
    let made = opened.site_map(&inputs, &plan.channels[0], site).unwrap();
    let (own, coverage) = (&made.score, &made.coverage);
    assert_eq!(shown.coverage.outcome, coverage.outcome);
    let bits = |layer: &ndarray::Array2<f32>| layer.mapv(f32::to_bits);
    assert_eq!(bits(&shown.coverage.probability), bits(&coverage.probability));
    assert_eq!(bits(&shown.coverage.talk_in_margin), bits(&coverage.talk_in_margin));
    assert_eq!(score.weighted_probability.to_bits(), own.weighted_probability.to_bits());
}

/// The same through the program: the sheet that the page hands out is the
/// sheet that `coverage` writes, to the byte.
#[test]
fn the_sheet_to_print_is_the_one_that_coverage_writes() {
    let sample = copy("ferry-lights.toml", |text| text);
    let program = |verb: &str| {
        let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
        command.arg(verb).arg("plan.toml").current_dir(sample.folder.path());
        command.env("SOURCE_DATE_EPOCH", "1796400000");
        command
    };
    let mut live = program("live")
        .args(["--port", "0", "--json", "--site", "car PARK"])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let line = first_line(&mut live);
    let address: Value = serde_json::from_str(&line).unwrap();
    let url = address["address"].as_str().unwrap();
    let agent: ureq::Agent = ureq::Agent::config_builder().build().into();
    let post = |what: &str, body: Value| {
        let request = agent.post(format!("{url}{what}")).header("content-type", "application/json");
        request.send(body.to_string()).unwrap();
    };
    post("change", json!({ "change": "mast", "site": "Car park", "height": "9 m" }));
    post("change", json!({ "change": "carry", "radio": "hand-held", "carry": "head" }));
    let sheet = |agent: &ureq::Agent| {
        let mut answer = agent.get(format!("{url}map.png")).call().unwrap();
        answer.body_mut().with_config().limit(64 << 20).read_to_vec().unwrap()
    };
    let unsaved = sheet(&agent);
    post("save", json!({ "over": false }));
    let handed_out = sheet(&agent);
    live.kill().unwrap();
    live.wait().unwrap();
    let coverage =
        program("coverage").args(["--site", "Car park", "--out", "out"]).output().unwrap();
    assert!(coverage.status.success(), "{}", support::said(&coverage));
    let written = fs::read(sample.folder.path().join("out/relay-car-park.png")).unwrap();
    assert!(handed_out == written, "the sheets differ");
    assert!(unsaved == written, "the sheets differ before saving");
}

#[test]
fn saving_keeps_every_comment() {
    let served = serve();
    let before = fs::read_to_string(&served.copy.plan).unwrap();
    let change = json!({ "change": "mast", "site": SITE, "height": "20 ft" });
    assert_eq!(served.post("change", &change).status, 200);
    let place =
        json!({ "change": "place", "kind": "post", "name": "Aid 2", "at": "46.99, -34.90" });
    assert_eq!(served.post("change", &place).status, 200);
    assert_eq!(fs::read_to_string(&served.copy.plan).unwrap(), before, "nothing is written before");
    assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
    let after = fs::read_to_string(&served.copy.plan).unwrap();
    let changed: Vec<_> =
        before.lines().zip(after.lines()).filter(|(a, b)| a != b).map(|(_, b)| b).collect();
    assert_eq!(changed, ["at = \"46.99, -34.90\"", "mast = \"20 ft\""]);
    assert_eq!(before.lines().count(), after.lines().count());
    assert_eq!(served.get("state").json()["changed"], false);
    let left: Vec<_> = fs::read_dir(served.copy.folder.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .filter(|name| name.starts_with('.'))
        .collect();
    assert!(left.is_empty(), "{left:?}");
}

#[test]
fn a_change_that_makes_no_sense_is_told_and_changes_nothing() {
    let served = serve();
    let before = served.settled();
    for (change, says) in [
        (json!({ "change": "mast", "site": SITE, "height": "6 parsec" }), "mast"),
        (json!({ "change": "mast", "site": "Nowhere", "height": "6 m" }), "no site \"Nowhere\""),
        (json!({ "change": "power", "radio": "hand-held", "power": "-3 W" }), "power"),
        (json!({ "change": "carry", "radio": "hand-held", "carry": "hat" }), "carry"),
        (json!({ "change": "method", "method": "guess" }), "method"),
        (json!({ "change": "place", "kind": "post", "name": "Aid 1", "at": "here" }), "at"),
        // The middle of the ocean, off the terrain's file.
        (
            json!({ "change": "place", "kind": "site", "name": SITE, "at": "46.9, -34.2" }),
            "terrain",
        ),
    ] {
        let answer = served.post("change", &change);
        assert_eq!(answer.status, 422, "{change}");
        let text = answer.json()["text"].as_str().unwrap().to_owned();
        assert!(text.contains(says), "{change}: {text}");
    }
    let answer = served.post(
        "drag",
        &json!({
            "kind": "site", "name": SITE, "column": -40.0, "row": 3.0,
        }),
    );
    assert_eq!(
        (answer.status, answer.json()["text"].as_str()),
        (422, Some("that point is off the map"))
    );
    let after = served.settled();
    assert_eq!((&after["aim"], &after["sites"]), (&before["aim"], &before["sites"]));
}

#[test]
fn what_is_not_a_request_is_refused() {
    let served = serve();
    let changes = ["change", "drag", "look", "keep", "drop", "take-up", "save"];
    for what in changes.into_iter().chain(["recover", "discard"]) {
        for body in
            ["", "null", "[]", "{", "{\"change\": 1}", "{\"id\": -1}", "\u{0}", "{\"name\": \"\"}"]
        {
            let answer = served.post_text(what, body);
            assert!((400..500).contains(&answer.status), "{what} {body}: {}", answer.status);
        }
    }
    let huge = json!({ "name": "x".repeat(100_000) });
    assert_eq!(served.post("keep", &huge).status, 413);
    for what in [
        "path",
        "path?column=1",
        "path?column=x&row=1",
        "path?column=NaN&row=1",
        "path?column=1e9&row=2",
        "path.png?post=Nobody",
        "variant.png?id=7",
        "difference.png?from=1&to=2",
        "nothing",
    ] {
        let answer = served.get(what);
        assert!((400..500).contains(&answer.status), "{what}: {}", answer.status);
    }
}

#[test]
fn a_file_that_changes_underneath_is_noticed() {
    let served = serve();
    served.settled();
    let text = fs::read_to_string(&served.copy.plan).unwrap();
    let wait = |what: &str, holds: &dyn Fn(&Value) -> bool| {
        let begun = Instant::now();
        loop {
            let state = served.get("state").json();
            if holds(&state) {
                return state;
            }
            assert!(begun.elapsed() < Duration::from_secs(20), "{what}: {}", state["underneath"]);
            std::thread::sleep(Duration::from_millis(50));
        }
    };
    let mast = |state: &Value| state["sites"][0]["mast"].clone();
    // A sound change comes in by itself.
    fs::write(&served.copy.plan, text.replacen("mast = \"3 m\"", "mast = \"5 m\"", 1)).unwrap();
    wait("sound", &|state| mast(state) == "5 m");
    let good = served.settled();
    let picture = served.get("coverage.png").body;
    // One that is not is told with its line; the last good picture stays.
    fs::write(&served.copy.plan, text.replacen("mast = \"3 m\"", "mast = \"5 lumps\"", 1)).unwrap();
    let told = wait("unsound", &|state| !state["underneath"].is_null());
    let line = 1 + text.lines().position(|l| l == "mast = \"3 m\"").unwrap();
    let problem = &told["underneath"]["problems"][0];
    assert_eq!(problem["line"].as_u64(), Some(line as u64), "{problem}");
    assert!(problem["field"].as_str().unwrap().contains("mast"), "{problem}");
    assert_eq!(mast(&told), "5 m");
    assert!(served.get("coverage.png").body == picture);
    assert_eq!(told["aim"], good["aim"]);
    // Mended, it comes in again.
    fs::write(&served.copy.plan, &text).unwrap();
    wait("fixed", &|state| mast(state) == "3 m" && state["underneath"].is_null());
    // With changes of one's own nothing is lost on either side.
    let change = json!({ "change": "mast", "site": SITE, "height": "7 m" });
    assert_eq!(served.post("change", &change).status, 200);
    fs::write(&served.copy.plan, text.replacen("mast = \"3 m\"", "mast = \"4 m\"", 1)).unwrap();
    let answer = served.post("save", &json!({ "over": false }));
    assert_eq!(answer.status, 409);
    assert_eq!(answer.json()["underneath"], true);
    let told = wait("both", &|state| !state["underneath"].is_null());
    assert_eq!(mast(&told), "7 m");
    assert!(fs::read_to_string(&served.copy.plan).unwrap().contains("mast = \"4 m\""));
    assert_eq!(served.post("save", &json!({ "over": true })).status, 200);
    assert!(fs::read_to_string(&served.copy.plan).unwrap().contains("mast = \"7 m\""));
    assert!(served.get("state").json()["underneath"].is_null());
    // And reading anew can be undone.
    fs::write(&served.copy.plan, &text).unwrap();
    assert_eq!(served.post("reload", &json!({})).status, 200);
    assert_eq!(mast(&served.get("state").json()), "3 m");
    served.post("undo", &json!({}));
    assert_eq!(mast(&served.get("state").json()), "7 m");
}

#[test]
fn a_file_that_cannot_be_written_stays_as_it_is() {
    let served = serve();
    let change = json!({ "change": "mast", "site": SITE, "height": "7 m" });
    assert_eq!(served.post("change", &change).status, 200);
    fs::remove_file(&served.copy.plan).unwrap();
    let answer = served.post("save", &json!({ "over": true }));
    assert_eq!(answer.status, 422);
    assert!(
        answer.json()["text"].as_str().unwrap().contains("cannot be written"),
        "{}",
        answer.json()
    );
    assert_eq!(served.get("state").json()["sites"][0]["mast"], "7 m", "the desk keeps it");
}

#[test]
fn variants_are_kept_compared_and_taken_up() {
    let served = serve();
    served.settled();
    let id = served.post("keep", &json!({ "name": " As planned " })).json();
    served.drag(SITE, 80.0, 90.0, false);
    let moved = served.settled();
    assert_eq!(moved["variants"][0]["name"], "As planned");
    let difference = served.get(&format!("difference.png?from={id}&to=0"));
    assert_eq!(difference.status, 200);
    let picture = image::load_from_memory(&difference.body).unwrap().to_rgb8();
    // Counted out of the coverages themselves.
    let state = served.desk.lock();
    let now = state.latest.picture.clone().unwrap();
    let kept = state.variants[0].picture.clone();
    drop(state);
    let cells: Vec<_> = kept.coverage.outcome.iter().zip(&now.coverage.outcome).collect();
    for (was, is, colours) in [
        (true, true, vec![layers::BOTH]),
        (false, false, vec![layers::NEITHER]),
        (false, true, vec![layers::GAINED]),
        (true, false, vec![layers::LOST, layers::LOST_STRIPE]),
    ] {
        let counted = cells.iter().filter(|(a, b)| a.works() == was && b.works() == is).count();
        let seen = picture.pixels().filter(|p| colours.contains(&p.0)).count();
        let share = |n: usize, of: usize| n as f64 / of as f64;
        let (seen, counted) = (share(seen, picture.pixels().len()), share(counted, cells.len()));
        assert!(counted > 0.001, "{was} {is}: {counted}");
        assert!((seen - counted).abs() < 0.02 * counted, "{was} {is}: {seen} {counted}");
    }
    // No difference to itself.
    let none = served.get(&format!("difference.png?from={id}&to={id}"));
    let none = image::load_from_memory(&none.body).unwrap().to_rgb8();
    assert!(none.pixels().all(|p| p.0 == layers::BOTH || p.0 == layers::NEITHER));
    assert_eq!(served.post("take-up", &json!({ "id": id })).status, 200);
    let back = served.settled();
    assert_eq!(back["changed"], false);
    assert!(served.get("coverage.png").body == served.get(&format!("variant.png?id={id}")).body);
    served.post("undo", &json!({}));
    assert_eq!(served.get("state").json()["changed"], true, "what stood before is not lost");
    for name in ["", "  ", &"n".repeat(61)] {
        assert_eq!(served.post("keep", &json!({ "name": name })).status, 422, "{name:?}");
    }
    assert_eq!(served.post("drop", &json!({ "id": id })).status, 200);
    assert_eq!(served.post("drop", &json!({ "id": id })).status, 422);
    served.settled();
    for n in 0..8 {
        assert_eq!(served.post("keep", &json!({ "name": format!("v{n}") })).status, 200);
    }
    assert_eq!(served.post("keep", &json!({ "name": "one more" })).status, 422);
}

/// What is no longer wanted stops: a map of the plain engine, which takes
/// seconds, does not hold up the one that is asked for after it.
#[test]
fn work_that_is_superseded_ends() {
    let served = serve();
    served.settled();
    let slow = json!({ "change": "method", "method": "p1812" });
    assert_eq!(served.post("change", &slow).status, 200);
    let slow_aim = served.get("state").json()["aim"].as_u64().unwrap();
    let swept = json!({ "change": "method", "method": "free-space" });
    assert_eq!(served.post("change", &swept).status, 200);
    for step in 0..20 {
        served.drag(SITE, 100.0 + f64::from(step), 100.0, true);
    }
    served.drag(SITE, 140.0, 100.0, false);
    // The note that unsaved text is kept comes in its own time and is a revision too.
    let begun = Instant::now();
    let state = loop {
        let state = served.settled();
        if !state["kept_in"].is_null() {
            break state;
        }
        assert!(begun.elapsed() < Duration::from_secs(30), "unsaved text is not kept");
        std::thread::sleep(Duration::from_millis(10));
    };
    assert!(state["aim"].as_u64().unwrap() >= slow_aim + 22);
    let picture = served.get("coverage.png");
    assert_eq!(Some(picture.aim), state["aim"].as_u64());
    // A late result of an earlier state would show itself now.
    std::thread::sleep(Duration::from_millis(300));
    assert!(served.get("coverage.png").body == picture.body);
    assert_eq!(served.get("state").json()["revision"], state["revision"]);
}

#[test]
fn every_revision_is_told_to_whoever_listens() {
    use std::io::Write;
    let served = serve();
    served.settled();
    let listen = || {
        let mut stream = std::net::TcpStream::connect(("127.0.0.1", served.port)).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let head = format!(
            "GET /{}/events HTTP/1.1\r\nhost: 127.0.0.1:{}\r\n\r\n",
            served.path(),
            served.port
        );
        stream.write_all(head.as_bytes()).unwrap();
        BufReader::new(stream)
    };
    let mut two = [listen(), listen()];
    served.drag(SITE, 50.0, 60.0, false);
    let last = served.settled()["revision"].as_u64().unwrap();
    for reader in &mut two {
        let mut seen = 0;
        while seen < last {
            let mut line = String::new();
            assert!(reader.read_line(&mut line).unwrap() > 0, "ended at {seen} of {last}");
            if let Some(revision) = line.strip_prefix("data: ") {
                seen = revision.trim().parse().unwrap();
            }
        }
    }
}

#[test]
fn a_path_to_anywhere_has_a_profile_and_both_budgets() {
    let served = serve();
    served.settled();
    let told = served.get("path?column=200&row=120").json();
    let text = told["text"].as_str().unwrap();
    assert!(
        text.contains("talk-in") && text.contains("talk-out") && text.contains("margin"),
        "{text}"
    );
    let at = told["at"].as_str().unwrap().to_owned();
    let picture = served.get("path.png?column=200&row=120").body;
    let size = image::load_from_memory(&picture).unwrap();
    assert_eq!(size.width(), 2000);
    // A post moved to that very spot has the same distance and bearing.
    let place = json!({ "change": "place", "kind": "post", "name": "Aid 1", "at": at });
    assert_eq!(served.post("change", &place).status, 200);
    let post = served.get("path?post=Aid%201").json();
    let head = |text: &str| {
        let line = text.lines().next().unwrap();
        let head = line.split(';').next().unwrap();
        assert!(head.contains(" away, bearing "), "{line}");
        head.to_owned()
    };
    assert_eq!(head(post["text"].as_str().unwrap()), head(text));
}

#[test]
fn a_port_in_use_is_left_and_the_next_taken_and_said() {
    let taken = (0..50)
        .find_map(|_| {
            let first = std::net::TcpListener::bind("127.0.0.1:0").unwrap();
            // The next port has to be a port too.
            (first.local_addr().unwrap().port() < 65_000).then_some(first)
        })
        .unwrap();
    let port = taken.local_addr().unwrap().port();
    let sample = copy("ferry-lights.toml", |text| text);
    let mut live = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .arg("live")
        .arg(&sample.plan)
        .args(["--port", &port.to_string()])
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let line = first_line(&mut live);
    live.kill().unwrap();
    live.wait().unwrap();
    assert!(line.starts_with(&format!("Port {port} is in use, so port ")), "{line}");
}

#[test]
fn bad_requests_for_the_verb_are_told() {
    let sample = copy("ferry-lights.toml", |text| text);
    for (arguments, says) in [
        (vec!["--site", "Grain elevater"], "Did you mean \"Grain elevator\"?"),
        (vec!["--channel", "Simplex"], "no channel with a station \"Simplex\""),
        (vec!["--port", "70000"], "70000"),
    ] {
        let mut all = vec!["live", "plan.toml"];
        all.extend(arguments);
        let output = support::perchline(sample.folder.path(), &all);
        assert_eq!(output.status.code(), Some(2), "{all:?}");
        assert!(support::said(&output).contains(says), "{}", support::said(&output));
    }
}

/// A plan of other terrain draws its own ground.
#[test]
fn the_town_is_served_too() {
    let served = serve_copy(copy("ferry-lights-town.toml", |text| text));
    let state = served.settled();
    assert!(state["score"]["of"].as_u64().unwrap() > 10);
    for picture in ["land.png", "lines.png", "coverage.png"] {
        let answer = served.get(picture);
        assert_eq!(answer.status, 200, "{picture}");
        let image = image::load_from_memory(&answer.body).unwrap();
        assert!(image.width() > 500, "{picture}");
    }
    let (kept, number) = (state["board"]["columns"].clone(), state["board"]["number"].clone());
    // A site beyond the window: the ground is read anew, wider.
    let far = json!({ "change": "place", "kind": "site", "name": SITE, "at": "46.975, -34.845" });
    let answer = served.post("change", &far);
    assert_eq!(answer.status, 200, "{}", answer.json());
    let wider = served.settled();
    assert!(wider["board"]["number"].as_u64() > number.as_u64());
    assert!(wider["board"]["columns"].as_u64() > kept.as_u64());
}

/// Corrections count with every state of the plan, not with the first alone.
#[test]
fn corrections_stay_while_the_plan_changes() {
    let plain = serve();
    let sample = copy("ferry-lights.toml", |text| text);
    let file = sample.folder.path().join("cal.toml");
    let offset = |word: &str| format!("[[offset]]\nsurroundings = \"{word}\"\nadd = \"-25 dB\"\n");
    fs::write(&file, offset("rural") + &offset("residential")).unwrap();
    let learned = serve_with(sample, Some(file));
    let share = |state: &Value| state["score"]["map_percent"].as_f64().unwrap();
    assert!(share(&learned.settled()) < 0.5 * share(&plain.settled()));
    for served in [&plain, &learned] {
        served.drag(SITE, 200.0, 150.0, false);
    }
    assert!(share(&learned.settled()) < 0.5 * share(&plain.settled()));
    let told = learned.get("path?post=Aid%203").json();
    assert!(told["text"].as_str().unwrap().contains("learned: this environment"), "{told}");
}
