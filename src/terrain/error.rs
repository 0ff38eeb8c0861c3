//! What can be wrong with elevation files and with places on them.

use std::path::PathBuf;

use gdal::errors::GdalError;

use super::Extent;
use perchline_confine::Overrun;
use perchline_profile::ProfileError;
use perchline_units::{Metres, Position, listed, shown};

/// Why terrain could not be read or written: the file, what was found, what to do.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum TerrainError {
    /// Contour lines were asked for at heights that make no sense.
    #[error(
        "contour lines every {interval} cannot be drawn: the interval must be above zero and give fewer than 400 heights"
    )]
    Contours {
        /// What was asked for.
        interval: Metres,
    },
    /// The plan names no elevation file.
    #[error("the plan names no elevation file; give at least one in [terrain] files")]
    NoFiles,
    /// A folder of elevation has nothing of the plan's place, or what cannot be read.
    #[error("{}: {reason}", folder.display())]
    Folder {
        /// The folder.
        folder: PathBuf,
        /// What is found and what is missing, in words.
        reason: String,
    },
    /// The path is one that GDAL would fetch or unpack.
    #[error(
        "{}: not a file on this disk; elevation is never fetched or unpacked: download or extract it and name the file",
        file.display()
    )]
    Special {
        /// The path as given.
        file: PathBuf,
    },
    /// There is no such file, or it may not be read.
    #[error("{}: cannot be read: {source}; check the name, which counts from the plan's folder", file.display())]
    Missing {
        /// The path as opened.
        file: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
    /// GDAL recognises no raster in the file.
    #[error(
        "{}: not an elevation raster: {reason}; GeoTIFF, HGT, VRT, ASCII grid, DTED, XYZ, IMG and BIL will do",
        file.display()
    )]
    NotARaster {
        /// The file.
        file: PathBuf,
        /// What GDAL said.
        reason: String,
    },
    /// A file that asks for too much, or for something that is not on this disk.
    #[error("{}: not read: {reason}", file.display())]
    Unfit {
        /// The file.
        file: PathBuf,
        /// What it asks for.
        reason: String,
    },
    /// Opening or reading it took too long, or too much memory.
    #[error(transparent)]
    Overrun(Box<Overrun>),
    /// The raster has no band of plain numbers.
    #[error("{}: {}; elevation is one band of real numbers", file.display(), listed(found))]
    BadBand {
        /// The file.
        file: PathBuf,
        /// What it has.
        found: String,
    },
    /// The raster does not say where on the earth it lies.
    #[error(
        "{}: has no georeference, so nobody can tell where it lies; export it again with one (GeoTIFF, or a world file beside it)",
        file.display()
    )]
    NoGeoreference {
        /// The file.
        file: PathBuf,
    },
    /// The raster has no coordinate system and the plan gives none.
    #[error(
        "{}: has no coordinate system; state it in the plan, for example [terrain] crs = \"EPSG:32625\"",
        file.display()
    )]
    NoCrs {
        /// The file.
        file: PathBuf,
    },
    /// The raster's coordinate system is not the plan's.
    #[error(
        "{}: says its coordinate system is {}, but the plan's [terrain] crs says {}; remove crs from the plan, or export the file again if it is the one that is wrong",
        file.display(),
        listed(in_file),
        listed(in_plan)
    )]
    CrsConflict {
        /// The file.
        file: PathBuf,
        /// Its coordinate system.
        in_file: String,
        /// The plan's.
        in_plan: String,
    },
    /// PROJ does not know a coordinate system, or no way from it to WGS 84.
    #[error(
        "coordinate system {}: cannot be used: {}; write it as a code such as EPSG:32625",
        listed(crs),
        listed(reason)
    )]
    Crs {
        /// The coordinate system as given.
        crs: String,
        /// What PROJ said.
        reason: String,
    },
    /// The coordinate system of one file leads nowhere.
    #[error("{}: {source}", file.display())]
    FileCrs {
        /// The file.
        file: PathBuf,
        /// What is wrong with its coordinate system.
        source: Box<TerrainError>,
    },
    /// The raster's height unit is not the plan's.
    #[error(
        "{}: says its heights are in {}, but the plan's [terrain] height_unit says {in_plan}; remove height_unit from the plan, or correct the file",
        file.display(),
        listed(in_file)
    )]
    UnitConflict {
        /// The file.
        file: PathBuf,
        /// Its unit as written.
        in_file: String,
        /// The plan's.
        in_plan: &'static str,
    },
    /// The raster's height unit is none that is known.
    #[error(
        "{}: says its heights are in \"{}\", which is not a unit known here (m, ft, US survey foot); state the right one in the plan's [terrain] height_unit",
        file.display(),
        listed(found)
    )]
    UnknownUnit {
        /// The file.
        file: PathBuf,
        /// Its unit as written.
        found: String,
    },
    /// Heights that no land has.
    #[error(
        "{}: {cells} cells have heights no land has: {lowest:.1} m to {highest:.1} m where -500 m to 9000 m is possible; the unit may be wrong, the band may not be elevation, or a void value may be undeclared (gdal_edit.py -a_nodata declares it)",
        file.display()
    )]
    Implausible {
        /// The file.
        file: PathBuf,
        /// How many cells.
        cells: usize,
        /// The lowest of all heights read, in metres.
        lowest: f64,
        /// The highest of all heights read, in metres.
        highest: f64,
    },
    /// No file has a single height in the window.
    #[error(
        "{files}: no heights at all where the plan needs them ({extent}): every cell is nodata"
    )]
    AllVoid {
        /// The files that were read.
        files: String,
        /// The extent that was asked for.
        extent: Box<Extent>,
    },
    /// The files lie elsewhere.
    #[error("the plan needs terrain at {wanted}, but the elevation files cover {covered}{hint}")]
    Elsewhere {
        /// The extent that was asked for.
        wanted: Box<Extent>,
        /// What the files cover, in words.
        covered: String,
        /// A guess at what happened, or nothing.
        hint: &'static str,
    },
    /// The window does not fit into memory.
    #[error(
        "the plan needs {columns} x {rows} cells of terrain ({gigabytes:.1} GB), more than the {limit} million allowed; set [terrain] cell = \"{cell:.0}\" to work with larger cells, or use a smaller [map] margin"
    )]
    TooLarge {
        /// Columns of the window.
        columns: u64,
        /// Rows of the window.
        rows: u64,
        /// Memory in 10^9 bytes.
        gigabytes: f64,
        /// The most cells, in millions.
        limit: u64,
        /// Side of a cell with which it would fit.
        cell: Metres,
    },
    /// What is needed of a file would take too long to read.
    #[error(
        "{}: the plan needs {columns} x {rows} of its cells, more than the {limit} million that are read of a file; use a smaller [map] margin, or a coarser raster",
        file.display()
    )]
    TooMuch {
        /// The file.
        file: PathBuf,
        /// Columns that are needed.
        columns: u64,
        /// Rows that are needed.
        rows: u64,
        /// The most cells, in millions.
        limit: u64,
    },
    /// A file that was opened cannot be read to the end.
    #[error("{}: reading failed: {}; the file may be damaged or a part of it missing", file.display(), shown(&source.to_string()))]
    Read {
        /// The file.
        file: PathBuf,
        /// What GDAL said.
        source: Box<GdalError>,
    },
    /// GDAL failed in memory.
    #[error("{doing} failed: {}", shown(&source.to_string()))]
    Gdal {
        /// What was being done.
        doing: &'static str,
        /// What GDAL said.
        source: Box<GdalError>,
    },
    /// PROJ cannot convert a coordinate.
    #[error("a position cannot be converted: {}", listed(reason))]
    Projection {
        /// What PROJ said.
        reason: String,
    },
    /// A grid that has no cells or no area.
    #[error("not a grid: {columns} x {rows} cells with the transform {transform:?}")]
    BadGrid {
        /// Columns given.
        columns: usize,
        /// Rows given.
        rows: usize,
        /// Transform given.
        transform: Box<[f64; 6]>,
    },
    /// Values whose shape is not that of the grid.
    #[error("{} rows x {} columns of values do not fit a grid of {} x {}", found.0, found.1, grid.0, grid.1)]
    Shape {
        /// Rows and columns of the values.
        found: (usize, usize),
        /// Rows and columns of the grid.
        grid: (usize, usize),
    },
    /// A raster could not be written.
    #[error("{}: cannot be written: {}", file.display(), listed(reason))]
    Write {
        /// The file.
        file: PathBuf,
        /// What GDAL said.
        reason: String,
    },
}

