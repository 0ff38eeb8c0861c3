//! A plan that contradicts itself is told so above every result.

use std::fs;

use crate::support::{PLAN, changed, write_plan_raster};
use perchline::assessment::Assessment;

/// What stands above every result of a plan on cells of 30 m.
fn told(text: &str) -> String {
    let folder = tempfile::tempdir().unwrap();
    write_plan_raster(&folder.path().join("terrain.tif"), |_, _| 40.0);
    let file = folder.path().join("plan.toml");
    fs::write(&file, text).unwrap();
    let assessment = Assessment::read(&file).unwrap();
    let lines = assessment.foremost().iter().map(|r| format!("{}: {}\n", r.about, r.text));
    lines.collect()
}

/// At 34.9 degrees west the sun is 2.33 h behind UTC; on a clock of UTC+1:10 it
/// would be 3.5 h behind.
#[test]
fn a_time_zone_far_from_the_sun_is_told() {
    let zone = |name: &str| told(&changed(PLAN, &[("\"UTC\"", &format!("\"{name}\""))]));
    for near in ["UTC", "Etc/GMT+2", "Etc/GMT-1", "Etc/GMT+5"] {
        assert!(!zone(near).contains("the sun"), "{near}: {}", zone(near));
    }
    let far = zone("Etc/GMT-2");
    // [event] is the first line, time_zone the fourth after it.
    assert!(far.contains("event: time_zone, line 5"), "{far}");
    assert!(far.contains("UTC+2.0 h") && far.contains("4.3 h behind"), "{far}");
    let ahead = zone("Etc/GMT+7");
    assert!(ahead.contains("4.7 h ahead of"), "{ahead}");
}

/// 0.0002 degrees of latitude are 22 m, less than a cell; 0.0004 are 44 m. Two
/// posts at one place are one.
#[test]
fn posts_within_a_cell_are_told() {
    let beside = |latitude: &str| {
        let post = format!("[[post]]\nname = \"Twin\"\nat = \"{latitude}, -34.900\"\n\n");
        told(&PLAN.replacen("[[post]]", &format!("{post}[[post]]"), 1))
    };
    let near = beside("47.0002");
    assert!(near.contains("terrain: files, line 8"), "{near}");
    assert!(near.contains("30 m wide") && near.contains("22 m apart"), "{near}");
    for apart in ["47.0004", "47.0000"] {
        assert!(!beside(apart).contains("wide"), "{}", beside(apart));
    }
}
