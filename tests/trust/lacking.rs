//! What a machine lacks is told, and nothing else is left out.

use std::path::Path;
use std::process::Command;

use crate::support::wanted::Wanted;
use crate::support::{printed, said};

#[test]
fn only_what_the_list_names_is_left_out() {
    for wanted in Wanted::ALL {
        assert!(wanted.is_in(wanted.word()) && wanted.is_in(&format!("box, {} ", wanted.word())));
        assert!(!wanted.is_in("") && !wanted.is_in(" , "));
        let others = Wanted::ALL.into_iter().filter(|other| *other != wanted);
        let others: Vec<_> = others.map(Wanted::word).collect();
        assert!(!wanted.is_in(&others.join(",")), "{wanted:?}");
    }
    let unknown = std::panic::catch_unwind(|| Wanted::Mount.is_in("mount,brwoser"));
    let told = unknown.unwrap_err().downcast::<String>().unwrap();
    assert!(told.contains("\"brwoser\"") && told.contains("browser"), "{told}");
}

/// On a machine without any program but the shell's own, the script leaves out
/// what takes one, in words that the tests know, and says each in a line.
#[test]
fn the_script_names_what_a_bare_machine_lacks() {
    let bare = tempfile::tempdir().unwrap();
    for program in ["dirname", "mktemp", "rmdir", "uname", "id", "grep"] {
        let found = ["/usr/bin", "/bin"].map(|folder| Path::new(folder).join(program));
        let found = found.iter().find(|file| file.exists()).unwrap();
        std::os::unix::fs::symlink(found, bare.path().join(program)).unwrap();
    }
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/lacking.sh");
    let output = Command::new("/bin/sh").arg(script).env("PATH", bare.path()).output().unwrap();
    assert!(output.status.success());
    let list = String::from_utf8(output.stdout).unwrap();
    for wanted in
        [Wanted::Gdal, Wanted::Browser, Wanted::Pages, Wanted::Mount, Wanted::Trace, Wanted::Box]
    {
        assert!(wanted.is_in(&list), "{list}");
    }
    let told = String::from_utf8(output.stderr).unwrap();
    let lines = told.lines().filter(|line| line.starts_with("Left out ("));
    assert_eq!(lines.count(), list.trim().split(',').count(), "{told}{list}");
}

/// Each word is explained to whoever has to get the thing.
#[test]
fn every_word_is_explained() {
    let guide = concat!(env!("CARGO_MANIFEST_DIR"), "/DEVELOPERS.md");
    let guide = std::fs::read_to_string(guide).unwrap();
    for wanted in Wanted::ALL {
        let row = format!("| `{}` |", wanted.word());
        assert!(guide.contains(&row), "no row {row} in DEVELOPERS.md");
    }
}

/// A test that finds no way to mount a disk, run as a test of its own.
#[test]
fn a_test_without_what_it_wants_fails_unless_told() {
    let run = |skip: &str| {
        Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "killed::a_folder_that_may_not_be_written_to_is_an_error"])
            .env("PATH", "/nowhere")
            .env("PERCHLINE_SKIP", skip)
            .output()
            .unwrap()
    };
    let refused = run("browser");
    assert_eq!(refused.status.code(), Some(101), "{}", printed(&refused));
    let told = printed(&refused);
    assert!(told.contains("no disk can be mounted here"), "{told}");
    assert!(told.contains("unshare --user --mount"), "{told}");
    assert!(told.contains("PERCHLINE_SKIP=mount"), "{told}");
    let skipped = run("mount");
    assert!(skipped.status.success(), "{}", printed(&skipped));
    let told = said(&skipped);
    assert!(told.contains("killed::a_folder_that_may_not_be_written_to_is_an_error"), "{told}");
    assert!(told.contains("CHECKED NOTHING without mount"), "{told}");
}
