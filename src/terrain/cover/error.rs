//! What can be wrong with buildings and land cover.

use std::path::PathBuf;

use crate::{Extent, TerrainError};
use perchline_units::Metres;
use perchline_vector::VectorError;

/// Why buildings or land cover could not be put on the terrain.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum CoverError {
    /// A file of footprints cannot be read.
    #[error(transparent)]
    Footprints(Box<VectorError>),
    /// No file has a footprint in the window.
    #[error(
        "{files}: no footprint lies where the plan needs them ({window}); check the files and their coordinate system, or leave [buildings] out"
    )]
    NoFootprints {
        /// The files.
        files: String,
        /// The window of terrain.
        window: Box<Extent>,
    },
    /// The land-cover file is no raster of class codes.
    #[error(
        "{}: {reason}; land cover is a raster of one band that holds class codes, with its place on the earth",
        file.display()
    )]
    NotLandCover {
        /// The file.
        file: PathBuf,
        /// What was found.
        reason: String,
    },
    /// The land cover lies elsewhere.
    #[error(
        "{}: no class anywhere where the plan needs them ({window}); check the file and its coordinate system, or leave [land_cover] out",
        file.display()
    )]
    NoLandCover {
        /// The file.
        file: PathBuf,
        /// The window of terrain.
        window: Box<Extent>,
    },
    /// A file of water cannot be read.
    #[error(transparent)]
    Water(Box<VectorError>),
    /// No file has water in the window.
    #[error(
        "{files}: no water lies where the plan needs it ({window}); check the files and their coordinate system, or leave them out of [water]"
    )]
    NoWater {
        /// The files.
        files: String,
        /// The window of terrain.
        window: Box<Extent>,
    },
    /// A polygon of water goes up a hill.
    #[error(
        "{}: {id} has ground from {low:.1} to {high:.1} above sea in it, and water is level: check the outline and its coordinate system, or cut a river that falls into reaches",
        file.display()
    )]
    Uphill {
        /// The file.
        file: PathBuf,
        /// What it calls the polygon.
        id: String,
        /// The lowest ground in it.
        low: Metres,
        /// The highest.
        high: Metres,
    },
    /// The surface has too many cells.
    #[error(
        "cells of {cell} make a surface of {columns} x {rows} cells, more than the {limit} million allowed; use a larger [buildings] cell or a smaller [map] margin"
    )]
    TooFine {
        /// The cell in words.
        cell: String,
        /// Columns of the surface.
        columns: u64,
        /// Rows of the surface.
        rows: u64,
        /// The most cells, in millions.
        limit: u64,
    },
    /// The surface's grid or GDAL failed.
    #[error(transparent)]
    Terrain(#[from] TerrainError),
}

impl CoverError {
    /// The plan's table and field that the error is about.
    #[must_use]
    pub const fn place(&self) -> (&'static str, &'static str) {
        match self {
            Self::Footprints(error) => ("buildings", field_of(error)),
            Self::NoFootprints { .. } => ("buildings", "files"),
            Self::NotLandCover { .. } | Self::NoLandCover { .. } => ("land_cover", "file"),
            Self::Water(_) | Self::NoWater { .. } | Self::Uphill { .. } => ("water", "files"),
            Self::TooFine { .. } | Self::Terrain(_) => ("buildings", "cell"),
        }
    }
}

/// The field of `[buildings]` that an error about a file of footprints is about.
const fn field_of(error: &VectorError) -> &'static str {
    match error {
        VectorError::NoLayer { .. } | VectorError::ManyLayers { .. } => "layer",
        _ => "files",
    }
}
