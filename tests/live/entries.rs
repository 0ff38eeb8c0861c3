//! Entries added, taken away and renamed: the plan's text keeps all else to the byte.

use std::fs;
use std::path::Path;

use perchline::assessment;
use perchline::live::edit::{Change, EditError, EntryKind, NewEntry};
use proptest::prelude::*;
use serde_json::{Value, json};

use crate::support::live::{Served, serve, serve_copy, small};

fn plan(name: &str) -> String {
    fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join(name)).unwrap()
}

fn data(text: &str) -> toml::Table {
    text.trim_start_matches('\u{feff}').parse().unwrap_or_else(|e| panic!("{e}\n{text}"))
}

fn remove(kind: EntryKind, name: &str) -> Change {
    Change::Remove { kind, name: name.to_owned() }
}

fn rename(kind: EntryKind, name: &str, to: &str) -> Change {
    Change::Rename { kind, name: name.to_owned(), to: to.to_owned() }
}

fn add(entries: &[NewEntry]) -> Change {
    Change::Add { entries: entries.to_vec() }
}

fn post(name: &str) -> NewEntry {
    NewEntry::Post { name: name.to_owned(), at: "46.99, -34.9".to_owned() }
}

/// One of each kind that a page can add to the sample.
fn one_of_each() -> Vec<NewEntry> {
    let corners = ["46.99, -34.90", "46.99, -34.89", "47.00, -34.89"].map(str::to_owned);
    vec![
        post("New post"),
        NewEntry::Site { name: "New site".to_owned(), at: "46.99, -34.9".to_owned() },
        NewEntry::Area { name: "New area".to_owned(), outline: corners.to_vec() },
        NewEntry::Route { name: "New route".to_owned(), line: corners.to_vec() },
        NewEntry::Group { name: "New group".to_owned(), posts: vec!["Aid 1".to_owned()] },
        NewEntry::Station { name: "New station".to_owned(), channel: "Relay".to_owned() },
    ]
}

#[test]
fn what_is_added_makes_a_plan_and_goes_again() {
    let sample = plan("sample-terrain/ferry-lights.toml");
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/plan.toml");
    let all = add(&one_of_each());
    let with = all.make(&sample).unwrap();
    let read = assessment::read_text(&file, &with).unwrap_or_else(|e| panic!("{e}\n{with}"));
    assert!(read.posts.iter().any(|p| p.name == "New post"));
    assert_eq!(read.areas.last().unwrap().outline.exterior().0.len(), 4);
    assert_eq!(read.routes.last().unwrap().line.0.len(), 3);
    assert_eq!(read.groups.last().unwrap().name, "New group");
    // What nobody has typed is told: the mast that most sites have, and whose currents.
    let told = all.taken(&sample).join("; ");
    for part in ["mast 3 m, roof 0 m above ground", "led by \"Aid 1\"", "currents", "\"Relay\""] {
        assert!(told.contains(part), "no {part:?} in {told}");
    }
    let mut left = with;
    for entry in one_of_each() {
        left = remove(entry.kind(), entry.name()).make(&left).unwrap();
    }
    assert!(left == sample, "{left}");
}

/// A comment stands where it stood, whatever comes and goes around it.
#[test]
fn an_entry_comes_behind_the_last_of_its_kind() {
    let text = "# plan\n[[post]]\nname = \"A\" # first\n\n[[post]]\nname = \"B\"\nat = \"1, 2\" # by the mill\n# sites\n\n[[site]]\nname = \"C\"\n# the end\n";
    let with = add(&[post("D")]).make(text).unwrap();
    let new = "\n\n[[post]]\nname = \"D\"\nat = \"46.99, -34.9\"\n# sites";
    assert_eq!(with, text.replace("\n# sites", new));
    let without = remove(EntryKind::Post, "B").make(text).unwrap();
    assert_eq!(
        without,
        text.replace("\n\n[[post]]\nname = \"B\"\nat = \"1, 2\" # by the mill", "")
    );
    // The comment directly above an entry is its own.
    let noted = text.replace("\n[[post]]\nname = \"B\"", "\n# in the cut\n[[post]]\nname = \"B\"");
    assert_eq!(remove(EntryKind::Post, "B").make(&noted).unwrap(), without);
}

