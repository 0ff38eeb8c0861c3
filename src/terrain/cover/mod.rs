//! What stands on the ground: buildings from footprints, trees and houses from
//! land cover.

mod beside;
mod buildings;
mod burn;
mod error;
mod height;
mod land_cover;
mod refine;
mod standing;
mod water;

use std::sync::Arc;

use ndarray::Array2;

pub use buildings::Building;
pub use error::CoverError;
pub(super) use standing::Standing;

use self::land_cover::LandCover;
use super::{Terrain, TerrainError};
use perchline_plan::{CoverKind, InputFile, LandCoverInputs, Plan, Remark};
use perchline_units::{Metres, Position};

impl Terrain {
    /// The same ground with the plan's buildings, land cover and water on it; as it
    /// is where the plan has none of them.
    ///
    /// With buildings the window's cells are cut finer, to the plan's cell.
    /// What a footprint holds has the building's height; elsewhere the class
    /// of land cover gives it, but built-up classes only where the plan names
    /// no footprints.
    ///
    /// # Errors
    /// [`CoverError`] when a file cannot be used, has nothing where the plan
    /// needs it, or the cells would be too many.
    pub fn with_surroundings(self, plan: &Plan) -> Result<Self, CoverError> {
        let mut terrain = if plan.is_covered() { self.built_over(plan)? } else { self };
        if let Some(inputs) = &plan.water {
            terrain.flood(inputs)?;
        }
        Ok(terrain)
    }

    fn built_over(self, plan: &Plan) -> Result<Self, CoverError> {
        let mut remarks = Vec::new();
        let mut terrain = match &plan.buildings {
            Some(inputs) => self.in_cells_of(inputs.cell, &mut remarks)?,
            None => self,
        };
        let mut cover = Array2::zeros(terrain.heights().dim());
        let mut woods = cover.clone();
        let land = match &plan.land_cover {
            Some(inputs) => {
                let mut land = LandCover::read(inputs, terrain.grid())?;
                remarks.append(&mut land.remarks);
                terrain.note_file(inputs)?;
                Some(land)
            }
            None => None,
        };
        if let Some(land) = &land {
            lay(land, plan.buildings.is_some(), &mut cover, &mut woods);
            remarks.push(summary(land, plan.buildings.is_some()));
        }
        if let Some(inputs) = &plan.buildings {
            let (list, mut said) = buildings::read(inputs, terrain.bounds())?;
            remarks.append(&mut said);
            remarks.append(&mut terrain.build(list, land.as_ref(), (&mut cover, &mut woods))?);
        }
        terrain.water = land.as_ref().map(LandCover::water);
        let mut terrain = terrain.with_cover(cover)?.with_woods(woods)?;
        terrain.remarks.append(&mut remarks);
        Ok(terrain)
    }

    /// The highest building whose footprint holds a position.
    #[must_use]
    pub fn building(&self, at: Position) -> Option<&Building> {
        self.buildings.at(at)
    }

    /// Every building with a place on its roof: one inside its outline, as far
    /// from the rim as a line across its middle allows.
    pub fn roofs(&self) -> impl Iterator<Item = (Position, &Building)> {
        self.buildings().iter().filter_map(|building| Some((building.inside()?, building)))
    }

    /// Whether a cell is open water: by the land cover, or where the plan has it.
    #[must_use]
    pub fn is_water(&self, row: usize, column: usize) -> bool {
        self.water.as_ref().is_some_and(|water| water.get((row, column)) == Some(&true))
    }

    /// Whether open water is anywhere that counts as sea.
    #[must_use]
    pub fn has_sea(&self) -> bool {
        self.sea && self.water.as_ref().is_some_and(|water| water.iter().any(|cell| *cell))
    }

    /// The buildings in order of ascending height.
    #[must_use]
    pub fn buildings(&self) -> &[Building] {
        self.buildings.list()
    }

    /// Whether any building stands on the terrain.
    #[must_use]
    pub fn has_buildings(&self) -> bool {
        !self.buildings().is_empty()
    }

    /// Street level beside the building that holds `at`: the nearest place in
    /// no footprint, a cell of the surface clear of walls where there is such
    /// a place within 200 m, else a metre. `None` where there is neither.
    #[must_use]
    pub fn beside(&self, at: Position) -> Option<Position> {
        beside::beside(&self.buildings, at, self.spacing())
    }

