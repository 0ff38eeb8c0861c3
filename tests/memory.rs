//! How much memory a run takes, told before it is taken, and kept to.

mod support;

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};

use serde_json::Value;
use support::{PLAN, UTM_25N, perchline, printed, said, utm_transform, write_raster};

/// Cells along a side: large enough that what grows with them is most of it.
const SIDE: usize = 3000;

fn write(folder: &Path) {
    let reach = SIDE as f64 / 2.0 * 5.0;
    write_raster(
        &folder.join("terrain.tif"),
        (SIDE, SIDE),
        utm_transform(356_000.0 - reach, 5_207_500.0 + reach, 5.0),
        Some(UTM_25N),
        None,
        |c, r| 60.0 + 30.0 * (c as f32 / 190.0).sin() * (r as f32 / 260.0).cos(),
    );
}

/// [`PLAN`] with all of the raster around it.
fn plan(terrain: &str, map: &str) -> String {
    PLAN.replace("files = [\"terrain.tif\"]\n", &format!("files = [\"terrain.tif\"]\n{terrain}"))
        .replace("margin = \"100 m\"\n", &format!("margin = \"7 km\"\n{map}"))
}

/// What was held, bytes, and what had been predicted.
fn held_and_predicted(folder: &Path, arguments: &[&str]) -> (f64, f64) {
    // What does not fit is refused with what it needs.
    let refused = perchline(folder, &[arguments, &["--memory", "1 MB"]].concat());
    assert_eq!(refused.status.code(), Some(2), "{}", said(&refused));
    let words = said(&refused);
    assert!(words.contains("plan.toml") && words.contains("--memory"), "{words}");
    let number = words.split("needs about ").nth(1).unwrap().split(' ').next().unwrap();
    let predicted = number.parse::<f64>().unwrap() * 1e9;
    let mut child = Command::new(env!("CARGO_BIN_EXE_perchline"))
        .args(arguments)
        .args(["--memory", "8 GB"])
        .current_dir(folder)
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let held = support::most_memory(&mut child);
    assert!(child.wait().unwrap().success());
    (held, predicted)
}

#[test]
fn what_is_held_is_what_was_predicted() {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path());
    let file = folder.path().join("plan.toml");
    let simplex = "\n[[channel]]\nname = \"Direct\"\nkind = \"simplex\"\nfrequency = \"146.58 MHz\"\ncarried = \"hand-held\"\n";
    let cases: [(&str, &str, &[&str]); 7] = [
        ("", "cell = \"50 m\"\n", &["check", "plan.toml"]),
        ("", "", &["coverage", "plan.toml", "--site", "Hotel", "--out", "out"]),
        ("", "", &["rank", "plan.toml", "--maps", "all", "--out", "out"]),
        ("fill_gaps = true\n", "cell = \"20 m\"\n", &["brief", "plan.toml", "--out", "out"]),
        ("cell = \"15 m\"\n", "", &["coverage", "plan.toml", "--site", "Silo", "--out", "out"]),
        // Means are made and maps are small.
        ("cell = \"10 m\"\n", "cell = \"100 m\"\n", &["coverage", "plan.toml", "--site", "Silo"]),
        ("", "cell = \"20 m\"\n", &["direct", "plan.toml", "--out", "out"]),
    ];
    for (terrain, map, arguments) in cases {
        fs::write(&file, plan(terrain, map) + simplex).unwrap();
        let (held, predicted) = held_and_predicted(folder.path(), arguments);
        eprintln!("{arguments:?}: {:.2} GB held, {:.2} GB predicted", held / 1e9, predicted / 1e9);
        if held == 0.0 {
            eprintln!("this system does not tell what a program holds: not checked");
            continue;
        }
        // Told to a tenth of a gigabyte.
        assert!(held <= predicted + 0.05e9, "{arguments:?}: {held} held, {predicted} predicted");
        assert!(
            predicted <= 2.5 * held + 0.1e9,
            "{arguments:?}: {held} held, {predicted} predicted"
        );
    }
}

/// What a refusal says would fit does.
#[test]
fn what_would_fit_is_told_and_fits() {
    let folder = tempfile::tempdir().unwrap();
    write(folder.path());
    let file = folder.path().join("plan.toml");
    fs::write(&file, plan("", "")).unwrap();
    let memory = ["--memory", "0.4 GB"];
    let refused = perchline(
        folder.path(),
        &[&["coverage", "plan.toml", "--site", "Hotel"][..], &memory].concat(),
    );
    assert_eq!(refused.status.code(), Some(2));
    let words = said(&refused);
    let quoted = |before: &str| {
        let rest = words.split(before).nth(1).unwrap_or_else(|| panic!("{before}: {words}"));
        rest.split('"').next().unwrap().to_owned()
    };
    let terrain = format!("cell = \"{}\"\n", quoted("[terrain] cell = \""));
    let map = format!("cell = \"{}\"\n", quoted("[map] cell = \""));
    for (terrain, map) in [(terrain.as_str(), ""), ("", map.as_str())] {
        fs::write(&file, plan(terrain, map)).unwrap();
        let output = perchline(
            folder.path(),
            &[&["coverage", "plan.toml", "--site", "Hotel"][..], &memory].concat(),
        );
        assert!(output.status.success(), "{terrain}{map}: {}", said(&output));
    }
    // And `check` tells it beforehand.
    fs::write(&file, plan("", "")).unwrap();
    let check = perchline(folder.path(), &["check", "plan.toml"]);
    assert!(printed(&check).contains("memory: about 0."), "{}", printed(&check));
    let json = perchline(folder.path(), &["check", "plan.toml", "--json"]);
    let json: Value = serde_json::from_slice(&json.stdout).unwrap();
    assert!(json["result"]["memory_bytes"].as_f64().unwrap() > 0.4e9);
}
