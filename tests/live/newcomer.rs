//! A folder without a plan: the page that makes one, and a newcomer's way over it.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use serde_json::{Value, json};

use crate::support::browser::in_browser;
use crate::support::live::{Program, wait_for};
use crate::support::{perchline, printed, said};

fn sample(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain").join(name)
}

/// A folder with nothing but elevation.
fn folder() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    fs::copy(sample("ostlers-ferry.tif"), folder.path().join("hills.tif")).unwrap();
    folder
}

/// The sample's route as a GPS unit writes it.
fn route() -> String {
    let places: Value =
        serde_json::from_str(&fs::read_to_string(sample("places.geojson")).unwrap()).unwrap();
    let features = places["features"].as_array().unwrap();
    let route = features.iter().find(|f| f["properties"]["name"] == "Half marathon").unwrap();
    let points: String = route["geometry"]["coordinates"]
        .as_array()
        .unwrap()
        .iter()
        .map(|at| format!("<trkpt lat=\"{}\" lon=\"{}\"/>", at[1], at[0]))
        .collect();
    format!(
        "<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><name>Half marathon</name><trkseg>{points}</trkseg></trk></gpx>"
    )
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<_> =
        entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn form(name: &str, centre: &str, radius: &str, places: Option<u64>) -> Value {
    json!({
        "name": name, "elevation": "hills.tif", "centre": centre, "radius": radius,
        "places": places,
    })
}

/// Waits for the page of the plan.
fn opened(live: &Program) -> Value {
    let mut state = Value::Null;
    wait_for("the plan's page", Duration::from_secs(60), || {
        let answer = ureq::get(format!("{}state", live.url)).call();
        if let Ok(mut answer) = answer
            && answer.status() == 200
        {
            state = serde_json::from_slice(&answer.body_mut().read_to_vec().unwrap()).unwrap();
        }
        state["stage"] == "scored"
    });
    state
}

#[test]
fn a_newcomer_has_a_map_after_a_few_clicks() {
    let folder = folder();
    let elsewhere = tempfile::tempdir().unwrap();
    let (gpx, shown) = (elsewhere.path().join("walk.gpx"), elsewhere.path().join("shown.json"));
    fs::write(&gpx, route()).unwrap();
    let live = Program::start_in(folder.path());
    let text = |path: &Path| path.to_str().unwrap().to_owned();
    if !in_browser("newcomer.mjs", &[&live.url, &text(&gpx), &text(&shown)]) {
        return;
    }
    let shown: Value = serde_json::from_str(&fs::read_to_string(shown).unwrap()).unwrap();
    assert_eq!(names(folder.path()), ["hills.tif", "plan.toml", "shapes.geojson"]);
    // What was saved is what the command line reads, to the same figures.
    let output = perchline(folder.path(), &["check", "plan.toml"]);
    assert!(output.status.success(), "{}", said(&output));
    let plan = perchline::assessment::read(&folder.path().join("plan.toml")).unwrap();
    assert_eq!(plan.event.name, "Lantern run");
    assert!(plan.posts.iter().any(|post| post.name == "Aid 1"));
    assert!(plan.posts.len() >= 2 && !plan.sites.is_empty() && plan.routes.len() == 1);
    let output = perchline(folder.path(), &["rank", "plan.toml", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let ranked: Value = serde_json::from_str(&printed(&output)).unwrap();
    let rankings = ranked["result"]["rankings"].as_array().unwrap();
    let on = rankings.iter().find(|ranking| ranking["channel"] == shown["channel"]).unwrap();
    let site = on["sites"].as_array().unwrap().iter().find(|s| s["site"] == shown["site"]);
    let site = site.unwrap_or_else(|| panic!("{}", on["sites"]));
    assert_eq!(
        shown["headline"],
        format!(
            "{} of {} posts should work both ways",
            site["posts_covered"],
            site["posts"].as_array().unwrap().len()
        )
    );
    let share = site["map_share"].as_f64().unwrap() * 100.0;
    assert_eq!(shown["share"], format!("{share:.0} % of the map is clear both ways."));
    let spots = |list: &str| -> Vec<String> {
        let entries = shown[list].as_array().unwrap();
        entries.iter().map(|entry| entry["outcome"].as_str().unwrap().to_owned()).collect()
    };
    let ranked: Vec<String> = site["posts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|post| post["outcome"].as_str().unwrap().to_owned())
        .collect();
    assert_eq!(spots("posts"), ranked);
}

#[test]
fn what_is_wrong_is_told_beside_its_field_and_nothing_is_written() {
    let folder = folder();
    let live = Program::start_in(folder.path());
    assert!(live.printed["folder_without_plan"].is_string(), "{}", live.printed);
    assert_eq!(live.get("elevation")["files"], json!(["hills.tif"]));
    let before = names(folder.path());
    for (form, field, part) in [
        (form("", "nowhere", "", None), "centre", "nowhere"),
        (form("", "46.99, -34.9", "3 parsec", None), "radius", "km"),
        (form("", "46.99, -34.9", "300 km", None), "radius", "100 km"),
        (form("", "10.0, 20.0", "1 km", None), "elevation", "hills.tif"),
        (form("", "46.99, -34.9", "", Some(9)), "places", "choose this one again"),
        (
            json!({ "name": "", "elevation": null, "centre": "", "radius": "", "places": null }),
            "elevation",
            "Look again",
        ),
        (
            json!({ "name": "", "elevation": "../hills.tif", "centre": "", "radius": "", "places": null }),
            "elevation",
            "not there",
        ),
    ] {
        let (status, said) = live.post("begin", &form);
        assert_eq!(status, 422, "{said}");
        assert_eq!(said["field"], field, "{said}");
        assert!(said["text"].as_str().unwrap().contains(part), "no {part:?} in {said}");
    }
    let (status, said) = live.send_file("read", "walk.gpx", b"<gpx>");
    assert_eq!(status, 422);
    assert!(said["text"].as_str().unwrap().contains("walk.gpx"), "{said}");
    assert_eq!(names(folder.path()), before);
    let (status, said) = live.interrupt();
    assert_eq!(status.code(), Some(0));
    assert!(said.contains("no plan was made"), "{said}");
    assert_eq!(names(folder.path()), before);
}

#[test]
fn the_form_makes_the_plan_that_start_makes() {
    let (folder, other) = (folder(), folder());
    let live = Program::start_in(folder.path());
    let (status, found) = live.send_file("read", "walk.gpx", route().as_bytes());
    assert_eq!((status, &found["routes"]), (200, &json!(1)), "{found}");
    let (status, said_of) = live.post("begin", &form("Walk", "", "", found["id"].as_u64()));
    assert_eq!(status, 200, "{said_of}");
    let state = opened(&live);
    assert_eq!((&state["event"], &state["changed"]), (&json!("Walk"), &json!(false)));
    fs::write(other.path().join("walk.gpx"), route()).unwrap();
    let arguments =
        ["start", ".", "--places", "walk.gpx", "--elevation", "hills.tif", "--name", "Walk"];
    let output = perchline(other.path(), &arguments);
    assert!(output.status.success(), "{}", said(&output));
    for name in ["plan.toml", "shapes.geojson"] {
        let read = |folder: &Path| fs::read_to_string(folder.join(name)).unwrap();
        assert_eq!(read(folder.path()), read(other.path()), "{name}");
    }
    assert_eq!(names(folder.path()), ["hills.tif", "plan.toml", "shapes.geojson"]);
    // It is a page like any other: changes are saved, also once it was opened this way.
    let (status, _) = live.post("undo", &json!({}));
    assert_eq!(status, 422);
    let entry = json!({ "kind": "post", "name": "Aid 1", "points": [[150.0, 150.0]] });
    let (status, told) = live.post("add", &json!({ "entries": [entry] }));
    assert_eq!(status, 200, "{told}");
    assert_eq!(live.post("save", &json!({ "over": false })).0, 200);
    assert!(fs::read_to_string(folder.path().join("plan.toml")).unwrap().contains("Aid 1"));
}

#[test]
fn a_folder_opens_its_one_plan_and_lists_several() {
    let folder = folder();
    let plan = fs::read_to_string(sample("ferry-lights.toml")).unwrap();
    let plan = plan.replace("ostlers-ferry.tif", "hills.tif");
    for name in ["place-names.geojson", "places.geojson", "roads.geojson"] {
        fs::copy(sample(name), folder.path().join(name)).unwrap();
    }
    fs::write(folder.path().join("first.toml"), &plan).unwrap();
    // Settings of something else are no plan.
    fs::write(folder.path().join("tool.toml"), "[tool]\nlevel = 3\n").unwrap();
    let live = Program::start_in(folder.path());
    assert!(live.get("state")["file"].as_str().unwrap().ends_with("first.toml"));
    live.kill();
    fs::write(folder.path().join("second.toml"), &plan).unwrap();
    for arguments in [vec!["live"], vec!["live", "."]] {
        let output = perchline(folder.path(), &arguments);
        let text = said(&output);
        assert_eq!(output.status.code(), Some(2), "{text}");
        for part in ["has 2 plans", "perchline live first.toml", "perchline live second.toml"] {
            assert!(text.contains(part), "no {part:?} in {text}");
        }
    }
}
