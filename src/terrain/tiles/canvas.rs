//! Tiles put together into one picture in the plane of web maps.

use std::path::Path;

use gdal::Dataset;
use image::{ImageReader, Limits, RgbaImage};

use super::{HALF_WIDTH, MOST_PIXELS, MOST_TILES, TilesError, Wanted, fill, four_bands, web_plane};
use crate::TerrainError;
use perchline_confine::Reading;

/// A file of tiles that can be asked for one.
pub(super) trait Tiles {
    /// The least and the greatest zoom level that there are.
    fn zooms(&self) -> (u8, u8);

    /// The bytes of a picture, its row counted from the north; `None` where the
    /// file has none there.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    fn tile(&self, zoom: u8, column: u32, row: u32) -> Result<Option<Vec<u8>>, String>;
}

/// The most bytes of one tile as it is kept.
pub(super) const MOST_TILE_BYTES: usize = 8 << 20;

/// Puts the tiles of the zoom level that suits together, with four bands in the
/// plane of web maps.
pub(super) fn put_together(
    file: &Path,
    tiles: &dyn Tiles,
    wanted: &Wanted,
    reading: &Reading,
) -> Result<Dataset, TilesError> {
    let (least, most) = tiles.zooms();
    let mut block = Block::of(wanted, wanted.zoom(least, most));
    while !block.fits() && block.zoom > least {
        block = Block::of(wanted, block.zoom - 1);
    }
    if !block.fits() {
        return Err(TilesError::TooFine { file: file.to_owned() });
    }
    loop {
        match filled(file, tiles, &block, reading) {
            // How large tiles are shows with the first of them.
            Err(TilesError::TooFine { .. }) if block.zoom > least => {
                block = Block::of(wanted, block.zoom - 1);
            }
            Ok(Some(canvas)) => return Ok(canvas.dataset),
            Ok(None) => return Err(TilesError::Elsewhere { file: file.to_owned() }),
            Err(error) => return Err(error),
        }
    }
}

/// Columns and rows of the tiles that are put together.
struct Block {
    zoom: u8,
    columns: std::ops::RangeInclusive<u32>,
    rows: std::ops::RangeInclusive<u32>,
}

impl Block {
    fn of(wanted: &Wanted, zoom: u8) -> Self {
        let tiles = f64::from(1u32 << zoom.min(31));
        // Web Mercator, of the sphere (EPSG:3857, method 1024).
        let column = |longitude: f64| (longitude + 180.0) / 360.0 * tiles;
        let row = |latitude: f64| {
            let up = latitude.clamp(-85.0, 85.0).to_radians().tan().asinh();
            (1.0 - up / std::f64::consts::PI) / 2.0 * tiles
        };
        // Within the tiles there are, so the cut to whole numbers is safe.
        let whole = |tile: f64| tile.clamp(0.0, tiles - 1.0) as u32;
        Self {
            zoom,
            columns: whole(column(wanted.west))..=whole(column(wanted.east)),
            rows: whole(row(wanted.north))..=whole(row(wanted.south)),
        }
    }

    fn count(&self) -> (u32, u32) {
        (1 + self.columns.end() - self.columns.start(), 1 + self.rows.end() - self.rows.start())
    }

    fn fits(&self) -> bool {
        let (across, down) = self.count();
        across <= MOST_TILES && down <= MOST_TILES
    }

    fn coordinates(&self) -> impl Iterator<Item = (u32, u32)> {
        self.rows.clone().flat_map(|row| self.columns.clone().map(move |column| (column, row)))
    }
}

/// The tiles of a block; nothing where the file has none of them.
fn filled(
    file: &Path,
    tiles: &dyn Tiles,
    block: &Block,
    reading: &Reading,
) -> Result<Option<Canvas>, TilesError> {
    let mut canvas: Option<Canvas> = None;
    for (column, row) in block.coordinates() {
        reading.check()?;
        let broken = |reason: String| TilesError::Tile {
            file: file.to_owned(),
            zoom: block.zoom,
            column,
            row,
            reason,
        };
        let Some(bytes) = tiles.tile(block.zoom, column, row).map_err(broken)? else { continue };
        let tile = picture(&bytes).map_err(|e| broken(e.to_string()))?;
        if canvas.is_none() {
            canvas = Some(Canvas::new(file, block, tile.width())?);
        }
        if let Some(canvas) = &canvas {
            if tile.dimensions() != (canvas.side, canvas.side) {
                return Err(broken(format!(
                    "it has {} by {} pixels, others {}",
                    tile.width(),
                    tile.height(),
                    canvas.side
                )));
            }
            canvas.put(block, (column, row), &tile)?;
        }
    }
    Ok(canvas)
}

/// A tile unpacked, whatever size it claims to have.
fn picture(bytes: &[u8]) -> image::ImageResult<RgbaImage> {
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(LARGEST_TILE), Some(LARGEST_TILE));
    limits.max_alloc = Some(64 << 20);
    let mut reader = ImageReader::new(std::io::Cursor::new(bytes)).with_guessed_format()?;
    reader.limits(limits);
    Ok(reader.decode()?.into_rgba8())
}

/// The tiles put together, clear where there is none.
struct Canvas {
    dataset: Dataset,
    /// Pixels along the side of a tile.
    side: u32,
}

/// The largest side of a tile in pixels.
const LARGEST_TILE: u32 = 1024;

impl Canvas {
    fn new(file: &Path, block: &Block, side: u32) -> Result<Self, TilesError> {
        let side = side.clamp(1, LARGEST_TILE);
        let (across, down) = block.count();
        if (across * side) as usize * (down * side) as usize > MOST_PIXELS {
            return Err(TilesError::TooFine { file: file.to_owned() });
        }
        let make = || -> gdal::errors::Result<Dataset> {
            let mut dataset = four_bands(((across * side) as usize, (down * side) as usize))?;
            dataset.set_spatial_ref(&web_plane()?)?;
            let tile = 2.0 * HALF_WIDTH / f64::from(1u32 << block.zoom.min(31));
            let pixel = tile / f64::from(side);
            let west = -HALF_WIDTH + f64::from(*block.columns.start()) * tile;
            let north = HALF_WIDTH - f64::from(*block.rows.start()) * tile;
            dataset.set_geo_transform(&[west, pixel, 0.0, north, 0.0, -pixel])?;
            Ok(dataset)
        };
        Ok(Self { dataset: make().map_err(gdal_failed)?, side })
    }

    fn put(
        &self,
        block: &Block,
        (column, row): (u32, u32),
        tile: &RgbaImage,
    ) -> Result<(), TilesError> {
        let side = self.side as usize;
        let at = (
            ((column - block.columns.start()) * self.side) as isize,
            ((row - block.rows.start()) * self.side) as isize,
        );
        for band in 0..4 {
            let bytes = tile.pixels().filter_map(|p| p.0.get(band).copied()).collect();
            fill(&self.dataset, band + 1, at, (side, side), bytes).map_err(gdal_failed)?;
        }
        Ok(())
    }
}

fn gdal_failed(source: gdal::errors::GdalError) -> TilesError {
    TerrainError::Gdal { doing: "putting map tiles together", source: Box::new(source) }.into()
}
