//! From nothing to a plan, as a stranger does it: `start`, then the verbs on the plan
//! that it made.

use std::fs;
use std::path::Path;

use perchline::plan::UnitSystem;
use serde_json::Value;

use crate::support::real::{MOUNTAINS, real_file};
use crate::support::{
    UTM_25N, perchline, perchline_long, printed, read_plan, said, utm_transform, write_plan_raster,
    write_raster,
};

/// The route and some posts of the sample plan as a GPX file, one name in another
/// script.
fn sample_gpx() -> String {
    let places = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/places.geojson");
    let places: Value = serde_json::from_str(&fs::read_to_string(places).unwrap()).unwrap();
    let route = places["features"]
        .as_array()
        .unwrap()
        .iter()
        .find(|feature| feature["properties"]["name"] == "Half marathon")
        .unwrap();
    let track: String = route["geometry"]["coordinates"]
        .as_array()
        .unwrap()
        .iter()
        .map(|at| format!("<trkpt lat=\"{}\" lon=\"{}\"/>", at[1], at[0]))
        .collect();
    let posts = [
        ("Net Control", 46.99461, -34.90156),
        ("Finish &amp; tent", 46.99013, -34.88983),
        ("補給所 3", 46.98488, -34.90740),
    ];
    let posts: String = posts
        .iter()
        .map(|(name, lat, lon)| {
            format!("<wpt lat=\"{lat}\" lon=\"{lon}\"><name>{name}</name></wpt>")
        })
        .collect();
    format!(
        "<gpx version=\"1.1\" creator=\"test\" xmlns=\"http://www.topografix.com/GPX/1/1\">{posts}<trk><name>Half marathon</name><trkseg>{track}</trkseg></trk></gpx>"
    )
}

/// Runs `start` in `folder`, and expects it to be done.
fn begun(folder: &Path, arguments: &[&str]) -> String {
    let output = perchline(folder, &[&["start", "event"], arguments].concat());
    assert!(output.status.success(), "{}", said(&output));
    printed(&output)
}

/// Runs `start` in `folder`, expects refusal with each of `wanted` in the message, and
/// that nothing was written.
fn refused(folder: &Path, arguments: &[&str], wanted: &[&str]) {
    let before = listed(folder);
    let output = perchline(folder, &[&["start"], arguments].concat());
    let message = said(&output);
    assert_eq!(output.status.code(), Some(2), "{message}");
    for part in wanted {
        assert!(message.contains(part), "no {part:?} in:\n{message}");
    }
    assert!(!message.contains("panicked"), "{message}");
    assert_eq!(listed(folder), before, "something was written");
}

/// All names in a folder, those of hidden files too.
fn listed(folder: &Path) -> Vec<String> {
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        names.push(path.display().to_string());
        if path.is_dir() {
            names.extend(listed(&path));
        }
    }
    names.sort();
    names
}

/// Every verb of an evening works on the plan that was made.
fn all_work(folder: &Path) {
    work(folder, &["check", "rank", "ready", "brief"]);
}

fn work(folder: &Path, verbs: &[&str]) {
    for verb in verbs {
        let out = format!("out-{verb}");
        let output = perchline(folder, &[verb, "event/plan.toml", "--out", &out]);
        assert!(output.status.success(), "{verb}: {}", said(&output));
    }
}

/// What stands there to be taken up is sound as it stands: batteries are worked out.
fn batteries_are_taken_up(folder: &Path) {
    let file = folder.join("event/plan.toml");
    let plan = fs::read_to_string(&file).unwrap();
    let mut taken = plan.clone();
    for entry in ["forecast", "pack", "station", "crew"] {
        let line = format!("\n# {entry} = ");
        assert_eq!(taken.matches(&line).count(), 1, "{entry}");
        taken = taken.replace(&line, &format!("\n{entry} = "));
    }
    fs::write(&file, taken).unwrap();
    work(folder, &["check"]);
    let output = perchline(folder, &["power", "event/plan.toml", "--json"]);
    assert!(output.status.success(), "{}", said(&output));
    let power: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(power["result"]["stations"].as_array().unwrap().len(), 1, "{power}");
    assert_eq!(power["result"]["crews"].as_array().unwrap().len(), 1, "{power}");
    fs::write(&file, plan).unwrap();
}

