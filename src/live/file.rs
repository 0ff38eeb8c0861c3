//! The plan's file under the desk: held while it is worked on, read, and replaced
//! as a whole. Nothing else is read or written, whatever its name leads to later.

use std::fs::{self, File, Metadata, TryLockError};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use perchline_plan::{MAX_PLAN_BYTES, PlanError, read_source};
use perchline_report::outbox::{HIDDEN, clear_leftovers, delivered_elsewhere};

/// What a file held when it was last read or written here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Its text.
    pub text: String,
}

/// The file of a plan that is worked on, locked against a second page.
#[derive(Debug)]
pub struct PlanFile {
    named: PathBuf,
    /// Where the name led when it was opened.
    place: PathBuf,
    /// The file there, locked as long as this process works on it.
    held: Option<File>,
    warning: Option<String>,
}

/// An open file, and whether it is locked for this process.
enum Hold {
    Ours(File),
    /// The file system takes no locks.
    Unlocked(File),
    Theirs,
}

impl PlanFile {
    /// Takes the plan that `named` leads to.
    ///
    /// # Errors
    /// A sentence: it is no file that could be saved to, it cannot be read, or
    /// another process works on it.
    pub fn open(named: &Path) -> Result<Self, String> {
        // The plan's reader has the words for most of what can be wrong.
        let unread = |error: io::Error| match read_source(named) {
            Err(error) => error.to_string(),
            Ok(_) => format!("{}: the plan cannot be opened: {error}", named.display()),
        };
        let place = fs::canonicalize(named).map_err(unread)?;
        match fs::metadata(&place).map_err(unread)?.file_type() {
            kind if kind.is_file() => {}
            kind if kind.is_dir() => return Err(unread(io::ErrorKind::IsADirectory.into())),
            kind => {
                return Err(format!(
                    "{}: this is {}, and the page saves to the plan's file: name a regular file",
                    named.display(),
                    word_for(kind)
                ));
            }
        }
        let name = place.file_name().unwrap_or_default();
        if name.to_string_lossy().starts_with(HIDDEN) {
            return Err(format!(
                "{}: names that begin with \"{HIDDEN}\" are of working files, which later runs remove: give the plan another name",
                named.display()
            ));
        }
        let mut file = Self { named: named.to_owned(), place, held: None, warning: None };
        match hold(&file.place).map_err(unread)? {
            Hold::Theirs => Err(format!(
                "{}; use its page, or end it with Ctrl-C before you start another",
                file.taken()
            )),
            Hold::Ours(held) => Ok(Self { held: Some(held), ..file }),
            Hold::Unlocked(held) => {
                file.unlocked(held);
                Ok(file)
            }
        }
    }

    /// The plan's name, as it was given.
    #[must_use]
    pub fn named(&self) -> &Path {
        &self.named
    }

    /// The plan's place, every link followed.
    #[must_use]
    pub fn place(&self) -> &Path {
        &self.place
    }

    /// The only folder that is written to.
    #[must_use]
    pub fn folder(&self) -> &Path {
        self.place.parent().unwrap_or(Path::new("."))
    }

    /// What to know of other processes at this plan.
    #[must_use]
    pub fn warning(&self) -> Option<&str> {
        self.warning.as_deref()
    }

    fn taken(&self) -> String {
        format!("{}: another `perchline live` has this plan open", self.named.display())
    }

    fn unlocked(&mut self, held: File) {
        self.held = Some(held);
        self.warning = Some(format!(
            "{} lies where files cannot be locked: make sure that no other `perchline live` has this plan open",
            self.named.display()
        ));
    }

    /// Locks the file again where another program has put a new one in its place.
    /// Tells whether the warning has changed.
    pub(super) fn hold_on(&mut self) -> bool {
        if self.held.as_ref().is_some_and(|held| is_at(held, &self.place)) {
            return false;
        }
        let before = self.warning.take();
        self.held = None;
        match hold(&self.place) {
            Ok(Hold::Ours(held)) => self.held = Some(held),
            Ok(Hold::Unlocked(held)) => self.unlocked(held),
            Ok(Hold::Theirs) => {
                self.warning =
                    Some(format!("{} too: end one of the two before you save", self.taken()));
            }
            // Gone or no file any more: whoever reads it is told.
            Err(_) => {}
        }
        before != self.warning
    }

