//! Forms of the plan: what they hold, what they change, and who is told what where
//! two change the same.

use std::fs;
use std::io::{BufRead, BufReader, Read, Write};
use std::process::{Command, Stdio};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use crate::support;
use crate::support::browser::in_browser;
use crate::support::live::{copy, serve, serve_copy, small, wait_for};
use serde_json::{Value, json};

fn set(table: &str, name: &str, field: &str, value: &str, seen: Option<&str>) -> Value {
    let mut change = json!({ "field": field, "value": value });
    if let Some(seen) = seen {
        change["seen"] = seen.into();
    }
    json!({ "change": "set", "table": table, "name": name, "fields": [change] })
}

#[test]
fn a_form_changes_one_value_of_the_file_and_nothing_else() {
    let served = serve_copy(small());
    let text = fs::read_to_string(&served.copy.plan).unwrap();
    let tables = served.get("forms").json();
    let of = |name: &str| {
        tables.as_array().unwrap().iter().find(|t| t["table"] == name).unwrap().clone()
    };
    let fields = of("radio")["fields"].as_array().unwrap().clone();
    let power = fields.iter().find(|f| f["field"] == "power").unwrap();
    assert_eq!((&power["kind"], &power["required"]), (&json!("text"), &json!(true)));
    assert!(power["allowed"].as_str().unwrap().contains("dBm"), "{power}");
    let form = served.get("form?table=radio").json();
    let (name, stands) =
        (form["name"].as_str().unwrap(), form["values"]["power"].as_str().unwrap());
    let answer = served.post("change", &set("radio", name, "power", "4 W", Some(stands)));
    assert_eq!(answer.status, 200);
    assert_eq!(served.get("form?table=radio").json()["values"]["power"], "4 W");
    assert_eq!(served.post("save", &json!({ "over": false })).status, 200);
    let saved = fs::read_to_string(&served.copy.plan).unwrap();
    let differing: Vec<_> = text.lines().zip(saved.lines()).filter(|(a, b)| a != b).collect();
    assert_eq!(differing.len(), 1, "{differing:?}");
    assert_eq!(differing[0].1, differing[0].0.replace(stands, "4 W"));
    assert_eq!(text.lines().count(), saved.lines().count());
}

/// What is refused names its field, and changes nothing.
#[test]
fn a_refusal_leads_to_its_field() {
    let served = serve_copy(small());
    let before = served.desk.lock().text().to_owned();
    let name = served.get("form?table=radio").json()["name"].as_str().unwrap().to_owned();
    let refused = |body: &Value| {
        let answer = served.post("change", body);
        assert_eq!(answer.status, 422, "{}", answer.json());
        answer.json()["problems"].as_array().unwrap().clone()
    };
    let problems = refused(&set("radio", &name, "power", "4 parsec", None));
    let place = json!({ "table": "radio", "name": name, "field": "power" });
    assert_eq!((problems.len(), &problems[0]["place"]), (1, &place));
    assert!(problems[0]["text"].as_str().unwrap().contains("parsec"), "{problems:?}");
    // What is no number is told as one is: with what was found and what is allowed.
    let post = served.get("form?table=post").json()["name"].as_str().unwrap().to_owned();
    let problems = refused(&set("post", &post, "weight", "much", None));
    assert!(problems[0]["text"].as_str().unwrap().starts_with("\"much\" is not a number; "));
    assert!(problems[0]["line"].is_u64(), "{problems:?}");
    assert_eq!(problems[0]["place"]["field"], "weight");
    let problems = refused(&set("event", "", "starts", "", None));
    assert_eq!(problems[0]["place"]["field"], "starts");
    // A radio that channels name stays.
    let gone = json!({ "change": "remove-entry", "table": "radio", "name": name });
    let problems = refused(&gone);
    assert!(problems.iter().any(|p| p["place"]["table"] == "channel"), "{problems:?}");
    assert_eq!(served.desk.lock().text(), before);
    let answer =
        served.post("change", &json!({ "change": "set", "table": "radios", "fields": [] }));
    assert_eq!(answer.status, 422);
    assert!(answer.json()["text"].as_str().unwrap().contains("a plan has no table \"radios\""));
}