/// Frequencies that are nobody's are marked wherever somebody could take them along, and
/// no verdict is without them.
fn placeholders_are_marked(folder: &Path) {
    work(folder, &["direct"]);
    let read = |file: &str| fs::read_to_string(folder.join(file)).unwrap();
    let brief: serde_json::Value = serde_json::from_str(&read("out-brief/brief.json")).unwrap();
    let posts = brief["result"]["posts"].as_array().unwrap();
    assert!(!posts.is_empty());
    for post in posts {
        let channel = post["slip"]["channel"].as_str().unwrap();
        assert!(channel.ends_with("PLACEHOLDER: not to be used."), "{channel}");
    }
    let card = read("out-direct/card-simplex.txt");
    assert!(card.contains("PLACEHOLDER: these frequencies are nobody's"), "{card}");
    let ready: serde_json::Value = serde_json::from_str(&read("out-ready/ready.json")).unwrap();
    assert_ne!(ready["result"]["readiness"]["verdict"], "go", "{ready}");
}

fn with_hills(folder: &Path) {
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/ostlers-ferry.tif");
    fs::copy(sample, folder.join("hills.tif")).unwrap();
}

#[test]
fn a_stranger_has_a_plan_from_a_route_and_hills() {
    let folder = tempfile::tempdir().unwrap();
    with_hills(folder.path());
    fs::write(folder.path().join("run.gpx"), sample_gpx()).unwrap();
    let said = begun(folder.path(), &["--places", "run.gpx", "--elevation", "hills.tif"]);
    let first = said.lines().next().unwrap();
    assert_eq!(
        first,
        "wrote event/plan.toml: \"Half marathon\", 3 posts, 1 route, no area, 4 suggested sites"
    );
    // What it says comes next can be typed as it stands; a page stays open.
    let next: Vec<&str> = said.lines().filter_map(|l| l.strip_prefix("  perchline ")).collect();
    assert!(next.len() >= 4 && next.iter().any(|line| line.starts_with("search ")), "{next:?}");
    for line in next.iter().filter(|line| !line.starts_with("live ")) {
        let output = perchline(folder.path(), &line.split(' ').collect::<Vec<_>>());
        assert!(output.status.success(), "{line}: {}", self::said(&output));
    }
    assert!(said.contains("perchline rank event/plan.toml"), "{said}");
    assert!(said.contains("frequencies, which are placeholders"), "{said}");
    work(folder.path(), &["ready", "brief"]);
    placeholders_are_marked(folder.path());
    batteries_are_taken_up(folder.path());
    let plan = read_plan(&folder.path().join("event/plan.toml"));
    let names: Vec<_> = plan.posts.iter().map(|post| post.name.as_str()).collect();
    assert_eq!(names, ["Net Control", "Finish & tent", "補給所 3"]);
    assert!(plan.posts[0].net_control && plan.posts[0].must);
    assert_eq!(plan.units, UnitSystem::Metric);
    assert_eq!(plan.event.starts.time_zone().iana_name(), Some("Etc/GMT+2"));
    assert!(plan.channels.iter().all(|channel| channel.placeholder));
    assert!(plan.sites.iter().all(|s| s.notes.as_ref().is_some_and(|n| n.contains("not seen"))));
    // 30 to 60 lines that a person can read, every table with a word about it.
    let text = fs::read_to_string(folder.path().join("event/plan.toml")).unwrap();
    let lines = text.lines().count();
    assert!((30..=60).contains(&lines), "{lines} lines");
    assert!(text.matches('#').count() >= 20, "{text}");
    all_work(folder.path());
    for verb in ["check", "ready", "rank"] {
        let output = perchline_long(folder.path(), &[verb, "event/plan.toml"]);
        assert!(printed(&output).contains("frequencies are placeholders"), "{verb}");
    }
}

/// Of the sample's heights the first that is suggested is the highest around.
#[test]
fn what_is_suggested_is_high_ground() {
    let folder = tempfile::tempdir().unwrap();
    with_hills(folder.path());
    fs::write(folder.path().join("run.gpx"), sample_gpx()).unwrap();
    begun(folder.path(), &["--places", "run.gpx", "--elevation", "hills.tif"]);
    let (plan, terrain) = crate::support::open_plan(&folder.path().join("event/plan.toml"));
    let heights: Vec<f64> =
        plan.sites.iter().map(|site| terrain.ground(site.at).unwrap().value()).collect();
    assert!(heights.is_sorted_by(|a, b| a >= b), "{heights:?}");
    let posts: Vec<f64> =
        plan.posts.iter().map(|post| terrain.ground(post.at).unwrap().value()).collect();
    let highest_post = posts.iter().copied().fold(f64::MIN, f64::max);
    assert!(heights[0] > highest_post + 50.0, "{heights:?} over {posts:?}");
    for (index, site) in plan.sites.iter().enumerate() {
        for other in &plan.sites[..index] {
            assert!(site.at.distance(other.at).value() >= 300.0);
        }
    }
}

