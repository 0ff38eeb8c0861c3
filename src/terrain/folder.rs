//! A folder of elevation: the rasters in it that the plan needs, and what is
//! missing.

use std::fs;
use std::path::{Path, PathBuf};

use super::packed;
use super::raster_file::files_of;
use super::tile::{Tile, remark};
use super::tile_names::{MissingTiles, TileSquare};
use super::{Extent, TerrainError};
use perchline_plan::{Remark, TerrainInputs};
use perchline_units::{Degrees, Position, listed};

/// How files end that may be elevation.
const ENDINGS: &[&str] =
    &["asc", "bil", "dt0", "dt1", "dt2", "hgt", "img", "tif", "tiff", "vrt", "xyz", "zip"];

/// The same inside an archive.
const PACKED_ENDINGS: &[&str] = &["dt0", "dt1", "dt2", "hgt", "img", "tif", "tiff"];

/// The most files that are looked at, and how many folders stand inside each other.
const MOST_FILES: usize = 20_000;
const DEEPEST: u8 = 4;

/// The most bytes of archives that are held unpacked.
const MOST_HELD: u64 = 1 << 30;

/// Points along each side of a square by which is told whether anything covers it.
const SAMPLED: u32 = 8;

/// Files that an error or a remark names.
const MOST_NAMED: usize = 10;

/// Whether an entry of the plan's elevation is looked through for rasters: a
/// folder, there or not, or an archive.
pub(super) fn is_one(path: &Path) -> bool {
    path.is_dir() || path.to_string_lossy().ends_with('/') || is_archive(path)
}

/// Whether a file ends as elevation does.
#[must_use]
pub fn may_be_elevation(path: &Path) -> bool {
    path.is_file() && ends_so(path, ENDINGS)
}

/// What reading an entry of the plan's elevation leads to outside a folder of
/// that name: the file itself and what it refers to, or what the rasters of a
/// folder refer to.
///
/// Nothing is opened by GDAL; what cannot be read is left out here and told when
/// it is opened.
#[must_use]
pub fn files_within(path: &Path) -> Vec<PathBuf> {
    if !path.is_dir() {
        return files_of(path);
    }
    let mut list = List::default();
    list.gather(path, DEEPEST);
    let elsewhere = |file: &PathBuf| file.is_symlink() || !file.starts_with(path);
    let files = list.files.iter().filter(|file| !is_archive(file));
    files.flat_map(|file| files_of(file)).filter(elsewhere).collect()
}

/// The rectangle around an elevation file, or around all in a folder; `None` where
/// PROJ cannot place it, or a folder holds none.
///
/// # Errors
/// [`TerrainError`] names the file and what to do about it.
pub fn covered_by(path: &Path) -> Result<Option<Extent>, TerrainError> {
    let inputs = TerrainInputs {
        files: Vec::new(),
        height_unit: None,
        crs: None,
        fill_gaps: false,
        cell: None,
    };
    let tiles = if is_one(path) {
        let at = |latitude, longitude| {
            Position::new(Degrees::new(latitude), Degrees::new(longitude))
                .map_err(|e| TerrainError::Projection { reason: e.to_string() })
        };
        let earth = Extent { south_west: at(-90.0, -180.0)?, north_east: at(90.0, 180.0)? };
        search(path, &inputs, earth)?.tiles
    } else {
        vec![Tile::open(path, &inputs)?]
    };
    Ok(tiles.iter().filter_map(|tile| tile.grid.bounds().ok()).reduce(Extent::union))
}

/// What was found in a folder.
pub(super) struct Found {
    folder: PathBuf,
    /// Rasters that touch the place, the finest first.
    pub tiles: Vec<Tile>,
    /// What is wrong with those that may be needed and cannot be read.
    broken: Vec<String>,
    /// What is no elevation, with why.
    others: Vec<String>,
    /// Rasters that lie elsewhere, and the rectangle around those of which that is
    /// known.
    elsewhere: (usize, Option<Extent>),
}

/// Files of a folder.
#[derive(Default)]
struct List {
    files: Vec<PathBuf>,
    too_many: bool,
}

