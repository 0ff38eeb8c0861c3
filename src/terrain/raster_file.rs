//! Opening a raster that may come from anywhere: by drivers that stay on this
//! disk, and only if it asks for nothing out of proportion.

use std::collections::BTreeMap;
use std::fs::File;
use std::io::Read;
use std::path::{Path, PathBuf};

use gdal::{Dataset, DatasetOptions, GdalOpenFlags};

use super::packed::{self, InMemory};
use super::{TerrainError, ascii_grid, virtual_raster};
use perchline_confine::{self as confine, NotPlain, Overrun, Reading, database, drivers};
use perchline_units::shown;
use perchline_vector::is_special_path;

/// The most that GDAL may have to hold to read a single value, bytes: it reads
/// whole blocks.
const MOST_BLOCK: usize = 300_000_000;

/// The most bands: each takes time, and one is read.
const MOST_BANDS: usize = 256;

/// Why a raster is not opened.
#[derive(Debug)]
pub(super) enum Refused {
    /// Its path is one that GDAL would fetch, unpack or be told by somebody else.
    Special,
    /// The system does not let it be read.
    Missing(std::io::Error),
    /// Not a raster, as GDAL has it.
    NotARaster(String),
    /// One that asks for too much, or for something else, in words.
    Unfit(String),
    /// One that took too long to open.
    Overrun(Overrun),
}

impl Refused {
    /// The error about this file.
    pub(super) fn of(self, file: &Path) -> TerrainError {
        let file = file.to_owned();
        match self {
            Self::Special => TerrainError::Special { file },
            Self::Missing(source) => TerrainError::Missing { file, source },
            Self::NotARaster(reason) => TerrainError::NotARaster { file, reason },
            Self::Unfit(reason) => TerrainError::Unfit { file, reason },
            Self::Overrun(overrun) => TerrainError::Overrun(Box::new(overrun)),
        }
    }
}

/// Formats that are read out of an archive: none that refers to other files, and no
/// text, whose numbers would have to be counted first.
const PACKED: &[&str] = &["DTED", "GTiff", "HFA", "SRTMHGT"];

/// Opens a raster out of an archive, unpacked into memory: the first to be dropped.
pub(super) fn open_packed(archive: &Path, name: &str) -> Result<(Dataset, InMemory), Refused> {
    drivers::ensure();
    confine::plain_file(archive).map_err(|e| Refused::Unfit(e.to_string()))?;
    let reading = Reading::begin(archive, "unpacking it");
    let memory = packed::unpack(archive, name).map_err(Refused::Unfit)?;
    reading.check().map_err(Refused::Overrun)?;
    let options = DatasetOptions {
        open_flags: GdalOpenFlags::GDAL_OF_RASTER | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR,
        allowed_drivers: Some(PACKED),
        sibling_files: Some(&[]),
        ..DatasetOptions::default()
    };
    let dataset = Dataset::open_ex(&memory.path, options)
        .map_err(|e| Refused::NotARaster(shown(&plain(&e))))?;
    reading.check().map_err(Refused::Overrun)?;
    in_proportion(&dataset)?;
    Ok((dataset, memory))
}

/// Opens a raster with one band or more.
pub(super) fn open(file: &Path) -> Result<Dataset, Refused> {
    drivers::ensure();
    if is_special_path(&file.to_string_lossy()) {
        return Err(Refused::Special);
    }
    let reading = Reading::begin(file, "opening it");
    let mut seen = Seen::new();
    check(file, virtual_raster::DEEPEST, &mut seen, &reading)?;
    for (grid, _) in seen.iter().filter(|(_, tree)| tree.is_grid) {
        ascii_grid::check(grid, &reading).map_err(|refused| match grid == file {
            true => refused,
            false => refers_to(grid, refused),
        })?;
    }
    let options = DatasetOptions {
        open_flags: GdalOpenFlags::GDAL_OF_RASTER | GdalOpenFlags::GDAL_OF_VERBOSE_ERROR,
        allowed_drivers: Some(drivers::RASTERS),
        ..DatasetOptions::default()
    };
    let dataset =
        Dataset::open_ex(file, options).map_err(|e| Refused::NotARaster(shown(&plain(&e))))?;
    reading.check().map_err(Refused::Overrun)?;
    in_proportion(&dataset)?;
    Ok(dataset)
}

