//! A file that a page sends: kept beside the plan as long as it is read, in a folder
//! of its own that only this process knows.

use std::fmt::Display;
use std::fs;
use std::path::{Path, PathBuf};

use perchline_report::outbox::HIDDEN;
use perchline_units::{printable, shown};
use tempfile::TempDir;

/// The most bytes of a file that a page sends.
pub const MOST_FILE_BYTES: usize = 8 * 1024 * 1024;

/// The path under which files are sent, and what they are sent as.
pub(super) const SENT_TO: &str = "/read";
pub(super) const SENT_AS: &str = "application/octet-stream";

/// How files that are taken end.
const ENDINGS: [&str; 5] = ["gpx", "kml", "geojson", "json", "csv"];

/// A file that was sent, gone with this.
pub(super) struct Upload {
    // Held for as long as the file is of use.
    _folder: TempDir,
    path: PathBuf,
    /// What it is called where it came from.
    pub name: String,
}

impl Upload {
    /// Keeps what was sent in a hidden folder inside `folder`.
    pub fn keep(folder: &Path, name: &str, bytes: &[u8]) -> Result<Self, String> {
        // Some browsers send the whole path.
        let name = printable(name.rsplit(['/', '\\']).next().unwrap_or_default());
        let ending = Path::new(&name).extension().map(|end| end.to_string_lossy().to_lowercase());
        let ending = ENDINGS.iter().find(|known| ending.as_deref() == Some(**known));
        let Some(ending) = ending else {
            return Err(format!(
                "\"{}\" is not a kind of file that is taken: use GPX, KML, GeoJSON, or CSV with columns name, lat and lon",
                shown(&name)
            ));
        };
        if bytes.is_empty() {
            return Err(format!(
                "\"{}\" is empty: save the route or the places again",
                shown(&name)
            ));
        }
        let kept = || {
            let folder = tempfile::Builder::new().prefix(HIDDEN).tempdir_in(folder)?;
            let path = folder.path().join(format!("places.{ending}"));
            fs::write(&path, bytes)?;
            Ok((folder, path))
        };
        let (folder, path) = kept().map_err(|error: std::io::Error| {
            format!(
                "\"{}\" cannot be kept beside the plan while it is read: {error}; check that its folder may be written to",
                shown(&name)
            )
        })?;
        Ok(Self { _folder: folder, path, name })
    }

    /// Where it is.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What went wrong with it, under the name that its owner knows.
    pub fn told(&self, error: impl Display) -> String {
        let own = self.path.display().to_string();
        error.to_string().replace(&own, &format!("\"{}\"", shown(&self.name)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_file_is_kept_alone_and_gone_afterwards() {
        let folder = tempfile::tempdir().unwrap();
        let upload = Upload::keep(folder.path(), "C:\\maps\\Walk.GPX", b"<gpx/>").unwrap();
        assert_eq!(upload.name, "Walk.GPX");
        assert_eq!(fs::read(upload.path()).unwrap(), b"<gpx/>");
        assert!(upload.path().parent().unwrap().parent() == Some(folder.path()));
        let told = upload.told(format!("{}: broken", upload.path().display()));
        assert_eq!(told, "\"Walk.GPX\": broken");
        drop(upload);
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }

    #[test]
    fn other_kinds_and_nothing_at_all_are_refused() {
        let folder = tempfile::tempdir().unwrap();
        for name in ["a.shp", "gpx", "", "../../a.gpx/", "a.gpx\n.exe", ".."] {
            let refused = Upload::keep(folder.path(), name, b"x").err().unwrap();
            assert!(refused.contains("GPX, KML, GeoJSON"), "{refused}");
        }
        let refused = Upload::keep(folder.path(), "a.gpx", b"").err().unwrap();
        assert!(refused.contains("is empty"), "{refused}");
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
    }
}