#[test]
fn lists_in_one_line_or_many_keep_their_look() {
    for (before, after) in [
        ("post = [{ name = \"A\" }]\n", "post = [{ name = \"A\" }, NEW]\n"),
        ("post = [{ name = \"A\" },]\n", "post = [{ name = \"A\" }, NEW,]\n"),
        ("post = [\n  { name = \"A\" },\n]\n", "post = [\n  { name = \"A\" },\n  NEW,\n]\n"),
        (
            "post = [\n\t{ name = \"A\" } # last, so far\n]\n",
            "post = [\n\t{ name = \"A\" }, # last, so far\n\tNEW\n]\n",
        ),
        (
            "post = [\r\n  { name = \"A\" }, # a, b]\r\n  # more\r\n]\r\n",
            "post = [\r\n  { name = \"A\" }, # a, b]\r\n  NEW,\r\n  # more\r\n]\r\n",
        ),
        ("post = []\n", "post = [NEW]\n"),
    ] {
        let new = "{ name = \"D\", at = \"46.99, -34.9\" }";
        let with = add(&[post("D")]).make(before).unwrap();
        assert_eq!(with, after.replace("NEW", new));
        let without = remove(EntryKind::Post, "D").make(&with);
        if before.contains("[]") {
            // A plan keeps one post at least.
            assert!(matches!(without, Err(EditError::Last { .. })), "{without:?}");
        } else {
            assert_eq!(without.unwrap(), before);
        }
    }
}

/// Whatever names an entry follows it: of a plan that has every field, every entry.
#[test]
fn every_reference_follows_a_new_name() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
    let powered = plan("sample-terrain/ferry-lights.toml");
    let sample = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain");
    let mut renamed = 0;
    for (text, folder) in [(plan("tests/plans/full.toml"), folder), (powered, sample)] {
        let file = folder.join("plan.toml");
        let read = |text: &str| assessment::read_text(&file, text);
        let before = read(&text).unwrap();
        for kind in EntryKind::ALL {
            let table = data(&text);
            let names: Vec<String> = table
                .get(kind.table())
                .and_then(toml::Value::as_array)
                .into_iter()
                .flatten()
                .map(|entry| entry["name"].as_str().unwrap().to_owned())
                .collect();
            for name in names {
                let new = "Zebra \"quoted\" \\ 7";
                let made = rename(kind, &name, new).make(&text).unwrap();
                let after = read(&made).unwrap_or_else(|e| panic!("{kind:?} {name}: {e}"));
                // The same plan but for the name, and the old name again is the old text
                // in all that it says.
                let users = |plan: &perchline::plan::Plan| {
                    plan.channels.iter().map(|c| plan.users_of(c)).collect::<Vec<_>>()
                };
                assert_eq!(users(&before), users(&after), "{kind:?} {name}");
                let back = rename(kind, new, &name).make(&made).unwrap();
                assert_eq!(said_lower(&data(&back)), said_lower(&table), "{kind:?} {name}");
                renamed += 1;
            }
        }
    }
    assert!(renamed > 60, "only {renamed}");
}

/// All that a table says, letter case aside.
fn said_lower(table: &toml::Table) -> String {
    table.to_string().to_lowercase()
}

