//! Mast heights and the search for spots.

use std::path::PathBuf;

use perchline_units::Metres;

use super::Environment;
use crate::typed::{masts, search};

/// Which mast heights are tried.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MastInputs {
    /// Greatest height of the antenna over the roof, 1 to 60 m.
    pub highest: Metres,
    /// Whether the station's cable is longer on a longer mast.
    pub feed_line_grows: bool,
}

/// What a plan without `[masts]` is taken to ask for.
impl Default for MastInputs {
    fn default() -> Self {
        let declared = masts::FIELDS;
        Self {
            highest: declared.highest.usual(),
            feed_line_grows: declared.feed_line_grows.usual(),
        }
    }
}

/// Where spots that nobody listed are looked for.
#[derive(Debug, Clone, PartialEq)]
pub struct SearchInputs {
    /// The ground to search in longitude and latitude; the whole map if none.
    pub inside: Option<geo::Polygon>,
    /// Height of the antenna over what it stands on, 0.5 to 60 m.
    pub mast: Metres,
    /// Roads, where the plan names them.
    pub roads: Option<Roads>,
    /// Least distance between two spots of the list, 10 m to 20 km.
    pub keep_apart: Metres,
    /// Noise environment at every spot in place of the plan's.
    pub environment: Option<Environment>,
    /// Points that stand for each area and each route at most, 1 to 100.
    pub samples: usize,
}

/// What a plan without `[search]` is taken to ask for.
impl Default for SearchInputs {
    fn default() -> Self {
        let declared = search::FIELDS;
        Self {
            inside: None,
            mast: declared.mast.usual(),
            roads: None,
            keep_apart: declared.keep_apart.usual(),
            environment: None,
            samples: declared.samples.usual(),
        }
    }
}

/// Lines that one can drive on.
#[derive(Debug, Clone, PartialEq)]
pub struct Roads {
    /// The file that they are from.
    pub file: PathBuf,
    /// The lines in longitude and latitude, one or more.
    pub lines: Vec<geo::LineString>,
}
