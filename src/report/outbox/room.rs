//! What a disk says, in words, and whether it has room.

use std::io::{self, ErrorKind, Write};
use std::path::Path;

use serde::Serialize;

/// What is written to find out whether anything still can be.
const PROBE: usize = 64 * 1024;

/// Why something could not be written, for who is at the machine.
#[must_use]
pub fn in_words(error: &io::Error) -> String {
    let words = match error.kind() {
        ErrorKind::StorageFull => "there is no room left on the disk",
        ErrorKind::QuotaExceeded => "your share of the disk is used up",
        ErrorKind::ReadOnlyFilesystem => "the disk is mounted so that it can only be read",
        ErrorKind::PermissionDenied => "you may not write there",
        ErrorKind::NotADirectory => "a part of the path is a file, not a folder",
        ErrorKind::IsADirectory => "a folder of this name is in the way",
        ErrorKind::NotFound => "there is no such folder",
        ErrorKind::FileTooLarge => "the disk takes no file that large",
        ErrorKind::InvalidFilename => "the disk takes no such name",
        _ => return error.to_string(),
    };
    words.to_owned()
}

/// Writes a value as JSON that people can read, with a line's end after it.
///
/// # Errors
/// What the writer says, or that the value has no form in JSON.
pub fn write_json(mut to: impl Write, value: &impl Serialize) -> io::Result<()> {
    serde_json::to_writer_pretty(&mut to, value)?;
    to.write_all(b"\n")
}

/// Whether a file in this folder still finds room.
pub(super) fn probe(folder: &Path) -> io::Result<()> {
    let mut file = tempfile::NamedTempFile::new_in(folder)?;
    file.write_all(&[1; PROBE])
}
