//! Whatever a file holds, reading it ends in a plan or in problems with words.

use std::path::{Path, PathBuf};

use perchline::plan;
use perchline::vector::{self, Wanted};
use proptest::prelude::*;

fn read(text: &[u8]) -> Result<plan::Plan, plan::PlanError> {
    thread_local! {
        static FOLDER: (tempfile::TempDir, PathBuf) = {
            let folder = tempfile::tempdir().unwrap();
            let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/plans");
            for file in ["hill.asc", "places.geojson"] {
                std::fs::copy(beside.join(file), folder.path().join(file)).unwrap();
            }
            let path = folder.path().join("plan.toml");
            (folder, path)
        };
    }
    FOLDER.with(|(_, path)| {
        std::fs::write(path, text).unwrap();
        plan::read(path, &["delta-bullington", "free-space"])
    })
}

/// A refusal has at least one problem, each with words, inside the file's lines.
fn sound(text: &[u8]) {
    let Err(error) = read(text) else { return };
    let lines = 1 + text.iter().filter(|b| **b == b'\n').count();
    assert!(!error.problems().is_empty());
    for problem in error.problems() {
        assert!(!problem.text().is_empty());
        assert!(problem.line().is_none_or(|line| (1..=lines).contains(&line)), "{error}");
    }
    assert!(!error.to_string().chars().any(|c| c.is_control() && c != '\n'), "{error:?}");
}

const PLACES: &str = include_str!("../plans/places.geojson");
const FULL: &str = include_str!("../plans/full.toml");

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes(bytes in proptest::collection::vec(any::<u8>(), 0..200)) {
        sound(&bytes);
    }

    #[test]
    fn any_text(text in "\\PC{0,200}") {
        sound(text.as_bytes());
    }

    /// Toml that looks like a plan with values of any kind.
    #[test]
    fn any_values(
        key in "(event|radio|post|site|terrain|map|area)\\.?(name|at|files|roof|power)?",
        value in "(-?[0-9]{1,20}|nan|-inf|true|\"[^\"\\\\\n\r]{0,20}\"|\\[\\]|\\[\\[1\\]\\]|\\{\\}|\\{ a = 1 \\}|1979-05-27)",
    ) {
        sound(format!("{} = {value}\n", key.trim_end_matches('.')).as_bytes());
    }

    /// A good plan with a stretch of it cut out, doubled or written over.
    #[test]
    fn mutations_of_a_good_plan(
        from in 0..FULL.len(), length in 0..60usize, doubled in any::<bool>(), put in "\\PC{0,12}",
    ) {
        let mut bytes = FULL.as_bytes().to_vec();
        let to = (from + length).min(bytes.len());
        let cut = bytes[from..to].to_vec();
        let put = if doubled { [cut.clone(), cut].concat() } else { put.into_bytes() };
        bytes.splice(from..to, put);
        sound(&bytes);
    }

    /// A good plan with two of its values exchanged.
    #[test]
    fn exchanged_values(one in 0..80usize, other in 0..80usize) {
        let mut lines: Vec<String> = FULL.lines().map(str::to_owned).collect();
        let values: Vec<(usize, String)> = lines
            .iter()
            .enumerate()
            .filter_map(|(at, line)| Some((at, line.split_once(" = ")?.1.to_owned())))
            .collect();
        let (a, b) = (&values[one % values.len()], &values[other % values.len()]);
        for (at, value) in [(a.0, &b.1), (b.0, &a.1)] {
            let key = lines[at].split_once(" = ").unwrap().0.to_owned();
            lines[at] = format!("{key} = {value}");
        }
        sound(lines.join("\n").as_bytes());
    }

    /// A vector file with a stretch of it cut out or written over.
    #[test]
    fn mutations_of_a_vector_file(from in 0..PLACES.len(), length in 0..40usize, put in "[\\[\\]{},:\"a-z0-9-]{0,8}") {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("places.geojson");
        let mut bytes = PLACES.as_bytes().to_vec();
        bytes.splice(from..(from + length).min(PLACES.len()), put.into_bytes());
        std::fs::write(&path, bytes).unwrap();
        for wanted in [Wanted::Point, Wanted::Line, Wanted::Area] {
            for name in ["Elevator", "Course", "Lantern field"] {
                let _ = vector::find(&path, None, name, wanted);
            }
        }
    }
}
