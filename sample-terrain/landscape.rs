//! The land around Ostler's Ferry, which does not exist: its heights.
//!
//! Additions, multiplications, divisions and square roots alone, which every
//! platform rounds alike, so that the same heights come out everywhere. A river and
//! a tributary are drawn; ridges are raised on both sides; running water then
//! carves the slopes (stream-power erosion after Braun and Willett 2013,
//! doi:10.1016/j.geomorph.2012.10.008, from memory); flood plain, terrace and
//! channel are laid in last.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Columns of the raster.
pub const COLUMNS: usize = 1200;
/// Rows of the raster.
pub const ROWS: usize = 900;
/// Side of a cell in metres.
pub const CELL: f64 = 10.0;
/// Easting of the left edge in UTM zone 25, metres.
pub const LEFT: f64 = 349_500.0;
/// Northing of the top edge in UTM zone 25, metres.
pub const TOP: f64 = 5_211_000.0;

/// Cells of the final raster along one side of a cell that erosion works on.
const COARSE: usize = 2;
/// Coarse cells beyond the western and eastern edge, where the water leaves.
const BORDER: usize = 50;
/// Rounds of erosion.
const ROUNDS: usize = 60;

/// The river from north to south: kilometres east and north of the south-west corner.
pub const RIVER: &[(f64, f64)] = &[
    (4.9, 9.3),
    (5.3, 8.6),
    (6.1, 8.0),
    (6.5, 7.3),
    (6.0, 6.6),
    (5.5, 5.9),
    (5.8, 5.1),
    (6.6, 4.5),
    (7.0, 3.8),
    (6.7, 3.0),
    (6.1, 2.4),
    (6.0, 1.7),
    (6.5, 1.0),
    (7.3, 0.5),
    (7.6, -0.3),
];
/// The Cooper's Brook, from the west through the western ridge to the river.
pub const BROOK: &[(f64, f64)] = &[
    (-1.3, 7.1),
    (-0.3, 6.9),
    (0.8, 6.7),
    (1.5, 6.2),
    (2.3, 6.25),
    (3.0, 5.7),
    (3.7, 5.75),
    (4.3, 5.3),
    (4.9, 5.25),
    (5.72, 5.25),
];

/// Heights above sea level in metres, row after row from the north-west corner.
#[must_use]
pub fn heights() -> Vec<f64> {
    let river = Line::smooth(RIVER);
    let brook = Line::smooth(BROOK);
    let coarse = erode(&river, &brook);
    let mut land = Vec::with_capacity(COLUMNS * ROWS);
    for row in 0..ROWS {
        for column in 0..COLUMNS {
            let (x, y) = place(column, row, 1);
            land.push(finish(coarse.at(column, row), x, y, &river, &brook));
        }
    }
    land
}

/// Distances in kilometres to the middle of the river from places in
/// kilometres east and north of the south-west corner.
pub fn from_river() -> impl Fn(f64, f64) -> f64 {
    let river = Line::smooth(RIVER);
    move |x, y| river.nearest(x, y).0
}

/// Kilometres east and north of the south-west corner of a cell's centre.
pub fn place(column: usize, row: usize, size: usize) -> (f64, f64) {
    let side = CELL * size as f64 / 1000.0;
    let height = ROWS as f64 * CELL / 1000.0;
    ((column as f64 + 0.5) * side, height - (row as f64 + 0.5) * side)
}

/// Water level of the river at a distance north, in metres: steeper in the cut.
fn river_level(y: f64) -> f64 {
    38.0 + 1.1 * y + 9.0 * step(y, 6.2, 8.4)
}

/// Level of the brook at a distance east.
fn brook_level(x: f64) -> f64 {
    let up = (5.72 - x).max(0.0);
    river_level(5.25) + 5.0 * up + 0.3 * up * up
}

/// Half the width of the flood plain in kilometres.
fn plain(y: f64) -> f64 {
    let cut = step(y, 5.9, 6.5);
    (0.42 + 0.16 * step(y, 2.6, 1.2)) * (1.0 - cut) + 0.045 * cut
}