#[test]
fn a_centre_and_a_radius_are_enough_and_so_are_hills_alone() {
    for arguments in [
        &["--centre", "46.99, -34.90", "--radius", "2 km", "--elevation", "hills.tif"][..],
        &["--elevation", "hills.tif", "--relay", "two-antennas", "--units", "us"],
        &["--centre", "25T CN 56550 04720", "--elevation", "."],
    ] {
        let folder = tempfile::tempdir().unwrap();
        with_hills(folder.path());
        let said = begun(folder.path(), arguments);
        assert!(said.contains("no post"), "{said}");
        assert!(said.contains("a placeholder stands in the middle"), "{said}");
        let plan = read_plan(&folder.path().join("event/plan.toml"));
        assert_eq!(plan.areas.len(), 1);
        assert_eq!(plan.posts[0].name, "Net Control");
        work(folder.path(), &["check", "rank"]);
    }
}

/// Houses that are in the heights already are not stated once more.
#[test]
fn elevation_with_roofs_in_it_has_no_surroundings_beside() {
    for (roofs, stated) in [(0.0, "\"suburb\""), (8.0, "\"open\"")] {
        let folder = tempfile::tempdir().unwrap();
        let transform = utm_transform(353_800.0, 5_209_800.0, 10.0);
        write_raster(
            &folder.path().join("hills.tif"),
            (450, 450),
            transform,
            Some(UTM_25N),
            None,
            |column, row| {
                let is_house = column % 12 < 2 && row % 12 < 3;
                let ground = 60.0 + 20.0 * (column as f32 / 40.0).sin();
                ground + if is_house { roofs } else { 0.0 }
            },
        );
        let said = begun(folder.path(), &["--elevation", "hills.tif"]);
        assert_eq!(said.contains("roofs and trees seem to be"), roofs > 0.0, "{said}");
        let text = fs::read_to_string(folder.path().join("event/plan.toml")).unwrap();
        assert!(text.contains(&format!("prediction.surroundings = {stated}")), "{text}");
        work(folder.path(), &["check"]);
    }
}

/// The national park's heights, where people count in feet: a place of our own choice.
#[test]
fn a_stranger_in_real_mountains() {
    let Some(mountains) = real_file(MOUNTAINS) else { return };
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir(folder.path().join("event")).unwrap();
    fs::create_dir(folder.path().join("event/terrain")).unwrap();
    fs::copy(mountains, folder.path().join("event/terrain/park.tif")).unwrap();
    let arguments = [
        "--centre",
        "40.36 -105.70",
        "--radius",
        "4 mi",
        "--starts",
        "2026-12-05T09:00",
        "--name",
        "Pass relay",
    ];
    let said = begun(folder.path(), &arguments);
    assert!(said.contains("America/Denver, units us"), "{said}");
    assert!(said.contains("event/terrain/park.tif"), "{said}");
    let plan = read_plan(&folder.path().join("event/plan.toml"));
    assert_eq!(plan.event.name, "Pass relay");
    assert_eq!(plan.event.starts.to_string(), "2026-12-05T09:00:00-07:00[America/Denver]");
    assert_eq!(plan.units, UnitSystem::Us);
    all_work(folder.path());
}

#[test]
fn without_elevation_the_missing_tiles_are_named() {
    let folder = tempfile::tempdir().unwrap();
    let said = begun(folder.path(), &["--centre", "40.36 -105.70", "--radius", "3 km"]);
    for name in
        ["N40W106.hgt", "Copernicus_DSM_COG_10_N40_00_W106_00_DEM.tif", "USGS_13_n41w106.tif"]
    {
        assert!(said.contains(name), "{said}");
    }
    let check = perchline(folder.path(), &["check", "event/plan.toml"]);
    assert_eq!(check.status.code(), Some(2));
    let told = crate::support::said(&check);
    assert!(told.contains("plan.toml:") && told.contains("no such folder"), "{told}");
    assert!(told.contains("N40W106.hgt"), "{told}");
}

#[test]
fn nothing_is_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    with_hills(folder.path());
    let arguments = ["--centre", "46.99, -34.90", "--elevation", "hills.tif"];
    begun(folder.path(), &arguments);
    let plan = fs::read(folder.path().join("event/plan.toml")).unwrap();
    refused(
        folder.path(),
        &[&["event"], &arguments[..]].concat(),
        &["event/plan.toml", "event/shapes.geojson", "nothing is overwritten"],
    );
    assert_eq!(fs::read(folder.path().join("event/plan.toml")).unwrap(), plan);
    // Neither is what only has the name of its second file.
    fs::remove_file(folder.path().join("event/plan.toml")).unwrap();
    refused(folder.path(), &[&["event"], &arguments[..]].concat(), &["event/shapes.geojson"]);
}