    /// Puts buildings on the cells of the cover, in the place of trees.
    fn build(
        &mut self,
        list: Vec<Building>,
        land: Option<&LandCover<'_>>,
        (cover, woods): (&mut Array2<f32>, &mut Array2<f32>),
    ) -> Result<Vec<Remark>, CoverError> {
        let (number, mut remarks) = buildings::on_cells(self.grid(), &list)?;
        let mut on_water = 0usize;
        for ((place, cell), number) in cover.indexed_iter_mut().zip(&number) {
            let index = usize::try_from(number - 1).ok();
            if let Some(building) = index.and_then(|index| list.get(index)) {
                *cell = building.height.value() as f32;
                if let Some(trees) = woods.get_mut(place) {
                    *trees = 0.0;
                }
                let class = land.and_then(|land| land.class(place.0, place.1));
                on_water += usize::from(class.is_some_and(|c| c.kind == CoverKind::Water));
            }
        }
        let (low, high) = (list.first(), list.last());
        if let (Some(low), Some(high)) = (low, high) {
            let (width, height) = self.grid().cell_size()?;
            remarks.push(Remark {
                about: "buildings".to_owned(),
                text: format!(
                    "{} footprints of {:.1} to {:.1} stand on cells of {width:.1} x {height:.1}",
                    list.len(),
                    low.height,
                    high.height
                ),
            });
        }
        if on_water > 0 {
            remarks.push(Remark {
                about: "buildings".to_owned(),
                text: format!(
                    "{on_water} cells of buildings lie where the land cover has water: are footprints and land cover in the right place?"
                ),
            });
        }
        self.buildings = Arc::new(Standing::of(list));
        Ok(remarks)
    }

    /// The same ground in cells of about `cell`, or as it is with a remark
    /// where its own are no larger.
    fn in_cells_of(self, cell: Metres, remarks: &mut Vec<Remark>) -> Result<Self, CoverError> {
        let Some(grid) = refine::grid(self.grid(), cell)? else {
            let (width, height) = self.grid().cell_size()?;
            if width.max(height) < cell * 0.99 {
                remarks.push(Remark {
                    about: "buildings: cell".to_owned(),
                    text: format!(
                        "the terrain's own cells of {width:.1} x {height:.1} are finer than {cell}; theirs are used"
                    ),
                });
            }
            return Ok(self);
        };
        let heights = refine::heights(&self, &grid);
        let own = self.grid();
        let (across, down) = (grid.columns() / own.columns(), grid.rows() / own.rows());
        let mut finer = Self::from_heights(grid, heights)?;
        let own_cells = self.own_cells.map(Arc::unwrap_or_clone);
        finer.own_cells = own_cells.map(|own| Arc::new(own.cut(across, down)));
        finer.covered = self.covered;
        finer.missing = self.missing;
        finer.files = self.files;
        finer.remarks = self.remarks;
        Ok(finer)
    }

    fn note_file(&mut self, inputs: &LandCoverInputs) -> Result<(), TerrainError> {
        let file = InputFile::of(&inputs.file)
            .map_err(|source| TerrainError::Missing { file: inputs.file.clone(), source })?;
        self.files.push(file);
        Ok(())
    }
}

/// Heights of the classes onto the cells, and how much of them is trees.
fn lay(land: &LandCover<'_>, footprints: bool, cover: &mut Array2<f32>, woods: &mut Array2<f32>) {
    for (((row, column), cell), trees) in cover.indexed_iter_mut().zip(woods) {
        let Some(class) = land.class(row, column) else { continue };
        let height = class.height.value() as f32;
        (*cell, *trees) = match class.kind {
            CoverKind::Trees => (height, height),
            CoverKind::Built if !footprints => (height, 0.0),
            CoverKind::Built | CoverKind::Bare | CoverKind::Water => (0.0, 0.0),
        };
    }
}

fn summary(land: &LandCover<'_>, footprints: bool) -> Remark {
    let percent = |kind| 100.0 * land.share(kind);
    let built = if footprints {
        "of which nothing is counted but the footprints"
    } else {
        "counted at the height of their class"
    };
    Remark {
        about: "land_cover".to_owned(),
        text: format!(
            "trees on {:.1} % of the window, as high as their class: waves go over or through them, whichever costs less; built-up land on {:.1} %, {built}",
            percent(CoverKind::Trees),
            percent(CoverKind::Built)
        ),
    }
}