/// The form that the land is raised to before water works on it, metres over the river.
fn envelope(x: f64, y: f64, river: &Line) -> f64 {
    let (near, _) = river.nearest(x, y);
    let east = river.east_of(x, y);
    let bend = |seed| 0.85 * noise(0.4, y * 0.27, seed) + 0.4 * noise(x * 0.5, y * 0.7, seed + 1);
    let along = |seed| 0.8 * noise(2.7, y * 0.45, seed) + 0.4 * noise(1.3, y * 1.3, seed + 1);
    let (crest, top, far) = if east {
        (9.6 + bend(11), 225.0 + 60.0 * along(13), 0.30)
    } else {
        (2.7 + bend(15), 195.0 + 60.0 * along(17), 0.38)
    };
    let beyond = if east { x > crest } else { x < crest };
    let away = (x - crest).abs();
    if beyond {
        let fall = step(away, 0.0, 2.6);
        return top * (1.0 - fall * (1.0 - far));
    }
    let width = plain(y);
    let across = ((near - width) / (near - width + away).max(0.05)).clamp(0.0, 1.0);
    let bench = 55.0 * step(y, 6.0, 6.9) * step(near, 0.03, 0.28) * (1.0 - across);
    let rise = across * across * (0.6 + 0.4 * across);
    bench + top * (0.45 * across + 0.55 * rise)
}

/// A coarse raster of heights.
struct Coarse {
    columns: usize,
    rows: usize,
    heights: Vec<f64>,
}

impl Coarse {
    /// Height at a cell of the final raster, by cubic interpolation.
    fn at(&self, column: usize, row: usize) -> f64 {
        let split = |index: usize| {
            let at = (index as f64 + 0.5) / COARSE as f64 - 0.5;
            let whole = at.floor();
            (whole as isize, at - whole)
        };
        let ((left, right), (top, down)) = (split(column + BORDER * COARSE), split(row));
        let cell = |c: isize, r: isize| {
            let c = c.clamp(0, self.columns as isize - 1) as usize;
            let r = r.clamp(0, self.rows as isize - 1) as usize;
            self.heights[r * self.columns + c]
        };
        let line = |r: isize| cubic([-1, 0, 1, 2].map(|i| cell(left + i, top + r)), right);
        cubic([-1, 0, 1, 2].map(line), down)
    }
}

/// The Catmull-Rom cubic between the middle two of four values.
fn cubic([a, b, c, d]: [f64; 4], t: f64) -> f64 {
    b + 0.5 * t * (c - a + t * (2.0 * a - 5.0 * b + 4.0 * c - d + t * (3.0 * (b - c) + d - a)))
}

/// Raises the land and lets water carve it.
fn erode(river: &Line, brook: &Line) -> Coarse {
    let (columns, rows) = (COLUMNS / COARSE + 2 * BORDER, ROWS / COARSE);
    let side = CELL * COARSE as f64;
    let count = columns * rows;
    let mut heights = vec![0.0; count];
    let mut uplift = vec![0.0; count];
    let mut fixed = vec![false; count];
    let mut softness = vec![1.0; count];
    for row in 0..rows {
        for column in 0..columns {
            let (x, y) = place(column, row, COARSE);
            let x = x - (BORDER * COARSE) as f64 * CELL / 1000.0;
            let cell = row * columns + column;
            let level = river_level(y);
            let (from_brook, at) = brook.nearest(x, y);
            // The brook has had time to open a valley of its own through the ridge.
            let form = envelope(x, y, river) * (0.25 + 0.75 * step(from_brook, 0.0, 1.1));
            let rough = 34.0 * noise(x * 0.8, y * 0.8, 21)
                + 17.0 * noise(x * 2.1, y * 2.1, 22)
                + 7.0 * noise(x * 5.5, y * 5.5, 23);
            heights[cell] = level + 0.45 * form + rough * step(form, 2.0, 60.0);
            uplift[cell] = 0.57 * form / ROUNDS as f64;
            // Hard rock stands in the cut and along bands of the ridges.
            softness[cell] = (1.0 + 0.45 * noise(x * 0.8, y * 0.5, 24))
                * (1.0 - 0.55 * step(y, 6.1, 6.8) * (1.0 - step(river.nearest(x, y).0, 0.5, 1.3)));
            if river.nearest(x, y).0 < 0.03 {
                heights[cell] = level;
                fixed[cell] = true;
            } else if from_brook < 0.02 {
                heights[cell] = brook_level(at.0);
                fixed[cell] = true;
            } else if column == 0 || column + 1 == columns {
                fixed[cell] = true;
            }
        }
    }
    for _ in 0..ROUNDS {
        carve(columns, rows, side, &mut heights, &uplift, &fixed, &softness);
        creep(columns, rows, &mut heights, &fixed);
    }
    Coarse { columns, rows, heights }
}

/// Stream-power incision in one time step: strength of the water.
const STRENGTH: f64 = 0.034;

