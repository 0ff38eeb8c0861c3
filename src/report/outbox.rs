//! Writing results so that a reader never sees a partial file.
//!
//! Results are made in a hidden folder beside their place and renamed into it
//! together. A run that is killed leaves that folder behind; the next run that
//! writes there finishes a delivery that had begun and removes all else. A run
//! that holds a [`Claim`] to the folder has it to itself.

mod claim;
mod kept;
mod leftovers;
mod room;

use std::borrow::Cow;
use std::fmt::{self, Debug, Display};
use std::fs::{self, File};
use std::io::{self, BufWriter, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use serde::Serialize;
use slug::slugify;
use tempfile::{NamedTempFile, TempDir};

use super::Provenance;
use super::signature::signed;

pub use claim::Claim;
pub use kept::{KeptMaps, forget_maps};
pub use leftovers::clear as clear_leftovers;
pub use room::{in_words, write_json};

/// How the names of hidden folders and files begin that wait to be renamed.
pub const HIDDEN: &str = ".perchline-";

/// Held locked in a staging folder by the run that writes there.
const IN_USE: &str = "in-use";

/// Where to deliver, and the names, one a line; there once all of them are written.
const DELIVERY: &str = "delivery";

/// What stands where a result goes, kept until all are in their place.
const REPLACED: &str = ".replaced";

/// What this process has staged and delivered. Held while files move, so that
/// whoever holds it meets all of a delivery or none.
static LEDGER: Mutex<Ledger> =
    Mutex::new(Ledger { staged: Vec::new(), made: Vec::new(), delivered: 0 });

#[derive(Debug)]
struct Ledger {
    /// The folders of outboxes that are open.
    staged: Vec<PathBuf>,
    /// Folders that claims have made, each after the one that it lies in.
    made: Vec<PathBuf>,
    /// Files in their place.
    delivered: usize,
}

fn ledger() -> MutexGuard<'static, Ledger> {
    LEDGER.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Results on their way into one folder: written beside it first, renamed into
/// it together at the end. Dropped before [`Outbox::deliver`], it leaves
/// nothing behind.
#[derive(Debug)]
pub struct Outbox {
    folder: PathBuf,
    staging: TempDir,
    names: Vec<String>,
    /// What pictures say of how they came about.
    provenance: Option<Provenance>,
    /// Told of each file that is there, and how long it took.
    seen: Option<Seen>,
    /// Locked as long as it is open.
    _in_use: File,
}

/// What is told of a file that is made, with the time that it took.
type Told = dyn Fn(&str, Duration) + Send + Sync;

/// Who is told of files that are made.
struct Seen(Box<Told>);

impl Debug for Seen {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Seen")
    }
}