/// Whether an open raster asks for no more than it may.
fn in_proportion(dataset: &Dataset) -> Result<(), Refused> {
    let bands = dataset.raster_count();
    if bands > MOST_BANDS {
        return Err(Refused::Unfit(format!(
            "it has {bands} bands where one is wanted; keep that one (gdal_translate -b 1)"
        )));
    }
    if let Ok(band) = dataset.rasterband(1) {
        let (columns, rows) = band.block_size();
        let value = usize::from(band.band_type().bytes());
        // Bands may lie side by side in a block.
        if [columns, rows, value, bands].into_iter().fold(1, usize::saturating_mul) > MOST_BLOCK {
            return Err(Refused::Unfit(format!(
                "its values are stored in blocks of {columns} x {rows}, and a whole one must be held to read any; store it in tiles (gdal_translate -co TILED=YES)"
            )));
        }
    }
    Ok(())
}

/// The files that reading a raster leads to: itself, and what a virtual one
/// refers to, as far as they are there.
///
/// Nothing is opened by GDAL; what cannot be read is left out here and told when
/// it is opened.
#[must_use]
pub fn files_of(file: &Path) -> Vec<PathBuf> {
    let mut seen = Seen::new();
    let reading = Reading::begin(file, "looking at what it refers to");
    drop(check(file, virtual_raster::DEEPEST, &mut seen, &reading));
    seen.into_keys().collect()
}

/// What a file comes to with all that it refers to.
#[derive(Debug, Clone, Copy)]
struct Tree {
    /// Files, each as often as it is referred to: so often it is opened.
    files: usize,
    /// How many stand inside each other below it.
    depth: u8,
    /// Whether it is an ASCII grid, whose cells are counted before it is opened.
    is_grid: bool,
}

/// Files that were looked at.
type Seen = BTreeMap<PathBuf, Tree>;

/// Whether a raster, and everything that it refers to up to `deeper` levels down,
/// is a plain file that asks for nothing out of proportion.
fn check(file: &Path, deeper: u8, seen: &mut Seen, reading: &Reading) -> Result<Tree, Refused> {
    reading.check().map_err(Refused::Overrun)?;
    if let Some(known) = seen.get(file).filter(|tree| tree.depth <= deeper) {
        return Ok(*known);
    }
    confine::plain_file(file).map_err(|error| match error {
        // The system's own words are plainer than GDAL's for what it can tell.
        NotPlain::Missing(source) => Refused::Missing(source),
        NotPlain::Kind("a folder") => Refused::NotARaster("it is a folder".to_owned()),
        other => Refused::Unfit(other.to_string()),
    })?;
    let mut head = Vec::new();
    File::open(file)
        .and_then(|opened| opened.take(1024).read_to_end(&mut head))
        .map_err(Refused::Missing)?;
    if database::is_database(&head) {
        return Err(Refused::NotARaster("it is a database".to_owned()));
    }
    let mut tree = Tree { files: 1, depth: 0, is_grid: ascii_grid::is_one(&head) };
    if virtual_raster::is_one(&head) && !tree.is_grid {
        for inner in virtual_raster::sources(file).map_err(Refused::Unfit)? {
            let Some(deeper) = deeper.checked_sub(1) else {
                return Err(Refused::Unfit(
                    "virtual rasters inside each other, too many or in a circle".to_owned(),
                ));
            };
            // One that is missing is told by GDAL, if the plan needs that part of it.
            if std::fs::metadata(&inner).is_err() {
                continue;
            }
            let below = check(&inner, deeper, seen, reading)
                .map_err(|refused| refers_to(&inner, refused))?;
            tree.files = tree.files.saturating_add(below.files);
            tree.depth = tree.depth.max(below.depth + 1);
            if tree.files > virtual_raster::MOST_SOURCES {
                return Err(Refused::Unfit(format!(
                    "a virtual raster of more than {} files, those in others counted",
                    virtual_raster::MOST_SOURCES
                )));
            }
        }
    }
    seen.insert(file.to_owned(), tree);
    Ok(tree)
}