/// Several fields that are only right together are one step.
#[test]
fn fields_that_are_only_right_together_are_set_together() {
    let served = serve_copy(small());
    let event = served.get("form?table=event").json()["values"].clone();
    let (starts, ends) = (event["starts"].as_str().unwrap(), event["ends"].as_str().unwrap());
    let late = "2026-12-06T08:00:00";
    assert_eq!(served.post("change", &set("event", "", "starts", late, Some(starts))).status, 422);
    let fields = json!([
        { "field": "starts", "value": late, "seen": starts },
        { "field": "ends", "value": "2026-12-06T12:00:00", "seen": ends },
    ]);
    let body = json!({ "change": "set", "table": "event", "fields": fields });
    assert_eq!(served.post("change", &body).status, 200);
    assert_eq!(served.get("form?table=event").json()["values"]["starts"], late);
    assert_eq!(served.post("undo", &json!({})).status, 200);
    assert_eq!(served.get("form?table=event").json()["values"], event);
    let name = served.get("form?table=channel").json()["name"].as_str().unwrap().to_owned();
    let look = served.get("state").json()["look"].clone();
    assert_eq!(look["channel"], name);
    // A channel that is looked at is looked at under its new name, too.
    assert_eq!(served.post("change", &set("channel", &name, "name", "Étoile", None)).status, 200);
    assert_eq!(served.get("state").json()["look"]["channel"], "Étoile");
    assert_eq!(served.post("undo", &json!({})).status, 200);
    assert_eq!(served.get("form?table=channel").json()["name"], name.as_str());
}

#[test]
fn two_pages_that_change_the_same_are_told_both_values() {
    let served = serve_copy(small());
    let form = served.get("form?table=radio").json();
    let name = form["name"].as_str().unwrap();
    let stood = form["values"]["power"].as_str().unwrap();
    let ask = |value: &str, seen: &str| {
        served.post("change", &set("radio", name, "power", value, Some(seen)))
    };
    assert_eq!(ask("3 W", stood).status, 200);
    // The other page has not seen it yet.
    let answer = ask("4 W", stood);
    assert_eq!(answer.status, 409);
    let told = answer.json();
    let crossed = json!([{ "field": "power", "mine": "4 W", "theirs": "3 W" }]);
    assert_eq!((&told["crossed"], &told["underneath"]), (&crossed, &json!(false)));
    assert!(told["text"].as_str().unwrap().contains("stands at \"3 W\" by now"), "{told}");
    assert_eq!(served.get("form?table=radio").json()["values"]["power"], "3 W");
    // Its own is kept once it knows; the same value is no quarrel.
    assert_eq!(ask("4 W", "3 W").status, 200);
    assert_eq!(ask("4 W", stood).status, 200);
    assert_eq!(served.get("form?table=radio").json()["values"]["power"], "4 W");
}

/// The panel has what `check` prints, in its order, with the line of each field.
#[test]
fn the_page_shows_what_check_says() {
    let served = serve();
    let folder = served.copy.folder.path();
    let output = support::perchline(folder, &["check", "plan.toml", "--json"]);
    assert!(output.status.success(), "{}", support::said(&output));
    let printed: Value = serde_json::from_str(&support::printed(&output)).unwrap();
    let remarks = printed["remarks"].as_array().unwrap().clone();
    assert!(remarks.len() > 1, "{printed}");
    let state = served.get("state").json();
    let shown = state["check"].as_array().unwrap();
    let told = |list: &[Value]| {
        list.iter().map(|r| (r["about"].clone(), r["text"].clone())).collect::<Vec<_>>()
    };
    assert_eq!(told(shown), told(&remarks));
    let text = fs::read_to_string(&served.copy.plan).unwrap();
    let mut placed = 0;
    for finding in shown.iter().filter(|f| !f["place"].is_null()) {
        let line = finding["line"].as_u64().unwrap() as usize;
        assert!(text.lines().nth(line - 1).is_some(), "{finding}");
        placed += 1;
    }
    assert!(placed > 0, "{shown:?}");
    // It follows a change.
    let name = served.get("form?table=radio").json()["name"].as_str().unwrap().to_owned();
    assert_eq!(served.post("change", &set("radio", &name, "power", "300 W", None)).status, 200);
    let state = served.get("state").json();
    let about = format!("radio \"{name}\": power");
    let found = state["check"].as_array().unwrap().iter().find(|f| f["about"] == about.as_str());
    let found = found.unwrap_or_else(|| panic!("{}", state["check"]));
    assert_eq!(found["place"], json!({ "table": "radio", "name": name, "field": "power" }));
    let line = found["line"].as_u64().unwrap() as usize;
    let text = served.desk.lock().text().to_owned();
    assert!(text.lines().nth(line - 1).unwrap().contains("300 W"));
}

/// Names that would run as markup, and in other scripts.
fn many_scripts(text: String) -> String {
    let run = "<img src=x onerror='globalThis.hostile=1'>";
    text.replace("\"Net Control\"", "\"Штаб Ελλάδα\"")
        .replace("\"Hand-held\"", &format!("\"{run}\""))
        .replace("\"hand-held\"", &format!("\"{run}\""))
        .replace("\"Ferry Lights half marathon\"", "\"مهرجان 灯火\"")
}

