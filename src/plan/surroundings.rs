//! What stands on the ground: buildings and land cover, as the plan names them.

use std::path::PathBuf;

use super::ClassMapping;
use perchline_units::Metres;

/// Building footprints and how their heights are read.
#[derive(Debug, Clone, PartialEq)]
pub struct BuildingInputs {
    /// Vector files, already joined to the plan's folder.
    pub files: Vec<PathBuf>,
    /// Side of a cell of the surface, 0.5 to 50 m; no coarser than the terrain's own.
    pub cell: Metres,
    /// Height of a storey, 2 to 6 m.
    pub storey: Metres,
    /// Height of a building that states none, 1 to 100 m.
    pub default_height: Metres,
}

/// A land-cover raster and what its codes stand for.
#[derive(Debug, Clone, PartialEq)]
pub struct LandCoverInputs {
    /// The raster, already joined to the plan's folder.
    pub file: PathBuf,
    /// What its codes stand for.
    pub mapping: ClassMapping,
}

/// How the building around an indoor post is made (ITU-R P.2109).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Indoors {
    /// Without metallized glass or foil in the walls.
    Traditional,
    /// With metallized glass and foil-backed panels.
    Efficient,
}

impl Indoors {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Traditional => "traditional",
            Self::Efficient => "efficient",
        }
    }
}
