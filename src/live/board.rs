//! What all pictures of one terrain share: the ground they span, its shading,
//! the land and the lines.

use ndarray::Array2;

use perchline_assessment::Assessment;
use perchline_report::ReportError;
use perchline_report::layers::{Layers, Packing, png};
use perchline_terrain::{Grid, Projector};
use perchline_units::Position;

/// Pixels along the longer side of a picture: two a cell, within these.
const LONGEST: (usize, usize) = (600, 1600);

/// The ground under the pictures.
pub struct Board {
    /// The cells of the maps.
    pub grid: Grid,
    /// Shaded relief on the terrain's own cells.
    pub relief: Array2<u8>,
    /// Pixels across and down of a full picture.
    pub size: (u32, u32),
    /// The land, as PNG.
    pub land: Vec<u8>,
    /// Water, contours, roads, houses and names of the ground on glass, as PNG.
    pub lines: Vec<u8>,
    /// Height from one contour to the next, in the plan's unit.
    pub contours: Option<String>,
}

impl Board {
    /// Draws the ground of a plan.
    ///
    /// # Errors
    /// [`ReportError`] when a picture cannot be made.
    pub fn of(opened: &Assessment) -> Result<Self, ReportError> {
        let grid = opened.map_grid()?;
        let relief = opened.terrain.hillshade()?;
        let layers =
            Layers { plan: &opened.plan, terrain: &opened.terrain, relief: &relief, grid: &grid };
        let longest = (2 * grid.columns().max(grid.rows())).clamp(LONGEST.0, LONGEST.1);
        // At most LONGEST.1, so it fits.
        let size = layers.size(longest as u32)?;
        let land = png(&layers.land(size)?, Packing::Fast)?;
        let lines = layers.lines(size)?;
        let contours = layers.contours_shown(size).map(|step| opened.plan.units.height(step));
        Ok(Self { size, land, lines, contours, grid, relief })
    }

    /// The layers of `opened` on this ground.
    pub fn layers<'a>(&'a self, opened: &'a Assessment) -> Layers<'a> {
        Layers {
            plan: &opened.plan,
            terrain: &opened.terrain,
            relief: &self.relief,
            grid: &self.grid,
        }
    }

    /// From places to cells and back.
    ///
    /// # Errors
    /// [`ReportError`] when PROJ does not know the grid's coordinate system.
    pub fn projector(&self) -> Result<Projector, ReportError> {
        Ok(self.grid.projector()?)
    }

    /// The place of a point in columns and rows; nothing off the board.
    #[must_use]
    pub fn place(&self, column: f64, row: f64) -> Option<Position> {
        let on = (0.0..=self.grid.columns() as f64).contains(&column)
            && (0.0..=self.grid.rows() as f64).contains(&row);
        let projector = on.then(|| self.projector().ok())??;
        projector.to_position(column, row).ok()
    }
}
