//! What is unsaved, kept in a file beside the plan until it is saved: an end of
//! any kind loses half a second's work at the most.
//!
//! The file holds the text of the plan and nothing else. One of somebody else is
//! never written over: where its name is taken the next is used.

use std::ffi::OsString;
use std::fs::{self, File};
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use sha2::{Digest, Sha256};
use tempfile::PersistError;

use super::file::{PlanFile, beside, is_at, on_disk};
use super::offer::Offer;
use perchline_plan::hexadecimal;

/// From a change to its writing: a drag is written twice a second, not at every step.
const DELAY: Duration = Duration::from_millis(500);
/// From a writing that failed to the next.
const AGAIN: Duration = Duration::from_secs(5);
/// Files that are kept for one plan at once.
const MOST_FILES: usize = 9;

/// A text that is not in the plan's file.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct Unsaved {
    /// The text.
    pub text: String,
    /// What the plan's file held when it was read: what was changed.
    pub from: String,
}

/// Keeps the latest unsaved text of a plan in a file.
#[derive(Debug)]
pub(super) struct Recovery {
    folder: PathBuf,
    /// The names that it may have.
    names: Mutex<Vec<PathBuf>>,
    wanted: Mutex<Wanted>,
    wake: Condvar,
    own: Mutex<Own>,
    status: Mutex<Status>,
}

/// What the file is to hold.
#[derive(Debug)]
struct Wanted {
    unsaved: Option<Arc<Unsaved>>,
    /// Counts what was wanted.
    number: u64,
    ended: bool,
}

/// The file of this process.
#[derive(Debug, Default)]
struct Own {
    file: Option<OwnFile>,
    /// The number of what was wanted last and done.
    done: u64,
}

#[derive(Debug)]
struct OwnFile {
    path: PathBuf,
    /// Open and locked: nobody else offers it.
    file: File,
    holds: Option<Arc<Unsaved>>,
}

/// What a person is told.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Status {
    /// The file that holds what is unsaved.
    pub kept_in: Option<PathBuf>,
    /// Why it cannot be kept.
    pub warning: Option<String>,
}

fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    // A thread that panicked left values that are each whole.
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

/// The files beside a plan that may hold unsaved text of it, whether they are there or not.
pub(super) fn names(place: &Path) -> Vec<PathBuf> {
    let name = place.file_name().unwrap_or_default();
    (1..=MOST_FILES)
        .map(|number| {
            let mut own = OsString::from(name);
            own.push(if number == 1 {
                ".unsaved".to_owned()
            } else {
                format!(".unsaved-{number}")
            });
            place.with_file_name(own)
        })
        .collect()
}

/// The files beside the plan `named` that hold unsaved text of it.
#[must_use]
pub fn left_beside(named: &Path) -> Vec<PathBuf> {
    let place = fs::canonicalize(named).unwrap_or_else(|_| named.to_owned());
    names(&place).into_iter().filter(|path| path.is_file()).collect()
}

impl Recovery {
    /// For the plan in `file`; says whether its folder can be written to.
    pub(super) fn of(file: &PlanFile) -> Self {
        let folder = file.folder().to_owned();
        let warning = beside(&folder).err().map(|error| cannot(&folder, &error));
        Self {
            names: Mutex::new(names(file.place())),
            wanted: Mutex::new(Wanted { unsaved: None, number: 0, ended: false }),
            wake: Condvar::new(),
            own: Mutex::default(),
            status: Mutex::new(Status { kept_in: None, warning }),
            folder,
        }
    }

    /// What to tell.
    pub(super) fn status(&self) -> Status {
        locked(&self.status).clone()
    }

    /// Wants this kept from now on, or nothing. It is done soon.
    pub(super) fn keep(&self, unsaved: Option<Unsaved>) {
        let mut wanted = locked(&self.wanted);
        wanted.unsaved = unsaved.map(Arc::new);
        wanted.number += 1;
        self.wake.notify_all();
    }

    /// Keeps what is unsaved of the plan in `file` from now on, in the same folder;
    /// what was kept of the one before goes, as it is in that file.
    pub(super) fn turn_to(&self, file: &PlanFile) {
        self.keep(None);
        self.settle();
        *locked(&self.names) = names(file.place());
    }

    /// Ends [`Recovery::wait`]; what is kept stays.
    pub(super) fn end(&self) {
        locked(&self.wanted).ended = true;
        self.wake.notify_all();
    }

    /// Waits until there is something to do that has waited long enough; false
    /// once there never will be.
    pub(super) fn wait(&self) -> bool {
        let (done, failed) = (locked(&self.own).done, self.status().warning.is_some());
        let wanted = locked(&self.wanted);
        let idle = |wanted: &mut Wanted| wanted.number == done && !wanted.ended;
        let wanted = if failed {
            // The disk may have room again, or the folder be back.
            let waited = self.wake.wait_timeout_while(wanted, AGAIN, idle);
            waited.unwrap_or_else(PoisonError::into_inner).0
        } else {
            self.wake.wait_while(wanted, idle).unwrap_or_else(PoisonError::into_inner)
        };
        let waited = self.wake.wait_timeout_while(wanted, DELAY, |wanted| !wanted.ended);
        !waited.unwrap_or_else(PoisonError::into_inner).0.ended
    }

