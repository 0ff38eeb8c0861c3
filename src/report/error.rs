//! Why a drawing or a feature file could not be made.

use resvg::usvg;

use perchline_terrain::TerrainError;

/// Why a map, a plot or a feature file could not be made.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReportError {
    /// Positions could not be turned into map coordinates.
    #[error("the map's coordinates could not be worked out: {0}")]
    Terrain(#[from] TerrainError),
    /// The drawing is not readable as SVG.
    #[error("the drawing could not be read back: {0}")]
    Drawing(#[from] usvg::Error),
    /// The drawing could not be packed as PNG.
    #[error("the picture could not be packed as PNG: {0}")]
    Image(#[from] image::ImageError),
    /// The sheets could not be made into a PDF.
    #[error("the sheets could not be made into a PDF: {reason}")]
    Pdf {
        /// What stood in the way.
        reason: String,
    },
    /// A file for other programs could not be made.
    #[error("the {format} file could not be made: {reason}")]
    Exchange {
        /// Which kind of file.
        format: &'static str,
        /// What stood in the way.
        reason: String,
    },
    /// The picture has no size, or one that does not fit into memory.
    #[error("a picture of {width} by {height} pixels cannot be made")]
    Size {
        /// Width in pixels.
        width: u32,
        /// Height in pixels.
        height: u32,
    },
    /// The coverage or the relief does not have the size of its grid.
    #[error("the {layer} has {found:?} rows and columns, its grid {expected:?}")]
    Uneven {
        /// Which layer.
        layer: &'static str,
        /// Rows and columns that it has.
        found: (usize, usize),
        /// Rows and columns of the grid.
        expected: (usize, usize),
    },
    /// The map has no ground to show.
    #[error("the map has no area: {columns} columns by {rows} rows")]
    Empty {
        /// Columns of the grid.
        columns: usize,
        /// Rows of the grid.
        rows: usize,
    },
}
