//! What the search for spots goes by.

use std::path::PathBuf;

/// Lines that one can drive on.
#[derive(Debug, Clone, PartialEq)]
pub struct Roads {
    /// The file that they are from.
    pub file: PathBuf,
    /// The lines in longitude and latitude, one or more.
    pub lines: Vec<geo::LineString>,
}
