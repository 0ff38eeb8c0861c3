//! How much memory a plan takes, told before it is taken.

use serde::Serialize;

use crate::plan::Plan;
use crate::terrain::{Grid, Terrain, TerrainError};
use crate::units::Metres;

use super::fit;

/// What a run takes whatever its plan, bytes: the program with its libraries,
/// GDAL's cache, the strips that files are read in, a drawing. Measured, and
/// rounded up.
const ALWAYS: f64 = 200e6;
/// A cell of bare terrain: its height, and what is drawn or written of it.
const GROUND: f64 = 7.0;
/// The same while gaps are filled.
const FILLED: f64 = 20.0;
/// A cell with what stands on it: cover, surface, trees, what is left without
/// them, water, and the numbers of footprints while they are burnt in.
const COVERED: f64 = 36.0;
/// A cell of a map that is kept: two margins, a probability, sight and outcome.
const KEPT: f64 = 14.0;
/// A cell of the map that is being computed, drawn or written, once more.
const WORKED: f64 = 16.0;

/// The memory that a run takes at its most, bytes.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Need {
    /// Whatever the plan.
    pub always: f64,
    /// For terrain and what stands on it.
    pub terrain: f64,
    /// For maps.
    pub maps: f64,
}

/// A plan's window before its heights are read, and what it takes to work on it.
#[derive(Debug, Clone)]
pub struct Survey {
    window: Grid,
    cell: Metres,
    /// Cells of the terrain: those of the window, or finer where there are buildings.
    terrain_cells: f64,
    per_terrain_cell: f64,
    map_cells: f64,
    maps: usize,
}

impl Survey {
    /// Surveys what a plan needs, with so many maps kept at a time, none of
    /// which is worked on where there are to be none.
    ///
    /// # Errors
    /// [`TerrainError`] when the plan's files cannot be used, or lie elsewhere.
    pub fn of(
        plan: &Plan,
        more: &[crate::units::Position],
        maps: usize,
    ) -> Result<Self, TerrainError> {
        let Some(extent) = fit::extent_of(plan, more) else { return Err(TerrainError::NoFiles) };
        let window = Terrain::survey(&plan.terrain, extent)?;
        let (width, height) = window.cell_size()?;
        let cell = width.min(height);
        let cells = window.columns() as f64 * window.rows() as f64;
        let area = cells * width.value() * height.value();
        let finer = plan.buildings.as_ref().map_or(1.0, |buildings| {
            let parts =
                |side: Metres| (side.value() / buildings.cell.value() * 0.99).ceil().max(1.0);
            parts(width) * parts(height)
        });
        let terrain_cells = cells * finer;
        let map_cells = match plan.map.cell {
            Some(cell) => (area / cell.value().powi(2)).min(terrain_cells),
            None => terrain_cells,
        };
        let per_terrain_cell = if plan.is_covered() {
            COVERED
        } else if plan.terrain.fill_gaps {
            FILLED
        } else {
            GROUND
        };
        Ok(Self { window, cell, terrain_cells, per_terrain_cell, map_cells, maps })
    }

    /// What it takes.
    #[must_use]
    pub fn need(&self) -> Need {
        let maps = self.maps as f64 * KEPT + if self.maps > 0 { WORKED } else { 0.0 };
        Need {
            always: ALWAYS,
            terrain: self.terrain_cells * self.per_terrain_cell,
            maps: self.map_cells * maps,
        }
    }

    /// Whether it fits into so many bytes; a sentence that says what would if
    /// it does not.
    ///
    /// # Errors
    /// That sentence.
    pub fn fits(&self, room: f64) -> Result<(), String> {
        let need = self.need();
        if need.total() <= room {
            return Ok(());
        }
        let gigabytes = |bytes: f64| format!("{:.1} GB", bytes / 1e9);
        let mut text = format!(
            "this needs about {} of memory ({} for {} x {} cells of terrain, {} for maps), and there are {}",
            gigabytes(need.total()),
            gigabytes(need.terrain),
            self.window.columns(),
            self.window.rows(),
            gigabytes(need.maps),
            gigabytes(room),
        );
        let left = room - need.always;
        if left <= 0.0 {
            text += "; a run takes more than that whatever its plan: end other programs, or allow more with --memory";
            return Err(text);
        }
        // All cells as many times larger as it takes, terrain and map alike.
        let larger = ((need.terrain + need.maps) / left).sqrt().ceil();
        text += &format!(
            "; what would fit: [terrain] cell = \"{:.0} m\" and no finer [map] cell",
            (self.cell.value() * larger).ceil()
        );
        if need.terrain < left {
            // Maps alone are too many or too fine.
            let cell = self.cell.value() * (self.terrain_cells / self.map_cells).sqrt();
            let larger = (need.maps / (left - need.terrain)).sqrt();
            text += &format!("; or [map] cell = \"{:.0} m\" alone", (cell * larger).ceil());
            if self.maps > 2 {
                text += ", or fewer maps at a time (--maps best, --channel)";
            }
        }
        let share = (left / (need.terrain + need.maps)).sqrt();
        text += &format!(
            "; or a smaller [map] margin, so that the map is {:.0} % as wide and high; or more room with --memory",
            100.0 * share
        );
        Err(text)
    }
}

impl Need {
    /// All of it.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.always + self.terrain + self.maps
    }
}
