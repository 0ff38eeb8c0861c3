//! What every verb writes is the same to the byte for any number of threads and
//! on every run, and says what made it.

use crate::support;
use std::collections::BTreeMap;
use std::fs;
use std::io::Read;
use std::path::Path;
use std::process::Command;
use std::sync::LazyLock;

use crate::support::{PLAN, write_plan_raster};
use gdal::vector::LayerAccess;
use gdal::{Dataset, Metadata};
use perchline::plan::InputFile;
use rayon::prelude::*;
use serde_json::Value;

/// What the small plan lacks for every verb to have something to say.
const MORE: &str = r#"
[[post]]
name = "Net Control"
at = "47.0035, -34.8960"
net_control = true

[[channel]]
name = "Simplex"
kind = "simplex"
frequency = "146.55 MHz"
carried = "hand-held"

[[group]]
name = "Wardens"
posts = ["Aid 2"]
people = 2
channel = "Simplex"
head = "Aid 2"

[[channel]]
name = "Packet"
kind = "packet"
frequency = "144.8 MHz"
carried = "hand-held"
station = "relay"

[[area]]
name = "Field"
outline = ["47.000, -34.900", "47.000, -34.895", "47.004, -34.895"]

[[route]]
name = "Course"
line = ["47.000, -34.900", "47.010, -34.885"]

[[tracker]]
name = "Last runners"
route = "Course"
every = "2 min"
speed = "8 km/h"
packet = "0.9 s"

[masts]
highest = "9 m"

[choose]
relays = 2

[search]
mast = "6 m"

[forecast]
from = 2026-12-05T13:00:00
hourly = [
  "7 °C", "7 °C", "6 °C", "6 °C", "5 °C", "4 °C", "4 °C", "3 °C", "3 °C", "2 °C", "2 °C", "1 °C",
]
gust = "45 km/h"

[[contact]]
name = "Radio lead"
role = "Changes to the plan"
phone = "555-0117"

[[pack]]
name = "pack"
chemistry = "lifepo4"
cells = 4
capacity = "20 Ah"
age = "1 year"
weight = "2.6 kg"

[[station]]
name = "Relay station"
channel = "Event"
on = 2026-12-05T15:00:00
currents = { transmit = "6.5 A", receive = "700 mA", standby = "400 mA" }
traffic = { keyed = "25 %", listening = "5 %" }
[station.supply]
pack = "pack"
cutoff = "11.0 V"

[[station]]
name = "Digipeater"
channel = "Packet"
on = 2026-12-05T15:00:00
currents = { transmit = "1.4 A", receive = "200 mA", standby = "60 mA" }
traffic = { heard = "120 /h", repeated = "80 /h", packet = "0.9 s" }
[station.supply]
pack = "pack"
cutoff = "11.0 V"
[station.roof]
east = "8 m"
"#;

/// What was heard from the hotel.
fn log() -> String {
    let places =
        ["Aid 1,", "Aid 2,", "Net Control,", ",\"47.005, -34.892\"", ",\"47.002, -34.897\""];
    let mut text = "time,post,position,direction,carry,heard,daq,level\n".to_owned();
    for row in 0..40 {
        let heard = if row % 3 == 0 { "no" } else { "yes" };
        let way = ["in", "out"][row % 2];
        text += &format!(
            "2026-12-05T17:{:02}:00Z,{},{way},shoulder,{heard},,\n",
            row + 5,
            places[row % places.len()]
        );
    }
    text
}

/// Every verb that writes files.
const VERBS: [(&str, &[&str]); 15] = [
    ("ready", &[]),
    ("brief", &["--paper", "a4", "--paper", "poster"]),
    ("rank", &["--maps", "all"]),
    ("rehearse", &["--calls", "4"]),
    ("search", &[]),
    ("debrief", &["log.csv", "--site", "Hotel"]),
    ("coverage", &["--site", "Hotel"]),
    ("masts", &[]),
    ("path", &["--from", "Hotel", "--to", "Aid 2"]),
    ("direct", &[]),
    ("trackers", &["--site", "Silo"]),
    ("choose", &[]),
    ("power", &[]),
    ("cosite", &[]),
    ("check", &[]),
];

