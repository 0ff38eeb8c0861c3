//! The working window, put together from the plan's files.

use ndarray::Array2;

use super::{Extent, Grid, TerrainError};
use crate::plan::{InputFile, Remark, TerrainInputs};

/// What was read.
pub(super) struct Mosaic {
    pub grid: Grid,
    pub heights: Array2<f32>,
    pub files: Vec<InputFile>,
    pub remarks: Vec<Remark>,
}

pub(super) fn read(_inputs: &TerrainInputs, _extent: Extent) -> Result<Mosaic, TerrainError> {
    todo!()
}