/// A result that could not be written.
#[derive(Debug, thiserror::Error)]
#[error(
    "{path}: cannot be written: {}; nothing was changed there. Check that the folder may be written to and the disk has room, or name another with --out",
    in_words(source)
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
    /// Opens an outbox for `folder`, which is made on delivery if it is not
    /// there, after clearing what runs that were killed left for it.
    ///
    /// # Errors
    /// [`OutboxError`] when nothing can be written beside the folder.
    pub fn open(folder: &Path) -> Result<Self, OutboxError> {
        // The folder itself, and those that it lies in.
        let mut places =
            folder.ancestors().map(|p| if p.as_os_str().is_empty() { Path::new(".") } else { p });
        // They may lie farther up, where folders on the way were not there yet.
        places.clone().take(4).for_each(|place| clear_leftovers(place, folder));
        let place = places.find(|place| place.is_dir()).unwrap_or(Path::new("."));
        let failed = OutboxError::at(folder);
        let mut ledger = ledger();
        let make = || {
            let staging = tempfile::Builder::new().prefix(HIDDEN).tempdir_in(place)?;
            // Locked before it has its name: whoever meets it meets it locked. Where
            // nothing can be locked nothing is cleared either.
            let in_use = NamedTempFile::new_in(staging.path())?;
            drop(in_use.as_file().lock());
            let in_use = in_use.persist(staging.path().join(IN_USE)).map_err(|e| e.error)?;
            Ok((staging, in_use))
        };
        let (staging, in_use) = make().map_err(failed)?;
        ledger.staged.push(staging.path().to_owned());
        Ok(Self {
            folder: folder.to_owned(),
            staging,
            names: Vec::new(),
            provenance: None,
            seen: None,
            _in_use: in_use,
        })
    }

    /// The hidden folder in which the files wait.
    #[must_use]
    pub fn staged(&self) -> &Path {
        self.staging.path()
    }

    /// Lets every picture say what made it.
    #[must_use]
    pub fn signed_by(mut self, provenance: &Provenance) -> Self {
        self.provenance = Some(provenance.clone());
        self
    }

    /// Tells `seen` of each file of a result that is made, with the time that it took.
    #[must_use]
    pub fn seen_by(mut self, seen: impl Fn(&str, Duration) + Send + Sync + 'static) -> Self {
        self.seen = Some(Seen(Box::new(seen)));
        self
    }

    /// Says that a file is made which took so long.
    pub(super) fn made(&self, name: &str, time: Duration) {
        if let Some(Seen(seen)) = &self.seen {
            seen(name, time);
        }
    }

    /// A part of it for one of several that write at a time; the files that it adds
    /// are put into `names`, for [`Outbox::take_in`].
    pub fn part<'a>(&'a self, names: &'a mut Vec<String>) -> Part<'a> {
        Part { outbox: self, names }
    }

    /// Takes the files of [`Outbox::part`] in; they are delivered in the order in
    /// which they are taken in.
    pub fn take_in(&mut self, names: Vec<String>) {
        for name in names {
            if !self.names.contains(&name) {
                self.names.push(name);
            }
        }
    }

    /// Adds a file with this content.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written.
    pub fn put(&mut self, name: &str, content: &[u8]) -> Result<(), OutboxError> {
        let mut names = Vec::new();
        self.part(&mut names).put(name, content)?;
        self.take_in(names);
        Ok(())
    }

    /// Adds a file with a value as JSON that people can read; its text is never
    /// in memory as a whole.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written.
    pub fn put_json(&mut self, name: &str, value: &impl Serialize) -> Result<(), OutboxError> {
        let mut names = Vec::new();
        self.part(&mut names).put_json(name, value)?;
        self.take_in(names);
        Ok(())
    }

    /// Moves every file into the folder and tells where they are. If one can't
    /// be moved, those that went before are taken back and what they replaced
    /// is put back.
    ///
    /// # Errors
    /// [`OutboxError`] when the folder can't be made or a file can't be moved.
    pub fn deliver(self) -> Result<Vec<PathBuf>, OutboxError> {
        let at = |name: &String| self.folder.join(name);
        for name in &self.names {
            // On the disk before a name leads to it, should the power fail.
            File::open(self.staging.path().join(name))
                .and_then(|file| file.sync_all())
                .map_err(OutboxError::at(&at(name)))?;
        }
        fs::create_dir_all(&self.folder).map_err(OutboxError::at(&self.folder))?;
        for name in &self.names {
            // Nothing has moved yet: as much as can fail does so here.
            self.keep_replaced(name).map_err(OutboxError::at(&at(name)))?;
        }
        leftovers::announce(self.staging.path(), &self.folder, &self.names)
            .map_err(OutboxError::at(&self.folder))?;
        let mut ledger = ledger();
        let mut moved = Vec::new();
        for name in &self.names {
            let step = fs::rename(self.staging.path().join(name), at(name));
            moved.push(name);
            if let Err(error) = step {
                self.take_back(&moved);
                return Err(OutboxError::at(&at(name))(error));
            }
        }
        // A name outlives a failing power only once its folder is on the disk.
        drop(File::open(&self.folder).and_then(|folder| folder.sync_all()));
        ledger.delivered += self.names.len();
        Ok(self.names.iter().map(at).collect())
    }

    /// Makes what `name` will replace stay reachable in the staging folder: by
    /// a second name, or a copy where the file system has no such thing.
    fn keep_replaced(&self, name: &str) -> io::Result<()> {
        let target = self.folder.join(name);
        let kept = self.staging.path().join(format!("{name}{REPLACED}"));
        match fs::symlink_metadata(&target) {
            Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(()),
            Err(error) => Err(error),
            Ok(found) if found.is_dir() => Err(io::ErrorKind::IsADirectory.into()),
            Ok(_) => fs::hard_link(&target, &kept).or_else(|_| fs::copy(&target, &kept).map(drop)),
        }
    }

    /// Undoes deliveries as far as the file system lets it.
    fn take_back(&self, moved: &[&String]) {
        drop(fs::remove_file(self.staging.path().join(DELIVERY)));
        for name in moved {
            let (target, kept) =
                (self.folder.join(name), self.staging.path().join(format!("{name}{REPLACED}")));
            // Nothing more can be done if this fails too.
            drop(if fs::symlink_metadata(&kept).is_ok() {
                fs::rename(kept, target)
            } else {
                fs::remove_file(target)
            });
        }
    }
}

