//! The water that a plan names.

use std::path::PathBuf;

use geo::{BoundingRect, Coord, Rect};
use ndarray::Array2;

use super::burn::burn;
use super::{Building, CoverError};
use crate::Terrain;
use perchline_plan::{Remark, WaterInputs};
use perchline_units::{Metres, Position};
use perchline_vector::footprints;

/// Ground in a polygon of water may lie so far over the lowest there: banks and
/// bridges of a raster, and the fall of a river (ours).
const LEVEL_WITHIN: Metres = Metres::new(30.0);

impl Terrain {
    /// Puts water where the plan has it beside what the land cover has; all of it counts
    /// as sea where the plan does not say that it is fresh.
    pub(super) fn flood(&mut self, inputs: &WaterInputs) -> Result<(), CoverError> {
        let mut water =
            self.water.take().unwrap_or_else(|| Array2::from_elem(self.heights().dim(), false));
        if let Some(level) = inputs.below {
            let level = level.value() as f32;
            water.zip_mut_with(&self.heights(), |water, height| *water |= *height <= level);
        }
        if !inputs.files.is_empty() {
            let polygons = self.polygons(inputs)?;
            let (shapes, files): (Vec<Building>, Vec<PathBuf>) = polygons.into_iter().unzip();
            let number = burn(self.grid(), &shapes)?.number;
            self.lie_level(&shapes, &files, &number)?;
            water.zip_mut_with(&number, |water, number| *water |= *number > 0);
        }
        let cells = water.iter().filter(|cell| **cell).count();
        let share = 100.0 * cells as f64 / water.len().max(1) as f64;
        let text = if cells == 0 {
            "no cell of the window is water".to_owned()
        } else if inputs.salt {
            format!(
                "water on {share:.1} % of the window counts as salt: with vertical polarization below 300 MHz low antennas reach much farther over it; for rivers and lakes say salt = false"
            )
        } else {
            format!("fresh water on {share:.1} % of the window: waves take it for land")
        };
        self.remarks.push(Remark { about: "water".to_owned(), text });
        self.water = Some(water);
        self.sea = inputs.salt;
        Ok(())
    }

    /// The polygons in the window, each with its file.
    fn polygons(&self, inputs: &WaterInputs) -> Result<Vec<(Building, PathBuf)>, CoverError> {
        let window = self.bounds();
        let corner = |at: Position| Coord { x: at.longitude().value(), y: at.latitude().value() };
        let within = Rect::new(corner(window.south_west), corner(window.north_east));
        let mut found = Vec::new();
        for file in &inputs.files {
            let read = footprints(file, within).map_err(|e| CoverError::Water(Box::new(e)))?;
            for shape in read.footprints {
                let Some(bounds) = shape.outline.bounding_rect() else { continue };
                let (id, outline) = (shape.id, shape.outline);
                found.push((
                    Building { id, height: Metres::new(1.0), outline, bounds },
                    file.clone(),
                ));
            }
        }
        if found.is_empty() {
            let files: Vec<_> = inputs.files.iter().map(|f| f.display().to_string()).collect();
            return Err(CoverError::NoWater { files: files.join(", "), window: Box::new(window) });
        }
        Ok(found)
    }

    /// Refuses a polygon in which the ground is far from level.
    fn lie_level(
        &self,
        shapes: &[Building],
        files: &[PathBuf],
        number: &Array2<i32>,
    ) -> Result<(), CoverError> {
        let mut heights = vec![(f32::INFINITY, f32::NEG_INFINITY); shapes.len()];
        for (number, height) in number.iter().zip(&self.heights()) {
            let known = usize::try_from(number - 1).ok().and_then(|index| heights.get_mut(index));
            if let Some((low, high)) = known.filter(|_| !height.is_nan()) {
                (*low, *high) = (low.min(*height), high.max(*height));
            }
        }
        for ((shape, file), (low, high)) in shapes.iter().zip(files).zip(heights) {
            let [low, high] = [low, high].map(|height| Metres::new(f64::from(height)));
            if high - low > LEVEL_WITHIN {
                let (file, id) = (file.clone(), shape.id.clone());
                return Err(CoverError::Uphill { file, id, low, high });
            }
        }
        Ok(())
    }

    /// Whether anything says where water is: the plan, or its land cover.
    #[must_use]
    pub fn knows_water(&self) -> bool {
        self.water.is_some()
    }

    /// Whether a position is on open water; false off the window.
    #[must_use]
    pub fn is_afloat(&self, at: Position) -> bool {
        let place = |(column, row): (f64, f64)| {
            column >= 0.0 && row >= 0.0 && self.is_water(row as usize, column as usize)
        };
        self.water.is_some() && self.grid().projector().and_then(|p| p.to_cell(at)).is_ok_and(place)
    }

    /// Whether a fractional cell of the window is sea.
    pub(crate) fn is_sea(&self, (column, row): (f64, f64)) -> bool {
        column >= 0.0 && row >= 0.0 && self.sea && self.is_water(row as usize, column as usize)
    }
}
