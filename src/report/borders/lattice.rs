//! The corners of a raster's cells and the arcs that lead from one to the next.
#![allow(clippy::indexing_slicing, reason = "directions, and the cells around a corner, are four")]

use std::ops::Range;

use ndarray::Array2;
use rayon::prelude::*;

use perchline_link::Outcome;

use super::taut::{REACH, Taut};

/// What lies beyond the rim.
pub(super) const OUTSIDE: u8 = 0;

/// The number of a class, the worse the less, above [`OUTSIDE`].
pub(super) fn class(outcome: Outcome) -> u8 {
    outcome as u8 + 1
}

/// One of the four ways along the sides of cells: east, south, west, north.
pub(super) type Direction = usize;

/// What one step into each direction adds to column and row.
const STEPS: [(isize, isize); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

/// To the left of a direction, onward, and to its right.
pub(super) fn turns(direction: Direction) -> [Direction; 3] {
    [(direction + 3) % 4, direction, (direction + 1) % 4]
}

/// The opposite direction.
pub(super) fn back(direction: Direction) -> Direction {
    (direction + 2) % 4
}

/// A corner of cells: the column to its right and the row below it.
pub(super) type Corner = (usize, usize);

/// The classes of the cells around a corner: north-east, south-east, south-west,
/// north-west. That to the left of the side which leads into direction `d` is
/// number `d`, that to its right the next.
type Around = [u8; 4];

/// Whether the side that leads from a corner into a direction parts two classes.
fn parts(around: Around, direction: Direction) -> bool {
    around[direction] != around[(direction + 1) % 4]
}

/// Whether two classes meet crosswise.
fn is_crossing(around: Around) -> bool {
    let [a, b, c, d] = around;
    a == c && b == d && a != b
}

/// Whether arcs end here.
fn is_node(around: Around) -> bool {
    match (0..4).filter(|direction| parts(around, *direction)).count() {
        3 => true,
        4 => !is_crossing(around),
        // A corner of the map.
        2 => around.iter().filter(|class| **class == OUTSIDE).count() == 3,
        _ => false,
    }
}

/// Where an arc that comes to a corner in this direction goes on.
fn onward(around: Around, direction: Direction) -> Direction {
    let [left, ahead, right] = turns(direction);
    if is_crossing(around) {
        // Around the better class, and so between the cells of the worse.
        let [on_left, on_right] = [around[(direction + 3) % 4], around[(direction + 2) % 4]];
        return if on_left > on_right { left } else { right };
    }
    [left, ahead].into_iter().find(|to| parts(around, *to)).unwrap_or(right)
}

/// A border between two classes.
#[derive(Debug)]
pub(super) struct Arc {
    /// Where it begins and into which direction; for a closed one any of its corners.
    pub(super) from: (Corner, Direction),
    /// Where it ends and in which direction it comes there.
    pub(super) to: (Corner, Direction),
    /// Whether it leads back to where it began and meets no node.
    pub(super) is_closed: bool,
    /// The class on its left.
    pub(super) left: u8,
    /// The class on its right.
    pub(super) right: u8,
    /// Its line's points among those of all.
    pub(super) points: Range<usize>,
}

/// All arcs of a raster.
#[derive(Debug, Default)]
pub(super) struct Traced {
    /// The corners at which arcs end, in order of rows.
    pub(super) nodes: Vec<Corner>,
    pub(super) arcs: Vec<Arc>,
    pub(super) points: Vec<(f64, f64)>,
}

/// A raster's classes with a rim of [`OUTSIDE`] around them.
pub(super) struct Lattice {
    classes: Vec<u8>,
    /// Cells across with the rim.
    width: usize,
    /// Cells down without it.
    pub(super) rows: usize,
}

impl Lattice {
    pub(super) fn new(outcome: &Array2<Outcome>) -> Self {
        let (rows, columns) = outcome.dim();
        let width = columns + 2;
        let mut classes = vec![OUTSIDE; width * (rows + 2)];
        let inner = classes.par_chunks_mut(width).skip(1).zip(0..rows);
        inner.for_each(|(cells, row)| {
            for (cell, outcome) in cells.iter_mut().skip(1).zip(outcome.row(row)) {
                *cell = class(*outcome);
            }
        });
        Self { classes, width, rows }
    }

    /// The classes of a row of cells.
    pub(super) fn row(&self, row: usize) -> &[u8] {
        let first = (row + 1) * self.width + 1;
        self.classes.get(first..first + self.width - 2).unwrap_or_default()
    }

    fn class(&self, at: usize) -> u8 {
        self.classes.get(at).copied().unwrap_or(OUTSIDE)
    }

    fn around(&self, (x, y): Corner) -> Around {
        let north = y * self.width + x;
        let south = north + self.width;
        [self.class(north + 1), self.class(south + 1), self.class(south), self.class(north)]
    }

    /// Every border of the raster.
    pub(super) fn traced(&self) -> Traced {
        let corners = self.width - 1;
        let row = |y: usize| -> Vec<Corner> {
            (0..corners).map(|x| (x, y)).filter(|at| is_node(self.around(*at))).collect()
        };
        let nodes: Vec<Corner> = (0..=self.rows).into_par_iter().flat_map_iter(row).collect();
        let mut trace = Trace {
            lattice: self,
            done: Done { sides: vec![0; corners * (self.rows + 1)], corners },
            traced: Traced { nodes, ..Traced::default() },
        };
        trace.open();
        trace.closed();
        trace.traced
    }
}

/// Which sides of cells are in an arc already.
struct Done {
    /// For each corner one bit for the side to the east and one for that to the south.
    sides: Vec<u8>,
    corners: usize,
}

impl Done {
    fn place((x, y): Corner, direction: Direction) -> (Corner, u8) {
        match direction {
            0 => ((x, y), 1),
            1 => ((x, y), 2),
            2 => ((x.saturating_sub(1), y), 1),
            _ => ((x, y.saturating_sub(1)), 2),
        }
    }

    fn has(&self, corner: Corner, direction: Direction) -> bool {
        let ((x, y), bit) = Self::place(corner, direction);
        self.sides.get(y * self.corners + x).is_some_and(|sides| sides & bit != 0)
    }

    fn add(&mut self, corner: Corner, direction: Direction) {
        let ((x, y), bit) = Self::place(corner, direction);
        if let Some(sides) = self.sides.get_mut(y * self.corners + x) {
            *sides |= bit;
        }
    }
}

struct Trace<'a> {
    lattice: &'a Lattice,
    done: Done,
    traced: Traced,
}

