//! The plan: text through `read_text`, bytes that are no text through a file.

use std::fmt::Write as _;
use std::path::Path;

use perchline::live::edit::{Change, PlaceKind};
use perchline::plan::{self, Plan};
use perchline::propagation::METHODS;

use super::harness::{Reader, Seen, file, lines, must, scratch, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;

const TOKENS: &[&str] = &[
    "[event]",
    "[report]",
    "[terrain]",
    "[prediction]",
    "[map]",
    "[choose]",
    "[masts]",
    "[search]",
    "[forecast]",
    "[exposure]",
    "[buildings]",
    "[land_cover]",
    "[[radio]]",
    "[[channel]]",
    "[[post]]",
    "[[area]]",
    "[[route]]",
    "[[site]]",
    "[[tracker]]",
    "[[contact]]",
    "[[group]]",
    "[fallback]",
    "[[pack]]",
    "[[station]]",
    "[[crew]]",
    "[[crew.item]]",
    "[station.supply]",
    "[[other_channel]]",
    "name",
    "at",
    "starts",
    "ends",
    "tear_down",
    "time_zone",
    "files",
    "file",
    "outline",
    "line",
    "roof",
    "mast",
    "power",
    "antenna",
    "gain",
    "pattern",
    "kind",
    "classes",
    "tiles",
    "hourly",
    "people",
    "head",
    "bridge",
    "weight",
    " = ",
    "\n",
    "[",
    "]",
    "[]",
    "{}",
    "{ ",
    " }",
    ", ",
    "\"",
    "'",
    "\"\"\"",
    "#",
    "true",
    "inf",
    "nan",
    "2026-12-05T17:30:00",
    "0000-01-01T00:00:00",
    "9999-12-31T23:59:59",
    "24:00:00",
    "2026-12-05",
    "\"Atlantic/Azores\"",
    "Etc/GMT+2",
    "\"5 W\"",
    "\"-119 dBm\"",
    "\"3 m\"",
    "\"10 ft\"",
    "\"146.94 MHz\"",
    "\"30 m above ground\"",
    "\"92 m above sea\"",
    "\"47.12, -35.23\"",
    "\"HN27jd10ab\"",
    "\"25T 330515E 5221299N\"",
    "{ file = \"places.geojson\", name = \"Course\" }",
    "hill.asc",
    "places.geojson",
    "/dev/null",
    "/vsimem/x",
    "\"1e308 km\"",
    "\"100 %\"",
    "\"44 °F\"",
    "\"16:30 min/mi\"",
    "\"2 min\"",
    "\"18 months\"",
    "\"80 dB\"",
    "relay",
    "simplex",
    "packet",
    "isotropic",
    "free-space",
    "p1812",
    "delta-bullington",
    "city",
    "hip",
];

pub fn reader() -> Reader<'static> {
    let folder = scratch();
    for name in ["hill.asc", "places.geojson"] {
        std::fs::write(folder.path().join(name), file(&format!("tests/plans/{name}"))).unwrap();
    }
    let methods: Vec<&str> = METHODS.iter().map(|m| m.name()).collect();
    // The large sample, its features typed in.
    let sample = String::from_utf8(file("sample-terrain/ferry-lights.toml")).unwrap();
    let sample = sample
        .replace("\"ostlers-ferry.tif\"", "\"hill.asc\"")
        .replace("roads = \"roads.geojson\"\n", "")
        .replace("[place_names]\nfile = \"place-names.geojson\"\n", "")
        .lines()
        .map(|line| match line.split_once(" = { file") {
            Some(("at", _)) => "at = \"47.0, -34.9\"",
            Some(("outline", _)) => "outline = [\"47.0, -34.9\", \"47.0, -34.8\", \"47.1, -34.9\"]",
            Some(("line", _)) => "line = [\"47.0, -34.9\", \"47.0, -34.8\"]",
            _ => line,
        })
        .collect::<Vec<_>>()
        .join("\n");
    // Once with its features read out of a file, else without: that takes its time.
    let full = String::from_utf8(file("tests/plans/full.toml")).unwrap();
    let typed = full
        .replace(
            "outline = { file = \"places.geojson\", name = \"Lantern field\" }",
            "outline = [\"47.12, -35.24\", \"47.12, -35.23\", \"47.125, -35.23\"]",
        )
        .replace(
            "inside = { file = \"places.geojson\", name = \"Lantern field\" }",
            "inside = [\"47.12, -35.24\", \"47.12, -35.23\", \"47.125, -35.23\"]",
        )
        .replace(
            "line = { file = \"places.geojson\", name = \"Course\" }",
            "line = [\"47.12, -35.24\", \"47.13, -35.24\"]",
        )
        .replace("[place_names]\nfile = \"places.geojson\"\nlayer = \"places\"\nname_field = \"name\"\nkind_field = \"name\"\n", "")
        .replace(
            "at = { file = \"places.geojson\", name = \"Elevator\" }",
            "at = \"47.125, -35.235\"",
        );
    let minimal = file("tests/plans/minimal.toml");
    let seeds = vec![
        minimal.clone(),
        minimal.clone(),
        minimal,
        typed.clone().into_bytes(),
        typed.into_bytes(),
        sample.into_bytes(),
        full.into_bytes(),
    ];
    Reader {
        name: "plans",
        seeds,
        tokens: TOKENS,
        fresh,
        strict: true,
        check: Box::new(move |case| check(folder.path(), &methods, case)),
    }
}

