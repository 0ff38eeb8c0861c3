//! Writing results so that a reader never meets half a file.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use slug::slugify;
use tempfile::TempDir;

/// Results on their way into one folder: written beside it first, renamed into
/// it together at the end. Dropped before [`Outbox::deliver`], it leaves
/// nothing behind.
#[derive(Debug)]
pub struct Outbox {
    folder: PathBuf,
    staging: TempDir,
    names: Vec<String>,
}

/// A result that could not be written.
#[derive(Debug, thiserror::Error)]
#[error(
    "{path}: cannot be written: {source}; nothing was changed there. Check that the folder may be written to and the disk has room, or name another with --out"
)]
pub struct OutboxError {
    path: String,
    #[source]
    source: io::Error,
}

impl OutboxError {
    fn at(path: &Path) -> impl FnOnce(io::Error) -> Self + '_ {
        move |source| Self { path: path.display().to_string(), source }
    }
}

impl Outbox {
    /// Opens an outbox for `folder`, which is made on delivery if it is not there.
    ///
    /// # Errors
    /// [`OutboxError`] when nothing can be written beside the folder.
    pub fn open(folder: &Path) -> Result<Self, OutboxError> {
        let beside = folder
            .ancestors()
            .skip(1)
            .map(|p| if p.as_os_str().is_empty() { Path::new(".") } else { p })
            .find(|p| p.is_dir())
            .unwrap_or(Path::new("."));
        let staging = tempfile::Builder::new()
            .prefix(".perchline-")
            .tempdir_in(if folder.is_dir() { folder } else { beside })
            .map_err(OutboxError::at(folder))?;
        Ok(Self { folder: folder.to_owned(), staging, names: Vec::new() })
    }

    /// Where to write the file that will be delivered as `name`.
    pub fn reserve(&mut self, name: &str) -> PathBuf {
        if !self.names.iter().any(|n| n == name) {
            self.names.push(name.to_owned());
        }
        self.staging.path().join(name)
    }

    /// Adds a file with this content.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written.
    pub fn put(&mut self, name: &str, content: &[u8]) -> Result<(), OutboxError> {
        let target = self.folder.join(name);
        fs::write(self.reserve(name), content).map_err(OutboxError::at(&target))
    }

    /// Moves every file into the folder and tells where they are. If one can't
    /// be moved, those that went before are taken back and what they replaced
    /// is put back.
    ///
    /// # Errors
    /// [`OutboxError`] when the folder can't be made or a file can't be moved.
    pub fn deliver(self) -> Result<Vec<PathBuf>, OutboxError> {
        fs::create_dir_all(&self.folder).map_err(OutboxError::at(&self.folder))?;
        let mut moved = Vec::new();
        for name in &self.names {
            let target = self.folder.join(name);
            let made = self.staging.path().join(name);
            let replaced = self.staging.path().join(format!("{name}.replaced"));
            let step = if target.is_dir() {
                Err(io::Error::from(io::ErrorKind::IsADirectory))
            } else if target.exists() {
                fs::rename(&target, &replaced).and_then(|()| {
                    fs::rename(&made, &target).inspect_err(|_| drop(fs::rename(&replaced, &target)))
                })
            } else {
                fs::rename(&made, &target)
            };
            if let Err(error) = step {
                take_back(&moved);
                return Err(OutboxError::at(&target)(error));
            }
            moved.push((target, replaced));
        }
        Ok(moved.into_iter().map(|(target, _)| target).collect())
    }
}

/// Undoes deliveries as far as the file system lets it.
fn take_back(moved: &[(PathBuf, PathBuf)]) {
    for (target, replaced) in moved {
        // Nothing more can be done if this fails too.
        drop(if replaced.exists() {
            fs::rename(replaced, target)
        } else {
            fs::remove_file(target)
        });
    }
}

/// File-name stems for things with names of any kind: letters, digits and
/// hyphens only, all different, in the order given.
#[must_use]
pub fn file_stems<'a>(names: impl IntoIterator<Item = &'a str>) -> Vec<String> {
    let mut stems: Vec<String> = Vec::new();
    for name in names {
        let plain = match slugify(name) {
            s if s.is_empty() => "unnamed".to_owned(),
            s => s.chars().take(60).collect(),
        };
        let stem = (1..)
            .map(|n| if n == 1 { plain.clone() } else { format!("{plain}-{n}") })
            .find(|candidate| !stems.contains(candidate))
            .unwrap_or(plain);
        stems.push(stem);
    }
    stems
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn nothing_appears_before_delivery_and_nothing_stays_after_a_drop() {
        let parent = tempfile::tempdir().unwrap();
        let folder = parent.path().join("out");
        let mut outbox = Outbox::open(&folder).unwrap();
        outbox.put("a.txt", b"a").unwrap();
        assert!(!folder.exists());
        drop(outbox);
        assert_eq!(fs::read_dir(parent.path()).unwrap().count(), 0);
    }

    #[test]
    fn delivery_moves_every_file() {
        let parent = tempfile::tempdir().unwrap();
        let folder = parent.path().join("deep/out");
        let mut outbox = Outbox::open(&folder).unwrap();
        outbox.put("a.txt", b"a").unwrap();
        outbox.put("b.txt", b"b").unwrap();
        let delivered = outbox.deliver().unwrap();
        assert_eq!(delivered, [folder.join("a.txt"), folder.join("b.txt")]);
        assert_eq!(fs::read(folder.join("b.txt")).unwrap(), b"b");
        assert_eq!(fs::read_dir(parent.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_delivery_that_fails_half_way_is_taken_back() {
        let parent = tempfile::tempdir().unwrap();
        let folder = parent.path();
        fs::write(folder.join("a.txt"), b"old").unwrap();
        fs::create_dir(folder.join("c.txt")).unwrap();
        let mut outbox = Outbox::open(folder).unwrap();
        for name in ["a.txt", "b.txt", "c.txt"] {
            outbox.put(name, b"new").unwrap();
        }
        let error = outbox.deliver().unwrap_err().to_string();
        assert!(error.contains("c.txt"), "{error}");
        assert_eq!(fs::read(folder.join("a.txt")).unwrap(), b"old");
        assert!(!folder.join("b.txt").exists());
        assert_eq!(fs::read_dir(folder).unwrap().count(), 2);
    }

    #[test]
    fn names_of_any_kind_become_different_plain_stems() {
        let stems = file_stems(["Car park", "car/park", "../../etc", "<b>", "渡口", "…"]);
        assert_eq!(stems[0], "car-park");
        assert_eq!(stems[1], "car-park-2");
        assert_eq!(stems[2], "etc");
        assert_eq!(stems[3], "b");
        assert!(stems.iter().all(|s| s.chars().all(|c| c.is_ascii_alphanumeric() || c == '-')));
        assert_eq!(stems.iter().collect::<std::collections::HashSet<_>>().len(), stems.len());
    }
}
