//! Heights of the terrain, bilinear between cell centres: at single places, at
//! one place a lane, and faster where the places of the lanes lie nearly side by
//! side along the lines of a wedge.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use std::ops::Range;

use pulp::Simd;

use perchline_terrain::OwnGround;

use super::registers::{
    LANE_NUMBERS, LANES, Lanes, Mask, Part, Register, index, larger, parts, smaller,
};

/// Heights above sea level in metres, one row after another, at least two cells
/// either way. Places are given by column and row from the first cell's centre.
#[derive(Clone, Copy)]
pub(super) struct HeightRaster<'a> {
    heights: &'a [f32],
    columns: usize,
    /// The greatest column and row of a centre.
    last: (f32, f32),
    /// The greatest column and row that start a pair of neighbours.
    corner: (f32, f32),
    /// Ground on another grid, which adds to what these heights say.
    own: Option<OwnGround<'a>>,
}

impl<'a> HeightRaster<'a> {
    /// `None` for a raster one cell wide or one that does not hold what it says.
    pub(super) fn new(heights: &'a [f32], columns: usize, rows: usize) -> Option<Self> {
        let most = 1 << 22;
        let sizes = 2..=most;
        let fits = sizes.contains(&columns) && sizes.contains(&rows);
        let whole = u32::try_from(heights.len()).is_ok() && heights.len() == columns * rows;
        (fits && whole).then(|| Self {
            heights,
            columns,
            last: ((columns - 1) as f32, (rows - 1) as f32),
            corner: ((columns - 2) as f32, (rows - 2) as f32),
            own: None,
        })
    }

    /// The same with ground that is known in the cells of another grid.
    pub(super) fn with_own(self, own: Option<OwnGround<'a>>) -> Self {
        Self { own, ..self }
    }

    /// The last centre's column and row, counted from the first centre.
    pub(super) const fn last(&self) -> (f32, f32) {
        self.last
    }

    /// The index of the cell whose centre is the upper left of the four around a
    /// place.
    #[inline(always)]
    pub(super) fn cell(&self, x: f32, y: f32) -> u32 {
        let (left, top, ..) = self.split(x, y);
        index(top) * self.columns as u32 + index(left)
    }

    /// Column and row of that cell, and the shares of the way to the right and
    /// the lower one. Beyond the rim the outermost centres hold.
    #[inline(always)]
    fn split(&self, x: f32, y: f32) -> (f32, f32, f32, f32) {
        // Not-a-number compares as smaller and ends at a limit.
        let x = smaller(larger(x, 0.0), self.last.0);
        let y = smaller(larger(y, 0.0), self.last.1);
        let left = smaller(x as u32 as f32, self.corner.0);
        let top = smaller(y as u32 as f32, self.corner.1);
        (left, top, x - left, y - top)
    }

    /// The heights of a cell and its right, lower and lower right neighbours.
    #[inline(always)]
    fn four(&self, cell: usize) -> [f32; 4] {
        // Where the lower pair is in the raster the upper one is too.
        match self.heights.get(cell..cell + self.columns + 2) {
            Some([a, b, .., c, d]) => [*a, *b, *c, *d],
            _ => [f32::NAN; 4],
        }
    }

    /// The height at a place.
    #[inline(always)]
    pub(super) fn at(&self, x: f32, y: f32) -> f32 {
        let (left, top, right, down) = self.split(x, y);
        let [a, b, c, d] = self.four((index(top) * self.columns as u32 + index(left)) as usize);
        let (upper, lower) = (a + (b - a) * right, c + (d - c) * right);
        let height = upper + (lower - upper) * down;
        match &self.own {
            Some(own) => height + own_above(own, x, y),
            None => height,
        }
    }

    /// Adds to heights at these places what ground on another grid has more.
    #[inline(never)]
    fn add_own(own: &OwnGround<'_>, x: &Lanes, y: &Lanes, heights: &mut Lanes) {
        for l in 0..LANES {
            heights[l] += own_above(own, x[l], y[l]);
        }
    }