fn value(random: &mut Random) -> String {
    match random.below(9) {
        0 => random.pick(NUMBERS).to_owned(),
        1 => format!("\"{}\"", random.pick(HOSTILE)),
        2 => format!("\"{} {}\"", random.pick(NUMBERS), random.pick(&["W", "m", "dB", "%", "MHz"])),
        3 => "[".repeat(random.between(1, 90)),
        4 => format!("[{}, {}]", random.pick(TOKENS), random.pick(TOKENS)),
        5 => format!("{{ {} = {} }}", random.pick(TOKENS), random.pick(TOKENS)),
        _ => random.pick(TOKENS).to_owned(),
    }
}

/// Toml that looks like a plan with values of any kind.
fn fresh(random: &mut Random) -> Vec<u8> {
    const KEYS: &[&str] = &[
        "name",
        "starts",
        "ends",
        "time_zone",
        "files",
        "file",
        "height_unit",
        "at",
        "roof",
        "mast",
        "power",
        "antenna",
        "sensitivity",
        "bandwidth",
        "kind",
        "input",
        "output",
        "station",
        "carried",
        "frequency",
        "outline",
        "line",
        "method",
        "cell",
        "margin",
        "tiles",
        "classes",
        "route",
        "channel",
        "every",
        "pace",
        "speed",
        "count",
        "packet",
        "hourly",
        "from",
    ];
    let mut text = String::new();
    for _ in 0..random.between(1, 5) {
        let tables: Vec<&&str> = TOKENS.iter().filter(|t| t.starts_with('[')).collect();
        let _ = writeln!(text, "{}", random.pick(&tables));
        for _ in 0..random.below(6) {
            let _ = writeln!(text, "{} = {}", random.pick(KEYS), value(random));
        }
    }
    text.into_bytes()
}

fn check(folder: &Path, methods: &[&str], case: &[u8]) -> Result<Seen, String> {
    let path = folder.join("plan.toml");
    let read = match std::str::from_utf8(case) {
        Ok(text) => plan::read_text(&path, text, methods),
        Err(_) => {
            std::fs::write(&path, case).unwrap();
            plan::read(&path, methods)
        }
    };
    let plan = match read {
        Ok(plan) => plan,
        Err(error) => {
            must(!error.problems().is_empty(), || "a refusal without problems".to_owned())?;
            for problem in error.problems() {
                words(problem.text())?;
                words(&format!("the field {}", problem.field()))?;
                must(problem.line().is_none_or(|l| (1..=lines(case)).contains(&l)), || {
                    format!("a line that is not there: {error}")
                })?;
            }
            return Ok(Seen::Refused);
        }
    };
    sound(&plan)?;
    edited(&plan)?;
    Ok(Seen::Accepted)
}

/// What a checked plan promises.
fn sound(plan: &Plan) -> Result<(), String> {
    must(plan.event.ends > plan.event.starts, || format!("{:?}", plan.event))?;
    let years = [&plan.event.starts, &plan.event.tear_down].map(|at| at.year());
    must(years.iter().all(|year| (1970..=2200).contains(year)), || format!("{:?}", plan.event))?;
    must(plan.event.tear_down >= plan.event.ends, || format!("{:?}", plan.event))?;
    for remark in &plan.remarks {
        words(&format!("{}: {}", remark.about, remark.text))?;
    }
    must(!plan.radios.is_empty() && !plan.channels.is_empty(), || "no radios".to_owned())?;
    must(!plan.posts.is_empty() && !plan.sites.is_empty(), || "no posts".to_owned())?;
    for point in plan.extent_points() {
        let (latitude, longitude) = (point.latitude().value(), point.longitude().value());
        must(latitude.abs() <= 90.0 && longitude.abs() <= 180.0, || format!("{point:?}"))?;
    }
    for post in &plan.posts {
        must(post.weight.is_finite() && post.weight >= 0.0, || format!("{post:?}"))?;
    }
    // No number of a plan is one that sums run away with.
    let mut bare = plan.clone();
    bare.text.clear();
    let debug = format!("{bare:?}");
    for bad in ["(NaN)", "(inf)", "(-inf)", ": NaN", ": inf", ": -inf"] {
        must(!debug.contains(bad) || plan.text.contains(bad), || {
            let at = debug.find(bad).unwrap_or(0);
            let from = debug.floor_char_boundary(at.saturating_sub(80));
            format!("{bad} in a plan: {}", &debug[from..debug.floor_char_boundary(at + 20)])
        })?;
    }
    Ok(())
}

/// A change to its text changes that value and nothing else.
fn edited(plan: &Plan) -> Result<(), String> {
    let Some(post) = plan.posts.first() else { return Ok(()) };
    let at = "\"\n[[site]]\nname = 'x'\n";
    let change =
        Change::Place { kind: PlaceKind::Post, name: post.name.clone(), at: at.to_owned() };
    let text =
        change.make(&plan.text).map_err(|e| format!("a sound plan cannot be edited: {e}"))?;
    let change = |text: &str| toml::from_str::<toml::Table>(text).map_err(|e| e.to_string());
    let (mut before, mut after) = (change(&plan.text)?, change(&text)?);
    let mut taken = 0;
    for table in [&mut before, &mut after] {
        let posts = table.get_mut("post").and_then(toml::Value::as_array_mut).into_iter().flatten();
        for entry in posts.filter_map(toml::Value::as_table_mut) {
            if entry.get("name").and_then(toml::Value::as_str).map(str::trim)
                == Some(post.name.trim())
            {
                let at_now = entry.remove("at");
                taken += usize::from(at_now.as_ref().and_then(toml::Value::as_str) == Some(at));
            }
        }
    }
    // Numbers that are none differ from themselves.
    let same = before == after || plan.text.contains("nan");
    must(same && taken == 1, || format!("an edit changes more than one value:\n{text}"))
}