    /// Leaves the plan to others.
    pub(super) fn let_go(&mut self) {
        self.held = None;
    }

    /// The file that is worked on, if its name still leads there.
    fn there(&self) -> Result<Metadata, String> {
        let place = fs::canonicalize(&self.named).map_err(|error| match error.kind() {
            io::ErrorKind::NotFound => "there is no such file any more".to_owned(),
            _ => error.to_string(),
        })?;
        if place != self.place {
            return Err(format!(
                "the name leads to {} now, but the page works on {}",
                place.display(),
                self.place.display()
            ));
        }
        let found = fs::symlink_metadata(&self.place).map_err(|error| error.to_string())?;
        if found.is_file() {
            Ok(found)
        } else {
            Err(format!("it is {} now", word_for(found.file_type())))
        }
    }

    /// Whether the plan's name still leads to a file that could be saved to.
    #[must_use]
    pub fn is_there(&self) -> bool {
        self.there().is_ok()
    }

    /// What the file holds.
    ///
    /// # Errors
    /// [`PlanError`] when it is not there any more, cannot be read or is no text.
    pub fn read(&self) -> Result<Kept, PlanError> {
        let whole = |text| PlanError::whole(&self.named, text);
        self.there().map_err(whole)?;
        let text = open_plain(&self.place).and_then(|file| text_of(&file));
        match text.map_err(|error| whole(format!("the plan cannot be read: {error}")))? {
            Ok(text) => Ok(Kept { text }),
            // Too long or no text: the plan's reader says which, and where.
            Err(NoText::TooLong | NoText::Bytes) => {
                read_source(&self.named).map(|text| Kept { text })
            }
        }
    }

    /// Whether the file still holds that.
    #[must_use]
    pub fn holds(&self, kept: &Kept) -> bool {
        self.read().is_ok_and(|found| found == *kept)
    }

    /// Writes `text` into a new file of this name in the plan's folder and takes that
    /// file, over nothing that is there. The old one stays as it is.
    ///
    /// # Errors
    /// A sentence that says what to do; nothing was written then.
    pub fn write_as(&self, name: &str, text: &str) -> Result<(Self, Kept), String> {
        let name = new_name(name)?;
        let folder = self.folder();
        let failed = |error: io::Error| {
            format!(
                "{name} cannot be written into {}: {error}; nothing was written. Check that the folder may be written to and the disk has room, then save again.",
                folder.display()
            )
        };
        let place = folder.join(&name);
        // The old plan may be gone: that is a reason to save under another name.
        let beside = laid_beside(folder, text, self.there().ok().as_ref()).map_err(failed)?;
        let taken = |error: &io::Error| error.kind() == io::ErrorKind::AlreadyExists;
        let held = match beside.persist_noclobber(&place) {
            Ok(held) => held,
            Err(refused) if taken(&refused.error) || fs::symlink_metadata(&place).is_ok() => {
                return Err(format!(
                    "{name} is there already in {}; nothing was written. Choose another name.",
                    folder.display()
                ));
            }
            // Some file systems cannot rename with that care: the name was free a moment ago.
            Err(refused) => refused.file.persist(&place).map_err(|e| failed(e.error))?,
        };
        delivered_elsewhere();
        on_disk(folder);
        let named = self.named.with_file_name(&name);
        // It was locked before it had the plan's name.
        let file = Self { named, place, held: Some(held), warning: None };
        Ok((file, Kept { text: text.to_owned() }))
    }