#[test]
fn forms_work_by_keyboard_in_a_browser() {
    let served = serve();
    let other = serve_copy(copy("ferry-lights.toml", many_scripts));
    let text = fs::read_to_string(&served.copy.plan).unwrap();
    let addresses = [format!("{}/", served.url), format!("{}/", other.url)];
    if !in_browser("live-forms.mjs", &[&addresses[0], &addresses[1]]) {
        return;
    }
    // Saved: one value differs, comments and order are as they were typed.
    let saved = fs::read_to_string(&served.copy.plan).unwrap();
    let differing: Vec<_> = text.lines().zip(saved.lines()).filter(|(a, b)| a != b).collect();
    assert_eq!(text.lines().count(), saved.lines().count());
    assert_eq!(differing.len(), 1, "{differing:?}");
    assert!(differing[0].1.contains("capacity = \"2.5 Ah\""), "{differing:?}");
}

/// `perchline live` at a terminal of its own.
struct AtTerminal {
    child: std::process::Child,
    shown: Arc<Mutex<String>>,
    url: String,
}

impl Drop for AtTerminal {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

impl AtTerminal {
    fn start(folder: &std::path::Path) -> Self {
        let program = env!("CARGO_BIN_EXE_perchline");
        let command = format!("echo $$ > pid; exec '{program}' live plan.toml --port 0 --json");
        let mut child = Command::new("script")
            .args(["-qefc", &command, "/dev/null"])
            .current_dir(folder)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let mut screen = BufReader::new(child.stdout.take().unwrap());
        let mut line = String::new();
        // A terminal shows what is said aside as well.
        while !line.starts_with('{') {
            line.clear();
            assert!(screen.read_line(&mut line).unwrap() > 0, "it has ended");
        }
        let printed: Value =
            serde_json::from_str(line.trim()).unwrap_or_else(|e| panic!("{e}: {line}"));
        let url = printed["address"].as_str().unwrap().to_owned();
        let shown = Arc::new(Mutex::new(String::new()));
        let into = Arc::clone(&shown);
        std::thread::spawn(move || {
            let mut bytes = [0; 4096];
            while let Ok(count @ 1..) = screen.read(&mut bytes) {
                into.lock().unwrap().push_str(&String::from_utf8_lossy(&bytes[..count]));
            }
        });
        Self { child, shown, url }
    }

    fn shown(&self) -> String {
        self.shown.lock().unwrap().clone()
    }

    fn press_interrupt(&mut self) {
        let keyboard = self.child.stdin.as_mut().unwrap();
        keyboard.write_all(b"\x03").unwrap();
        keyboard.flush().unwrap();
    }

    fn post(&self, what: &str, body: &Value) -> u16 {
        let request = ureq::post(format!("{}{what}", self.url));
        let answer = request.header("content-type", "application/json").send(body.to_string());
        answer.unwrap().status().as_u16()
    }

    fn asked(&self) -> usize {
        self.shown().matches("Press Ctrl-C again to end, or save on the page.").count()
    }

    fn ends(&mut self) -> Duration {
        let begun = Instant::now();
        wait_for("it ends", Duration::from_secs(20), || self.child.try_wait().unwrap().is_some());
        begun.elapsed()
    }
}

#[test]
fn the_keyboard_asks_once_before_unsaved_changes_are_left() {
    const PATIENCE: Duration = Duration::from_secs(20);
    let sample = small();
    let folder = sample.folder.path();
    let text = fs::read_to_string(&sample.plan).unwrap();
    let mast = json!({ "change": "mast", "site": "Hotel", "height": "7 m" });
    // Nothing is unsaved: it ends at once.
    let mut live = AtTerminal::start(folder);
    live.press_interrupt();
    live.ends();
    assert_eq!(live.asked(), 0, "{}", live.shown());
    // Asked, then asked anew once the answer no longer counts, then ended.
    let mut live = AtTerminal::start(folder);
    assert_eq!(live.post("change", &mast), 200);
    wait_for("the text", PATIENCE, || folder.join("plan.toml.unsaved").exists());
    live.press_interrupt();
    wait_for("it asks", PATIENCE, || live.asked() == 1);
    let words = "Changes are unsaved. They are kept in ";
    assert!(live.shown().contains(words), "{}", live.shown());
    assert_eq!(live.post("undo", &json!({})), 200);
    assert_eq!(live.post("redo", &json!({})), 200);
    std::thread::sleep(Duration::from_secs(11));
    live.press_interrupt();
    wait_for("it asks anew", PATIENCE, || live.asked() == 2);
    live.press_interrupt();
    live.ends();
    assert!(
        live.shown().contains("Ended: changes that were not saved are in "),
        "{}",
        live.shown()
    );
    assert!(folder.join("plan.toml.unsaved").exists());
    assert_eq!(fs::read_to_string(&sample.plan).unwrap(), text);
    // The system's wish to end it is no question.
    let mut live = AtTerminal::start(folder);
    assert_eq!(live.post("change", &mast), 200);
    let id = fs::read_to_string(folder.join("pid")).unwrap();
    assert!(Command::new("kill").args(["-TERM", id.trim()]).status().unwrap().success());
    live.ends();
    assert_eq!(live.asked(), 0, "{}", live.shown());
}
