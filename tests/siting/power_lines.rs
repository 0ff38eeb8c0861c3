//! A site whose planned mast could fall into a stated power line is proposed by no verb.

use std::fs;

use serde_json::Value;

use crate::support::{PLAN, perchline, perchline_long, printed, rolling, said, write_plan_raster};

/// What a verb says of a plan, as JSON and as text.
fn told(plan: &str, verb: &[&str]) -> (Value, String) {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), rolling);
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    let arguments = [&verb[..1], &["plan.toml"], &verb[1..]].concat();
    let json = perchline(folder.path(), &[&arguments[..], &["--json"]].concat());
    assert!(json.status.success(), "{}", said(&json));
    let text = perchline_long(folder.path(), &arguments);
    assert!(text.status.success(), "{}", said(&text));
    let document: Value = serde_json::from_slice(&json.stdout).unwrap();
    (document["result"].clone(), printed(&text))
}

/// The plan with a power line this far from a site, whose mast is this high.
fn lined(site: &str, mast: &str, away: &str) -> String {
    let (before, after) = PLAN.split_at(PLAN.find(&format!("name = \"{site}\"")).unwrap());
    let planned = format!("mast = \"{mast}\"\npower_line = \"{away}\"");
    format!("{before}{}", after.replacen("mast = \"3 m\"", &planned, 1))
}

const RANK: &[&str] = &["rank", "--maps", "none"];

/// Of a mast of 3 m 6 m from a line: 3 m and 4.55 m more are 7.55 m, which is too far;
/// 1 m and 4.55 m are less than 6 m, 1.5 m and 4.55 m are not.
#[test]
fn a_site_whose_mast_a_line_forbids_stands_last_and_says_what_would_do() {
    let (open, _) = told(PLAN, RANK);
    let sites = |result: &Value| result["rankings"][0]["sites"].as_array().unwrap().clone();
    let best = sites(&open)[0]["site"].as_str().unwrap().to_owned();
    let other = sites(&open)[1]["site"].as_str().unwrap().to_owned();
    assert!(sites(&open).iter().all(|site| site["refused_mast"].is_null()));

    let (result, text) = told(&lined(&best, "3 m", "6 m"), RANK);
    let ranked = sites(&result);
    assert_eq!(
        (&ranked[0]["site"], &ranked[1]["site"]),
        (&other.clone().into(), &best.clone().into())
    );
    // It still has what it would do: more than the one before it.
    let coverage = |site: &Value| site["weighted_probability"].as_f64().unwrap();
    assert!(coverage(&ranked[1]) > coverage(&ranked[0]));
    let refused = &ranked[1]["refused_mast"];
    for (field, metres) in
        [("planned_m", 3.0), ("power_line_m", 6.0), ("clear_of_lines_m", 7.55), ("allowed_m", 1.0)]
    {
        assert!((refused[field].as_f64().unwrap() - metres).abs() < 1e-9, "{field}: {refused}");
    }
    assert!(text.starts_with(&format!("Best: relay on {other}.")), "{text}");
    let why = format!("Not proposed, {best}: a power line 6.0 m away forbids its mast of 3.0 m");
    assert!(text.contains(&why) && text.contains("one of 1.0 m or less would do"), "{text}");
    assert!(text.contains(&format!("{best} (POWER")), "{text}");

    // The mast that would do is proposed again, or at least may be.
    let (result, _) = told(&lined(&best, "1 m", "6 m"), RANK);
    assert!(sites(&result).iter().all(|site| site["refused_mast"].is_null()), "{result}");
}

/// Neither a set of sites nor another post's fix names it.
#[test]
fn no_set_and_no_fix_has_a_site_that_a_line_forbids() {
    let one = ["choose", "--relays", "1"];
    let (open, _) = told(PLAN, &one);
    let best = open["choice"]["first"]["sites"][0].as_str().unwrap().to_owned();
    let (result, text) = told(&lined(&best, "3 m", "6 m"), &one);
    let choice = &result["choice"];
    assert_ne!(choice["first"]["sites"][0], best.as_str());
    assert_eq!(
        (&choice["refused"][0]["site"], &choice["candidates"]),
        (&best.clone().into(), &1.into())
    );
    assert!(text.contains(&format!("Not {best}: a power line 6.0 m away")), "{text}");
    let (result, _) = told(&lined(&best, "3 m", "6 m"), RANK);
    for site in result["rankings"][0]["sites"].as_array().unwrap() {
        for post in site["posts"].as_array().unwrap() {
            let others = post["remedy"]["other_sites"].as_array();
            assert!(others.is_none_or(|others| !others.contains(&best.clone().into())), "{post}");
        }
    }
}
