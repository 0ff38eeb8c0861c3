//! Elevation rasters, the working window that is read from them, and terrain
//! profiles. GDAL and PROJ stay behind this module and [`crate::vector`].

use std::path::Path;

use ndarray::{Array2, ArrayView2};

use crate::plan::{InputFile, Remark, TerrainInputs};
use crate::propagation::{Profile, ProfileError};
use crate::units::{Metres, Position};

/// A raster's georeference: size, affine transform and coordinate system.
#[derive(Debug, Clone, PartialEq)]
pub struct Grid {
    columns: usize,
    rows: usize,
    transform: [f64; 6],
    crs: String,
}

/// A rectangle in latitude and longitude.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Extent {
    pub south_west: Position,
    pub north_east: Position,
}

/// Turns cells of one grid into positions and back; one a thread.
pub struct Projector {}

impl Projector {
    /// Fractional (column, row) of a position; cell (0, 0) spans 0..1, so its centre is 0.5, 0.5.
    pub fn to_cell(&self, _at: Position) -> Result<(f64, f64), TerrainError> {
        todo!()
    }
    /// Position of a fractional (column, row).
    pub fn to_position(&self, _column: f64, _row: f64) -> Result<Position, TerrainError> {
        todo!()
    }
    /// The same for many at once.
    pub fn to_positions(&self, _cells: &[(f64, f64)]) -> Result<Vec<Position>, TerrainError> {
        todo!()
    }
}

impl Grid {
    pub fn columns(&self) -> usize {
        self.columns
    }
    pub fn rows(&self) -> usize {
        self.rows
    }
    pub fn transform(&self) -> [f64; 6] {
        self.transform
    }
    pub fn crs(&self) -> &str {
        &self.crs
    }
    /// Ground size of a cell at the grid's centre (width, height).
    pub fn cell_size(&self) -> Result<(Metres, Metres), TerrainError> {
        todo!()
    }
    /// The same extent in cells of about `cell`, never finer than this grid.
    pub fn coarser(&self, _cell: Metres) -> Result<Grid, TerrainError> {
        todo!()
    }
    pub fn projector(&self) -> Result<Projector, TerrainError> {
        todo!()
    }
}

/// The window of terrain that a plan needs, in memory.
pub struct Terrain {
    grid: Grid,
    heights: Array2<f32>,
}

impl Terrain {
    pub fn open(_inputs: &TerrainInputs, _extent: Extent) -> Result<Self, TerrainError> {
        todo!()
    }
    pub fn grid(&self) -> &Grid {
        &self.grid
    }
    /// Heights above sea level in metres, NaN where there is a gap.
    pub fn heights(&self) -> ArrayView2<'_, f32> {
        self.heights.view()
    }
    pub fn files(&self) -> &[InputFile] {
        todo!()
    }
    pub fn remarks(&self) -> &[Remark] {
        todo!()
    }
    pub fn gap_cells(&self) -> usize {
        todo!()
    }
    /// Ground height, bilinear.
    pub fn ground(&self, _at: Position) -> Result<Metres, PlaceError> {
        todo!()
    }
    /// Profile along the geodesic, one point a cell.
    pub fn profile(&self, _from: Position, _to: Position) -> Result<Profile, PlaceError> {
        todo!()
    }
    /// A maker of many profiles that start at one place; one a thread.
    pub fn tracer(&self, _from: Position) -> Result<Tracer<'_>, PlaceError> {
        todo!()
    }
    /// Shaded relief, 0 dark to 255 light, on the grid's cells.
    pub fn hillshade(&self) -> Result<Array2<u8>, TerrainError> {
        todo!()
    }
}

pub struct Tracer<'a> {
    terrain: &'a Terrain,
}

impl Tracer<'_> {
    /// Writes the profile from the tracer's place to `to` into `profile`.
    pub fn trace(&mut self, _to: Position, _profile: &mut Profile) -> Result<(), PlaceError> {
        let _ = self.terrain;
        todo!()
    }
}

/// Why a place has no ground height, or a path no profile.
#[derive(Debug, thiserror::Error)]
pub enum PlaceError {
    #[error("outside the terrain")]
    Outside { at: Position },
    #[error("gap in the terrain")]
    Gap { at: Position },
    #[error("too close")]
    TooClose,
    #[error(transparent)]
    Profile(#[from] ProfileError),
    #[error(transparent)]
    Terrain(#[from] TerrainError),
}

#[derive(Debug, thiserror::Error)]
pub enum TerrainError {
    #[error("{0}")]
    Other(String),
}

/// Writes one float band as a compressed GeoTIFF, NaN as nodata.
pub fn write_geotiff(
    _path: &Path,
    _grid: &Grid,
    _values: ArrayView2<'_, f32>,
    _description: &str,
    _metadata: &[(&str, &str)],
) -> Result<(), TerrainError> {
    todo!()
}