#[test]
fn what_others_lean_on_stays_and_lists_let_go() {
    let sample = plan("sample-terrain/ferry-lights.toml");
    let refusal = |kind, name| remove(kind, name).make(&sample).unwrap_err().to_string();
    let text = refusal(EntryKind::Post, "Medical tent");
    for part in ["post \"Medical tent\" stays", "group \"Medical\" in head", "bridge.post"] {
        assert!(text.contains(part), "no {part:?} in {text}");
    }
    let text = refusal(EntryKind::Route, "Half marathon");
    assert!(text.contains("tracker \"Lead car\" in route"), "{text}");
    let text = refusal(EntryKind::Radio, "tracker");
    assert!(text.contains("channel \"Packet\" in carried"), "{text}");
    assert_eq!(refusal(EntryKind::Post, "Nobody"), "the plan has no post \"Nobody\" any more");
    // A list of several, and a text on the users of a channel, stay right.
    let made = remove(EntryKind::Post, "First-aid post").make(&sample).unwrap();
    assert!(made.contains("posts = [\"Medical tent\"]\n"), "{made}");
    assert!(made.contains("users = \"Medical tent\"\n"), "{made}");
    assert!(!made.to_lowercase().contains("first-aid post"), "{made}");
    let sample_folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("sample-terrain/plan.toml");
    assessment::read_text(&sample_folder, &made).unwrap();
    // The last of a list is not let go.
    let text = remove(EntryKind::Post, "Aid 1").make(&plan("tests/plans/full.toml"));
    assert!(matches!(text, Err(EditError::Needed { .. })), "{text:?}");
}

#[test]
fn an_entry_in_parts_that_stand_apart_is_left_alone() {
    let text = "[[station]]\nname = \"A\"\n\n[[pack]]\nname = \"P\"\n\n[station.mast]\nweight = \"9 kg\"\n";
    let error = remove(EntryKind::Station, "A").make(text).unwrap_err();
    assert!(matches!(error, EditError::Scattered { .. }), "{error}");
    // Apart only by name: the pack itself goes.
    let left = remove(EntryKind::Pack, "P").make(text).unwrap();
    assert_eq!(left, text.replace("\n\n[[pack]]\nname = \"P\"", ""));
}

#[test]
fn hostile_names_stay_names() {
    let sample = plan("sample-terrain/ferry-lights.toml");
    for name in
        ["\"]\n[[site]]\nname = 'x'", "a\\", "'''", "\u{7}", "#", "{{x}}", "\r\n", "é\u{202e}"]
    {
        let with = add(&[post(name)]).make(&sample).unwrap();
        let posts = data(&with)["post"].as_array().unwrap().clone();
        assert_eq!(posts.last().unwrap()["name"].as_str(), Some(name.trim()), "{with}");
        assert_eq!(data(&with)["site"], data(&sample)["site"]);
        let renamed = rename(EntryKind::Post, "Medical tent", name).make(&sample).unwrap();
        assert_eq!(data(&renamed)["site"], data(&sample)["site"]);
        assert_eq!(data(&renamed)["group"][0]["head"].as_str(), Some(name.trim()));
    }
    let error = rename(EntryKind::Post, "Medical tent", "Tent, north").make(&sample).unwrap_err();
    assert!(error.to_string().contains("comma"), "{error}");
}

