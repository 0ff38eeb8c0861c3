//! A folder to oneself: made if it is not there, and locked against other runs.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};

use super::{OutboxError, ledger};

/// How often a folder is made anew that another run removes meanwhile.
const ATTEMPTS: usize = 20;

/// The folder that a run writes into. It is there as long as this is held, and
/// no other process holds it. When this is dropped, folders that it made go
/// again, unless something has come to lie in them; so does its lock, and when
/// the process ends in any other way.
///
/// A process holds one claim to a folder at a time: a second would wait for the
/// first for ever.
#[derive(Debug)]
pub struct Claim {
    /// What it made, each after the one that it lies in.
    made: Vec<PathBuf>,
    /// The folder itself, locked. Nothing where the file system knows no locks.
    _lock: Option<File>,
}

impl Claim {
    /// Claims `folder`, making it if it is not there. If another process holds
    /// it, `wait` is called once, to say so, and this waits until that process
    /// lets go of it.
    ///
    /// # Errors
    /// [`OutboxError`] when the folder cannot be made.
    pub fn to(folder: &Path, wait: impl FnOnce()) -> Result<Self, OutboxError> {
        let mut wait = Some(wait);
        let mut claim = Self { made: Vec::new(), _lock: None };
        let mut failed = io::Error::from(io::ErrorKind::NotFound);
        for _ in 0..ATTEMPTS {
            match claim.make(folder) {
                // Another run, which had made it, has taken it away meanwhile.
                Err(error) if error.kind() == io::ErrorKind::NotFound => failed = error,
                Err(error) => return Err(OutboxError::at(folder)(error)),
                Ok(()) => {
                    let Some(lock) = locked(folder, &mut wait) else { return Ok(claim) };
                    if is_still(&lock, folder) {
                        claim._lock = Some(lock);
                        return Ok(claim);
                    }
                }
            }
        }
        Err(OutboxError::at(folder)(failed))
    }

    /// The folders that it made, and removes if nothing comes to lie in them.
    #[must_use]
    pub fn made(&self) -> &[PathBuf] {
        &self.made
    }

    /// Makes the folder, and those that it lies in.
    fn make(&mut self, folder: &Path) -> io::Result<()> {
        let missing: Vec<&Path> = folder
            .ancestors()
            .take_while(|place| !place.as_os_str().is_empty() && !place.exists())
            .collect();
        for place in missing.into_iter().rev() {
            // An interrupt comes before it is made, or after it is in the ledger.
            let mut ledger = ledger();
            match fs::create_dir(place) {
                Ok(()) => {
                    ledger.made.push(place.to_owned());
                    self.made.push(place.to_owned());
                }
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(error) => return Err(error),
            }
        }
        Ok(())
    }
}

impl Drop for Claim {
    fn drop(&mut self) {
        let mut ledger = ledger();
        remove(&self.made);
        ledger.made.retain(|place| !self.made.contains(place));
    }
}

/// Removes folders, the last first, as far as nothing lies in them.
pub(super) fn remove(made: &[PathBuf]) {
    for place in made.iter().rev() {
        // One that is not empty stays, and with it those that it lies in.
        drop(fs::remove_dir(place));
    }
}

/// The folder, locked; nothing where it cannot be.
fn locked(folder: &Path, wait: &mut Option<impl FnOnce()>) -> Option<File> {
    let file = File::open(folder).ok()?;
    match file.try_lock() {
        Ok(()) => Some(file),
        Err(TryLockError::WouldBlock) => {
            if let Some(wait) = wait.take() {
                wait();
            }
            file.lock().ok().map(|()| file)
        }
        Err(TryLockError::Error(_)) => None,
    }
}

/// Whether the folder that was opened is the one that has this name now.
#[cfg(unix)]
fn is_still(file: &File, folder: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    let same = |a: fs::Metadata, b: fs::Metadata| (a.dev(), a.ino()) == (b.dev(), b.ino());
    file.metadata().and_then(|a| fs::metadata(folder).map(|b| same(a, b))).unwrap_or(false)
}

#[cfg(not(unix))]
fn is_still(_: &File, folder: &Path) -> bool {
    folder.is_dir()
}

#[cfg(test)]
mod tests {
    use super::super::Outbox;
    use super::*;

    fn never() {
        panic!("nobody else holds it");
    }

    #[test]
    fn what_it_made_goes_again_unless_something_came_to_lie_there() {
        let parent = tempfile::tempdir().unwrap();
        let folder = parent.path().join("deep/out");
        let claim = Claim::to(&folder, never).unwrap();
        let mut outbox = Outbox::open(&folder).unwrap();
        outbox.put("a.txt", b"a").unwrap();
        // Staged in the folder itself.
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
        assert_eq!(fs::read_dir(parent.path()).unwrap().count(), 1);
        drop(outbox);
        drop(claim);
        assert_eq!(fs::read_dir(parent.path()).unwrap().count(), 0);

        let claim = Claim::to(&folder, never).unwrap();
        let mut outbox = Outbox::open(&folder).unwrap();
        outbox.put("a.txt", b"a").unwrap();
        outbox.deliver().unwrap();
        drop(claim);
        assert_eq!(fs::read_dir(&folder).unwrap().count(), 1);
        assert!(ledger().made.iter().all(|made| !made.starts_with(parent.path())));

        // What was there before stays, empty or not.
        let empty = parent.path().join("empty");
        fs::create_dir(&empty).unwrap();
        drop(Claim::to(&empty, never).unwrap());
        assert!(empty.is_dir());
    }

    #[test]
    fn a_second_claim_waits_for_the_first_and_makes_the_folder_anew() {
        let parent = tempfile::tempdir().unwrap();
        let folder = parent.path().join("out");
        let first = Claim::to(&folder, never).unwrap();
        let (told, waits) = std::sync::mpsc::channel();
        let second = {
            let folder = folder.clone();
            std::thread::spawn(move || {
                let claim = Claim::to(&folder, || told.send(()).unwrap()).unwrap();
                (folder.is_dir(), claim)
            })
        };
        waits.recv_timeout(std::time::Duration::from_secs(20)).unwrap();
        assert!(!second.is_finished());
        drop(first);
        let (there, claim) = second.join().unwrap();
        assert!(there);
        drop(claim);
        assert_eq!(fs::read_dir(parent.path()).unwrap().count(), 0);
    }

    #[test]
    fn where_no_folder_can_be_made_is_an_error() {
        let parent = tempfile::tempdir().unwrap();
        fs::write(parent.path().join("file"), "").unwrap();
        let error = Claim::to(&parent.path().join("file/out"), never).unwrap_err().to_string();
        assert!(error.contains("file/out") && error.contains("cannot be written"), "{error}");
    }
}
