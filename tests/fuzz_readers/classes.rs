//! The table that maps codes of land cover to what stands there.

use std::fmt::Write;
use std::path::Path;

use perchline::plan::{ClassMapping, CoverKind};

use super::harness::{Reader, Seen, file, line_within, must, of_text, words};
use super::mutate::{HOSTILE, NUMBERS};
use super::random::Random;

const TOKENS: &[&str] = &[
    "[classes]",
    "title",
    "name",
    "kind",
    "height",
    "bare",
    "trees",
    "built",
    "water",
    "\"15 m\"",
    "\"50 ft\"",
    " = ",
    "{",
    "}",
    ", ",
    "\n",
    "\"",
    "10",
    "0010",
    "+10",
    "65535",
    "65536",
    "-1",
    "m",
    "ft",
    "#",
    "[",
    "]",
    "'",
    "1.5",
    "classes.7",
    "\"7\"",
];

pub fn reader() -> Reader<'static> {
    Reader {
        name: "classes",
        seeds: vec![
            file("src/plan/classes/global-10.toml"),
            file("src/plan/classes/national-30.toml"),
            b"[classes]\n7 = { name = \"wood\", kind = \"trees\", height = \"50 ft\" }\n".to_vec(),
        ],
        tokens: TOKENS,
        fresh,
        strict: true,
        check: of_text(check),
    }
}

fn fresh(random: &mut Random) -> Vec<u8> {
    let mut text = String::from("[classes]\n");
    for _ in 0..random.below(8) {
        let code = match random.below(4) {
            0 => format!("\"{}\"", random.pick(NUMBERS)),
            _ => random.below(120).to_string(),
        };
        let kind = random.pick(&["bare", "trees", "built", "water", "forest"]);
        let height = match random.below(5) {
            0 => String::new(),
            1 => format!(", height = \"{} m\"", random.pick(NUMBERS)),
            2 => format!(", height = \"{}\"", random.pick(HOSTILE)),
            _ => format!(", height = \"{:.1} ft\"", random.number(-10.0, 340.0)),
        };
        let name = if random.one_in(4) { random.pick(HOSTILE) } else { "wood" };
        let _ = writeln!(text, "{code} = {{ name = \"{name}\", kind = \"{kind}\"{height} }}");
    }
    text.into_bytes()
}

fn check(text: &str) -> Result<Seen, String> {
    let read = |text: &str| ClassMapping::parse(Path::new("my.toml"), text);
    let mapping = match read(text) {
        Ok(mapping) => mapping,
        Err(error) => {
            let said = error.to_string();
            words(&said)?;
            return line_within(&said, "my.toml", text.as_bytes()).map(|()| Seen::Refused);
        }
    };
    must(!mapping.classes.is_empty(), || "no classes".to_owned())?;
    must(mapping.classes.is_sorted_by(|a, b| a.code < b.code), || format!("{mapping:?}"))?;
    let mut full = String::from("[classes]\n");
    for class in &mapping.classes {
        let height = class.height.value();
        must((0.0..=100.0).contains(&height), || format!("{class:?}"))?;
        must(mapping.class(class.code) == Some(class), || format!("{class:?} is not found"))?;
        let (kind, stands) = match class.kind {
            CoverKind::Bare => ("bare", false),
            CoverKind::Trees => ("trees", true),
            CoverKind::Built => ("built", true),
            CoverKind::Water => ("water", false),
        };
        must(stands || height == 0.0, || format!("{class:?}"))?;
        let name = serde_json::to_string(&class.name).unwrap().replace('\u{7f}', "\\u007f");
        let height = if stands { format!(", height = \"{height} m\"") } else { String::new() };
        let _ = writeln!(full, "{} = {{ name = {name}, kind = \"{kind}\"{height} }}", class.code);
    }
    // Written out in full it is the same.
    let again = read(&full).map(|again| again.classes);
    must(again.as_ref() == Ok(&mapping.classes), || format!("{mapping:?} again: {again:?}"))?;
    Ok(Seen::Accepted)
}
