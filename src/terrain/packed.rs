//! A raster inside an archive (zip), unpacked into memory under a name of its own:
//! nothing lies beside it there, and the archive's other files are never opened.

use std::fs::File;
use std::io::{BufReader, Read};
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};

use perchline_units::shown;

/// The most bytes that one raster may unpack to, and the most files of an archive.
const MOST_UNPACKED: u64 = 256 << 20;
const MOST_FILES: usize = 1000;

/// A file in memory, as GDAL names those; gone when dropped.
#[derive(Debug)]
pub(super) struct InMemory {
    pub(super) path: PathBuf,
    /// How many bytes it holds.
    pub(super) bytes: u64,
}

impl Drop for InMemory {
    fn drop(&mut self) {
        // One that is not there is gone already.
        let _ = gdal::vsi::unlink_mem_file(&self.path);
    }
}

/// The names of an archive's files.
///
/// # Errors
/// Why it is not read, in words.
pub(super) fn names(archive: &Path) -> Result<Vec<String>, String> {
    let archive = open(archive)?;
    Ok(archive.file_names().map(str::to_owned).collect())
}

/// Unpacks one file of an archive.
///
/// # Errors
/// Why it is not read, in words.
pub(super) fn unpack(archive: &Path, name: &str) -> Result<InMemory, String> {
    static NUMBER: AtomicU64 = AtomicU64::new(0);
    let mut archive = open(archive)?;
    let packed = archive.by_name(name).map_err(|e| unreadable(&e))?;
    let mut bytes = Vec::new();
    // What the archive says of itself may be wrong: it is counted.
    packed.take(MOST_UNPACKED + 1).read_to_end(&mut bytes).map_err(|e| unreadable(&e))?;
    let length = bytes.len() as u64;
    if length > MOST_UNPACKED {
        return Err(format!(
            "{} in it unpacks to more than {} MB; unpack it yourself",
            shown(name),
            MOST_UNPACKED >> 20
        ));
    }
    // Formats that say in their name where they lie have to keep it.
    let own = Path::new(name).file_name().unwrap_or_default();
    let number = NUMBER.fetch_add(1, Ordering::Relaxed);
    let path = Path::new("/vsimem/packed").join(number.to_string()).join(own);
    gdal::vsi::create_mem_file(&path, bytes).map_err(|e| e.to_string())?;
    Ok(InMemory { path, bytes: length })
}

fn open(archive: &Path) -> Result<zip::ZipArchive<BufReader<File>>, String> {
    let file = File::open(archive).map_err(|e| e.to_string())?;
    let archive = zip::ZipArchive::new(BufReader::new(file)).map_err(|e| unreadable(&e))?;
    if archive.len() > MOST_FILES {
        return Err(format!(
            "it is an archive of {} files; at most {MOST_FILES} are read",
            archive.len()
        ));
    }
    Ok(archive)
}

fn unreadable(error: &impl ToString) -> String {
    format!("it is an archive that cannot be read ({})", shown(&error.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn packed(folder: &Path, files: &[(&str, usize)]) -> PathBuf {
        let archive = folder.join("a.zip");
        let mut writer = zip::ZipWriter::new(File::create(&archive).unwrap());
        for (name, length) in files {
            writer.start_file(*name, zip::write::SimpleFileOptions::default()).unwrap();
            std::io::Write::write_all(&mut writer, &vec![b' '; *length]).unwrap();
        }
        writer.finish().unwrap();
        archive
    }

    #[test]
    fn one_file_is_unpacked_and_gone_when_dropped() {
        let folder = tempfile::tempdir().unwrap();
        let archive = packed(folder.path(), &[("tiles/N46W035.hgt", 18), ("readme.txt", 4)]);
        assert_eq!(names(&archive).unwrap().len(), 2);
        let first = unpack(&archive, "tiles/N46W035.hgt").unwrap();
        let second = unpack(&archive, "tiles/N46W035.hgt").unwrap();
        assert_eq!(first.bytes, 18);
        assert!(first.path.ends_with("N46W035.hgt") && first.path != second.path);
        let path = first.path.clone();
        drop(first);
        assert!(gdal::vsi::get_vsi_mem_file_bytes_owned(&path).is_err());
    }

    #[test]
    fn a_file_unpacks_to_so_much_and_no_more() {
        let folder = tempfile::tempdir().unwrap();
        let most = MOST_UNPACKED as usize;
        let archive = packed(folder.path(), &[("a.tif", most), ("b.tif", most + 1)]);
        assert_eq!(unpack(&archive, "a.tif").unwrap().bytes, MOST_UNPACKED);
        let refused = unpack(&archive, "b.tif").unwrap_err();
        assert!(refused.contains("b.tif in it unpacks to more than 256 MB"), "{refused}");
    }

    #[test]
    fn what_is_no_archive_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.zip");
        std::fs::write(&file, "PK and nothing").unwrap();
        assert!(names(&file).unwrap_err().contains("cannot be read"));
        let many: Vec<String> = (0..=MOST_FILES).map(|n| n.to_string()).collect();
        let many: Vec<_> = many.iter().map(|name| (name.as_str(), 0)).collect();
        assert!(names(&packed(folder.path(), &many)).unwrap_err().contains("at most 1000"));
        assert!(names(&packed(folder.path(), &many[1..])).is_ok());
    }
}
