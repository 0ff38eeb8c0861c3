//! What docs/ quote as measured is measured somewhere: every figure that they
//! name is printed by a test or a benchmark, and a sentence that claims an
//! agreement in numbers names its figure. Whether the values are still right
//! `make figures` (tests/figures.sh) says, which runs everything.

use std::fs;
use std::path::{Path, PathBuf};

/// Words of a sentence that tells a measured difference.
const CLAIMS: [&str; 7] = [
    "agrees with",
    "agree with",
    "agree within",
    "agree to",
    "off by",
    "comes within",
    "loss moves by",
];

fn under(folder: &str, extension: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut folders = vec![Path::new(env!("CARGO_MANIFEST_DIR")).join(folder)];
    while let Some(folder) = folders.pop() {
        for path in fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()) {
            if path.is_dir() {
                folders.push(path);
            } else if path.extension().is_some_and(|x| x == extension) {
                found.push(path);
            }
        }
    }
    found
}

/// The docs' text on one line a file, with the file's name.
fn docs() -> Vec<(String, String)> {
    let docs: Vec<_> = under("docs", "md")
        .into_iter()
        .map(|path| {
            let text = fs::read_to_string(&path).unwrap();
            let words: Vec<_> = text.split_whitespace().collect();
            (path.display().to_string(), words.join(" "))
        })
        .collect();
    assert!(docs.len() >= 5, "only {} files of docs found", docs.len());
    docs
}

/// Pieces in code type: every second one between backticks.
fn in_code_type(text: &str) -> impl Iterator<Item = (&str, &str)> {
    let mut pieces = text.split('`');
    pieces.next();
    std::iter::from_fn(move || Some((pieces.next()?, pieces.next()?)))
}

/// A figure's name: lower case and digits, with a unit or a kind after an underscore.
fn names_a_figure(code: &str) -> bool {
    code.contains('_')
        && code.starts_with(|c: char| c.is_ascii_lowercase())
        && code.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
}

/// Names that tests and benchmarks print, cut at their placeholders.
fn printed() -> Vec<Vec<String>> {
    let mut printed = Vec::new();
    let rust = ["tests", "benches", "src"].into_iter().flat_map(|folder| under(folder, "rs"));
    for path in rust.chain(under("tests", "mjs")).chain(under("tests", "sh")) {
        let text = fs::read_to_string(&path).unwrap();
        for print in text.split("figure ").skip(1) {
            let name = print.split_whitespace().next().unwrap_or_default();
            let parts: Vec<_> = name
                .split('{')
                .map(|part| part.rsplit('}').next().unwrap_or_default().to_owned())
                .collect();
            printed.push(parts);
        }
        // A name may stand apart from the line that prints it.
        let apart = text.contains("figure {") || text.contains("figure(");
        for word in text.split('"').filter(|w| names_a_figure(w) && apart) {
            printed.push(vec![word.to_owned()]);
        }
    }
    printed
}

/// Whether `name` is what `parts` with anything between them gives.
fn fits(name: &str, parts: &[String]) -> bool {
    let Some((first, rest)) = parts.split_first() else { return false };
    let Some(mut left) = name.strip_prefix(first.as_str()) else { return false };
    for (index, part) in rest.iter().enumerate() {
        if index + 1 == rest.len() {
            return left.ends_with(part.as_str());
        }
        let Some((_, after)) = left.split_once(part.as_str()) else { return false };
        left = after;
    }
    left.is_empty()
}

#[test]
fn every_quoted_figure_is_printed() {
    // Only what every name starts with: a bare placeholder would fit anything.
    let printed: Vec<_> = printed()
        .into_iter()
        .filter(|parts| parts.first().is_some_and(|first| names_a_figure(first)))
        .collect();
    let mut quoted = 0;
    for (file, text) in docs() {
        for (code, after) in in_code_type(&text) {
            let value = after.trim_start_matches([' ', '=']);
            if names_a_figure(code) && value.starts_with(|c: char| c.is_ascii_digit()) {
                quoted += 1;
                assert!(
                    printed.iter().any(|parts| fits(code, parts)),
                    "{file} quotes {code}, which no test or benchmark prints"
                );
            }
        }
    }
    assert!(quoted >= 20, "only {quoted} figures found: has the notation changed?");
}

#[test]
fn a_claim_in_numbers_names_its_figure() {
    let mut claims = 0;
    for (file, text) in docs() {
        for sentence in text.split(". ") {
            let claims_a_number = CLAIMS.iter().any(|c| sentence.contains(c))
                && sentence.contains(|c: char| c.is_ascii_digit());
            if claims_a_number {
                claims += 1;
                assert!(
                    in_code_type(&format!("{sentence} ")).any(|(code, _)| names_a_figure(code)),
                    "{file} claims without a figure: {sentence}"
                );
            }
        }
    }
    assert!(claims >= 4, "only {claims} claims found");
}

#[test]
fn names_with_placeholders_fit() {
    let parts = |p: &[&str]| p.iter().map(|p| (*p).to_owned()).collect::<Vec<_>>();
    assert!(fits("spread_2_hills_446_mhz", &parts(&["spread_", "_hills_", "_mhz"])));
    assert!(!fits("spread_2_dales_446_mhz", &parts(&["spread_", "_hills_", "_mhz"])));
    assert!(fits("worst_db", &parts(&["worst_db"])));
    assert!(!fits("worst_db_more", &parts(&["worst_db"])));
}
