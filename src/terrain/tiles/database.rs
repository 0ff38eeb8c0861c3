//! Tiles in an MBTiles file (MBTiles 1.3).

use std::path::Path;

use gdal::Dataset;
use rusqlite::{Connection, OptionalExtension};

use super::canvas::{MOST_TILE_BYTES, Tiles, put_together};
use super::{TilesError, Wanted};
use perchline_confine::{Reading, database};

/// Puts the tiles of the zoom level that suits together, with four bands in the
/// plane of web maps.
pub(super) fn open(file: &Path, wanted: &Wanted, reading: &Reading) -> Result<Dataset, TilesError> {
    let failed = |reason: String| TilesError::Open { file: file.to_owned(), reason };
    let connection = database::open(file, MOST_TILE_BYTES).map_err(failed)?;
    let levels = "SELECT min(zoom_level), max(zoom_level) FROM tiles";
    let zooms: (Option<u8>, Option<u8>) = connection
        .query_row(levels, [], |row| Ok((row.get(0)?, row.get(1)?)))
        .map_err(|e| failed(e.to_string()))?;
    let (Some(least), Some(most)) = zooms else {
        return Err(TilesError::Elsewhere { file: file.to_owned() });
    };
    let format = "SELECT value FROM metadata WHERE name = 'format'";
    let format: Option<String> =
        connection.query_row(format, [], |row| row.get(0)).optional().ok().flatten();
    if format.is_some_and(|format| format == "pbf") {
        let found = "vector tiles".to_owned();
        return Err(TilesError::NotPictures { file: file.to_owned(), found });
    }
    put_together(file, &Database { connection, zooms: (least, most) }, wanted, reading)
}

/// An open file.
struct Database {
    connection: Connection,
    zooms: (u8, u8),
}

impl Tiles for Database {
    fn zooms(&self) -> (u8, u8) {
        self.zooms
    }

    fn tile(&self, zoom: u8, column: u32, row: u32) -> Result<Option<Vec<u8>>, String> {
        // Rows count from the south here (MBTiles 1.3, "Tiles").
        let Some(from_south) = (1u64 << zoom.min(31)).checked_sub(u64::from(row) + 1) else {
            return Ok(None);
        };
        let tile = "SELECT tile_data FROM tiles \
                    WHERE zoom_level = ?1 AND tile_column = ?2 AND tile_row = ?3";
        self.connection
            .prepare(tile)
            .and_then(|mut tile| {
                let place = (zoom, column, from_south as i64);
                tile.query_row(place, |row| row.get(0)).optional()
            })
            .map_err(|e| e.to_string())
    }
}