impl Trace<'_> {
    /// The arcs between nodes.
    fn open(&mut self) {
        for at in 0..self.traced.nodes.len() {
            let node = self.traced.nodes[at];
            let around = self.lattice.around(node);
            for direction in 0..4 {
                if parts(around, direction) && !self.done.has(node, direction) {
                    self.arc(node, direction, false);
                }
            }
        }
    }

    /// Those that are left: each leads back to its beginning.
    fn closed(&mut self) {
        for y in 0..=self.lattice.rows {
            for x in 0..self.done.corners {
                // The uppermost of its corners and of these the leftmost: it leads east.
                if parts(self.lattice.around((x, y)), 0) && !self.done.has((x, y), 0) {
                    self.arc((x, y), 0, true);
                }
            }
        }
    }

    /// Follows a border from a corner to a node, or around, and makes its line.
    fn arc(&mut self, start: Corner, first: Direction, is_closed: bool) {
        let around = self.lattice.around(start);
        let (left, right) = (around[first], around[(first + 1) % 4]);
        let is_rim = left == OUTSIDE || right == OUTSIDE;
        let begun = self.traced.points.len();
        let middle = middle(start, first);
        let begin = if is_closed { middle } else { place(start) };
        let mut line = Taut::from(begin, &mut self.traced.points);
        let (mut corner, mut direction) = (start, first);
        loop {
            self.done.add(corner, direction);
            // The rim stays as it is, and a closed line begins in its first gate.
            let is_back = is_closed && (corner, direction) == (start, first);
            if !(is_rim || is_back) {
                let (left, right) = gate(corner, direction);
                line.pass(left, right);
            }
            let (x, y) = STEPS[direction];
            corner = (corner.0.saturating_add_signed(x), corner.1.saturating_add_signed(y));
            let around = self.lattice.around(corner);
            if is_node(around) {
                break;
            }
            let next = onward(around, direction);
            if is_closed && (corner, next) == (start, first) {
                break;
            }
            direction = next;
        }
        line.end(if is_closed { begin } else { place(corner) });
        let points = begun..self.traced.points.len();
        let (from, to) = ((start, first), (corner, direction));
        self.traced.arcs.push(Arc { from, to, is_closed, left, right, points });
    }
}

/// A corner as a point.
fn place((x, y): Corner) -> (f64, f64) {
    (x as f64, y as f64)
}

/// The middle of the side that leads from a corner into a direction.
fn middle(corner: Corner, direction: Direction) -> (f64, f64) {
    beside(place(corner), direction, 0.5)
}

/// Left and right end of the gate across that side.
fn gate(corner: Corner, direction: Direction) -> ((f64, f64), (f64, f64)) {
    let [left, _, right] = turns(direction);
    let middle = middle(corner, direction);
    (beside(middle, left, REACH), beside(middle, right, REACH))
}

fn beside((x, y): (f64, f64), direction: Direction, by: f64) -> (f64, f64) {
    let (right, down) = STEPS[direction];
    (x + right as f64 * by, y + down as f64 * by)
}
