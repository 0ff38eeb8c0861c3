//! From a place on the ground to a point on the sheet.

use crate::ReportError;
use crate::sheet_layout::MAP_ROOM;
use crate::svg_page::{Frame, Point};
use perchline_terrain::{Grid, Projector};
use perchline_units::Position;

/// No side of the map is shorter, however long and thin the ground.
const LEAST_SIDE: f64 = 60.0;

/// The map's place on the sheet.
pub struct MapFrame {
    frame: Frame,
    columns: f64,
    rows: f64,
    pixels_per_metre: f64,
    projector: Projector,
}

impl MapFrame {
    /// A frame that the ground of `grid` fills, in whatever shape that makes it.
    pub fn filling(grid: &Grid, frame: Frame) -> Result<Self, ReportError> {
        let (columns, rows) = (grid.columns() as f64, grid.rows() as f64);
        let pixels_per_metre = frame.width / (columns * grid.cell_size()?.0.value());
        Ok(Self { frame, columns, rows, pixels_per_metre, projector: grid.projector()? })
    }

    /// The largest frame in a map's room, in the shape that the ground of `grid` has.
    pub fn fit(grid: &Grid) -> Result<Self, ReportError> {
        let (columns, rows) = (grid.columns(), grid.rows());
        let (cell_width, cell_height) = grid.cell_size()?;
        let ground_width = columns as f64 * cell_width.value();
        let ground_height = rows as f64 * cell_height.value();
        let pixels_per_metre = (MAP_ROOM.width / ground_width).min(MAP_ROOM.height / ground_height);
        if !(pixels_per_metre.is_finite() && pixels_per_metre > 0.0) {
            return Err(ReportError::Empty { columns, rows });
        }
        let width = (ground_width * pixels_per_metre).round().clamp(LEAST_SIDE, MAP_ROOM.width);
        let height = (ground_height * pixels_per_metre).round().clamp(LEAST_SIDE, MAP_ROOM.height);
        let left = MAP_ROOM.left + ((MAP_ROOM.width - width) / 2.0).floor();
        Ok(Self {
            frame: Frame { left, top: MAP_ROOM.top, width, height },
            columns: columns as f64,
            rows: rows as f64,
            pixels_per_metre,
            projector: grid.projector()?,
        })
    }

    /// The frame on the sheet.
    pub const fn frame(&self) -> Frame {
        self.frame
    }

    /// Pixels on the sheet for a metre on the ground.
    pub const fn pixels_per_metre(&self) -> f64 {
        self.pixels_per_metre
    }

    /// The point on the sheet of a position; it may lie outside the frame.
    pub fn at(&self, position: Position) -> Result<Point, ReportError> {
        let (column, row) = self.projector.to_cell(position)?;
        Ok((
            self.frame.left + column / self.columns * self.frame.width,
            self.frame.top + row / self.rows * self.frame.height,
        ))
    }

    /// The points on the sheet of a line in longitude and latitude.
    pub fn along(&self, line: &geo::LineString) -> Result<Vec<Point>, ReportError> {
        line.points().filter_map(|p| Position::from_point(p).ok()).map(|p| self.at(p)).collect()
    }

    /// The positions of points given as shares of the frame's width and height.
    pub fn positions(&self, shares: &[(f64, f64)]) -> Result<Vec<Position>, ReportError> {
        let cells: Vec<(f64, f64)> =
            shares.iter().map(|(u, v)| (u * self.columns, v * self.rows)).collect();
        Ok(self.projector.to_positions(&cells)?)
    }
}