/// A plan of which the look is drawn: entries under headers or in lists, comments,
/// blank lines, line ends and what stands behind.
fn any_plan() -> impl Strategy<Value = (String, bool)> {
    let name = prop::sample::select(vec!["A", "B \\\" b", "C, c", "Ö", "D # d", "]", "E } e"]);
    let entries = prop::collection::vec((name, 0..6usize, any::<bool>()), 1..5);
    (entries, any::<bool>(), any::<bool>(), 0..4usize, any::<bool>(), 0..3usize).prop_map(
        |(entries, in_list, windows, behind, ended, spaced)| {
            let mut text = String::from("# a plan\nunits = 1\n");
            let entry = |(number, (name, look, noted)): (usize, &(&str, usize, bool))| {
                let note = if *noted { " # note, with ] and }" } else { "" };
                let name = format!("\"{name} {number}\"");
                if in_list {
                    let comma = if number + 1 < entries.len() || look % 2 == 0 { "," } else { "" };
                    let value = format!("{{ name = {name}, at = \"1, 2\" }}{comma}");
                    return match look {
                        0 => format!("  # of its own\n  {value}{note}\n"),
                        1 => format!("\n    {value}{note}\n"),
                        _ => format!("  {value}{note}\n"),
                    };
                }
                let gap = "\n".repeat(*look % 3);
                let above = if *look == 4 { "# of its own\n" } else { "" };
                let more = match look {
                    1 => "[post.more]\nx = [1,\n 2]\n",
                    2 => "text = '''\n[[post]]\n# none\n'''\n",
                    3 => "[[post.item]]\nname = \"z\"\n\n[[post.item]]\n",
                    _ => "",
                };
                format!("{gap}{above}[[post]]{note}\nname = {name}\nat = \"1, 2\"{note}\n{more}")
            };
            let body: String = entries.iter().enumerate().map(entry).collect();
            if in_list {
                text += &format!("post = [\n{body}]{}\n", if spaced == 1 { " # all" } else { "" });
            } else {
                text += &body;
            }
            text +=
                ["", "# behind\n", "\n\n# far behind\n\n", "\n[choose]\nspare = \"x\"\n"][behind];
            if !ended {
                text = text.trim_end_matches('\n').to_owned();
            }
            if windows {
                text = text.replace('\n', "\r\n");
            }
            (text, in_list)
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1500))]

    /// What is added and taken away leaves the text as it was, to the byte, and nothing
    /// but the entry comes or goes in what the plan says.
    #[test]
    fn added_and_removed_is_as_before((text, _) in any_plan(), many in 1..4usize) {
        let before = data(&text);
        let new: Vec<NewEntry> = (0..many).map(|n| post(&format!("New {n}"))).collect();
        let with = add(&new).make(&text).unwrap();
        let mut expected = before.clone();
        let posts = expected["post"].as_array_mut().unwrap();
        for entry in &new {
            let fields = json!({ "name": entry.name(), "at": "46.99, -34.9" });
            posts.push(toml::Value::try_from(fields).unwrap());
        }
        prop_assert_eq!(&data(&with), &expected, "{}", with);
        prop_assert_eq!(with.contains("\r\n"), text.contains("\r\n"));
        prop_assert!(!text.contains("\r\n") || !with.replace("\r\n", "").contains('\n'));
        let mut left = with;
        for entry in new.iter().rev() {
            left = remove(EntryKind::Post, entry.name()).make(&left).unwrap();
        }
        prop_assert_eq!(left, text);
    }

    /// Any entry can go, and takes nothing with it.
    #[test]
    fn one_is_removed_and_no_other((text, _) in any_plan(), which in 0..5usize) {
        let mut expected = data(&text);
        let posts = expected["post"].as_array_mut().unwrap();
        prop_assume!(posts.len() > 1);
        let gone = posts.remove(which % posts.len());
        let left = remove(EntryKind::Post, gone["name"].as_str().unwrap()).make(&text).unwrap();
        prop_assert_eq!(&data(&left), &expected, "{}", left);
        for comment in ["# a plan", "# behind", "# far behind", "# all"] {
            prop_assert_eq!(left.contains(comment), text.contains(comment), "{}", left);
        }
    }

    /// A new name changes one value.
    #[test]
    fn one_name_changes((text, _) in any_plan(), which in 0..5usize, to in "[^\\x00]{1,12}") {
        let mut expected = data(&text);
        let posts = expected["post"].as_array_mut().unwrap();
        let which = which % posts.len();
        let name = posts[which]["name"].as_str().unwrap().to_owned();
        posts[which]["name"] = toml::Value::from(to.trim());
        let made = rename(EntryKind::Post, &name, &to).make(&text).unwrap();
        prop_assert_eq!(data(&made), expected);
        prop_assume!(!to.trim().is_empty());
        let back = rename(EntryKind::Post, &to, &name).make(&made);
        // A name that another has too leads to the first.
        if let Ok(back) = back && back.len() == text.len() {
            prop_assert_eq!(data(&back), data(&text));
        }
    }
}

fn add_drawn(served: &Served, kind: &str, name: &str, points: &[[f64; 2]]) -> (u16, Value) {
    let entry = json!({ "kind": kind, "name": name, "points": points });
    let answer = served.post("add", &json!({ "entries": [entry] }));
    (answer.status, answer.json())
}

fn named<'v>(state: &'v Value, list: &str, name: &str) -> Option<&'v Value> {
    state[list].as_array().unwrap().iter().find(|entry| entry["name"] == name)
}