    /// Writes `text` beside the file, then puts it in its place with the same
    /// owner and permissions: whoever reads the file meets the old plan or the
    /// new one. Says what else there is to know.
    ///
    /// # Errors
    /// A sentence that says what to do; nothing was written then.
    pub fn write(&mut self, text: &str) -> Result<(Kept, Option<String>), String> {
        let refused = |why: &str, what_to_do: &str| {
            format!(
                "{} cannot be written: {why}; nothing was written. {what_to_do}",
                self.named.display()
            )
        };
        let failed = |error: io::Error| {
            refused(
                &error.to_string(),
                "Check that its folder may be written to and the disk has room, then save again.",
            )
        };
        let old = self.there().map_err(|why| {
            refused(&why, "Put the plan's file back in its place, then save again.")
        })?;
        let read_only = || {
            refused("it is read-only", "Allow writing to it (chmod u+w on it), then save again.")
        };
        if old.permissions().readonly() {
            return Err(read_only());
        }
        open_to_write(&self.place).map_err(|error| match error.kind() {
            io::ErrorKind::PermissionDenied => read_only(),
            _ => failed(error),
        })?;
        let folder = self.folder();
        let beside = laid_beside(folder, text, Some(&old)).map_err(failed)?;
        let held = beside.persist(&self.place).map_err(|e| failed(e.error))?;
        delivered_elsewhere();
        on_disk(folder);
        let note = has_other_names(&old).then(|| {
            format!(
                "Saved. {} had another name on this disk (a hard link): that name still leads to the plan as it was before.",
                self.named.display()
            )
        });
        // It was locked before it had the plan's name.
        self.held = Some(held);
        Ok((Kept { text: text.to_owned() }, note))
    }
}

/// Letters of the longest name of a plan's file.
const LONGEST_NAME: usize = 100;

/// What a new plan's file is called: a plain name that ends as plans do.
fn new_name(typed: &str) -> Result<String, String> {
    let typed = typed.trim();
    let refused = |why: &str| {
        let shown = perchline_units::shown(typed);
        Err(format!(
            "\"{shown}\" {why}; nothing was written. Type a plain name, such as evening.toml: the file goes beside the plan."
        ))
    };
    let stem = typed.strip_suffix(".toml").unwrap_or(typed);
    if stem.is_empty() {
        return refused("is no name of a file");
    }
    // What some system takes for a folder, a drive or a pattern.
    if let Some(letter) = stem.chars().find(|c| c.is_control() || "/\\:*?\"<>|".contains(*c)) {
        return refused(&format!("has {letter:?} in it"));
    }
    if stem.starts_with('.') {
        return refused("begins with a full stop, as hidden files do");
    }
    if stem.ends_with(['.', ' ']) {
        return refused("ends with a full stop or a space before .toml");
    }
    if stem.chars().count() > LONGEST_NAME {
        return refused(&format!("has more than {LONGEST_NAME} letters"));
    }
    Ok(format!("{stem}.toml"))
}

/// Opens a file and locks it; one that was replaced in between is opened again.
fn hold(place: &Path) -> io::Result<Hold> {
    for _ in 0..20 {
        let file = open_plain(place)?;
        match file.try_lock() {
            Err(TryLockError::WouldBlock) if is_at(&file, place) => return Ok(Hold::Theirs),
            Err(TryLockError::WouldBlock) => {}
            Err(TryLockError::Error(_)) => return Ok(Hold::Unlocked(file)),
            Ok(()) if is_at(&file, place) => return Ok(Hold::Ours(file)),
            Ok(()) => {}
        }
    }
    Err(io::Error::other("it is replaced again and again"))
}

/// A hidden file in `folder`, for this owner alone and locked, so that nobody
/// clears it away. It goes when it is dropped.
pub(super) fn beside(folder: &Path) -> io::Result<NamedTempFile> {
    let beside = tempfile::Builder::new().prefix(HIDDEN).tempfile_in(folder)?;
    // Where nothing can be locked nothing is cleared either.
    drop(beside.as_file().lock());
    Ok(beside)
}

/// A text whole on the disk in a hidden file in `folder`, with the owner and the
/// permissions of what it comes after, where there is something.
fn laid_beside(folder: &Path, text: &str, old: Option<&Metadata>) -> io::Result<NamedTempFile> {
    clear_leftovers(folder, folder);
    let mut beside = beside(folder)?;
    beside.write_all(text.as_bytes())?;
    if let Some(old) = old {
        as_before(beside.as_file(), old)?;
    }
    beside.as_file().sync_all()?;
    Ok(beside)
}

