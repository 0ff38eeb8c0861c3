//! Files on another grid than the window's, in their own cells.
//!
//! The window holds such a file resampled: maps, relief and contours are drawn from
//! that. Paths ask for heights between the window's centres, and there a second
//! interpolation would cut off the file's crests. So its cells are kept, and a place
//! that lies in it has the height that they give.

use ndarray::Array2;

use super::tracer::{Sample, Sampler};
use super::{Grid, TerrainError};

/// Window cells between the places at which the way to a file's cells is computed
/// exactly; in between it is interpolated. Halved until it holds.
const WIDEST: usize = 64;
const NARROWEST: usize = 8;

/// What the interpolated place may be off, in the file's cells.
const TOLERANCE: f64 = 0.01;

/// The cells of files that were resampled to a window.
#[derive(Debug, Clone)]
pub(super) struct OwnCells {
    /// For every cell of the window the number of the file that its height is from,
    /// counted from 1; 0 where the window's own cells are as good.
    from: Array2<u16>,
    files: Vec<OwnFile>,
}

/// A part of a file, and where the window lies on it.
#[derive(Debug, Clone)]
pub(super) struct OwnFile {
    /// Heights above sea level in metres, NaN where there is a gap.
    heights: Array2<f32>,
    places: Places,
}

/// Fractional cells of a file at every so many cells of the window.
#[derive(Debug, Clone)]
struct Places {
    /// Column and row of the window at which the first place stands.
    first: (f64, f64),
    /// Columns and rows of the window from one to the next.
    step: (f64, f64),
    /// NaN where the file's coordinate system does not reach.
    places: Array2<(f64, f64)>,
}

impl OwnFile {
    /// `heights` on `grid`, as needed for the part of `window` that begins at this
    /// column and row and has so many of both.
    ///
    /// # Errors
    /// [`TerrainError`] when PROJ cannot place one of the grids on the earth.
    pub fn new(
        (grid, heights): (&Grid, Array2<f32>),
        window: &Grid,
        (column, row): (usize, usize),
        (columns, rows): (usize, usize),
    ) -> Result<Self, TerrainError> {
        let part = Part { first: (column as f64, row as f64), size: (columns, rows) };
        let mut step = WIDEST;
        loop {
            let places = Places::at_every(step, &part, window, grid)?;
            if step == NARROWEST || places.hold(window, grid)? {
                return Ok(Self { heights, places });
            }
            step /= 2;
        }
    }

    /// The height at a fractional cell of the window, bilinear between the file's
    /// centres; NaN where one of the four has none.
    #[inline]
    fn height(&self, column: f64, row: f64) -> f64 {
        let (column, row) = self.places.at(column, row);
        let (x, y) = (column - 0.5, row - 0.5);
        // Of no use to the left of the first centres; not-a-number is neither.
        if !(x >= 0.0 && y >= 0.0) {
            return f64::NAN;
        }
        let (left, top) = (x as usize, y as usize);
        let (right, down) = (x - left as f64, y - top as f64);
        let cell = |row: usize, column: usize| {
            self.heights.get((row, column)).map_or(f64::NAN, |h| f64::from(*h))
        };
        let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
        mix(
            mix(cell(top, left), cell(top, left + 1), right),
            mix(cell(top + 1, left), cell(top + 1, left + 1), right),
            down,
        )
    }
}

/// A part of the window, in its cells.
struct Part {
    first: (f64, f64),
    size: (usize, usize),
}

impl Places {
    fn at_every(
        step: usize,
        part: &Part,
        window: &Grid,
        file: &Grid,
    ) -> Result<Self, TerrainError> {
        let (columns, rows) = part.size;
        let count = |cells: usize| cells.div_ceil(step) + 1;
        let side = step as f64;
        let found: Vec<_> = (0..count(rows))
            .flat_map(|row| (0..count(columns)).map(move |column| (column, row)))
            .map(|(column, row)| {
                (part.first.0 + column as f64 * side, part.first.1 + row as f64 * side)
            })
            .collect();
        let places = on(window, file, &found)?;
        let shape = (count(rows), count(columns));
        let places = Array2::from_shape_vec(shape, places)
            .map_err(|_| TerrainError::Shape { found: (0, 0), grid: shape })?;
        Ok(Self { first: part.first, step: (side, side), places })
    }