#[test]
fn what_is_drawn_is_in_the_plan_and_undone() {
    let served = serve();
    let before = served.settled();
    let (status, told) = add_drawn(&served, "post", "Bridge", &[[100.0, 120.0]]);
    assert_eq!((status, &told["told"]), (200, &json!([])), "{told}");
    let (status, told) = add_drawn(&served, "site", "Water tower", &[[150.0, 100.0]]);
    assert_eq!(status, 200, "{told}");
    assert!(told["told"][0].as_str().unwrap().contains("mast 3 m"), "{told}");
    let corners = [[100.0, 100.0], [140.0, 100.0], [140.0, 130.0]];
    assert_eq!(add_drawn(&served, "area", "Meadow", &corners).0, 200);
    assert_eq!(add_drawn(&served, "route", "Detour", &corners[..2]).0, 200);
    let state = served.settled();
    let at = &named(&state, "posts", "Bridge").unwrap()["at"];
    assert!((at["column"].as_f64().unwrap() - 100.0).abs() < 0.01, "{at}");
    assert!(named(&state, "posts", "Bridge").unwrap()["outcome"].is_string());
    assert!(named(&state, "sites", "Water tower").is_some());
    assert!(named(&state, "areas", "Meadow").unwrap()["spots"].is_string());
    assert_eq!(named(&state, "routes", "Detour").unwrap()["points"].as_array().unwrap().len(), 2);
    for _ in 0..4 {
        assert_eq!(served.post("undo", &json!({})).status, 200);
    }
    let back = served.settled();
    assert_eq!((&back["changed"], &back["posts"]), (&json!(false), &before["posts"]));
}

#[test]
fn what_cannot_be_drawn_is_told_and_changes_nothing() {
    let served = serve();
    let text = served.desk.lock().text().to_owned();
    for (kind, name, points, part) in [
        ("post", "Far", vec![[-5.0, 10.0]], "off the map"),
        ("post", "Two", vec![[5.0, 10.0], [6.0, 10.0]], "one place"),
        ("route", "Short", vec![[5.0, 10.0]], "2 are the least"),
        ("area", "Thin", vec![[5.0, 10.0], [9.0, 10.0]], "3 are the least"),
        ("channel", "Odd", vec![[5.0, 10.0]], "not drawn"),
        ("post", "Aid 1", vec![[50.0, 50.0]], "already the name"),
        ("post", "", vec![[50.0, 50.0]], "the name is empty"),
        (
            "area",
            "Crossed",
            vec![[50.0, 50.0], [90.0, 90.0], [90.0, 50.0], [50.0, 90.0]],
            "outline",
        ),
    ] {
        let (status, said) = add_drawn(&served, kind, name, &points);
        assert_eq!(status, 422, "{name}: {said}");
        assert!(said.to_string().contains(part), "no {part:?} in {said}");
    }
    assert!(served.desk.lock().text() == text);
    assert_eq!(served.get("state").json()["can_undo"], false);
}

#[test]
fn a_site_that_is_looked_at_is_looked_at_under_its_new_name() {
    let served = serve();
    let state = served.settled();
    let (site, channel) = (&state["sites"][2]["name"], &state["look"]["channel"]);
    assert_eq!(served.post("look", &json!({ "site": site, "channel": channel })).status, 200);
    let change = json!({ "change": "rename", "kind": "site", "name": site, "to": "Top deck" });
    assert_eq!(served.post("change", &change).status, 200);
    assert_eq!(served.settled()["look"]["site"], "Top deck");
    assert_eq!(served.post("undo", &json!({})).status, 200);
    assert_eq!(&served.settled()["look"]["site"], site);
    // What leans on it is told in the refusal.
    let change = json!({ "change": "remove", "kind": "post", "name": "Medical tent" });
    let answer = served.post("change", &change);
    assert_eq!(answer.status, 422);
    assert!(answer.json()["text"].as_str().unwrap().contains("group \"Medical\" in head"));
}

fn sent(served: &Served, name: &str, bytes: &[u8]) -> (u16, Value) {
    let answer = served.send_file("read", name, bytes);
    (answer.status, answer.json())
}