impl List {
    fn gather(&mut self, folder: &Path, deeper: u8) {
        let Ok(entries) = fs::read_dir(folder) else { return };
        let mut paths: Vec<_> = entries.flatten().map(|entry| entry.path()).collect();
        paths.sort();
        for path in paths {
            let hidden = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.'));
            // A link to a folder may lead round in a circle.
            if path.is_dir() && !path.is_symlink() && !hidden && deeper > 0 {
                self.gather(&path, deeper - 1);
            } else if path.is_file() && !hidden && ends_so(&path, ENDINGS) {
                self.too_many |= self.files.len() >= MOST_FILES;
                if self.too_many {
                    return;
                }
                self.files.push(path);
            }
        }
    }
}

/// The rasters of a folder, or of an archive, that touch `extent`.
pub(super) fn search(
    folder: &Path,
    inputs: &TerrainInputs,
    extent: Extent,
) -> Result<Found, TerrainError> {
    let wrong = |reason: String| TerrainError::Folder { folder: folder.to_owned(), reason };
    if !folder.exists() {
        return Err(wrong(format!(
            "there is no such folder; make it and put elevation of the place into it: {}",
            wanted(&MissingTiles::of(extent))
        )));
    }
    let mut list = List::default();
    if folder.is_dir() {
        fs::read_dir(folder).map_err(|e| wrong(format!("it cannot be read: {e}")))?;
        list.gather(folder, DEEPEST);
    } else {
        list.files.push(folder.to_owned());
    }
    if list.too_many {
        return Err(wrong(format!(
            "it holds more than {MOST_FILES} files that may be elevation; name the folder of this place alone, or a VRT of them (gdalbuildvrt)"
        )));
    }
    let mut found = Found {
        folder: folder.to_owned(),
        tiles: Vec::new(),
        broken: Vec::new(),
        others: Vec::new(),
        elsewhere: (0, None),
    };
    for file in &list.files {
        if is_archive(file) {
            found.take_archive(file, inputs, extent);
        } else if lies_elsewhere(file, extent) {
            found.elsewhere.0 += 1;
        } else {
            found.take(Tile::open(file, inputs), extent);
        }
    }
    let held: u64 = found.tiles.iter().map(Tile::held_bytes).sum();
    if held > MOST_HELD {
        return Err(wrong(format!(
            "its archives unpack to {} MB here, more than the {} that are held; unpack them",
            held >> 20,
            MOST_HELD >> 20
        )));
    }
    found.tiles.sort_by_cached_key(|tile| (fineness(tile), tile.file.clone()));
    Ok(found)
}

impl Found {
    fn take_archive(&mut self, archive: &Path, inputs: &TerrainInputs, extent: Extent) {
        let names = match packed::names(archive) {
            Ok(names) => names,
            Err(reason) => {
                self.broken.push(format!("{}: {reason}", archive.display()));
                return;
            }
        };
        let mut any = false;
        for name in names.iter().filter(|name| ends_so(Path::new(name), PACKED_ENDINGS)) {
            any = true;
            if lies_elsewhere(Path::new(name), extent) {
                self.elsewhere.0 += 1;
            } else {
                self.take(Tile::open_packed(archive, name, inputs), extent);
            }
        }
        if !any {
            let text = "an archive without elevation that is read out of one (GeoTIFF, HGT, DTED, IMG); unpack others";
            self.others.push(format!("{}: {text}", archive.display()));
        }
    }

    fn take(&mut self, opened: Result<Tile, TerrainError>, extent: Extent) {
        let tile = match opened {
            Ok(tile) => tile,
            Err(error @ TerrainError::BadBand { .. }) => {
                return self.others.push(error.to_string());
            }
            Err(error) => return self.broken.push(error.to_string()),
        };
        if tile.is_of_bytes() {
            let text = "its values are whole numbers up to 255, as those of pictures and classes are; name the file itself in [terrain] files if they are heights";
            return self.others.push(format!("{}: {text}", tile.file.display()));
        }
        match tile.grid.bounds() {
            Ok(bounds) if !bounds.touches(extent) => {
                let (count, around) = &mut self.elsewhere;
                *count += 1;
                *around = Some(around.map_or(bounds, |around| around.union(bounds)));
            }
            // One that PROJ cannot place as a whole may lie anywhere.
            _ => self.tiles.push(tile),
        }
    }
}

