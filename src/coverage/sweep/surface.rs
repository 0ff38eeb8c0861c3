//! The elevation raster as the sweep reads it.

use super::math::{floor, index, larger};

/// Heights in metres, one row after another, at least two cells either way.
#[derive(Clone, Copy)]
pub(super) struct Surface<'a> {
    heights: &'a [f32],
    columns: usize,
    /// The greatest column and row of a centre.
    last: (f32, f32),
    /// The greatest column and row that start a pair of neighbours.
    corner: (f32, f32),
}

impl<'a> Surface<'a> {
    /// `None` for a raster one cell wide or one that does not hold what it says.
    pub(super) fn new(heights: &'a [f32], columns: usize, rows: usize) -> Option<Self> {
        let most = 1 << 22;
        let sizes = 2..=most;
        let fits = sizes.contains(&columns) && sizes.contains(&rows);
        (fits && u32::try_from(heights.len()).is_ok() && heights.len() == columns * rows).then(
            || Self {
                heights,
                columns,
                last: ((columns - 1) as f32, (rows - 1) as f32),
                corner: ((columns - 2) as f32, (rows - 2) as f32),
            },
        )
    }

    /// The last centre's column and row, counted from the first centre.
    pub(super) const fn last(&self) -> (f32, f32) {
        self.last
    }

    /// The cell whose centre is the upper left of the four around a place,
    /// given as column and row from the first centre, and the share of the way
    /// to the right and the lower one. Beyond the rim the outermost centres
    /// hold.
    #[inline(always)]
    pub(super) fn cell(&self, x: f32, y: f32) -> (u32, f32, f32) {
        // Not-a-number compares as smaller and ends at a limit.
        let x = smaller(larger(x, 0.0), self.last.0);
        let y = smaller(larger(y, 0.0), self.last.1);
        let left = smaller(floor(x).0, self.corner.0);
        let top = smaller(floor(y).0, self.corner.1);
        (index(top) * self.columns as u32 + index(left), x - left, y - top)
    }

    /// The four heights that start at a cell, by rows.
    #[inline(always)]
    pub(super) fn four(&self, cell: u32) -> [f32; 4] {
        let cell = cell as usize;
        let pair = |at: usize| match self.heights.get(at..at + 2) {
            Some(&[a, b]) => [a, b],
            _ => [f32::NAN; 2],
        };
        let ([a, b], [c, d]) = (pair(cell), pair(cell + self.columns));
        [a, b, c, d]
    }

    /// The height at a place, by column and row from the first centre.
    #[inline(always)]
    pub(super) fn at(&self, x: f32, y: f32) -> f32 {
        let (cell, right, down) = self.cell(x, y);
        mix(self.four(cell), right, down)
    }
}

#[inline(always)]
fn smaller(a: f32, b: f32) -> f32 {
    if a < b { a } else { b }
}

/// The height between four.
#[inline(always)]
pub(super) fn mix([a, b, c, d]: [f32; 4], right: f32, down: f32) -> f32 {
    let upper = a + (b - a) * right;
    let lower = c + (d - c) * right;
    upper + (lower - upper) * down
}
