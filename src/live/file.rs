//! The plan's file under the desk.

use std::fs;
use std::io::Write;
use std::path::Path;

use crate::plan::{PlanError, read_source};
use crate::report::outbox::{HIDDEN, clear_leftovers, delivered_elsewhere};

/// What a file held when it was last read or written here.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Kept {
    /// Its text.
    pub text: String,
}

impl Kept {
    /// Reads a plan's file.
    ///
    /// # Errors
    /// [`PlanError`] when it cannot be read or is no text.
    pub fn read(file: &Path) -> Result<Self, PlanError> {
        Ok(Self { text: read_source(file)? })
    }

    /// Whether the file still holds that.
    #[must_use]
    pub fn still_there(&self, file: &Path) -> bool {
        Self::read(file).is_ok_and(|found| found == *self)
    }
}

/// Writes `text` beside `file`, then puts it in its place with the same
/// permissions: whoever reads the file meets the old plan or the new one.
///
/// # Errors
/// A sentence that says what to do.
pub(super) fn write(file: &Path, text: &str) -> Result<Kept, String> {
    let failed = |error: std::io::Error| {
        format!(
            "{} cannot be written: {error}; the file is as it was. Check that its folder may be written to and the disk has room",
            file.display()
        )
    };
    // A link stays a link: what it points to is replaced.
    let place = fs::canonicalize(file).map_err(failed)?;
    let folder = place.parent().unwrap_or(Path::new("."));
    clear_leftovers(folder, folder);
    let mut beside = tempfile::Builder::new().prefix(HIDDEN).tempfile_in(folder).map_err(failed)?;
    // Where nothing can be locked nothing is cleared either.
    drop(beside.as_file().lock());
    beside.write_all(text.as_bytes()).map_err(failed)?;
    let permissions = fs::metadata(&place).map_err(failed)?.permissions();
    beside.as_file().set_permissions(permissions).map_err(failed)?;
    beside.as_file().sync_all().map_err(failed)?;
    beside.persist(&place).map_err(|e| failed(e.error))?;
    delivered_elsewhere();
    Ok(Kept { text: text.to_owned() })
}
