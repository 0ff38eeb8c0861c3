//! The elevation raster as the sweep reads it: single places, and rows of
//! places that lie nearly side by side along the lines of a wedge.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::lane::{COUNT, LANES, Lane, Part, Row, index, larger, parts, smaller};

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
        let whole = u32::try_from(heights.len()).is_ok() && heights.len() == columns * rows;
        (fits && whole).then(|| Self {
            heights,
            columns,
            last: ((columns - 1) as f32, (rows - 1) as f32),
            corner: ((columns - 2) as f32, (rows - 2) as f32),
        })
    }

    /// The last centre's column and row, counted from the first centre.
    pub(super) const fn last(&self) -> (f32, f32) {
        self.last
    }

    /// The index of the cell whose centre is the upper left of the four around
    /// a place, by column and row from the first centre.
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

    /// The four heights from a cell on, by rows.
    #[inline(always)]
    fn four(&self, cell: usize) -> [f32; 4] {
        // One look at the lower pair vouches for the upper one.
        match self.heights.get(cell..cell + self.columns + 2) {
            Some([a, b, .., c, d]) => [*a, *b, *c, *d],
            _ => [f32::NAN; 4],
        }
    }

    /// The height at a place, by column and row from the first centre.
    #[inline(always)]
    pub(super) fn at(&self, x: f32, y: f32) -> f32 {
        let (left, top, right, down) = self.split(x, y);
        let [a, b, c, d] = self.four((index(top) * self.columns as u32 + index(left)) as usize);
        let (upper, lower) = (a + (b - a) * right, c + (d - c) * right);
        upper + (lower - upper) * down
    }

    /// The heights at a row of places anywhere.
    #[inline(always)]
    pub(super) fn heights<S: Simd>(&self, simd: S, x: &Row, y: &Row) -> Row {
        let blank = [0f32; LANES];
        let (mut left, mut top) = (blank, blank);
        let (mut right, mut down) = (blank, blank);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let x = at.row(x).at_least(0.0).at_most(self.last.0);
            let y = at.row(y).at_least(0.0).at_most(self.last.1);
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
            let (a, b, c, d) = (at.row(a), at.row(b), at.row(c), at.row(d));
            between(a, b, c, d, (at.row(&right), at.row(&down))).store(&mut heights, part);
        }
        heights
    }
}

#[inline(always)]
fn between<S: Simd>(
    a: Lane<S>,
    b: Lane<S>,
    c: Lane<S>,
    d: Lane<S>,
    (right, down): (Lane<S>, Lane<S>),
) -> Lane<S> {
    let (upper, lower) = (a + (b - a) * right, c + (d - c) * right);
    upper + (lower - upper) * down
}

/// Heights so laid out that the cells of a wedge's runs are neighbours in
/// memory: the raster itself where runs are rows, a copy of the wedge's part of
/// it, columns first, where they are columns.
#[derive(Debug, Default)]
pub(super) struct Strip {
    copy: Vec<f32>,
    /// For every line: the first cell along it that is held, one past the
    /// last, and where in memory the first one stands.
    lines: Vec<(u32, u32, u32)>,
    /// The line that `lines` begins with.
    first: usize,
    turned: bool,
}

/// Neighbours that a row of places draws on.
const REACH: usize = LANES + 2;

impl Strip {
    /// The raster itself, for runs along rows.
    pub(super) fn upright(&mut self, surface: &Surface<'_>) {
        let columns = surface.columns as u32;
        self.turned = false;
        self.first = 0;
        self.lines.clear();
        let rows = surface.heights.len() as u32 / columns;
        self.lines.extend((0..rows).map(|row| (0, columns, row * columns)));
    }

    /// Columns `lines`, of each the cells that `part` tells, for runs along columns.
    pub(super) fn turned(
        &mut self,
        surface: &Surface<'_>,
        lines: std::ops::Range<usize>,
        part: impl Fn(usize) -> std::ops::Range<usize>,
    ) {
        self.turned = true;
        self.first = lines.start;
        self.lines.clear();
        self.copy.clear();
        for line in lines {
            let part = part(line);
            self.lines.push((part.start as u32, part.end as u32, self.copy.len() as u32));
            let first = part.start * surface.columns + line;
            let cells = surface.heights.get(first..).unwrap_or_default();
            self.copy.extend(cells.iter().step_by(surface.columns).take(part.len()));
        }
    }

