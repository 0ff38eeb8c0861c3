//! What runs that were killed left behind.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;
use std::time::{Duration, SystemTime};

use super::{DELIVERY, HIDDEN, IN_USE};

/// How far from now an empty hidden folder must have been made before it counts as
/// left behind: its maker may be about to lock it. One from the future is from a
/// clock that has been put right since.
const SETTLED: Duration = Duration::from_secs(60);

/// Says in a staging folder that all is written and about to move.
pub(super) fn announce(staging: &Path, folder: &Path, names: &[String]) -> io::Result<()> {
    let mut beside = tempfile::NamedTempFile::new_in(staging)?;
    // A folder whose name is no text, or has lines, is told by none: not finished then.
    let folder = fs::canonicalize(folder)?;
    writeln!(beside, "{}", folder.to_string_lossy())?;
    beside.write_all(names.join("\n").as_bytes())?;
    beside.as_file().sync_all()?;
    beside.persist(staging.join(DELIVERY))?;
    Ok(())
}

/// Clears `place` of hidden folders and files of runs that are no more; a
/// delivery that had begun is finished into `folder`.
///
/// What cannot be removed stays: it is in nobody's way.
pub fn clear(place: &Path, folder: &Path) {
    let Ok(entries) = fs::read_dir(place) else { return };
    let ours = entries
        .flatten()
        .filter(|entry| entry.file_name().to_str().is_some_and(|name| name.starts_with(HIDDEN)));
    for entry in ours {
        let path = entry.path();
        match entry.file_type() {
            Ok(kind) if kind.is_dir() => clear_staging(&path, folder),
            Ok(kind) if kind.is_file() && is_abandoned(&path) && is_settled(&path) => {
                drop(fs::remove_file(&path));
            }
            _ => {}
        }
    }
}

fn clear_staging(staging: &Path, folder: &Path) {
    let in_use = staging.join(IN_USE);
    if !in_use.exists() {
        // Killed before it held anything, or not a run's at all.
        if is_settled(staging) {
            drop(fs::remove_dir(staging));
        }
        return;
    }
    if !is_abandoned(&in_use) {
        return;
    }
    if let Ok(delivery) = fs::read_to_string(staging.join(DELIVERY)) {
        let mut lines = delivery.lines();
        let told = lines.next().map(Path::new).filter(|told| told.is_dir());
        match (told, fs::canonicalize(folder)) {
            (Some(told), Ok(wanted)) if told == wanted => {
                for name in lines.filter(|name| is_plain(name)) {
                    let made = staging.join(name);
                    if made.is_file() {
                        drop(fs::rename(made, folder.join(name)));
                    }
                }
            }
            // Another folder's: the next run that writes there finishes it.
            (Some(_), _) => return,
            // Its folder is gone, and with it what it would have completed.
            (None, _) => {}
        }
    }
    drop(fs::remove_dir_all(staging));
}

/// Whether a name stays inside its folder.
fn is_plain(name: &str) -> bool {
    Path::new(name).file_name().is_some_and(|file| file == name)
}

/// Whether nobody holds the file locked: the system unlocks what a process held
/// when it ends, however it ends.
fn is_abandoned(file: &Path) -> bool {
    File::open(file).is_ok_and(|file| file.try_lock().is_ok())
}

fn is_settled(path: &Path) -> bool {
    let changed = fs::metadata(path).and_then(|found| found.modified());
    let now = SystemTime::now();
    let apart = |at| now.duration_since(at).unwrap_or_else(|future| future.duration());
    changed.is_ok_and(|at| apart(at) > SETTLED)
}

#[cfg(test)]
mod tests {
    use super::super::Outbox;
    use super::*;

    fn names(folder: &Path) -> Vec<String> {
        let mut names: Vec<_> = fs::read_dir(folder)
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        names.sort();
        names
    }

    /// A staging folder as a killed run leaves it.
    fn left(folder: &Path, files: &[(&str, &str)]) {
        let staging = folder.join(".perchline-left");
        fs::create_dir(&staging).unwrap();
        for (name, content) in files {
            fs::write(staging.join(name), content).unwrap();
        }
    }

    #[test]
    fn what_a_killed_run_had_not_finished_is_removed() {
        let folder = tempfile::tempdir().unwrap();
        left(folder.path(), &[("in-use", ""), ("a.txt", "half")]);
        drop(Outbox::open(folder.path()).unwrap());
        assert!(names(folder.path()).is_empty());
    }