/// What one of several that write into an [`Outbox`] at a time adds to it.
#[derive(Debug)]
pub struct Part<'a> {
    outbox: &'a Outbox,
    names: &'a mut Vec<String>,
}

impl Part<'_> {
    /// Where to write the file that will be delivered as `name`.
    fn reserve(&mut self, name: &str) -> PathBuf {
        self.names.push(name.to_owned());
        self.outbox.staging.path().join(name)
    }

    /// Adds a file with this content.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written.
    pub fn put(&mut self, name: &str, content: &[u8]) -> Result<(), OutboxError> {
        let target = self.outbox.folder.join(name);
        let content = match &self.outbox.provenance {
            Some(provenance) if name.ends_with(".png") => signed(content, provenance).into(),
            _ => Cow::Borrowed(content),
        };
        fs::write(self.reserve(name), content).map_err(OutboxError::at(&target))
    }

    /// Adds a file with a value as JSON that people can read; its text is never
    /// in memory as a whole.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written.
    pub fn put_json(&mut self, name: &str, value: &impl Serialize) -> Result<(), OutboxError> {
        self.put_through(name, |to| write_json(to, value))
    }

    /// Adds a file that `write` writes piece by piece.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written.
    pub fn put_through(
        &mut self,
        name: &str,
        write: impl FnOnce(&mut dyn Write) -> io::Result<()>,
    ) -> Result<(), OutboxError> {
        let place = self.reserve(name);
        let write = || {
            let mut file = BufWriter::new(File::create(place)?);
            write(&mut file)?;
            file.flush()
        };
        write().map_err(OutboxError::at(&self.outbox.folder.join(name)))
    }

    /// Adds a file that `write` writes into the place that it is given, as
    /// libraries do that want a path.
    ///
    /// # Errors
    /// [`OutboxError`] when it can't be written: with what the disk says where
    /// that is why, for libraries do not tell.
    pub fn put_by<E: Display>(
        &mut self,
        name: &str,
        write: impl FnOnce(&Path) -> Result<(), E>,
    ) -> Result<(), OutboxError> {
        let place = self.reserve(name);
        let written = write(&place);
        // A library may take a full disk for no error at all.
        let room = room::probe(self.outbox.staging.path());
        let target = self.outbox.folder.join(name);
        match (written, room) {
            (_, Err(full)) => Err(OutboxError::at(&target)(full)),
            (Err(error), Ok(())) => {
                let told = error.to_string();
                let told = told.replace(&*place.to_string_lossy(), &target.to_string_lossy());
                Err(OutboxError::at(&target)(io::Error::other(told)))
            }
            (Ok(()), Ok(())) => Ok(()),
        }
    }
}

impl Drop for Outbox {
    fn drop(&mut self) {
        ledger().staged.retain(|staging| staging != self.staging.path());
    }
}

/// The end of all deliveries of this process: none begins as long as it is held.
#[must_use]
pub struct Closed {
    ledger: MutexGuard<'static, Ledger>,
}

impl Closed {
    /// How many files were delivered before.
    #[must_use]
    pub fn delivered(&self) -> usize {
        self.ledger.delivered
    }
}

/// Counts a file that was put in its place by other means.
pub fn delivered_elsewhere() {
    ledger().delivered += 1;
}

/// Waits for a delivery that has begun, then removes what else this process has
/// staged, and the folders that it made for results that never came.
pub fn close() -> Closed {
    let ledger = ledger();
    for staging in &ledger.staged {
        // Somebody may be writing there still: what comes later goes with the next run.
        let _ = (0..3).find(|_| fs::remove_dir_all(staging).is_ok());
    }
    claim::remove(&ledger.made);
    Closed { ledger }
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
