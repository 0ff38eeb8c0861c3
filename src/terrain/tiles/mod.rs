//! A picture of the ground out of a file of map tiles: what a person already
//! has of roads and names, under a page's map.

mod archive;
mod canvas;
mod database;

use std::path::{Path, PathBuf};

use gdal::Dataset;
use gdal::raster::{Buffer, ColorInterpretation, reproject};
use gdal::spatial_ref::SpatialRef;
use ndarray::Array3;

use super::grid::spatial_ref;
use super::{Grid, TerrainError};
use perchline_confine::{self as confine, Overrun, Reading};
use perchline_units::{Position, printable};

/// Pixels along the longer side of a picture, about.
const LONGEST: usize = 2000;
/// Side of a tile in pixels on which zoom levels are counted.
const TILE: f64 = 256.0;
/// Half the width of the plane of web maps in metres (EPSG:3857).
const HALF_WIDTH: f64 = 20_037_508.342_789_244;
/// Tiles along a side of what is put together at most.
const MOST_TILES: u32 = 64;

/// Pixels of what is put together at most: four bands of them are 512 MiB.
const MOST_PIXELS: usize = 1 << 27;

/// A picture that spans a grid exactly.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundPicture {
    /// The file that it is from.
    pub file: PathBuf,
    /// Red, green, blue and opacity by row and column of pixels.
    pub pixels: Array3<u8>,
}

/// Why a file of map tiles cannot be drawn.
#[derive(Debug, thiserror::Error)]
pub enum TilesError {
    /// The name does not say which kind it is.
    #[error("{0}: the name of a file of map tiles ends in .mbtiles or .pmtiles")]
    Kind(PathBuf),
    /// It cannot be opened.
    #[error("{file}: cannot be opened as map tiles: {}", printable(reason))]
    Open {
        /// The file.
        file: PathBuf,
        /// What was found.
        reason: String,
    },
    /// Its tiles are not pictures.
    #[error(
        "{file}: holds {found}, which have to be drawn first; a file of picture tiles (PNG, JPEG or WebP) is wanted"
    )]
    NotPictures {
        /// The file.
        file: PathBuf,
        /// What it holds.
        found: String,
    },
    /// A tile cannot be read.
    #[error("{file}: tile {zoom}/{column}/{row} cannot be read: {}", printable(reason))]
    Tile {
        /// The file.
        file: PathBuf,
        /// Zoom level.
        zoom: u8,
        /// Column of the tile.
        column: u32,
        /// Row of the tile from the north.
        row: u32,
        /// What is wrong.
        reason: String,
    },
    /// Even its coarsest tiles are too many.
    #[error(
        "{file}: has only tiles that are far too fine for this plan's map; a file with lower zoom levels is wanted"
    )]
    TooFine {
        /// The file.
        file: PathBuf,
    },
    /// Nothing of it lies on the map.
    #[error("{file}: has no tile where this plan's map is")]
    Elsewhere {
        /// The file.
        file: PathBuf,
    },
    /// Reading took too long or too much.
    #[error(transparent)]
    Overrun(#[from] Overrun),
    /// Positions cannot be worked out, or GDAL fails.
    #[error(transparent)]
    Terrain(#[from] Box<TerrainError>),
}

impl From<TerrainError> for TilesError {
    fn from(error: TerrainError) -> Self {
        Self::Terrain(Box::new(error))
    }
}

/// Where a picture lies in longitude and latitude, and how fine it is to be.
struct Wanted {
    west: f64,
    south: f64,
    east: f64,
    north: f64,
    /// Metres a pixel on the ground.
    metres: f64,
}

impl Wanted {
    /// The least zoom level whose pixels are no coarser, of those there are.
    fn zoom(&self, least: u8, most: u8) -> u8 {
        let middle = ((self.south + self.north) / 2.0).to_radians();
        let whole = 2.0 * HALF_WIDTH * middle.cos() / TILE;
        let zoom = (whole / self.metres).log2().ceil();
        // Cut to the levels of the file, which are a few dozen.
        (zoom.clamp(f64::from(least), f64::from(most.max(least)))) as u8
    }
}

/// Reads from `file` what lies on `grid`.
///
/// # Errors
/// [`TilesError`] names the file and what is wrong.
pub(super) fn picture(file: &Path, grid: &Grid) -> Result<GroundPicture, TilesError> {
    confine::drivers::ensure();
    let open = |reason: String| TilesError::Open { file: file.to_owned(), reason };
    confine::plain_file(file).map_err(|e| open(e.to_string()))?;
    let reading = Reading::begin(file, "reading its map tiles");
    let (columns, rows) = (grid.columns(), grid.rows());
    let fine = (LONGEST / columns.max(rows).max(1)).clamp(1, 8);
    let wanted = wanted(grid, fine)?;
    let kind = file.extension().map(|x| x.to_ascii_lowercase());
    let source = match kind.as_ref().and_then(|x| x.to_str()) {
        Some("mbtiles") => database::open(file, &wanted, &reading)?,
        Some("pmtiles") => archive::open(file, &wanted, &reading)?,
        _ => return Err(TilesError::Kind(file.to_owned())),
    };
    let transform = grid.transform();
    let part = 1.0 / fine as f64;
    let [x, xc, xr, y, yc, yr] = transform;
    let finer = [x, xc * part, xr * part, y, yc * part, yr * part];
    let size = (columns * fine, rows * fine);
    let pixels = onto(&source, &finer, grid.crs(), size).map_err(|source| TerrainError::Gdal {
        doing: "laying map tiles on the map",
        source: Box::new(source),
    })?;
    if pixels.slice(ndarray::s![.., .., 3]).iter().all(|opacity| *opacity == 0) {
        return Err(TilesError::Elsewhere { file: file.to_owned() });
    }
    Ok(GroundPicture { file: file.to_owned(), pixels })
}

fn wanted(grid: &Grid, fine: usize) -> Result<Wanted, TilesError> {
    let steps = 8;
    let (columns, rows) = (grid.columns() as f64, grid.rows() as f64);
    let rim: Vec<(f64, f64)> = (0..=steps)
        .flat_map(|i| {
            let along = f64::from(i) / f64::from(steps);
            let (c, r) = (along * columns, along * rows);
            [(c, 0.0), (c, rows), (0.0, r), (columns, r)]
        })
        .collect();
    let places = grid.projector()?.to_positions(&rim)?;
    let ends = |of: fn(&Position) -> f64| {
        places
            .iter()
            .map(of)
            .fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(v), high.max(v)))
    };
    let (west, east) = ends(|p| p.longitude().value());
    let (south, north) = ends(|p| p.latitude().value());
    let metres = grid.cell_size()?.0.value() / fine as f64;
    Ok(Wanted { west, south, east, north, metres })
}