    /// Brings the file to what is wanted. Tells whether there is anything new to
    /// tell.
    pub(super) fn settle(&self) -> bool {
        let mut own = locked(&self.own);
        let (unsaved, number) = {
            let wanted = locked(&self.wanted);
            (wanted.unsaved.clone(), wanted.number)
        };
        let before = self.status();
        if own.done == number && before.warning.is_none() {
            return false;
        }
        let done = match &unsaved {
            Some(unsaved) => self.write(&mut own, unsaved),
            None => remove(&mut own).and_then(|()| match before.warning {
                Some(_) => beside(&self.folder).map(drop),
                None => Ok(()),
            }),
        };
        own.done = number;
        let file = own.file.as_ref();
        let now = Status {
            kept_in: file.filter(|file| file.holds == unsaved).map(|file| file.path.clone()),
            warning: done.err().map(|error| match (file, &unsaved) {
                (Some(file), None) => format!(
                    "Nothing is unsaved, but {} cannot be removed ({error}): the next start offers the earlier state in it",
                    file.path.display()
                ),
                (Some(file), Some(_)) => format!(
                    "{}. {} holds an earlier state",
                    cannot(&self.folder, &error),
                    file.path.display()
                ),
                (None, _) => cannot(&self.folder, &error),
            }),
        };
        *locked(&self.status) = now.clone();
        before != now
    }

    /// Writes the text whole beside its place, then puts it there.
    fn write(&self, own: &mut Own, unsaved: &Arc<Unsaved>) -> io::Result<()> {
        // One that was taken away or replaced is nobody's to write over.
        own.file.take_if(|mine| !is_at(&mine.file, &mine.path));
        if own.file.as_ref().is_some_and(|mine| mine.holds.as_ref() == Some(unsaved)) {
            return Ok(());
        }
        let mut new = beside(&self.folder)?;
        new.write_all(unsaved.text.as_bytes())?;
        mark(new.as_file(), &digest(&unsaved.from));
        new.as_file().sync_all()?;
        let (path, file) = match &own.file {
            Some(mine) => (mine.path.clone(), new.persist(&mine.path).map_err(|e| e.error)?),
            None => self.put_where_free(new)?,
        };
        own.file = Some(OwnFile { path, file, holds: Some(Arc::clone(unsaved)) });
        on_disk(&self.folder);
        Ok(())
    }

    fn put_where_free(&self, mut new: tempfile::NamedTempFile) -> io::Result<(PathBuf, File)> {
        let names = locked(&self.names);
        for path in names.iter() {
            if fs::symlink_metadata(path).is_ok() {
                continue;
            }
            match new.persist_noclobber(path) {
                Ok(file) => return Ok((path.clone(), file)),
                Err(PersistError { error, file }) => match error.kind() {
                    io::ErrorKind::AlreadyExists => new = file,
                    // Some file systems cannot rename with that care: the name was free
                    // a moment ago.
                    _ => return Ok((path.clone(), file.persist(path).map_err(|e| e.error)?)),
                },
            }
        }
        let last = names.last().map_or_else(String::new, |path| path.display().to_string());
        Err(io::Error::other(format!(
            "all names up to {last} are taken: decide on what they hold, or move them away"
        )))
    }

    /// Goes on with the text of an offer: its file is this process's from now on,
    /// or goes once the text is in the file that this process has already.
    ///
    /// Tells whether there is anything new to tell.
    pub(super) fn take_up(&self, offer: Offer, unsaved: Option<Unsaved>) -> bool {
        let mut left = Some(offer);
        {
            let mut own = locked(&self.own);
            if own.file.is_none() {
                own.file = left.take_if(|offer| offer.file.is_some()).and_then(|offer| {
                    let Offer { path, file, .. } = offer;
                    file.map(|file| OwnFile { path, file, holds: None })
                });
            }
        }
        let wanted = unsaved.is_some();
        self.keep(unsaved);
        let told = self.settle();
        if let Some(offer) = left
            && (!wanted || self.status().kept_in.is_some())
        {
            // It stays where it cannot be removed, and is offered again.
            drop(offer.remove());
        }
        told
    }
}

fn remove(own: &mut Own) -> io::Result<()> {
    if let Some(mine) = &own.file
        && is_at(&mine.file, &mine.path)
    {
        fs::remove_file(&mine.path)?;
    }
    own.file = None;
    Ok(())
}

fn cannot(folder: &Path, error: &io::Error) -> String {
    let folder = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    format!(
        "Unsaved changes cannot be kept in {} ({error}): they are lost if this ends or the power fails. Save often",
        folder.display()
    )
}

/// The digest of a text.
pub(super) fn digest(text: &str) -> String {
    hexadecimal(&Sha256::digest(text.as_bytes()))
}

/// The attribute of a file that says of which text of the plan it is a change.
#[cfg(any(target_os = "linux", target_os = "macos"))]
const CHANGE_OF: &str = "user.perchline.change-of";

/// Notes on a file of which text it is a change, where the file system takes notes.
#[cfg(any(target_os = "linux", target_os = "macos"))]
fn mark(file: &File, digest: &str) {
    use rustix::fs::{XattrFlags, fsetxattr};
    // Without it times are compared.
    let _ = fsetxattr(file, CHANGE_OF, digest.as_bytes(), XattrFlags::empty());
}

/// What [`mark`] noted.
#[cfg(any(target_os = "linux", target_os = "macos"))]
pub(super) fn marked(file: &File) -> Option<String> {
    let mut found = [0u8; 64];
    let length = rustix::fs::fgetxattr(file, CHANGE_OF, &mut found[..]).ok()?;
    found.get(..length).and_then(|found| String::from_utf8(found.to_vec()).ok())
}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
fn mark(_: &File, _: &str) {}

#[cfg(not(any(target_os = "linux", target_os = "macos")))]
pub(super) fn marked(_: &File) -> Option<String> {
    None
}
