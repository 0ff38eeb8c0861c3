//! Bad input through the program itself: each names what is wrong and where,
//! exits with 2 and writes nothing.

use std::fs;
use std::path::Path;

use crate::support::{
    PLAN, UTM_25N, perchline, printed, said, utm_transform, write_plan_raster, write_raster,
};

/// Runs `rank` on `plan` in a folder that `prepare` fills, and expects refusal
/// with each of `wanted` in the message.
fn refused(plan: &str, prepare: impl FnOnce(&Path), wanted: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    prepare(folder.path());
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    let before = fs::read_dir(folder.path()).unwrap().count();
    let output = perchline(folder.path(), &["rank", "plan.toml", "--out", "out"]);
    let message = said(&output);
    assert_eq!(output.status.code(), Some(2), "{message}");
    for part in wanted {
        assert!(message.contains(part), "no {part:?} in:\n{message}");
    }
    assert!(!message.contains("panicked"), "{message}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), before, "something was written");
}

fn flat(folder: &Path) {
    write_plan_raster(&folder.join("terrain.tif"), |_, _| 50.0);
}

/// The line of `PLAN` that holds `text`, counted from 1.
fn line_of(plan: &str, text: &str) -> usize {
    plan.lines().position(|l| l.contains(text)).unwrap() + 1
}

#[test]
fn a_folder_stands_for_its_only_plan() {
    let folder = tempfile::tempdir().unwrap();
    let told = |path: &str| {
        let output = perchline(folder.path(), &["check", path]);
        (output.status.code(), printed(&output) + &said(&output))
    };
    fs::create_dir(folder.path().join("event")).unwrap();
    let (code, text) = told("event");
    assert_eq!(code, Some(2), "{text}");
    assert!(text.contains("event: the folder has no plan: perchline start event"), "{text}");
    flat(&folder.path().join("event"));
    fs::write(folder.path().join("event/run.toml"), PLAN).unwrap();
    let (code, text) = told("event");
    assert_eq!(code, Some(0), "{text}");
    assert!(text.contains("No problem found") && text.contains("perchline rank event"), "{text}");
    fs::write(folder.path().join("event/older.toml"), PLAN).unwrap();
    let (code, text) = told("event");
    assert_eq!(code, Some(2), "{text}");
    for part in ["has 2 plans", "\n  event/older.toml", "\n  event/run.toml"] {
        assert!(text.contains(part), "no {part:?} in {text}");
    }
}

#[test]
fn a_missing_plan() {
    let folder = tempfile::tempdir().unwrap();
    let output = perchline(folder.path(), &["check", "nowhere.toml"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("nowhere.toml"), "{}", said(&output));
}

#[test]
fn a_missing_raster() {
    refused(PLAN, |_| {}, &["plan.toml", "terrain.tif"]);
}

#[test]
fn a_file_that_is_no_raster() {
    refused(PLAN, |f| fs::write(f.join("terrain.tif"), "hello").unwrap(), &["terrain.tif"]);
}

#[test]
fn a_raster_without_a_coordinate_system() {
    let write = |f: &Path| {
        let transform = utm_transform(353_800.0, 5_209_800.0, 30.0);
        write_raster(&f.join("terrain.tif"), (150, 150), transform, None, None, |_, _| 50.0);
    };
    refused(PLAN, write, &["terrain.tif", "coordinate system", "crs"]);
}

#[test]
fn a_raster_of_nothing_but_gaps() {
    refused(PLAN, |f| write_plan_raster(&f.join("terrain.tif"), |_, _| -9999.0), &["terrain.tif"]);
}

#[test]
fn a_site_outside_the_raster_is_named_with_its_line() {
    let plan = PLAN.replace("47.004, -34.890", "47.204, -34.890");
    let line = format!("plan.toml:{}", line_of(&plan, "47.204"));
    refused(&plan, flat, &[&line, "site \"Hotel\"", "at", "outside"]);
}

#[test]
fn a_post_outside_the_raster_is_named_with_its_line() {
    let plan = PLAN.replace("47.000, -34.900", "47.000, -33.900");
    let line = format!("plan.toml:{}", line_of(&plan, "-33.900"));
    refused(&plan, flat, &[&line, "post \"Aid 1\"", "at", "outside"]);
}

#[test]
fn latitude_and_longitude_swapped() {
    let plan = PLAN.replace("47.000, -34.900", "-34.900, 47.000");
    let line = format!("plan.toml:{}", line_of(&plan, "-34.900, 47.000"));
    refused(&plan, flat, &[&line, "post \"Aid 1\"", "swapped"]);
}

#[test]
fn a_post_in_a_gap_is_named() {
    let hole = |f: &Path| {
        write_raster(
            &f.join("terrain.tif"),
            (150, 150),
            utm_transform(353_800.0, 5_209_800.0, 30.0),
            Some(UTM_25N),
            Some(-9999.0),
            |c, r| if c < 75 && r > 75 { -9999.0 } else { 50.0 },
        );
    };
    refused(PLAN, hole, &["plan.toml:", "post \"Aid 1\"", "gap"]);
}

#[test]
fn heights_that_are_no_numbers_are_gaps() {
    refused(PLAN, |f| write_plan_raster(&f.join("terrain.tif"), |_, _| f32::NAN), &["terrain.tif"]);
}

#[test]
fn negative_power() {
    let plan = PLAN.replace("power = \"5 W\"", "power = \"-5 W\"");
    let line = format!("plan.toml:{}", line_of(&plan, "-5 W"));
    refused(&plan, flat, &[&line, "power"]);
}

#[test]
fn a_frequency_out_of_range() {
    let plan = PLAN.replace("147.6 MHz", "9 MHz");
    let line = format!("plan.toml:{}", line_of(&plan, "9 MHz"));
    refused(&plan, flat, &[&line, "input"]);
}

#[test]
fn duplicate_names() {
    let plan = PLAN.replace("\"Silo\"", "\"hotel\"");
    let line = format!("plan.toml:{}", line_of(&plan, "\"hotel\""));
    refused(&plan, flat, &[&line, "hotel"]);
}

#[test]
fn a_roof_of_400_m_is_questioned() {
    let plan = PLAN.replace("20 m above ground", "400 m above ground");
    let line = format!("plan.toml:{}", line_of(&plan, "400 m"));
    refused(&plan, flat, &[&line, "roof", "feet"]);
}

#[test]
fn a_roof_below_the_ground() {
    let plan = PLAN.replace("20 m above ground", "20 m above sea");
    let line = format!("plan.toml:{}", line_of(&plan, "20 m above sea"));
    refused(&plan, flat, &[&line, "site \"Hotel\"", "below the ground"]);
}

/// The ground is at 50 m. 201 m above sea is 151 m above it: feet, most likely.
#[test]
fn a_roof_above_sea_far_over_the_ground_is_questioned() {
    let plan = PLAN.replace("20 m above ground", "201 m above sea");
    let line = format!("plan.toml:{}", line_of(&plan, "201 m"));
    refused(&plan, flat, &[&line, "site \"Hotel\"", "151.0 m above the ground", "tall = true"]);
    let folder = tempfile::tempdir().unwrap();
    flat(folder.path());
    for accepted in [
        plan.replace("\"201 m above sea\"", "\"199 m above sea\""),
        plan.replace("\"201 m above sea\"", "\"201 m above sea\"\ntall = true"),
    ] {
        fs::write(folder.path().join("plan.toml"), &accepted).unwrap();
        let output = perchline(folder.path(), &["check", "plan.toml"]);
        assert!(output.status.success(), "{}", said(&output));
    }
}

#[test]
fn an_empty_plan() {
    refused("", flat, &["plan.toml", "[event]"]);
}

#[test]
fn a_plan_of_ten_megabytes() {
    let plan = format!("{PLAN}\n# {}", "x".repeat(10 << 20));
    refused(&plan, flat, &["plan.toml"]);
}

#[test]
fn a_remote_raster_is_refused() {
    for path in ["/vsicurl/http://127.0.0.1/t.tif", "http://127.0.0.1/t.tif", "/vsis3/b/t.tif"] {
        let plan = PLAN.replace("\"terrain.tif\"", &format!("\"{path}\""));
        refused(&plan, flat, &["plan.toml", path]);
    }
}

#[test]
fn an_unknown_site_after_the_flag() {
    let folder = tempfile::tempdir().unwrap();
    flat(folder.path());
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    let output =
        perchline(folder.path(), &["coverage", "plan.toml", "--site", "Hotl", "--out", "out"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(said(&output).contains("Did you mean \"Hotel\"?"), "{}", said(&output));
    assert!(!folder.path().join("out").exists());
}

/// Names are the user's own: HTML and path separators go through to the
/// results, escaped there, and never out of the folder.
#[test]
fn names_that_hold_html_or_separators_stay_inside_the_folder() {
    let folder = tempfile::tempdir().unwrap();
    flat(folder.path());
    let plan = PLAN
        .replace("\"Hotel\"", "'../../<script>alert(1)</script>'")
        .replace("\"Silo\"", "'/etc/passwd'")
        .replace("\"Aid 1\"", "'<b>&\"'")
        .replace("\"Event\"", "'a/b'");
    fs::write(folder.path().join("plan.toml"), plan).unwrap();
    let output = perchline(folder.path(), &["rank", "plan.toml", "--out", "out", "--maps", "all"]);
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    let mut names: Vec<_> = fs::read_dir(folder.path().join("out"))
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names.len(), 10, "{names:?}");
    assert!(names.contains(&"a-b-etc-passwd.png".to_owned()), "{names:?}");
    let mut beside: Vec<_> = fs::read_dir(folder.path())
        .unwrap()
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    beside.sort();
    assert_eq!(beside, ["out", "plan.toml", "terrain.tif"]);
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_is_an_error_without_a_trace() {
    let folder = tempfile::tempdir().unwrap();
    flat(folder.path());
    fs::write(folder.path().join("plan.toml"), PLAN).unwrap();
    fs::write(folder.path().join("out"), "a file, not a folder").unwrap();
    let output =
        perchline(folder.path(), &["rank", "plan.toml", "--out", "out/deeper", "--maps", "none"]);
    assert_eq!(output.status.code(), Some(1), "{}", said(&output));
    assert!(said(&output).contains("out/deeper"), "{}", said(&output));
    assert_eq!(fs::read_to_string(folder.path().join("out")).unwrap(), "a file, not a folder");
}