    /// The cells from `start` on of a line.
    #[inline(always)]
    fn stretch<'a>(
        &'a self,
        surface: &Surface<'a>,
        line: usize,
        start: u32,
    ) -> Option<&'a [f32; REACH]> {
        let (from, to, at) = *self.lines.get(line.wrapping_sub(self.first))?;
        if start < from || start + REACH as u32 > to {
            return None;
        }
        let all = if self.turned { self.copy.as_slice() } else { surface.heights };
        all.get((at + start - from) as usize..)?.first_chunk()
    }

    /// The heights at a row of places that lie about a cell apart along a run;
    /// `u` counts along it, `v` from line to line, from the first centres.
    #[inline(always)]
    pub(super) fn heights<S: Simd>(&self, simd: S, surface: &Surface<'_>, u: &Row, v: &Row) -> Row {
        let blank = [0f32; LANES];
        let ((last_u, last_v), (corner_u, corner_v)) = if self.turned {
            ((surface.last.1, surface.last.0), (surface.corner.1, surface.corner.0))
        } else {
            (surface.last, surface.corner)
        };
        // Where each place's cell lies against an even row of cells.
        let (mut shift, mut line, mut along, mut across) = (blank, blank, blank, blank);
        let most = Lane::splat(simd, f32::INFINITY);
        let (mut least_shift, mut least_line) = (most, most);
        let (mut most_shift, mut most_line) = (-most, -most);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let u = at.row(u).at_least(0.0).at_most(last_u);
            let v = at.row(v).at_least(0.0).at_most(last_v);
            let (cell, row) = (u.floor().at_most(corner_u), v.floor().at_most(corner_v));
            let moved = cell - at.row(&COUNT);
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
                self.stretch(surface, top, start),
                self.stretch(surface, top + 1, start),
                self.stretch(surface, next, start),
            ) {
                (Some(a), Some(b), Some(c)) => Some((a, b, c)),
                _ => None,
            }
        } else {
            None
        };
        let Some((one, two, three)) = stretches else {
            return if self.turned {
                surface.heights(simd, v, u)
            } else {
                surface.heights(simd, u, v)
            };
        };
        let mut heights = blank;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let later = at.row(&shift).exceeds(start);
            let lower = at.row(&line).exceeds(top);
            let (along, across) = (at.row(&along), at.row(&across));
            let (one, two, three) = (
                pick(at, one, later, along),
                pick(at, two, later, along),
                pick(at, three, later, along),
            );
            let (upper, under) = (lower.choose(two, one), lower.choose(three, two));
            (upper + (under - upper) * across).store(&mut heights, part);
        }
        heights
    }
}

/// Heights between neighbours of a stretch, those of the next cell where `later`.
#[inline(always)]
fn pick<S: Simd>(
    at: Part<S>,
    stretch: &[f32; REACH],
    later: super::lane::Mask<S>,
    along: Lane<S>,
) -> Lane<S> {
    let (a, b, c) = (at.slice(stretch, 0), at.slice(stretch, 1), at.slice(stretch, 2));
    let (left, right) = (later.choose(b, a), later.choose(c, b));
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
        let surface = Surface::new(&heights, columns, rows).unwrap();
        let (mut upright, mut turned) = (Strip::default(), Strip::default());
        upright.upright(&surface);
        turned.turned(&surface, 5..40, |line| line / 2..rows);
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
            let rows_first = upright.heights(Scalar, &surface, &along, &across);
            let columns_first = turned.heights(Scalar, &surface, &along, &across);
            for l in 0..LANES {
                let one = surface.at(along[l], across[l]);
                let other = surface.at(across[l], along[l]);
                assert!((rows_first[l] - one).abs() < 1e-3, "{start} {l}");
                assert!((columns_first[l] - other).abs() < 1e-3, "{start} {l}");
                used += 1;
            }
        }
        assert_eq!(used, 5 * LANES);
    }
}