/// What the folders of a plan come to with all its tiles: remarks, and the squares
/// of which something is missing.
pub(super) fn settle(
    folders: &[Found],
    tiles: &[Tile],
    extent: Extent,
) -> Result<(Vec<Remark>, Option<MissingTiles>), TerrainError> {
    let Some(first) = folders.first() else { return Ok((Vec::new(), None)) };
    let bounds: Vec<Extent> = tiles.iter().filter_map(|tile| tile.grid.bounds().ok()).collect();
    let placeless = bounds.len() < tiles.len();
    let is_covered = |square: &TileSquare| placeless || covered(square.part_of(extent), &bounds);
    let missing: Vec<_> = TileSquare::of(extent).into_iter().filter(|s| !is_covered(s)).collect();
    let missing = MissingTiles { squares: missing, extent };
    let broken: Vec<String> = folders.iter().flat_map(|f| f.broken.iter().cloned()).collect();
    let wrong = |reason: String| TerrainError::Folder { folder: first.folder.clone(), reason };
    if !broken.is_empty() && !missing.squares.is_empty() {
        return Err(wrong(format!(
            "elevation is missing at {extent}, and these cannot be read: {}. Get them again, or take them away to work without",
            some_of(&broken)
        )));
    }
    if tiles.is_empty() {
        return Err(wrong(first.nothing(extent, &missing)));
    }
    let mut remarks = Vec::new();
    for folder in folders {
        let mut say = |text: String| remarks.push(remark(&folder.folder, text));
        if folder.elsewhere.0 > 0 {
            say(format!("{} rasters in it lie elsewhere and are passed over", folder.elsewhere.0));
        }
        if !folder.others.is_empty() {
            say(format!("passed over: {}", some_of(&folder.others)));
        }
        if !folder.broken.is_empty() {
            say(format!(
                "cannot be read, and are not needed, for the others cover the map: {}",
                some_of(&folder.broken)
            ));
        }
    }
    if !missing.squares.is_empty() {
        let text =
            format!("elevation of a part of the map is missing; it is in {}", wanted(&missing));
        remarks.push(remark(&first.folder, text));
    }
    Ok((remarks, (!missing.squares.is_empty()).then_some(missing)))
}

impl Found {
    /// What is told where no raster of it touches the plan's place.
    fn nothing(&self, extent: Extent, missing: &MissingTiles) -> String {
        let found = match self.elsewhere {
            (0, _) if self.others.is_empty() => "it holds no elevation".to_owned(),
            (0, _) => format!("it holds no elevation ({})", some_of(&self.others)),
            (count, Some(around)) => {
                format!("its elevation is of another place: {count} rasters at {around}")
            }
            (count, None) => format!(
                "its elevation is of another place, as the names of its {count} rasters say"
            ),
        };
        format!("{found}; the plan is at {extent} and needs {}", wanted(missing))
    }
}

/// Names of tiles, and where they are told of.
fn wanted(missing: &MissingTiles) -> String {
    format!("{missing} (as open sets name it; docs/data.md says who publishes it)")
}

/// Whether rectangles cover all of a part of a square that is asked about.
fn covered([south, north, west, east]: [f64; 4], bounds: &[Extent]) -> bool {
    let along = |low: f64, high: f64| {
        (0..=SAMPLED).map(move |n| low + (high - low) * f64::from(n) / f64::from(SAMPLED))
    };
    along(south, north).all(|latitude| {
        along(west, east).all(|longitude| {
            let at = Position::new(Degrees::new(latitude), Degrees::new(longitude));
            at.is_ok_and(|at| bounds.iter().any(|bounds| bounds.contains(at)))
        })
    })
}

/// Whether a file's name says that it lies nowhere near.
fn lies_elsewhere(file: &Path, extent: Extent) -> bool {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    TileSquare::named(&stem).is_some_and(|square| !square.may_touch(extent))
}

/// How fine a file's cells are, in steps of half again: files of one set share a step.
fn fineness(tile: &Tile) -> i64 {
    let side = tile.grid.cell_size().map_or(f64::MAX, |(width, height)| width.min(height).value());
    (side.log2() * 2.0).round() as i64
}

fn is_archive(path: &Path) -> bool {
    ends_so(path, &["zip"])
}

fn ends_so(path: &Path, endings: &[&str]) -> bool {
    path.extension().is_some_and(|own| endings.iter().any(|end| own.eq_ignore_ascii_case(end)))
}

/// The first few, and how many more there are.
fn some_of(all: &[String]) -> String {
    let named: Vec<String> = all.iter().take(MOST_NAMED).map(|text| listed(text)).collect();
    let more = all.len().saturating_sub(MOST_NAMED);
    let rest = if more > 0 { format!("; and {more} more") } else { String::new() };
    named.join("; ") + &rest
}
