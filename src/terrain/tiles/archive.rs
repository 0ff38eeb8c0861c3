//! Tiles in a PMTiles file (version 3 of its specification).

use std::fs::File;
use std::io::Read;
use std::path::Path;

use flate2::read::MultiGzDecoder;
use gdal::Dataset;
use pmtiles::{AsyncPmTilesReader, Compression, MmapBackend, TileCoord, TileType};
use tokio::runtime::Runtime;

use super::canvas::{MOST_TILE_BYTES, Tiles, put_together};
use super::{TilesError, Wanted};
use perchline_confine::Reading;

/// The fixed part at the front (specification, section 3).
const HEADER: usize = 127;

/// The most bytes of directories, packed: the first stands in the first 16 kB of
/// the file (section 4), the others of a whole country take a few million.
const MOST_ROOT: u64 = 16_384;
const MOST_LEAVES: u64 = 64 << 20;

/// Puts the tiles of the zoom level that suits together, with four bands in the
/// plane of web maps.
pub(super) fn open(file: &Path, wanted: &Wanted, reading: &Reading) -> Result<Dataset, TilesError> {
    let failed = |reason: String| TilesError::Open { file: file.to_owned(), reason };
    check_directories(file).map_err(failed)?;
    // The reader is asynchronous; here it is waited for.
    let runtime =
        tokio::runtime::Builder::new_current_thread().build().map_err(|e| failed(e.to_string()))?;
    let reader = runtime
        .block_on(async {
            let backend = MmapBackend::try_from(file).await?;
            AsyncPmTilesReader::try_from_source(backend).await
        })
        .map_err(|e: pmtiles::PmtError| failed(e.to_string()))?;
    let header = reader.get_header();
    if !matches!(header.tile_type, TileType::Png | TileType::Jpeg | TileType::Webp) {
        let found = match header.tile_type {
            TileType::Mvt | TileType::Mlt => "vector tiles".to_owned(),
            other => format!("tiles of kind {other:?}"),
        };
        return Err(TilesError::NotPictures { file: file.to_owned(), found });
    }
    let archive = Archive {
        zooms: (header.min_zoom, header.max_zoom),
        packed: header.tile_compression,
        reader,
        runtime,
    };
    put_together(file, &archive, wanted, reading)
}

/// Whether the directories are of a size that they have in good files: they are
/// unpacked whole.
fn check_directories(file: &Path) -> Result<(), String> {
    let mut header = [0u8; HEADER];
    File::open(file).and_then(|mut f| f.read_exact(&mut header)).map_err(|e| e.to_string())?;
    let number = |at: usize| {
        header.get(at..at + 8).and_then(|b| b.try_into().ok()).map_or(u64::MAX, u64::from_le_bytes)
    };
    let (root, leaves) = (number(16), number(48));
    if root > MOST_ROOT || leaves > MOST_LEAVES {
        return Err(format!(
            "its directories have {root} and {leaves} bytes; at most {MOST_ROOT} and {MOST_LEAVES} are read"
        ));
    }
    Ok(())
}

/// An open file.
struct Archive {
    zooms: (u8, u8),
    packed: Compression,
    reader: AsyncPmTilesReader<MmapBackend>,
    runtime: Runtime,
}

impl Tiles for Archive {
    fn zooms(&self) -> (u8, u8) {
        self.zooms
    }

    fn tile(&self, zoom: u8, column: u32, row: u32) -> Result<Option<Vec<u8>>, String> {
        let at = TileCoord::new(zoom, column, row).map_err(|e| e.to_string())?;
        let found = self.runtime.block_on(self.reader.get_tile(at)).map_err(|e| e.to_string())?;
        let Some(bytes) = found else { return Ok(None) };
        let bytes = match self.packed {
            Compression::None | Compression::Unknown => bytes.to_vec(),
            Compression::Gzip => {
                let mut whole = Vec::new();
                MultiGzDecoder::new(&*bytes)
                    .take(MOST_TILE_BYTES as u64 + 1)
                    .read_to_end(&mut whole)
                    .map_err(|e| e.to_string())?;
                whole
            }
            other => return Err(format!("it is packed as {other:?}, which is not read")),
        };
        if bytes.len() > MOST_TILE_BYTES {
            return Err(format!("it has more than {} MB", MOST_TILE_BYTES >> 20));
        }
        Ok(Some(bytes))
    }
}