/// One round of uplift and of incision by running water.
fn carve(
    columns: usize,
    rows: usize,
    side: f64,
    heights: &mut [f64],
    uplift: &[f64],
    fixed: &[bool],
    softness: &[f64],
) {
    let count = columns * rows;
    let mut order = Vec::with_capacity(count);
    let mut seen = vec![false; count];
    let mut done = vec![false; count];
    let mut below = vec![usize::MAX; count];
    let mut heap = BinaryHeap::new();
    for cell in 0..count {
        if fixed[cell] {
            seen[cell] = true;
            heap.push(Reverse((Level(heights[cell]), cell)));
        }
    }
    // Every cell drains to the steepest of the neighbours that were reached before it.
    while let Some(Reverse((Level(level), cell))) = heap.pop() {
        done[cell] = true;
        order.push(cell);
        let mut steepest = 0.0;
        for (next, diagonal) in neighbours(cell, columns, rows) {
            if done[next] {
                let run = if diagonal { side * std::f64::consts::SQRT_2 } else { side };
                let slope = (heights[cell] - heights[next]) / run;
                if slope > steepest && !fixed[cell] {
                    steepest = slope;
                    below[cell] = next;
                }
            } else if !seen[next] {
                seen[next] = true;
                below[next] = cell;
                heap.push(Reverse((Level(heights[next].max(level)), next)));
            }
        }
    }
    let mut area = vec![side * side; count];
    for &cell in order.iter().rev() {
        if !fixed[cell] {
            area[below[cell]] += area[cell];
        }
    }
    for &cell in &order {
        if fixed[cell] {
            continue;
        }
        let next = below[cell];
        let raised = heights[cell] + uplift[cell];
        if raised <= heights[next] {
            heights[cell] = heights[next] + 0.01;
            continue;
        }
        let step = cell.abs_diff(next);
        let run = if step == 1 || step == columns { side } else { side * std::f64::consts::SQRT_2 };
        let factor = STRENGTH * softness[cell] * area[cell].sqrt() / run;
        heights[cell] = (raised + factor * heights[next]) / (1.0 + factor);
    }
}

/// One round of soil creep, which rounds what water left sharp.
fn creep(columns: usize, rows: usize, heights: &mut [f64], fixed: &[bool]) {
    let before = heights.to_vec();
    for cell in 0..columns * rows {
        if fixed[cell] {
            continue;
        }
        let (mut sum, mut weight) = (0.0, 0.0);
        for (next, diagonal) in neighbours(cell, columns, rows) {
            let w = if diagonal { 0.5 } else { 1.0 };
            sum += w * before[next];
            weight += w;
        }
        heights[cell] += 0.30 * (sum / weight - before[cell]);
    }
}

fn neighbours(cell: usize, columns: usize, rows: usize) -> impl Iterator<Item = (usize, bool)> {
    let (column, row) = ((cell % columns) as isize, (cell / columns) as isize);
    const AROUND: [(isize, isize); 8] =
        [(-1, -1), (0, -1), (1, -1), (-1, 0), (1, 0), (-1, 1), (0, 1), (1, 1)];
    AROUND.into_iter().filter_map(move |(dc, dr)| {
        let (c, r) = (column + dc, row + dr);
        let inside = c >= 0 && r >= 0 && c < columns as isize && r < rows as isize;
        inside.then(|| (r as usize * columns + c as usize, dc != 0 && dr != 0))
    })
}

/// A height that orders.
#[derive(PartialEq)]
struct Level(f64);
impl Eq for Level {}
impl PartialOrd for Level {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Level {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        self.0.total_cmp(&other.0)
    }
}

/// Lays flood plain, terrace, channel and roughness over the carved land.
fn finish(carved: f64, x: f64, y: f64, river: &Line, brook: &Line) -> f64 {
    let (near, at) = river.nearest(x, y);
    let level = river_level(at.1);
    let width = plain(at.1);
    let wobble = 0.06 * noise(x * 2.2, y * 2.2, 31) + 0.02 * noise(x * 7.0, y * 7.0, 32);
    // The flood plain: flat, a little higher away from the water, old channels in it.
    let meander = noise(x * 3.1, y * 1.7, 33);
    let flat = level + 2.2 + 2.5 * near / width.max(0.05) + 0.9 * meander * meander;
    let share = 1.0 - step(near + wobble, 0.75 * width, 1.15 * width);
    let mut height = mix(carved, flat.min(carved.max(flat)), share);
    // The terrace on the west bank that the town stands on, 12 m over the river.
    let terrace =
        river_level(y) + 11.5 + 5.0 * (near - 0.2).max(0.0) + 0.8 * noise(x * 1.9, y * 1.9, 34);
    let west = if river.east_of(x, y) { 0.0 } else { 1.0 };
    let town = west
        * step(y + 2.0 * wobble, 2.75, 3.05)
        * (1.0 - step(y + 2.0 * wobble, 4.7, 5.0))
        * step(near + wobble, 0.13, 0.19)
        * (1.0 - step(near + 2.0 * wobble, 1.0, 1.7));
    height = mix(height, terrace, town);
    // The brook's own strip of meadow.
    let (from_brook, by) = brook.nearest(x, y);
    let meadow = brook_level(by.0) + 0.8;
    let strip = 1.0 - step(from_brook + 0.5 * wobble, 0.03, 0.11);
    height = mix(height, meadow, strip * (1.0 - town));
    // What a map of this scale calls rough: more of it where it is steep and high.
    let high = step(height - level, 10.0, 90.0);
    let rough = noise(x * 9.0, y * 9.0, 41)
        + 0.6 * noise(x * 19.0, y * 19.0, 42)
        + 0.35 * noise(x * 41.0, y * 41.0, 43);
    height += rough * (0.15 + 0.9 * high);
    // Banks and water.
    let water = 0.038 + 0.010 * noise(x * 0.9, y * 0.9, 44);
    mix(level, height.max(level + 0.4), step(near, water, water + 0.03))
}

