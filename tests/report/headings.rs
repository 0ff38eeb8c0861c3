//! What a plan lacks stands at the head of each result.

use std::fs;

use serde_json::Value;

use crate::support::{perchline_long, plan_and_log, printed, said};

const VERBS: [&[&str]; 6] = [
    &["rank"],
    &["coverage", "--site", "Hotel"],
    &["direct"],
    &["masts", "--site", "Hotel"],
    &["brief"],
    &["choose"],
];

#[test]
fn a_plan_without_buildings_says_so_first() {
    let folder = plan_and_log();
    let plan = fs::read_to_string(folder.path().join("plan.toml")).unwrap();
    let stated = format!("{plan}\n[prediction]\nsurroundings = \"suburb\"\n");
    fs::write(folder.path().join("stated.toml"), stated).unwrap();
    for verb in VERBS {
        let run = |plan: &str, more: &[&str]| {
            let output =
                perchline_long(folder.path(), &[&verb[..1], &[plan], &verb[1..], more].concat());
            assert!(output.status.success(), "{verb:?}: {}", said(&output));
            printed(&output)
        };
        // The briefing's first page has the sentence without decibels, the crew's with them.
        let missing = "No buildings in this plan: in a town expect ";
        let times = if verb == ["brief"] { 2 } else { 1 };
        let text = run("plan.toml", &[]);
        let line = text.lines().position(|line| line.starts_with(missing));
        assert!(line.is_some_and(|line| line < 6), "{verb:?}: {text}");
        assert!(text.contains("15 to 25 dB less"), "{verb:?}: {text}");
        assert_eq!(text.matches(missing).count(), times, "{verb:?}: {text}");
        let other = run("stated.toml", &[]);
        assert!(!other.contains(missing), "{verb:?}: {other}");
        let document: Value = serde_json::from_str(&run("plan.toml", &["--json"])).unwrap();
        let result = &document["result"];
        let said = [&result["caveats"][0], &result["missing"]];
        assert!(
            said.iter().any(|said| said.as_str().is_some_and(|text| text.starts_with(missing))),
            "{verb:?}: {said:?}"
        );
    }
}