/// Files by name, and what was printed.
type Made = BTreeMap<String, Vec<u8>>;

/// What `verb` makes in `folder`, which it leaves as it was.
fn run(folder: &Path, verb: (&str, &[&str]), threads: &str, epoch: Option<&str>) -> Made {
    let (name, more) = verb;
    // The same name each time: results tell where they were written to.
    let out = format!("out-{name}");
    let mut command = Command::new(env!("CARGO_BIN_EXE_perchline"));
    command.current_dir(folder).args([name, "plan.toml"]).args(more);
    command.args(["--threads", threads, "--out", &out]).env_remove("SOURCE_DATE_EPOCH");
    if let Some(epoch) = epoch {
        command.env("SOURCE_DATE_EPOCH", epoch);
    }
    let output = command.output().unwrap();
    assert!(output.status.success(), "{name}: {}", support::said(&output));
    let written = folder.join(&out);
    let mut made = Made::from([("(printed)".to_owned(), output.stdout)]);
    for entry in fs::read_dir(&written).unwrap() {
        let path = entry.unwrap().path();
        let file = path.file_name().unwrap().to_str().unwrap().to_owned();
        made.insert(file, fs::read(path).unwrap());
    }
    fs::remove_dir_all(written).unwrap();
    made
}

/// The time that a run recorded, as seconds since 1970.
fn recorded(made: &Made) -> String {
    let json = made.iter().find(|(name, _)| name.ends_with(".json")).unwrap().1;
    let document: Value = serde_json::from_slice(json).unwrap();
    let time = document["provenance"]["made_at"].as_str().unwrap().to_owned();
    time.parse::<jiff::Timestamp>().unwrap().as_second().to_string()
}

fn same(name: &str, one: &Made, other: &Made) {
    assert_eq!(one.keys().collect::<Vec<_>>(), other.keys().collect::<Vec<_>>(), "{name}");
    for (file, bytes) in one {
        assert!(*bytes == other[file], "{name}: {file} differs");
    }
}

/// The folder of the plan, and what each verb makes in it without a time that is
/// set, on two threads.
struct Runs {
    folder: tempfile::TempDir,
    made: Vec<(&'static str, Made)>,
}

static RUNS: LazyLock<Runs> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    write_plan_raster(&at("terrain.tif"), |c, r| {
        (90.0 + 60.0 * (c as f32 / 9.0).sin() * (r as f32 / 14.0).cos()).round()
    });
    fs::write(at("plan.toml"), PLAN.replace("[map]", "[map]\ncell = \"40 m\"") + MORE).unwrap();
    fs::write(at("log.csv"), log()).unwrap();
    let made =
        VERBS.par_iter().map(|verb| (verb.0, run(folder.path(), *verb, "2", None))).collect();
    Runs { folder, made }
});

/// A run in its own time, and three at a time that is set to it: on 2, 1 and 8
/// threads. All are the same to the byte, so the time recorded is all that runs
/// differ by, and nothing else takes the time from the clock.
#[test]
fn every_file_is_the_same_on_every_run_and_for_any_number_of_threads() {
    let runs = &*RUNS;
    VERBS.par_iter().zip(&runs.made).for_each(|(verb, (name, made))| {
        let epoch = recorded(made);
        for threads in ["2", "1", "8"] {
            let again = run(runs.folder.path(), *verb, threads, Some(&epoch));
            same(&format!("{name} on {threads} threads"), made, &again);
        }
    });
    // Among them are all kinds of file.
    for kind in KINDS {
        let any = |made: &Made| made.keys().any(|name| name.ends_with(kind));
        assert!(runs.made.iter().any(|(_, made)| any(made)), "no {kind}");
    }
}

const KINDS: [&str; 14] = [
    ".json", ".txt", ".png", ".svg", ".geojson", ".tif", ".pdf", ".kml", ".kmz", ".gpx", ".gpkg",
    ".html", ".md", ".csv",
];