    /// The heights at one place a lane, wherever they lie.
    #[inline(always)]
    pub(super) fn heights<S: Simd>(&self, simd: S, x: &Lanes, y: &Lanes) -> Lanes {
        let blank = [0f32; LANES];
        let (mut left, mut top) = (blank, blank);
        let (mut right, mut down) = (blank, blank);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let x = at.load(x).at_least(0.0).at_most(self.last.0);
            let y = at.load(y).at_least(0.0).at_most(self.last.1);
            let (column, row) =
                (x.floor().at_most(self.corner.0), y.floor().at_most(self.corner.1));
            column.store(&mut left, part);
            row.store(&mut top, part);
            (x - column).store(&mut right, part);
            (y - row).store(&mut down, part);
        }
        let mut corners = [blank; 4];
        for l in 0..LANES {
            let cell = (index(top[l]) * self.columns as u32 + index(left[l])) as usize;
            let [a, b, c, d] = self.four(cell);
            (corners[0][l], corners[1][l], corners[2][l], corners[3][l]) = (a, b, c, d);
        }
        let mut heights = blank;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let [a, b, c, d] = &corners;
            let (a, b, c, d) = (at.load(a), at.load(b), at.load(c), at.load(d));
            bilinear(a, b, c, d, (at.load(&right), at.load(&down))).store(&mut heights, part);
        }
        if let Some(own) = &self.own {
            Self::add_own(own, x, y, &mut heights);
        }
        heights
    }
}

/// What ground on another grid has more at a place, metres.
fn own_above(own: &OwnGround<'_>, x: f32, y: f32) -> f32 {
    own.above_window((f64::from(x) + 0.5, f64::from(y) + 0.5)) as f32
}

#[inline(always)]
fn bilinear<S: Simd>(
    a: Register<S>,
    b: Register<S>,
    c: Register<S>,
    d: Register<S>,
    (right, down): (Register<S>, Register<S>),
) -> Register<S> {
    let (upper, lower) = (a + (b - a) * right, c + (d - c) * right);
    upper + (lower - upper) * down
}

/// Heights laid out so that the cells of a wedge's runs are neighbours in
/// memory: the raster itself where runs are rows, a copy of the wedge's part of
/// it, column after column, where they are columns.
#[derive(Debug, Default)]
pub(super) struct Strip {
    copy: Vec<f32>,
    /// For every line: the first cell along it that is held, one past the
    /// last, and where in memory the first one stands.
    lines: Vec<(u32, u32, u32)>,
    /// The line that `lines` begins with.
    first: usize,
    /// Whether lines are columns.
    by_columns: bool,
}

/// Neighbouring cells that the places of all lanes draw on.
const STRETCH: usize = LANES + 2;

impl Strip {
    /// Lays out the raster itself, for runs along rows.
    pub(super) fn lay_out_rows(&mut self, raster: &HeightRaster<'_>) {
        let columns = raster.columns as u32;
        self.by_columns = false;
        self.first = 0;
        self.lines.clear();
        let rows = raster.heights.len() as u32 / columns;
        self.lines.extend((0..rows).map(|row| (0, columns, row * columns)));
    }

    /// Lays out columns `lines`, of each the rows that `part` tells, for runs
    /// along columns.
    pub(super) fn lay_out_columns(
        &mut self,
        raster: &HeightRaster<'_>,
        lines: Range<usize>,
        part: impl Fn(usize) -> Range<usize>,
    ) {
        self.by_columns = true;
        self.first = lines.start;
        self.lines.clear();
        self.copy.clear();
        for line in lines {
            let part = part(line);
            self.lines.push((part.start as u32, part.end as u32, self.copy.len() as u32));
            let first = part.start * raster.columns + line;
            let cells = raster.heights.get(first..).unwrap_or_default();
            self.copy.extend(cells.iter().step_by(raster.columns).take(part.len()));
        }
    }