/// The plane of web maps.
fn web_plane() -> gdal::errors::Result<SpatialRef> {
    let mut plane = SpatialRef::from_epsg(3857)?;
    plane.set_axis_mapping_strategy(gdal::spatial_ref::AxisMappingStrategy::TraditionalGisOrder);
    Ok(plane)
}

/// Four bands of bytes in memory: red, green, blue and opacity.
fn four_bands(size: (usize, usize)) -> gdal::errors::Result<Dataset> {
    use ColorInterpretation::{AlphaBand, BlueBand, GreenBand, RedBand};
    let dataset =
        confine::drivers::memory()?.create_with_band_type::<u8, _>("", size.0, size.1, 4)?;
    // Resampling knows opacity by this.
    for (band, meaning) in (1..).zip([RedBand, GreenBand, BlueBand, AlphaBand]) {
        dataset.rasterband(band)?.set_color_interpretation(meaning)?;
    }
    Ok(dataset)
}

/// Lays a picture onto other cells, each pixel blended of the source's around it.
fn onto(
    source: &Dataset,
    transform: &[f64; 6],
    crs: &str,
    size: (usize, usize),
) -> gdal::errors::Result<Array3<u8>> {
    let mut target = four_bands(size)?;
    let crs = spatial_ref(crs).map_err(|e| gdal::errors::GdalError::BadArgument(e.to_string()))?;
    target.set_spatial_ref(&crs)?;
    target.set_geo_transform(transform)?;
    reproject(source, &target)?;
    let mut pixels = Array3::zeros((size.1, size.0, 4));
    for band in 0..4 {
        let (_, bytes) = target.rasterband(band + 1)?.read_band_as::<u8>()?.into_shape_and_vec();
        for (pixel, byte) in pixels.slice_mut(ndarray::s![.., .., band]).iter_mut().zip(bytes) {
            *pixel = byte;
        }
    }
    Ok(pixels)
}

/// Writes bytes into a band, from a column and row on.
fn fill(
    dataset: &Dataset,
    band: usize,
    at: (isize, isize),
    size: (usize, usize),
    bytes: Vec<u8>,
) -> gdal::errors::Result<()> {
    dataset.rasterband(band)?.write(at, size, &mut Buffer::new(size, bytes))
}
