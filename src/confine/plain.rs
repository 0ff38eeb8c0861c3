//! Plain files: nothing that would be waited for, never ends, or makes the
//! library that reads it look at something else.

use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

use super::markup;

/// Why a file is not read.
#[derive(Debug, thiserror::Error)]
pub enum NotPlain {
    /// The system does not let it be read.
    #[error("it cannot be read: {0}")]
    Missing(#[source] io::Error),
    /// It is no file.
    #[error("it is {0}")]
    Kind(&'static str),
    /// Something that would be read with it cannot be.
    #[error("beside it lies {name}, {what}; move that away")]
    Beside {
        /// The name of what lies there.
        name: String,
        /// What is wrong with it, in words.
        what: String,
    },
}

/// What is read along with a file by its name, and the most bytes that such a
/// file has: text of a few lines, or a description.
const SIDE_FILES: &[(&str, u64)] = &[
    (".aux.xml", 16 << 20),
    (".cpg", 1 << 10),
    (".csvt", 1 << 16),
    (".prj", 1 << 16),
    (".hdr", 1 << 20),
    (".clr", 1 << 20),
    (".stx", 1 << 20),
    (".wld", 1 << 12),
    (".tfw", 1 << 12),
    (".qpj", 1 << 16),
    (".gfs", 1 << 20),
];

/// Side files that are rasters themselves: masks, overviews, statistics. Only of
/// the format that writes them by itself, and how that begins.
const RASTERS: &[(&str, &[&[u8]])] = &[
    (".msk", &[b"II*\0", b"MM\0*", b"II+\0", b"MM\0+"]),
    (".ovr", &[b"II*\0", b"MM\0*", b"II+\0", b"MM\0+", b"EHFA_HEADER_TAG"]),
    (".aux", &[b"EHFA_HEADER_TAG"]),
    (".rrd", &[b"EHFA_HEADER_TAG"]),
];

/// Whether something is a file, with nothing beside it that would be read along
/// and is none, or is too large, or leads elsewhere.
///
/// # Errors
/// [`NotPlain`] says what stands against it.
pub fn plain_file(path: &Path) -> Result<(), NotPlain> {
    let found = fs::metadata(path).map_err(NotPlain::Missing)?;
    if let Some(kind) = other_than_file(&found) {
        return Err(NotPlain::Kind(kind));
    }
    let folder = path.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let own = path.file_name().unwrap_or_default().to_string_lossy().to_lowercase();
    let stem = path.file_stem().unwrap_or_default().to_string_lossy().to_lowercase() + ".";
    let entries = fs::read_dir(folder).map_err(NotPlain::Missing)?;
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        let lower = name.to_lowercase();
        if lower == own || !lower.starts_with(&stem) {
            continue;
        }
        if let Some(what) = against_side_file(&entry.path(), &lower) {
            return Err(NotPlain::Beside { name, what });
        }
    }
    Ok(())
}

/// What something is that is no file.
fn other_than_file(found: &fs::Metadata) -> Option<&'static str> {
    match (found.is_file(), found.is_dir()) {
        (true, _) => None,
        (_, true) => Some("a folder"),
        // It would be waited for, or never end.
        _ => Some("neither a file nor a folder: a pipe or a device"),
    }
}

/// What stands against a file that may be read along, its name in small letters.
fn against_side_file(path: &Path, name: &str) -> Option<String> {
    // What cannot be looked at cannot be opened either.
    let found = fs::metadata(path).ok()?;
    if found.is_dir() {
        return None;
    }
    if let Some(kind) = other_than_file(&found) {
        return Some(format!("which is {kind}, and would be read along"));
    }
    let most = SIDE_FILES.iter().find(|(end, _)| name.ends_with(end)).map(|(_, most)| *most);
    if let Some(most) = most.filter(|most| found.len() > *most) {
        return Some(format!(
            "which has {} bytes where a file of its kind has at most {most}",
            found.len()
        ));
    }
    if let Some((_, begins)) = RASTERS.iter().find(|(end, _)| name.ends_with(end)) {
        let mut head = [0u8; 16];
        let read = File::open(path).and_then(|mut file| file.read(&mut head)).unwrap_or(0);
        let head = head.get(..read).unwrap_or_default();
        // An empty one is no raster, and is passed over.
        let known = head.is_empty() || begins.iter().any(|begin| head.starts_with(begin));
        return (!known).then(|| "which is not of the format that its name says".to_owned());
    }
    if name.ends_with(".aux.xml") {
        let text = fs::read(path).ok()?;
        if let Err(what) = markup::check(&text) {
            return Some(format!("which {what}"));
        }
        // Overviews that lie elsewhere, under any name.
        let leads = text.windows(b"OVERVIEW_FILE".len()).any(|word| word == b"OVERVIEW_FILE");
        return leads.then(|| "which refers to another file".to_owned());
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_side_file_is_read_and_one_byte_more_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.asc");
        fs::write(&file, "x").unwrap();
        for (end, most) in SIDE_FILES.iter().filter(|(_, most)| *most < 1 << 21) {
            let side = folder.path().join(format!("A{end}"));
            fs::write(&side, vec![b' '; *most as usize]).unwrap();
            plain_file(&file).unwrap_or_else(|e| panic!("{end}: {e}"));
            fs::write(&side, vec![b' '; *most as usize + 1]).unwrap();
            let error = plain_file(&file).unwrap_err().to_string();
            assert!(error.contains(&format!("A{end}")), "{error}");
            fs::remove_file(&side).unwrap();
        }
    }

    /// The sizes that docs/trust.md promises, typed a second time.
    #[test]
    fn side_files_have_the_sizes_that_were_promised() {
        let most: Vec<u64> = SIDE_FILES.iter().map(|(_, most)| *most).collect();
        let kilobyte = 1024;
        let promised =
            [16_384, 1, 64, 64, 1024, 1024, 1024, 4, 4, 64, 1024].map(|size| size * kilobyte);
        assert_eq!(most, promised);
    }

    #[test]
    fn what_lies_beside_is_looked_at_and_nothing_else() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.tif");
        fs::write(&file, "x").unwrap();
        fs::write(folder.path().join("ab.msk"), "<VRTDataset/>").unwrap();
        fs::create_dir(folder.path().join("a.folder")).unwrap();
        fs::write(folder.path().join("a.tif.ovr"), "").unwrap();
        fs::write(folder.path().join("a.aux.xml"), "<PAMDataset><SRS/></PAMDataset>").unwrap();
        plain_file(&file).unwrap();
        for (name, content) in [
            ("a.tif.msk", "<VRTDataset/>"),
            ("a.msk", "<MRF_META/>"),
            ("a.rrd", "II*\0"),
            ("a.tif.aux.xml", "<!DOCTYPE a><PAMDataset/>"),
            ("a.tif.aux.xml", "<PAMDataset><MDI key=\"OVERVIEW_FILE\">b</MDI></PAMDataset>"),
        ] {
            let side = folder.path().join(name);
            fs::write(&side, content).unwrap();
            let error = plain_file(&file).unwrap_err().to_string();
            assert!(error.contains(name), "{error}");
            fs::remove_file(side).unwrap();
        }
        assert!(matches!(plain_file(folder.path()), Err(NotPlain::Kind("a folder"))));
        assert!(matches!(plain_file(&folder.path().join("none")), Err(NotPlain::Missing(_))));
    }
}