/// The same about a file that another refers to.
fn refers_to(inner: &Path, refused: Refused) -> Refused {
    let reason = match refused {
        Refused::Special => "no file on this disk".to_owned(),
        Refused::Missing(error) => error.to_string(),
        Refused::NotARaster(reason) => reason,
        Refused::Unfit(reason) if reason.starts_with(REFERS) => return Refused::Unfit(reason),
        Refused::Unfit(reason) => reason,
        overrun @ Refused::Overrun(_) => return overrun,
    };
    Refused::Unfit(format!("{REFERS} {}: {reason}", shown(&inner.to_string_lossy())))
}

/// How the reason begins where it is about a file that another refers to.
const REFERS: &str = "a virtual raster that refers to";

/// GDAL's message without its class and number.
fn plain(error: &gdal::errors::GdalError) -> String {
    match error {
        gdal::errors::GdalError::CplError { msg, .. }
        | gdal::errors::GdalError::NullPointer { msg, .. }
            if !msg.trim().is_empty() =>
        {
            msg.trim().to_owned()
        }
        other => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use gdal::raster::RasterCreationOptions;

    use super::*;

    /// A raster of bytes, of which nothing is stored, with these options.
    fn made(file: &Path, columns: usize, rows: usize, bands: usize, options: &[&str]) {
        drivers::ensure();
        let driver = gdal::DriverManager::get_driver_by_name("GTiff").unwrap();
        let options = RasterCreationOptions::from_iter(options.iter().copied());
        driver
            .create_with_band_type_with_options::<u8, _>(file, columns, rows, bands, &options)
            .unwrap()
            .close()
            .unwrap();
    }

    fn said(file: &Path) -> Result<(), String> {
        open(file).map(drop).map_err(|refused| match refused {
            Refused::Unfit(reason) | Refused::NotARaster(reason) => reason,
            other => format!("{other:?}"),
        })
    }

    #[test]
    fn so_many_bands_are_read_and_no_more() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.tif");
        let sparse = ["SPARSE_OK=TRUE"];
        made(&file, 4, 4, MOST_BANDS, &sparse);
        assert_eq!(said(&file), Ok(()));
        made(&file, 4, 4, MOST_BANDS + 1, &sparse);
        assert!(said(&file).unwrap_err().contains("257 bands"));
    }

    #[test]
    fn a_block_is_so_large_and_no_larger() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("a.tif");
        let (columns, rows) = (30_000, 10_000);
        assert_eq!(columns * rows, MOST_BLOCK);
        // Two blocks: of a single one the library makes lines.
        made(&file, columns, 2 * rows, 1, &["SPARSE_OK=TRUE", "BLOCKYSIZE=10000"]);
        assert_eq!(said(&file), Ok(()));
        made(&file, columns, 2 * rows, 1, &["SPARSE_OK=TRUE", "BLOCKYSIZE=10001"]);
        assert!(said(&file).unwrap_err().contains("blocks of 30000 x 10001"));
        // Bands side by side count.
        made(
            &file,
            columns,
            2 * rows,
            2,
            &["SPARSE_OK=TRUE", "BLOCKYSIZE=10000", "INTERLEAVE=PIXEL"],
        );
        assert!(said(&file).unwrap_err().contains("blocks of 30000 x 10000"));
    }

    /// A virtual raster that names each of these once.
    fn mosaic(file: &Path, names: impl Iterator<Item = String>) {
        let sources: String = names
            .map(|name| format!("<SimpleSource><SourceFilename relativeToVRT=\"1\">{name}</SourceFilename></SimpleSource>"))
            .collect();
        let text = format!(
            "<VRTDataset rasterXSize=\"4\" rasterYSize=\"4\"><VRTRasterBand dataType=\"Byte\" band=\"1\">{sources}</VRTRasterBand></VRTDataset>"
        );
        std::fs::write(file, text).unwrap();
    }

    /// What looking at a file and at all below it comes to.
    fn tree(file: &Path) -> Result<(usize, u8), String> {
        let reading = Reading::begin(file, "opening it");
        match check(file, virtual_raster::DEEPEST, &mut Seen::new(), &reading) {
            Ok(tree) => Ok((tree.files, tree.depth)),
            Err(Refused::Unfit(reason)) => Err(reason),
            Err(other) => Err(format!("{other:?}")),
        }
    }

    #[test]
    fn virtual_rasters_hold_so_many_files_and_no_more() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        made(&at("a.tif"), 4, 4, 1, &[]);
        // A name counts once, so each file has many.
        let links = |count: usize, of: &str| -> Vec<String> {
            let names: Vec<_> = (0..count).map(|n| format!("{n}-{of}")).collect();
            names.iter().for_each(|name| std::fs::hard_link(at(of), at(name)).unwrap());
            names
        };
        let plain = links(200, "a.tif");
        // 200 of 98, each of them and the outermost counted, and 199 beside them: 20,000.
        mosaic(&at("inner.vrt"), plain.iter().take(98).cloned());
        let inner = links(200, "inner.vrt");
        mosaic(&at("outer.vrt"), inner.iter().chain(plain.iter().take(199)).cloned());
        assert_eq!(tree(&at("outer.vrt")), Ok((virtual_raster::MOST_SOURCES, 2)));
        mosaic(&at("outer.vrt"), inner.iter().chain(&plain).cloned());
        assert!(tree(&at("outer.vrt")).unwrap_err().contains("more than 20000 files"));
    }

    #[test]
    fn virtual_rasters_stand_so_deep_inside_each_other_and_no_deeper() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        made(&at("0.vrt.tif"), 4, 4, 1, &[]);
        mosaic(&at("1.vrt"), std::iter::once("0.vrt.tif".to_owned()));
        for level in 2..=virtual_raster::DEEPEST + 1 {
            mosaic(&at(&format!("{level}.vrt")), std::iter::once(format!("{}.vrt", level - 1)));
        }
        let deepest = virtual_raster::DEEPEST;
        assert_eq!(tree(&at(&format!("{deepest}.vrt"))), Ok((usize::from(deepest) + 1, deepest)));
        let refused = tree(&at(&format!("{}.vrt", deepest + 1))).unwrap_err();
        assert!(refused.contains("inside each other"), "{refused}");
        // One that was looked at high up is looked at again further down.
        let both = [deepest.to_string() + ".vrt", format!("{}.vrt", deepest - 1)];
        mosaic(&at("wide.vrt"), both.into_iter().rev());
        assert!(tree(&at("wide.vrt")).unwrap_err().contains("inside each other"));
    }

    #[test]
    fn what_a_raster_leads_to_is_listed() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        made(&at("a.tif"), 4, 4, 1, &[]);
        mosaic(&at("b.vrt"), ["a.tif", "absent.tif"].into_iter().map(str::to_owned));
        assert_eq!(files_of(&at("b.vrt")), [at("a.tif"), at("b.vrt")]);
        assert!(files_of(&at("absent.tif")).is_empty());
    }

    #[test]
    fn refusals_name_what_is_wrong_in_plain_words() {
        let folder = tempfile::tempdir().unwrap();
        let at = |name: &str| folder.path().join(name);
        std::fs::write(at("notes.txt"), "the keys are with the caretaker").unwrap();
        let reason = said(&at("notes.txt")).unwrap_err();
        assert!(reason.contains("not recognized") && !reason.contains("CPL error"), "{reason}");
        // A grid of which a part is missing, by itself and behind two others.
        let head = "ncols 2\nnrows 2\nxllcorner 0\nyllcorner 0\ncellsize 1\n";
        std::fs::write(at("cut.asc"), format!("{head}1 2 3")).unwrap();
        let reason = said(&at("cut.asc")).unwrap_err();
        assert!(reason.starts_with("an ASCII grid that cannot be read"), "{reason}");
        mosaic(&at("inner.vrt"), std::iter::once("cut.asc".to_owned()));
        mosaic(&at("outer.vrt"), std::iter::once("inner.vrt".to_owned()));
        let reason = said(&at("outer.vrt")).unwrap_err();
        assert!(reason.starts_with(REFERS) && reason.contains("after 3 of its 4"), "{reason}");
        // What refers to what is told once, and names the last.
        std::fs::create_dir(at("folder.tif")).unwrap();
        mosaic(&at("inner.vrt"), std::iter::once("folder.tif".to_owned()));
        let reason = said(&at("outer.vrt")).unwrap_err();
        assert_eq!(reason.matches(REFERS).count(), 1, "{reason}");
        assert!(reason.contains("folder.tif: it is a folder"), "{reason}");
    }
}