    /// Where a fractional cell of the window lies on the file.
    #[inline]
    fn at(&self, column: f64, row: f64) -> (f64, f64) {
        let last = |count: usize| count.saturating_sub(2) as f64;
        let (rows, columns) = self.places.dim();
        let x = (column - self.first.0) / self.step.0;
        let y = (row - self.first.1) / self.step.1;
        let (left, top) = (x.floor().clamp(0.0, last(columns)), y.floor().clamp(0.0, last(rows)));
        let (right, down) = (x - left, y - top);
        let place = |row: usize, column: usize| {
            self.places.get((row, column)).copied().unwrap_or((f64::NAN, f64::NAN))
        };
        let (left, top) = (left as usize, top as usize);
        let (a, b) = (place(top, left), place(top, left + 1));
        let (c, d) = (place(top + 1, left), place(top + 1, left + 1));
        let mix = |a: f64, b: f64, c: f64, d: f64| {
            let (upper, lower) = (a + (b - a) * right, c + (d - c) * right);
            upper + (lower - upper) * down
        };
        (mix(a.0, b.0, c.0, d.0), mix(a.1, b.1, c.1, d.1))
    }

    /// The same places, told in cells of a window each cell of which is cut in so
    /// many columns and rows.
    fn cut(self, across: usize, down: usize) -> Self {
        let (across, down) = (across as f64, down as f64);
        Self {
            first: (self.first.0 * across, self.first.1 * down),
            step: (self.step.0 * across, self.step.1 * down),
            places: self.places,
        }
    }

    /// Whether places amid those that were computed come out within the tolerance.
    fn hold(&self, window: &Grid, file: &Grid) -> Result<bool, TerrainError> {
        let (rows, columns) = self.places.dim();
        let amid: Vec<_> = (0..rows.saturating_sub(1))
            .flat_map(|row| (0..columns.saturating_sub(1)).map(move |column| (column, row)))
            .map(|(column, row)| {
                (
                    self.first.0 + (column as f64 + 0.5) * self.step.0,
                    self.first.1 + (row as f64 + 0.5) * self.step.1,
                )
            })
            .collect();
        let exact = on(window, file, &amid)?;
        // Where either is not a number the file has no cell.
        Ok(amid.iter().zip(exact).all(|(&(column, row), exact)| {
            let found = self.at(column, row);
            let off = (found.0 - exact.0).hypot(found.1 - exact.1);
            off.is_nan() || off <= TOLERANCE
        }))
    }
}

/// Where fractional cells of `window` lie on `file`; NaN where its coordinate system
/// does not reach.
fn on(window: &Grid, file: &Grid, cells: &[(f64, f64)]) -> Result<Vec<(f64, f64)>, TerrainError> {
    if window.crs() == file.crs() {
        return Ok(cells.iter().map(|cell| file.cell_of(window, *cell)).collect());
    }
    let (from, to) = (window.projector()?, file.projector()?);
    let nowhere = (f64::NAN, f64::NAN);
    let place = |at| to.to_cell(at).unwrap_or(nowhere);
    Ok(match from.to_positions(cells) {
        Ok(places) => places.into_iter().map(place).collect(),
        // One that fails would spoil them all.
        Err(_) => cells
            .iter()
            .map(|(column, row)| from.to_position(*column, *row).map_or(nowhere, place))
            .collect(),
    })
}

impl OwnCells {
    /// The files that `from` numbers from 1 on; `None` where it names none.
    pub fn new(from: Array2<u16>, files: Vec<OwnFile>) -> Option<Self> {
        (!files.is_empty() && from.iter().any(|file| *file > 0)).then_some(Self { from, files })
    }