/// Puts the names of a folder on the disk, should the power fail, where that can
/// be asked for.
pub(super) fn on_disk(folder: &Path) {
    drop(File::open(folder).and_then(|folder| folder.sync_all()));
}

/// Why a file is no text of a plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum NoText {
    /// It is longer than a plan may be.
    TooLong,
    /// It holds bytes that are no UTF-8.
    Bytes,
}

/// The text in a file, as long as a plan may be at the most.
pub(super) fn text_of(file: &File) -> io::Result<Result<String, NoText>> {
    let mut bytes = Vec::new();
    file.take(MAX_PLAN_BYTES + 1).read_to_end(&mut bytes)?;
    Ok(if bytes.len() as u64 > MAX_PLAN_BYTES {
        Err(NoText::TooLong)
    } else {
        String::from_utf8(bytes).map_err(|_| NoText::Bytes)
    })
}

/// What something is that is no regular file.
pub(super) fn word_for(kind: fs::FileType) -> &'static str {
    if kind.is_dir() {
        return "a folder";
    }
    if kind.is_symlink() {
        return "a link";
    }
    special(kind)
}

#[cfg(unix)]
fn special(kind: fs::FileType) -> &'static str {
    use std::os::unix::fs::FileTypeExt;
    if kind.is_fifo() {
        "a pipe"
    } else if kind.is_socket() {
        "a socket"
    } else {
        "a device"
    }
}

#[cfg(not(unix))]
fn special(_: fs::FileType) -> &'static str {
    "no regular file"
}

/// Opens a regular file to read it, and nothing else: no link is followed, no
/// pipe waited for.
#[cfg(unix)]
pub(super) fn open_plain(path: &Path) -> io::Result<File> {
    open(path, rustix::fs::OFlags::RDONLY)
}

/// The same to write to it.
#[cfg(unix)]
fn open_to_write(path: &Path) -> io::Result<File> {
    open(path, rustix::fs::OFlags::WRONLY)
}

#[cfg(unix)]
fn open(path: &Path, how: rustix::fs::OFlags) -> io::Result<File> {
    use rustix::fs::{Mode, OFlags};
    let plain = |found: &Metadata| match found.file_type() {
        kind if kind.is_file() => Ok(()),
        kind => Err(io::Error::other(format!("it is {}", word_for(kind)))),
    };
    // Opening a device may do something: looked at first, and again once it is open.
    plain(&fs::symlink_metadata(path)?)?;
    let quietly = OFlags::NONBLOCK | OFlags::NOCTTY | OFlags::NOFOLLOW | OFlags::CLOEXEC;
    let file = File::from(rustix::fs::open(path, how | quietly, Mode::empty())?);
    plain(&file.metadata()?)?;
    Ok(file)
}

#[cfg(not(unix))]
pub(super) fn open_plain(path: &Path) -> io::Result<File> {
    File::open(path)
}

#[cfg(not(unix))]
fn open_to_write(path: &Path) -> io::Result<File> {
    fs::OpenOptions::new().append(true).open(path)
}

/// Whether a file is the one that a path leads to.
#[cfg(unix)]
pub(super) fn is_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), fs::symlink_metadata(path)) {
        (Ok(one), Ok(other)) => (one.dev(), one.ino()) == (other.dev(), other.ino()),
        _ => false,
    }
}

#[cfg(not(unix))]
pub(super) fn is_at(_: &File, path: &Path) -> bool {
    path.exists()
}

/// Gives a new file the owner and the permissions of the old one.
fn as_before(file: &File, old: &Metadata) -> io::Result<()> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::{MetadataExt, fchown};
        // Few may give a file away: then it is the writer's, as any new file is.
        drop(
            fchown(file, Some(old.uid()), Some(old.gid()))
                .or_else(|_| fchown(file, None, Some(old.gid()))),
        );
    }
    file.set_permissions(old.permissions())
}

/// Whether a file has more names than one.
#[cfg(unix)]
fn has_other_names(found: &Metadata) -> bool {
    std::os::unix::fs::MetadataExt::nlink(found) > 1
}

#[cfg(not(unix))]
fn has_other_names(_: &Metadata) -> bool {
    false
}