/// Why a place has no ground height, or a path no profile.
#[derive(Debug, thiserror::Error)]
pub enum PlaceError {
    /// The place is outside the window of terrain.
    #[error(
        "{} is outside the terrain, which covers {bounds}{}",
        place(at),
        if *swapped { "; latitude and longitude look swapped: the other way round it is inside" } else { "" }
    )]
    Outside {
        /// The place.
        at: Position,
        /// What the terrain covers.
        bounds: Extent,
        /// Whether it would be inside with latitude and longitude exchanged.
        swapped: bool,
    },
    /// There is no height at the place.
    #[error(
        "{} is in a gap of the terrain (no elevation there); add a file that covers it or set [terrain] fill_gaps = true",
        place(at)
    )]
    Gap {
        /// The place, or the first point of a path that has no height.
        at: Position,
    },
    /// The points make no profile.
    #[error(transparent)]
    Profile(#[from] ProfileError),
    /// PROJ or GDAL failed.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
}

fn place(at: &Position) -> String {
    format!("{:.5}, {:.5}", at.latitude().value(), at.longitude().value())
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Errors travel through every profile's result; a large one slows the good case.
    /// What a file says of itself may hold what a terminal obeys.
    #[test]
    fn what_a_file_says_is_made_printable() {
        let crs = "LOCAL_CS[\"W\u{7}S 84\"]".to_owned();
        let source = Box::new(TerrainError::Crs { crs, reason: "\u{1b}[2J".to_owned() });
        let file = PathBuf::from("a.tif");
        for error in [
            TerrainError::FileCrs { file: file.clone(), source },
            TerrainError::UnknownUnit { file: file.clone(), found: "\u{7}ft".to_owned() },
            TerrainError::Projection { reason: "\u{202e}".to_owned() },
            TerrainError::BadBand { file, found: "\u{8}".to_owned() },
        ] {
            let text = error.to_string();
            assert!(!text.contains(['\u{7}', '\u{1b}', '\u{202e}', '\u{8}']), "{text:?}");
        }
    }

    #[test]
    fn errors_stay_small() {
        assert!(size_of::<TerrainError>() <= 80, "{}", size_of::<TerrainError>());
        assert!(size_of::<PlaceError>() <= 80, "{}", size_of::<PlaceError>());
    }
}