#[test]
fn what_cannot_be_used_is_told_and_nothing_written() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    with_hills(folder.path());
    let gpx =
        "<gpx version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\"></gpx>";
    fs::write(at("empty.gpx"), gpx).unwrap();
    fs::File::create(at("large.gpx")).unwrap().set_len(200_000_000).unwrap();
    fs::write(at("a-file"), "").unwrap();
    fs::write(at("far.csv"), "name,lat,lon\nAid 1,10.0,10.0\n").unwrap();
    for (arguments, wanted) in [
        (&["event"][..], &["nothing says where the event is", "--centre"][..]),
        (&["event", "--places", "empty.gpx"], &["empty.gpx", "no point, line or polygon"]),
        (&["event", "--places", "none.gpx"], &["none.gpx"]),
        (&["event", "--places", "large.gpx"], &["large.gpx", "200 MB", "50 MB is the most"]),
        (
            &["event", "--centre", "10.0, 10.0", "--elevation", "hills.tif"],
            &["hills.tif", "latitude 9.", "latitude 46."],
        ),
        (&["event", "--places", "far.csv", "--elevation", "hills.tif"], &["hills.tif"]),
        (
            &["event", "--places", "far.csv", "--centre", "46.99, -34.9", "--radius", "1 km"],
            &["none of the 1 places of far.csv", "1000 m"],
        ),
        (&["event", "--centre", "95, 200"], &["--centre"]),
        (&["event", "--centre", "46.99, -34.9", "--radius", "3"], &["--radius"]),
        (
            &[
                "event",
                "--centre",
                "46.99, -34.9",
                "--starts",
                "2026-12-05T19:00",
                "--ends",
                "2026-12-05T18:00",
            ],
            &["the event ends at"],
        ),
        (
            &["event", "--centre", "46.99, -34.9", "--starts", "soon"],
            &["--starts", "2026-12-05T17:30"],
        ),
        (&["a-file", "--centre", "46.99, -34.9"], &["a-file", "this is a file"]),
        (&["event", "--elevation", "empty.gpx"], &["empty.gpx", "not an elevation raster"]),
    ] {
        refused(folder.path(), arguments, wanted);
    }
}

#[test]
fn a_folder_that_cannot_be_made_is_told() {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("a-file"), "").unwrap();
    let output = perchline(folder.path(), &["start", "a-file/event", "--centre", "46.99, -34.9"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(said(&output).contains("cannot be written"), "{}", said(&output));
    assert_eq!(listed(folder.path()).len(), 1);
}

#[test]
fn the_same_input_makes_the_same_plan_and_json_says_what_it_holds() {
    let made = || {
        let folder = tempfile::tempdir().unwrap();
        write_plan_raster(&folder.path().join("hills.tif"), crate::support::rolling);
        let arguments = ["--centre", "47.004, -34.893", "--elevation", "hills.tif", "--json"];
        let said = begun(folder.path(), &arguments);
        (fs::read(folder.path().join("event/plan.toml")).unwrap(), said)
    };
    let (plan, said) = made();
    assert_eq!(made(), (plan, said.clone()));
    let document: Value = serde_json::from_str(&said).unwrap();
    let result = &document["result"];
    assert_eq!(result["plan"], "event/plan.toml");
    assert_eq!(result["time_zone"], "Etc/GMT+2");
    assert_eq!(result["elevation"]["files"][0], "hills.tif");
    assert_eq!(result["elevation"]["missing"], Value::Null);
    assert!(result["suggested_sites"].as_u64().unwrap() >= 1);
    assert!(!result["to_set"].as_array().unwrap().is_empty());
}

/// A point of a GPX file is a post, or a site where its type says so, as `--help` has it.
#[test]
fn a_waypoint_of_the_type_site_is_a_site() {
    let folder = tempfile::tempdir().unwrap();
    with_hills(folder.path());
    let point = |name: &str, at: &str, kind: &str| {
        format!("<wpt {at}><name>{name}</name><type>{kind}</type></wpt>")
    };
    let gpx = format!(
        "<gpx version=\"1.1\" creator=\"a test\" xmlns=\"http://www.topografix.com/GPX/1/1\">{}{}</gpx>",
        point("Market", "lat=\"46.99\" lon=\"-34.90\"", "post"),
        point("Library roof", "lat=\"46.992\" lon=\"-34.902\"", "Site"),
    );
    fs::write(folder.path().join("places.gpx"), gpx).unwrap();
    let said = begun(folder.path(), &["--places", "places.gpx", "--elevation", "hills.tif"]);
    assert!(said.lines().next().unwrap().ends_with("1 post, no route, no area, 1 site"), "{said}");
    let plan = fs::read_to_string(folder.path().join("event/plan.toml")).unwrap();
    assert!(plan.contains("Library roof"), "{plan}");
    let help = perchline(folder.path(), &["start", "--help"]);
    assert!(printed(&help).contains("\"type\") says \"site\""), "{}", printed(&help));
}
