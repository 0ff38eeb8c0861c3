//! Tiles in a PMTiles file (version 3 of its specification).

use std::path::Path;

use gdal::Dataset;
use image::RgbaImage;
use pmtiles::{AsyncPmTilesReader, MmapBackend, TileCoord, TileType};

use super::{HALF_WIDTH, MOST_PIXELS, MOST_TILES, TilesError, Wanted, fill, four_bands, web_plane};
use crate::terrain::TerrainError;

/// Puts the tiles of the zoom level that suits together, with four bands in the
/// plane of web maps.
pub(super) fn open(file: &Path, wanted: &Wanted) -> Result<Dataset, TilesError> {
    let failed = |reason: String| TilesError::Open { file: file.to_owned(), reason };
    // The reader is asynchronous; here it is waited for.
    let runtime =
        tokio::runtime::Builder::new_current_thread().build().map_err(|e| failed(e.to_string()))?;
    runtime.block_on(read(file, wanted))
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

async fn read(file: &Path, wanted: &Wanted) -> Result<Dataset, TilesError> {
    let failed =
        |e: pmtiles::PmtError| TilesError::Open { file: file.to_owned(), reason: e.to_string() };
    let backend = MmapBackend::try_from(file).await.map_err(failed)?;
    let reader = AsyncPmTilesReader::try_from_source(backend).await.map_err(failed)?;
    let header = reader.get_header();
    if !matches!(header.tile_type, TileType::Png | TileType::Jpeg | TileType::Webp) {
        let found = match header.tile_type {
            TileType::Mvt | TileType::Mlt => "vector tiles".to_owned(),
            other => format!("tiles of kind {other:?}"),
        };
        return Err(TilesError::NotPictures { file: file.to_owned(), found });
    }
    let (least, most) = (header.min_zoom, header.max_zoom);
    let mut block = Block::of(wanted, wanted.zoom(least, most));
    while !block.fits() && block.zoom > least {
        block = Block::of(wanted, block.zoom - 1);
    }
    if !block.fits() {
        return Err(TilesError::TooFine { file: file.to_owned() });
    }
    loop {
        match put_together(file, &reader, &block).await {
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

/// The tiles of a block; nothing where the file has none of them.
async fn put_together(
    file: &Path,
    reader: &AsyncPmTilesReader<MmapBackend>,
    block: &Block,
) -> Result<Option<Canvas>, TilesError> {
    let mut canvas: Option<Canvas> = None;
    for (column, row) in block.coordinates() {
        let broken = |reason: String| TilesError::Tile {
            file: file.to_owned(),
            zoom: block.zoom,
            column,
            row,
            reason,
        };
        let at = TileCoord::new(block.zoom, column, row).map_err(|e| broken(e.to_string()))?;
        let bytes = reader.get_tile_decompressed(at).await.map_err(|e| broken(e.to_string()))?;
        let Some(bytes) = bytes else { continue };
        let tile = image::load_from_memory(&bytes).map_err(|e| broken(e.to_string()))?.into_rgba8();
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