fn mix(a: f64, b: f64, t: f64) -> f64 {
    a + (b - a) * t
}

/// 0 at or before `from`, 1 at or after `to`, smooth between; `from` may exceed `to`.
fn step(x: f64, from: f64, to: f64) -> f64 {
    let t = ((x - from) / (to - from)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// A smooth line through points.
struct Line {
    points: Vec<(f64, f64)>,
}

impl Line {
    fn smooth(through: &[(f64, f64)]) -> Self {
        const STEPS: usize = 6;
        let at = |i: isize| through[i.clamp(0, through.len() as isize - 1) as usize];
        let mut points = Vec::new();
        for i in 0..through.len() as isize - 1 {
            let four = [at(i - 1), at(i), at(i + 1), at(i + 2)];
            for step in 0..STEPS {
                let t = step as f64 / STEPS as f64;
                points.push((cubic(four.map(|p| p.0), t), cubic(four.map(|p| p.1), t)));
            }
        }
        points.extend(through.last());
        Self { points }
    }

    /// Distance to the line, and the point of it that is nearest.
    fn nearest(&self, x: f64, y: f64) -> (f64, (f64, f64)) {
        let mut best = (f64::INFINITY, (0.0, 0.0));
        for pair in self.points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let (dx, dy) = (b.0 - a.0, b.1 - a.1);
            let t = (((x - a.0) * dx + (y - a.1) * dy) / (dx * dx + dy * dy)).clamp(0.0, 1.0);
            let (px, py) = (a.0 + t * dx, a.1 + t * dy);
            let square = (x - px) * (x - px) + (y - py) * (y - py);
            if square < best.0 {
                best = (square, (px, py));
            }
        }
        (best.0.sqrt(), best.1)
    }

    /// Whether a point lies to the east of the line, which runs north to south.
    fn east_of(&self, x: f64, y: f64) -> bool {
        self.points.windows(2).find(|pair| (pair[0].1 - y) * (pair[1].1 - y) <= 0.0).is_none_or(
            |pair| {
                let (a, b) = (pair[0], pair[1]);
                let t = if b.1 == a.1 { 0.0 } else { (y - a.1) / (b.1 - a.1) };
                x > mix(a.0, b.0, t)
            },
        )
    }
}

/// Gradient noise of period 1, about -1 to 1.
pub fn noise(x: f64, y: f64, seed: u32) -> f64 {
    let (left, top) = (x.floor(), y.floor());
    let (fx, fy) = (x - left, y - top);
    let fade = |t: f64| t * t * t * (t * (t * 6.0 - 15.0) + 10.0);
    let corner = |dx: f64, dy: f64| {
        let bits = hash(left as i64 + dx as i64, top as i64 + dy as i64, seed);
        let gradient = |bits: u32| f64::from(bits & 0xffff) / 32_767.5 - 1.0;
        1.6 * (gradient(bits) * (fx - dx) + gradient(bits >> 16) * (fy - dy))
    };
    mix(
        mix(corner(0.0, 0.0), corner(1.0, 0.0), fade(fx)),
        mix(corner(0.0, 1.0), corner(1.0, 1.0), fade(fx)),
        fade(fy),
    )
}

/// Thoroughly mixed bits of a lattice point.
pub fn hash(x: i64, y: i64, seed: u32) -> u32 {
    let mut h = (x as u32).wrapping_mul(0x9e37_79b1)
        ^ (y as u32).wrapping_mul(0x85eb_ca77)
        ^ seed.wrapping_mul(0xc2b2_ae3d);
    h = (h ^ (h >> 15)).wrapping_mul(0x2c1b_3c6d);
    h = (h ^ (h >> 12)).wrapping_mul(0x297a_2d39);
    h ^ (h >> 15)
}
