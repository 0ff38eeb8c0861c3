//! No file that a person reads has a word that the trade does not use. docs/words.md
//! has the words that stand in their place.
//! Prints
//!   figure `old_terms` 0 terms

use std::fs;
use std::path::{Path, PathBuf};

/// Words and phrases in small letters, and what is written in their place. Letters
/// before or after one make it another word, but where it ends in `*`.
const OLD: [(&str, &str); 63] = [
    ("tension", "voltage"),
    ("tensions", "voltages"),
    ("cut-out", "low-voltage cutoff"),
    ("cut_out", "cutoff"),
    ("mixing product*", "intermodulation products"),
    ("deafer", "desense of N dB"),
    ("deafen*", "desenses"),
    ("the informed", "controlled (occupational)"),
    ("weaker way*", "limiting direction"),
    ("stronger way*", "stronger direction"),
    ("kept back for", "location allowance"),
    ("is kept back", "location allowance"),
    ("are kept back", "location allowance"),
    ("kept_back*", "location allowance"),
    ("bad spots", "location allowance"),
    ("weighted contact", "weighted coverage"),
    ("has contact", "weighted coverage"),
    ("points of contact", "weighted coverage"),
    ("places asked", "points sampled"),
    ("terrain clear\"", "line of sight"),
    ("into the line", "blocks line of sight by"),
    ("passes it on", "relays"),
    ("pass it on", "relay"),
    ("passes words on", "relays messages"),
    ("pass words on", "relay messages"),
    ("passes on for", "relays for"),
    ("no way by radio", "no radio path"),
    ("lost to others", "lost to collisions"),
    ("common time slots", "satellite-timed slots"),
    ("\"loss by\"", "propagation method"),
    ("do again", "redo"),
    ("file anew", "reload"),
    ("read it anew", "reload"),
    ("save over it", "overwrite"),
    ("go on from it", "continue from this"),
    ("goes on from", "continues from"),
    ("mend", "fix"),
    ("mends", "fixes"),
    ("mended", "fixed"),
    ("mending", "fixing"),
    ("rows that do not count", "rejected rows"),
    ("\"speaks\"", "from (row) to (column)"),
    ("by a margin of none", "a plain verb"),
    ("put up with", "accepted"),
    ("puts up with", "accepts"),
    ("makes nothing of", "ignores"),
    ("whole line", "solid line"),
    ("girth", "circumference"),
    ("sunk by the curve", "effective-earth plane"),
    ("works everywhere", "should work all around"),
    ("work everywhere", "should work all around"),
    ("works nearly everywhere", "should work nearly all around"),
    ("plan is sound", "no problem found"),
    ("not be sound", "would have problems"),
    ("radio works in", "radio should work in"),
    ("radio works along", "radio should work along"),
    ("most lessen", "best tell apart"),
    ("db is none", "do not rely on"),
    ("half a file", "a partial file"),
    ("like a stain", "semi-transparently"),
    ("is a stain", "semi-transparently"),
    ("again for another", "(repeatable)"),
    ("asks of a mast", "needs"),
];

/// Where people read: sources with their comments, texts, scripts of pages, plans.
const READ: [(&str, &[&str]); 3] = [
    ("src", &["rs", "js", "css", "toml"]),
    ("docs", &["md", "json"]),
    ("sample-terrain", &["toml", "rs"]),
];

fn files() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut found = vec![root.join("README.md"), root.join("DEVELOPERS.md")];
    for (folder, kinds) in READ {
        let mut folders = vec![root.join(folder)];
        while let Some(folder) = folders.pop() {
            for path in fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path()) {
                let name = path.file_name().unwrap().to_string_lossy().into_owned();
                if path.is_dir() && name != "node_modules" {
                    folders.push(path);
                } else if !["linked.cdx.json", "package-lock.json"].contains(&name.as_str())
                    && path.extension().is_some_and(|x| kinds.iter().any(|kind| x == *kind))
                {
                    found.push(path);
                }
            }
        }
    }
    found
}

/// Whether `line` has `old` as words of their own.
fn has(line: &str, old: &str) -> bool {
    let stem = old.trim_end_matches('*');
    line.match_indices(stem).any(|(at, _)| {
        let (before, after) = (&line[..at], &line[at + stem.len()..]);
        let open = |c: Option<char>| c.is_none_or(|c| !c.is_alphanumeric());
        open(before.chars().next_back()) && (old.ends_with('*') || open(after.chars().next()))
    })
}

#[test]
fn a_word_is_found_as_a_word() {
    assert!(has("its tension falls", "tension") && !has("an extension", "tension"));
    assert!(has("what mends it", "mends") && !has("amends", "mends"));
    assert!(has("it deafens whom", "deafen*"));
}

#[test]
fn no_old_term_is_left() {
    let files = files();
    assert!(files.len() > 300, "only {} files found", files.len());
    let mut left = Vec::new();
    for file in files {
        let glossary = file.ends_with("docs/words.md");
        let text = fs::read_to_string(&file).unwrap().to_lowercase();
        for (number, line) in (1..).zip(text.lines()) {
            for (old, new) in OLD.iter().filter(|(old, _)| !glossary && has(line, old)) {
                left.push(format!("{}:{number}: \"{old}\", write {new}", file.display()));
            }
        }
    }
    println!("figure old_terms {} terms", left.len());
    assert!(left.is_empty(), "{}", left.join("\n"));
}
