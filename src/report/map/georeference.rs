//! Where things stand on the sheet, and from a cell to a point on it.

use crate::ReportError;
use crate::svg_page::{Frame, Point};
use perchline_terrain::{Grid, Projector};
use perchline_units::Position;

/// Size of the sheet in pixels: A4 across at 212 pixels an inch.
pub const SHEET_WIDTH: u32 = 2480;
/// See [`SHEET_WIDTH`].
pub const SHEET_HEIGHT: u32 = 1754;
/// Left edge of everything.
pub const LEFT: f64 = 100.0;
/// Right edge of everything.
pub const RIGHT: f64 = 2380.0;
/// Left edge of the column beside the map.
pub const SIDE_LEFT: f64 = 1790.0;
/// The room for the map: what is beside and below it stands outside.
const ROOM: Frame = Frame { left: 136.0, top: 318.0, width: 1584.0, height: 1150.0 };
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

    /// The largest frame in the shape that the ground of `grid` has.
    pub fn fit(grid: &Grid) -> Result<Self, ReportError> {
        let (columns, rows) = (grid.columns(), grid.rows());
        let (cell_width, cell_height) = grid.cell_size()?;
        let ground_width = columns as f64 * cell_width.value();
        let ground_height = rows as f64 * cell_height.value();
        let pixels_per_metre = (ROOM.width / ground_width).min(ROOM.height / ground_height);
        if !(pixels_per_metre.is_finite() && pixels_per_metre > 0.0) {
            return Err(ReportError::Empty { columns, rows });
        }
        let width = (ground_width * pixels_per_metre).round().clamp(LEAST_SIDE, ROOM.width);
        let height = (ground_height * pixels_per_metre).round().clamp(LEAST_SIDE, ROOM.height);
        let left = ROOM.left + ((ROOM.width - width) / 2.0).floor();
        Ok(Self {
            frame: Frame { left, top: ROOM.top, width, height },
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
