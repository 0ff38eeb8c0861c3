//! The plan at hand in the machine's own browser; see `tests/browser/live.mjs`.

use std::fs;

use crate::support::browser::in_browser;
use crate::support::live::{copy, serve, serve_copy, small};

/// Names that would run if they came into a page as markup (common practice, no
/// source).
fn hostile(text: String) -> String {
    let run = "<img src=x onerror='globalThis.hostile=1'>";
    text.replace("\"Net Control\"", &format!("\"{run}\""))
        .replace(
            "\"Ferry Lights half marathon\"",
            "\"</title><script>globalThis.hostile=2</script>\"",
        )
        .replace("name = \"Hotel\"", "name = '\"><svg onload=globalThis.hostile=3>'")
        .replace(
            "name = \"Lantern field\"\noutline",
            "name = \"{{constructor.hostile=4}}\"\noutline",
        )
}

#[test]
fn the_plan_at_hand_works_in_a_browser() {
    let served = serve();
    let other = serve_copy(copy("ferry-lights.toml", hostile));
    assert!(other.get("state").json()["event"].as_str().unwrap().contains("<script>"));
    in_browser("live.mjs", &[&format!("{}/", served.url), &format!("{}/", other.url)]);
}

#[test]
fn unsaved_changes_are_decided_on_in_a_browser() {
    let sample = small();
    let beside = |end: &str| sample.folder.path().join(format!("plan.toml.unsaved{end}"));
    let plan = fs::read_to_string(&sample.plan).unwrap();
    let text = |height: &str| plan.replacen("mast = \"3 m\"", &format!("mast = \"{height}\""), 1);
    fs::create_dir(beside("-3")).unwrap();
    fs::write(beside("-2"), text("9 parsec")).unwrap();
    fs::write(beside(""), text("12 m")).unwrap();
    let served = serve_copy(sample);
    if in_browser("live-unsaved.mjs", &[&format!("{}/", served.url)]) {
        let left = |end: &str| served.copy.folder.path().join(format!("plan.toml.unsaved{end}"));
        // Saved, and nothing left but what is no file.
        assert_eq!(fs::read_to_string(&served.copy.plan).unwrap(), text("12 m"));
        assert!(!left("-2").exists() && left("-3").is_dir());
    }
}

#[test]
fn what_is_drawn_and_dropped_works_in_a_browser() {
    let served = serve();
    let file = served.copy.folder.path().join("walk.gpx");
    let places = "<wpt lat=\"46.99\" lon=\"-34.9\"><name>Lock</name></wpt><wpt lat=\"46.995\" lon=\"-34.9\"><name>Weir</name></wpt>";
    let route = "<rte><name>Towpath</name><rtept lat=\"46.99\" lon=\"-34.9\"/><rtept lat=\"46.995\" lon=\"-34.905\"/></rte>";
    let head = "version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\"";
    fs::write(&file, format!("<gpx {head}>{places}{route}</gpx>")).unwrap();
    in_browser("live-draw.mjs", &[&format!("{}/", served.url), file.to_str().unwrap()]);
}

#[test]
fn shapes_are_changed_and_the_plan_is_saved_under_another_name_in_a_browser() {
    let served = serve();
    let folder = served.copy.folder.path();
    // Nothing but its length: no byte of it is read.
    let large = folder.join("large.gpx");
    fs::File::create(&large).unwrap().set_len(200 * 1024 * 1024).unwrap();
    let plan = fs::read_to_string(&served.copy.plan).unwrap();
    if in_browser("live-shape.mjs", &[&format!("{}/", served.url), large.to_str().unwrap()]) {
        assert_eq!(fs::read_to_string(&served.copy.plan).unwrap(), plan);
        let evening = fs::read_to_string(folder.join("evening.toml")).unwrap();
        assert!(evening.contains("name = \"Detour\"") && evening.len() > plan.len());
    }
}

#[test]
fn the_value_under_the_pointer_follows_in_a_browser() {
    let served = serve();
    in_browser("live-here.mjs", &[&format!("{}/", served.url)]);
}

#[test]
fn routes_from_end_to_end_follow_in_a_browser() {
    let served = serve();
    in_browser("live-strips.mjs", &[&format!("{}/", served.url)]);
}

#[test]
fn the_time_is_slid_through_the_day_in_a_browser() {
    let served = serve();
    in_browser("live-hours.mjs", &[&format!("{}/", served.url)]);
}

#[test]
fn several_sites_are_on_one_map_in_a_browser() {
    let served = serve();
    in_browser("live-together.mjs", &[&format!("{}/", served.url)]);
}