    /// The cells from `start` on of a line, if they are held.
    #[inline(always)]
    fn stretch<'a>(
        &'a self,
        raster: &HeightRaster<'a>,
        line: usize,
        start: u32,
    ) -> Option<&'a [f32; STRETCH]> {
        let (from, to, at) = *self.lines.get(line.wrapping_sub(self.first))?;
        if start < from || start + STRETCH as u32 > to {
            return None;
        }
        let all = if self.by_columns { self.copy.as_slice() } else { raster.heights };
        all.get((at + start - from) as usize..)?.first_chunk()
    }

    /// The heights at one place a lane, about a cell apart along a run; `u`
    /// counts cells along it, `v` lines, from the first centres.
    #[inline(always)]
    pub(super) fn heights<S: Simd>(
        &self,
        simd: S,
        raster: &HeightRaster<'_>,
        u: &Lanes,
        v: &Lanes,
    ) -> Lanes {
        let blank = [0f32; LANES];
        let ((last_u, last_v), (corner_u, corner_v)) = if self.by_columns {
            ((raster.last.1, raster.last.0), (raster.corner.1, raster.corner.0))
        } else {
            (raster.last, raster.corner)
        };
        // Where each place's cell lies against one cell a lane.
        let (mut shift, mut line, mut along, mut across) = (blank, blank, blank, blank);
        let most = Register::splat(simd, f32::INFINITY);
        let (mut least_shift, mut least_line) = (most, most);
        let (mut most_shift, mut most_line) = (-most, -most);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let u = at.load(u).at_least(0.0).at_most(last_u);
            let v = at.load(v).at_least(0.0).at_most(last_v);
            let (cell, row) = (u.floor().at_most(corner_u), v.floor().at_most(corner_v));
            let moved = cell - at.load(&LANE_NUMBERS);
            (least_shift, most_shift) = (least_shift.min(moved), most_shift.max(moved));
            (least_line, most_line) = (least_line.min(row), most_line.max(row));
            moved.store(&mut shift, part);
            row.store(&mut line, part);
            (u - cell).store(&mut along, part);
            (v - row).store(&mut across, part);
        }
        let (start, top) = (least_shift.smallest(), least_line.smallest());
        let even = most_shift.largest() - start <= 1.0 && most_line.largest() - top <= 1.0;
        let stretches = if even && start >= 0.0 {
            let (start, top) = (index(start), index(top) as usize);
            let next = (top + 2).min(index(last_v) as usize);
            match (
                self.stretch(raster, top, start),
                self.stretch(raster, top + 1, start),
                self.stretch(raster, next, start),
            ) {
                (Some(a), Some(b), Some(c)) => Some((a, b, c)),
                _ => None,
            }
        } else {
            None
        };
        let Some((one, two, three)) = stretches else {
            return if self.by_columns {
                raster.heights(simd, v, u)
            } else {
                raster.heights(simd, u, v)
            };
        };
        let mut heights = blank;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let later = at.load(&shift).exceeds(start);
            let lower = at.load(&line).exceeds(top);
            let (along, across) = (at.load(&along), at.load(&across));
            let (one, two, three) = (
                along_line(at, one, later, along),
                along_line(at, two, later, along),
                along_line(at, three, later, along),
            );
            let (upper, under) = (lower.select(two, one), lower.select(three, two));
            (upper + (under - upper) * across).store(&mut heights, part);
        }
        if let Some(own) = &raster.own {
            let (x, y) = if self.by_columns { (v, u) } else { (u, v) };
            HeightRaster::add_own(own, x, y, &mut heights);
        }
        heights
    }
}

/// Heights at a share `along` of the way from a cell of a stretch to the next
/// one; one cell further where `later`.
#[inline(always)]
fn along_line<S: Simd>(
    at: Part<S>,
    stretch: &[f32; STRETCH],
    later: Mask<S>,
    along: Register<S>,
) -> Register<S> {
    let (a, b, c) = (at.slice(stretch, 0), at.slice(stretch, 1), at.slice(stretch, 2));
    let (left, right) = (later.select(b, a), later.select(c, b));
    left + (right - left) * along
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::Scalar;

    #[test]
    fn all_ways_to_read_the_raster_agree() {
        let (columns, rows) = (61usize, 47usize);
        let heights: Vec<f32> =
            (0..columns * rows).map(|i| ((i * 7919) % 1009) as f32 * 0.1).collect();
        let raster = HeightRaster::new(&heights, columns, rows).unwrap();
        let (mut by_rows, mut by_columns) = (Strip::default(), Strip::default());
        by_rows.lay_out_rows(&raster);
        by_columns.lay_out_columns(&raster, 5..40, |line| line / 2..rows);
        let mut used = 0;
        for (start, line, pace, slant) in [
            (4.3f32, 9.2f32, 0.97f32, 0.03f32),
            (20.0, 30.0, 1.0, 0.0),
            (-3.0, 2.0, 0.99, 0.0),
            (25.8, 35.9, 0.9, 0.2),
            (24.1, 12.95, 0.995, 0.01),
        ] {
            let mut along = [0f32; LANES];
            let mut across = [0f32; LANES];
            for l in 0..LANES {
                along[l] = start + pace * l as f32;
                across[l] = line + slant * l as f32;
            }
            let rows_first = by_rows.heights(Scalar, &raster, &along, &across);
            let columns_first = by_columns.heights(Scalar, &raster, &along, &across);
            for l in 0..LANES {
                let one = raster.at(along[l], across[l]);
                let other = raster.at(across[l], along[l]);
                assert!((rows_first[l] - one).abs() < 1e-3, "{start} {l}");
                assert!((columns_first[l] - other).abs() < 1e-3, "{start} {l}");
                used += 1;
            }
        }
        assert_eq!(used, 5 * LANES);
    }
}
