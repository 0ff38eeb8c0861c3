//! Elevation rasters, the working window that is read from them, and terrain
//! profiles. GDAL and PROJ stay behind this module and [`perchline_vector`].
//!
//! * [`Grid`] and [`Projector`]: where cells lie.
//! * [`Terrain`]: the window in memory, mosaicked from the plan's files.
//! * [`Terrain::with_surroundings`]: buildings and trees on it.
//! * [`Tracer`]: profiles along geodesics, many from one place.
//! * [`write_geotiff`]: results back onto a raster.

mod ascii_grid;
mod contours;
mod cover;
mod error;
mod ffi;
mod folder;
mod gaps;
mod geotiff;
mod grid;
mod ground;
mod means;
mod mosaic;
mod national_tiles;
mod overlap;
mod own_cells;
mod packed;
mod raster_file;
mod relief;
mod roofs;
mod surface_model;
mod tile;
mod tile_names;
mod tiles;
mod tracer;
mod transforms;
mod virtual_raster;
mod window;

pub use contours::{CellLine, Contour};
pub use cover::{Building, CoverError};
pub use error::{PlaceError, TerrainError};
pub use folder::{covered_by, files_within, may_be_elevation};
pub use geotiff::write_geotiff;
pub use grid::{Extent, Grid, Projector};
pub use mosaic::TerrainSurvey;
pub use own_cells::OwnGround;
pub use tile_names::{MissingTiles, TileSquare};
pub use tiles::{GroundPicture, TilesError};
pub use tracer::{CLOSEST, Tracer};
pub use window::Terrain;