/// All text that a file carries beside what it shows, and what it shows as text.
fn text(folder: &Path, name: &str, bytes: &[u8]) -> String {
    let kind = name.rsplit('.').next().unwrap();
    let on_disk = || {
        let file = folder.join(format!("read-{name}"));
        fs::write(&file, bytes).unwrap();
        Dataset::open(file).unwrap()
    };
    match kind {
        "png" => {
            let reader = png::Decoder::new(std::io::Cursor::new(bytes)).read_info().unwrap();
            let info = reader.info();
            let plain = info.uncompressed_latin1_text.iter().map(|c| c.text.clone());
            let utf8 = info.utf8_text.iter().map(|c| c.get_text().unwrap());
            plain.chain(utf8).collect::<Vec<_>>().join("\n")
        }
        "tif" => on_disk().metadata().map(|e| format!("{}={}\n", e.key, e.value)).collect(),
        "gpkg" => {
            let package = on_disk();
            let mut coverage = package.layer_by_name("coverage").unwrap();
            let fields = coverage.features().flat_map(|class| {
                class
                    .fields()
                    .map(|(name, value)| format!("{name}={value:?}\n"))
                    .collect::<Vec<_>>()
            });
            fields.collect()
        }
        "pdf" => {
            let document = lopdf::Document::load_mem(bytes).unwrap();
            let pages: Vec<u32> = document.get_pages().into_keys().collect();
            let shown = document.extract_text(&pages).unwrap();
            let inside: Vec<String> = document
                .objects
                .values()
                .filter_map(|object| {
                    let stream = object.as_stream().ok()?;
                    let kind = stream.dict.get(b"Type").ok()?.as_name().ok()?;
                    (kind == b"Metadata").then(|| {
                        let plain = stream.get_plain_content().unwrap_or_default();
                        String::from_utf8_lossy(&plain).into_owned()
                    })
                })
                .collect();
            shown + &inside.join("\n")
        }
        "kmz" => {
            let mut archive = zip::ZipArchive::new(std::io::Cursor::new(bytes)).unwrap();
            let mut text = String::new();
            archive.by_name("doc.kml").unwrap().read_to_string(&mut text).unwrap();
            text
        }
        _ => String::from_utf8(bytes.to_vec()).unwrap(),
    }
}

/// What a file has to say of how it came about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fact {
    Version,
    Method,
    Plan,
    Time,
}

use Fact::{Method, Plan, Time, Version};

/// What no method made.
const WITHOUT_METHOD: [&str; 2] = ["power", "cosite"];

/// Ends of names of files that do not say all, what they lack, and why.
const SILENT: [(&str, &[Fact]); 5] = [
    // For labels of 85 by 54 mm: the day and the first digits of the plan.
    ("card-simplex.txt", &[Version, Method]),
    ("card-net-control.txt", &[Version, Method]),
    ("card-wardens-head.txt", &[Version, Method]),
    ("card-wardens-everybody-else.txt", &[Version, Method]),
    // Read by programs that take its first line for the header; channels.html
    // and cosite.json beside it say all.
    ("channels.csv", &[Version, Plan, Time]),
];

/// What a file lacks.
fn lacking(text: &str, sha256: &str, time: &str) -> Vec<Fact> {
    let has = |fact| match fact {
        Version => text.contains(env!("CARGO_PKG_VERSION")),
        Method => text.contains("delta-bullington"),
        // Paper has room for the first digits.
        Plan => text.contains(&sha256[..8]),
        Time => text.contains(&time[..10]),
    };
    [Version, Method, Plan, Time].into_iter().filter(|fact| !has(*fact)).collect()
}