    #[test]
    fn a_delivery_that_had_begun_is_finished() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.txt"), "new").unwrap();
        fs::write(folder.path().join("b.txt"), "old").unwrap();
        let place = fs::canonicalize(folder.path()).unwrap();
        let delivery = format!("{}\na.txt\nb.txt\n../c.txt", place.display());
        left(folder.path(), &[("in-use", ""), ("delivery", &delivery), ("b.txt", "new")]);
        drop(Outbox::open(folder.path()).unwrap());
        assert_eq!(names(folder.path()), ["a.txt", "b.txt"]);
        assert_eq!(fs::read_to_string(folder.path().join("b.txt")).unwrap(), "new");
    }

    #[test]
    fn a_delivery_to_another_folder_waits_for_it() {
        let parent = tempfile::tempdir().unwrap();
        let (one, other) = (parent.path().join("one"), parent.path().join("other"));
        fs::create_dir(&one).unwrap();
        let delivery = format!("{}\na.txt", fs::canonicalize(&one).unwrap().display());
        left(parent.path(), &[("in-use", ""), ("delivery", &delivery), ("a.txt", "new")]);
        drop(Outbox::open(&other).unwrap());
        assert_eq!(names(parent.path()), [".perchline-left", "one"]);
        drop(Outbox::open(&one).unwrap());
        assert_eq!(names(parent.path()), ["one"]);
        assert_eq!(names(&one), ["a.txt"]);
    }

    #[test]
    fn a_delivery_whose_folder_is_gone_never_overwrites_what_came_later() {
        let parent = tempfile::tempdir().unwrap();
        let out = parent.path().join("out");
        fs::create_dir(&out).unwrap();
        let delivery = format!("{}\na.txt", fs::canonicalize(&out).unwrap().display());
        left(parent.path(), &[("in-use", ""), ("delivery", &delivery), ("a.txt", "old")]);
        fs::remove_dir(&out).unwrap();
        for content in ["newer", "newest"] {
            let mut outbox = Outbox::open(&out).unwrap();
            outbox.put("a.txt", content.as_bytes()).unwrap();
            outbox.deliver().unwrap();
            assert_eq!(fs::read_to_string(out.join("a.txt")).unwrap(), content);
            drop(Outbox::open(&out).unwrap());
            assert_eq!(fs::read_to_string(out.join("a.txt")).unwrap(), content);
        }
        assert_eq!(names(parent.path()), ["out"]);
    }

    #[test]
    fn what_is_empty_goes_once_it_is_old_whatever_the_clock_was_then() {
        let folder = tempfile::tempdir().unwrap();
        let day = Duration::from_secs(86_400);
        let now = SystemTime::now();
        let ages = [
            ("now", now, true),
            ("yesterday", now - day, false),
            ("in-years", now + day * 5000, false),
            ("before-1970", SystemTime::UNIX_EPOCH - day, false),
        ];
        for (name, at, _) in ages {
            let (left, file) = (format!(".perchline-{name}"), format!(".perchline-{name}.toml"));
            fs::create_dir(folder.path().join(&left)).unwrap();
            fs::write(folder.path().join(&file), "").unwrap();
            for name in [left, file] {
                File::open(folder.path().join(name)).unwrap().set_modified(at).unwrap();
            }
        }
        clear(folder.path(), folder.path());
        let stays = |name: &str| folder.path().join(name).exists();
        for (name, _, left) in ages {
            assert_eq!(stays(&format!(".perchline-{name}")), left, "{name}");
            assert_eq!(stays(&format!(".perchline-{name}.toml")), left, "{name}");
        }
    }

    #[test]
    fn a_folder_that_is_in_use_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        let mut one = Outbox::open(folder.path()).unwrap();
        one.put("a.txt", b"a").unwrap();
        let mut other = Outbox::open(folder.path()).unwrap();
        other.put("b.txt", b"b").unwrap();
        other.deliver().unwrap();
        one.deliver().unwrap();
        assert_eq!(names(folder.path()), ["a.txt", "b.txt"]);
    }

    #[test]
    fn a_folder_of_somebody_else_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        left(folder.path(), &[("mine.txt", "")]);
        clear(folder.path(), folder.path());
        assert!(folder.path().join(".perchline-left/mine.txt").exists());
    }
}