#[test]
fn a_file_of_places_is_read_and_what_is_chosen_is_one_change() {
    let served = serve();
    let before = served.desk.lock().text().to_owned();
    let track: String = (0..3000)
        .map(|n| {
            let along = f64::from(n) * 1e-5;
            format!("<trkpt lat=\"{}\" lon=\"{}\"/>", 46.985 + along, -34.92 + along)
        })
        .collect();
    let gpx = format!(
        "<gpx version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\"><wpt lat=\"46.99\" lon=\"-34.9\"><name>aid 1</name></wpt><wpt lat=\"46.991\" lon=\"-34.9\"><name>&lt;b&gt;</name></wpt><trk><name>Walk</name><trkseg>{track}</trkseg></trk></gpx>"
    );
    let (status, found) = sent(&served, "walk.gpx", gpx.as_bytes());
    assert_eq!(status, 200, "{found}");
    let items: Vec<_> = found["items"]
        .as_array()
        .unwrap()
        .iter()
        .map(|item| (item["kind"].as_str().unwrap(), item["name"].as_str().unwrap()))
        .collect();
    // A name that the plan has already is another.
    assert_eq!(items, [("route", "Walk"), ("post", "aid 1 (2)"), ("post", "<b>")]);
    assert!(found["notes"].to_string().contains("3000 points"), "{found}");
    assert!(served.desk.lock().text() == before, "reading changes nothing");
    let take = json!({ "id": found["id"], "chosen": [0, 2], "as_sites": false });
    let answer = served.post("take", &take);
    assert_eq!(answer.status, 200, "{}", answer.json());
    let state = served.settled();
    assert!(named(&state, "routes", "Walk").is_some() && named(&state, "posts", "<b>").is_some());
    assert!(named(&state, "posts", "aid 1 (2)").is_none());
    assert_eq!(served.post("undo", &json!({})).status, 200);
    assert!(served.desk.lock().text() == before, "one change");
    let take = json!({ "id": found["id"], "chosen": [1], "as_sites": true });
    assert_eq!(served.post("take", &take).status, 200);
    assert!(named(&served.settled(), "sites", "aid 1 (2)").is_some());
    let stale = json!({ "id": 77, "chosen": [1] });
    assert_eq!(served.post("take", &stale).status, 422);
    // Nothing is left beside the plan but what was there.
    let left = fs::read_dir(served.copy.folder.path()).unwrap();
    let hidden = left
        .filter(|e| e.as_ref().unwrap().file_name().to_string_lossy().starts_with(".perchline"));
    assert_eq!(hidden.count(), 0);
}

#[test]
fn files_that_are_of_no_use_are_told_and_change_nothing() {
    let served = serve_copy(small());
    let before = served.desk.lock().text().to_owned();
    let empty = b"<gpx version=\"1.1\" creator=\"t\" xmlns=\"http://www.topografix.com/GPX/1/1\"><trk><name>None</name></trk></gpx>";
    let nowhere = b"{\"type\": \"FeatureCollection\", \"features\": []}";
    let large = vec![b' '; perchline::live::server::MOST_FILE_BYTES + 1];
    for (name, bytes, status, part) in [
        ("walk.gpx", &empty[..], 422, "walk.gpx"),
        ("walk.gpx", &b"<gpx><trk"[..], 422, "walk.gpx"),
        ("walk.gpx", &b"\x00\xff\xfe rubbish"[..], 422, "walk.gpx"),
        ("none.geojson", &nowhere[..], 422, "none.geojson"),
        ("list.csv", &b"name,lat\nA,1\n"[..], 422, "list.csv"),
        ("walk.gpx", &b""[..], 422, "is empty"),
        ("photo.jpg", &b"x"[..], 422, "GPX, KML, GeoJSON"),
        ("walk.gpx", &large[..], 413, "more than 8 MB"),
    ] {
        let (found, said) = sent(&served, name, bytes);
        assert_eq!(found, status, "{name}: {said}");
        let text = said["text"].as_str().unwrap();
        assert!(text.contains(part), "no {part:?} in {text}");
        assert!(!text.contains(".perchline"), "{text}");
    }
    assert!(served.desk.lock().text() == before);
    // As nothing else than a file, and a file nowhere else.
    let json = served.post("read?name=a.gpx", &json!({}));
    assert_eq!(json.status, 403);
    let elsewhere = served.send_file("undo", "a.gpx", b"x");
    assert_eq!(elsewhere.status, 403);
    let left = fs::read_dir(served.copy.folder.path()).unwrap().count();
    assert_eq!(left, 2, "the plan and its terrain");
}