/// Every file carries the program's version, the method, the plan's SHA-256 (its
/// first digits at the least) and the time, wherever its format has room.
#[test]
fn every_file_says_what_made_it() {
    let runs = &*RUNS;
    let plan = InputFile::of(&runs.folder.path().join("plan.toml")).unwrap();
    let mut found = String::new();
    for (verb, made) in &runs.made {
        let json = made.iter().find(|(name, _)| name.ends_with(".json")).unwrap().1;
        let document: Value = serde_json::from_slice(json).unwrap();
        let provenance = &document["provenance"];
        // JSON says all of it in full.
        assert_eq!(provenance["inputs"][0]["sha256"], plan.sha256, "{verb}");
        assert_eq!(provenance["method"], "delta-bullington", "{verb}");
        assert_eq!(provenance["version"], env!("CARGO_PKG_VERSION"), "{verb}");
        let time = provenance["made_at"].as_str().unwrap();
        for (name, bytes) in made.iter().filter(|(name, _)| *name != "(printed)") {
            let mut lacks = lacking(&text(runs.folder.path(), name, bytes), &plan.sha256, time);
            let silent = SILENT.iter().find(|(end, _)| name.ends_with(end));
            let excused = silent.map_or([].as_slice(), |(_, facts)| facts);
            lacks.retain(|fact| {
                let without = *fact == Method && WITHOUT_METHOD.contains(verb);
                !without && !excused.contains(fact)
            });
            if !lacks.is_empty() {
                found += &format!("{verb} {name} lacks {lacks:?}\n");
            }
        }
    }
    assert!(found.is_empty(), "\n{found}");
}

/// Whether a file's name is that of the help, where words in capitals stand for
/// what differs.
fn is_named(name: &str, in_help: &str) -> bool {
    let parts = in_help.split(|c: char| c.is_ascii_uppercase());
    let parts: Vec<&str> = parts.filter(|part| !part.is_empty()).collect();
    let mut rest = name;
    for (index, part) in parts.iter().enumerate() {
        let fixed = index == 0 && in_help.starts_with(part);
        match rest.find(part).filter(|at| if fixed { *at == 0 } else { *at > 0 }) {
            // The ending is what comes last.
            Some(_) if index + 1 == parts.len() => return rest.ends_with(part),
            Some(at) => rest = &rest[at + part.len()..],
            None => return false,
        }
    }
    false
}

/// Beside its tables, as text and JSON, a verb writes the files that its help
/// lists and no other.
#[test]
fn every_file_is_in_the_help_of_its_verb() {
    assert!(is_named("card-direct-side-2.png", "card-WHOSE.png"));
    assert!(is_named("lessons.md", "lessons.md") && !is_named("card-.png", "card-WHOSE.png"));
    assert!(is_named("event-hotel-margin.tif", "CHANNEL-SITE-margin.tif"));
    let mut written = 0;
    for (verb, made) in &RUNS.made {
        let help = support::perchline(RUNS.folder.path(), &[verb, "--help"]);
        let help = support::printed(&help);
        let list = help.split_once("with --out:\n").map_or("", |(_, list)| list);
        let listed: Vec<&str> = list.lines().filter_map(|l| l.split_whitespace().next()).collect();
        let (json, others): (Vec<&str>, Vec<&str>) =
            made.keys().map(String::as_str).partition(|name| name.ends_with(".json"));
        let [json] = json[..] else { panic!("{verb} writes {json:?}") };
        let tables = json.replace(".json", ".txt");
        for name in others.iter().filter(|name| **name != "(printed)" && **name != tables) {
            assert!(
                listed.iter().any(|in_help| is_named(name, in_help)),
                "{verb} --help does not list {name}: {listed:?}"
            );
            written += 1;
        }
        for in_help in listed {
            // The run asks for A4 and the poster alone, and its reports teach no corrections.
            let papers = ["-letter.pdf", "-a3.pdf", "-tabloid.pdf"];
            let is_other_paper = ["brief", "ready"].iter().any(|prefix| {
                in_help.strip_prefix(prefix).is_some_and(|paper| papers.contains(&paper))
            });
            let absent = is_other_paper || in_help == "calibration.toml";
            assert_eq!(
                others.iter().any(|name| is_named(name, in_help)),
                !absent,
                "{verb} --help lists {in_help}: {others:?}"
            );
        }
    }
    assert!(written > 40, "only {written} files");
}

/// A time that is none is not taken for now.
#[test]
fn a_time_that_is_no_number_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    support::write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 40.0);
    fs::write(folder.path().join("plan.toml"), support::PLAN).unwrap();
    let output = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(["check", "plan.toml"])
        .current_dir(folder.path())
        .env("SOURCE_DATE_EPOCH", "yesterday")
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert!(support::said(&output).contains("SOURCE_DATE_EPOCH is \"yesterday\""));
}