    /// The files' own heights, one file after another.
    pub fn heights(&self) -> impl Iterator<Item = ndarray::ArrayView2<'_, f32>> {
        self.files.iter().map(|file| file.heights.view())
    }

    /// The same for a window of the same rectangle, each cell of which is cut in
    /// so many columns and rows: the window's own cells count beside a seam.
    pub fn cut(self, across: usize, down: usize) -> Self {
        let (rows, columns) = self.from.dim();
        let amid = |cell: usize, parts: usize| (cell as f64 + 0.5) / parts as f64;
        let from = Array2::from_shape_fn((rows * down, columns * across), |(row, column)| {
            let around = self.around(amid(column, across), amid(row, down));
            let [(first, _), ..] = around;
            if around.iter().all(|(file, _)| *file == first) { first } else { 0 }
        });
        let files = self
            .files
            .into_iter()
            .map(|file| OwnFile { places: file.places.cut(across, down), ..file });
        Self { from, files: files.collect() }
    }

    /// The files that the heights of the four centres around a place are from, and
    /// the centres' shares in it; beyond the rim the outermost centres hold.
    #[inline]
    fn around(&self, column: f64, row: f64) -> [(u16, f64); 4] {
        let (rows, columns) = self.from.dim();
        let last = |count: usize| count.saturating_sub(1) as f64;
        let x = (column - 0.5).clamp(0.0, last(columns));
        let y = (row - 0.5).clamp(0.0, last(rows));
        let (left, top) = (x as usize, y as usize);
        let (right, down) = (x - left as f64, y - top as f64);
        let file = |row: usize, column: usize| {
            let place = (row.min(rows.saturating_sub(1)), column.min(columns.saturating_sub(1)));
            self.from.get(place).copied().unwrap_or(0)
        };
        [
            (file(top, left), (1.0 - right) * (1.0 - down)),
            (file(top, left + 1), right * (1.0 - down)),
            (file(top + 1, left), (1.0 - right) * down),
            (file(top + 1, left + 1), right * down),
        ]
    }

    /// The ground height at a fractional cell of the window, metres above sea level,
    /// where the window's own cells give `window`.
    ///
    /// Between centres of one file it is that file's; at a seam it passes steadily
    /// from one to the other. Where the file has a gap the window's height holds.
    #[inline]
    pub fn height(&self, (column, row): (f64, f64), window: f64) -> f64 {
        let around = self.around(column, row);
        let [(first, _), rest @ ..] = around;
        if rest.iter().all(|(file, _)| *file == first) {
            return self.own(first, column, row, window);
        }
        let each = around.map(|(file, share)| share * self.own(file, column, row, window));
        each.iter().sum()
    }

    /// What a file says, or the window where it says nothing.
    #[inline]
    fn own(&self, file: u16, column: f64, row: f64, window: f64) -> f64 {
        let file = usize::from(file).checked_sub(1).and_then(|index| self.files.get(index));
        let height = file.map_or(f64::NAN, |file| file.height(column, row));
        if height.is_nan() { window } else { height }
    }
}

/// The ground as the files' own cells have it, against the window's.
#[derive(Clone, Copy)]
pub struct OwnGround<'a> {
    cells: &'a OwnCells,
    window: Sampler<'a>,
}

impl<'a> OwnGround<'a> {
    pub(super) const fn new(cells: &'a OwnCells, window: Sampler<'a>) -> Self {
        Self { cells, window }
    }

    /// By how many metres the ground at a fractional (column, row) of the window is
    /// higher than its cells make it, bilinear; 0 where they are the file's own, and
    /// in gaps.
    #[must_use]
    pub fn above_window(&self, place: (f64, f64)) -> f64 {
        match self.window.height(place.0, place.1) {
            Sample::Height(window) => self.cells.height(place, window) - window,
            Sample::Gap | Sample::Outside => 0.0,
        }
    }
}