/// Points that stay are the same points; what cannot be a shape is refused, and the
/// plan stays as it was.
#[test]
fn a_shape_gets_other_points_by_numbers_and_places() {
    let served = serve();
    let text = || served.desk.lock().text().to_owned();
    let before = text();
    let entries = json!([
        { "kind": "route", "name": "Towpath", "points": [[20.0, 20.0], [40.0, 20.0], [40.0, 40.0]] },
        { "kind": "area", "name": "Meadow", "points": [[20.0, 20.0], [40.0, 20.0], [40.0, 40.0]] },
    ]);
    assert_eq!(served.post("add", &json!({ "entries": entries })).status, 200);
    let with = text();
    let shape = |list: &str, name: &str| -> Vec<(f64, f64)> {
        let state = served.get("state").json();
        let shapes = state[list].as_array().unwrap();
        let found = shapes.iter().find(|shape| shape["name"] == name).unwrap();
        serde_json::from_value(found["points"].clone()).unwrap()
    };
    let reshape = |kind: &str, name: &str, points: Value| {
        served.post("reshape", &json!({ "kind": kind, "name": name, "points": points }))
    };
    let close = |found: &[(f64, f64)], wanted: &[(f64, f64)]| {
        assert_eq!(found.len(), wanted.len(), "{found:?}");
        for (found, wanted) in found.iter().zip(wanted) {
            // Degrees of six decimals are a tenth of a metre.
            let off = (found.0 - wanted.0).hypot(found.1 - wanted.1);
            assert!(off < 0.05, "{found:?} is not {wanted:?}");
        }
    };
    assert_eq!(reshape("route", "Towpath", json!([0, [50.0, 25.0], 2])).status, 200);
    close(&shape("routes", "Towpath"), &[(20.0, 20.0), (50.0, 25.0), (40.0, 40.0)]);
    assert_eq!(reshape("area", "Meadow", json!([0, 1, 2, [20.0, 40.0]])).status, 200);
    let square = [(20.0, 20.0), (40.0, 20.0), (40.0, 40.0), (20.0, 40.0), (20.0, 20.0)];
    close(&shape("areas", "Meadow"), &square);
    assert_eq!(reshape("area", "Meadow", json!([1, 2, 3])).status, 200);
    close(&shape("areas", "Meadow"), &[square[1], square[2], square[3], square[1]]);
    let now = text();
    for (kind, name, points, why) in [
        ("route", "Towpath", json!([0]), "has 2 points at least"),
        ("area", "Meadow", json!([0, 1]), "has 3 points at least"),
        ("route", "Canal", json!([[1.0, 1.0], [2.0, 2.0]]), "is not in the plan any more"),
        ("route", "Towpath", json!([0, 9]), "a point off the map"),
        ("route", "Towpath", json!([0, [-5.0, 2.0]]), "a point off the map"),
        ("post", "Start", json!([[1.0, 1.0], [2.0, 2.0]]), "has no points to move"),
    ] {
        let answer = reshape(kind, name, points);
        assert_eq!(answer.status, 422, "{why}");
        let said = answer.json()["text"].as_str().unwrap().to_owned();
        assert!(said.contains(why), "{why}: {said}");
    }
    assert_eq!(reshape("route", "Towpath", json!([0, "north"])).status, 422);
    assert_eq!(text(), now);
    for _ in 0..3 {
        assert_eq!(served.post("undo", &json!({})).status, 200);
    }
    assert_eq!(text(), with);
    assert_eq!(served.post("undo", &json!({})).status, 200);
    assert_eq!(text(), before);
}
