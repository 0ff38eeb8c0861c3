//! Arcs joined to rings, and rings to areas with holes.
#![allow(clippy::indexing_slicing, reason = "a node has four exits and an arc two ends")]

use rayon::prelude::*;

use super::lattice::{Arc, Corner, Direction, Lattice, OUTSIDE, Traced, back, turns};

/// An arc as a ring passes it, what the ring is around on the left: onward or back.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Side(u32);

impl Side {
    fn new(arc: usize, is_back: bool) -> Self {
        // A raster whose cells fit into memory has fewer arcs.
        Self(u32::try_from(2 * arc + usize::from(is_back)).unwrap_or(u32::MAX))
    }

    /// The number of the arc.
    pub(super) fn arc(self) -> usize {
        self.at() / 2
    }

    /// Whether it is passed from its end to its beginning.
    pub(super) fn is_back(self) -> bool {
        self.0 % 2 == 1
    }

    fn at(self) -> usize {
        self.0 as usize
    }
}

/// Cells of one class that are joined: the ring around them and those around what they
/// are around.
#[derive(Debug)]
pub(super) struct Area {
    pub(super) class: u8,
    pub(super) outer: Vec<Side>,
    pub(super) holes: Vec<Vec<Side>>,
}

/// All areas of a raster, in order of classes.
pub(super) fn areas(lattice: &Lattice, traced: &Traced) -> Vec<Area> {
    let mut patches = Patches::of(lattice);
    let turned: Vec<f64> = traced.arcs.par_iter().map(|arc| turned(traced, arc)).collect();
    let mut rings: Vec<(u8, u32, bool, Vec<Side>)> = Vec::new();
    for ring in Joints::of(traced).rings() {
        let Some(first) = ring.first() else { continue };
        let Some(arc) = traced.arcs.get(first.arc()) else { continue };
        let sum: f64 = ring.iter().map(|side| side.sign() * turned[side.arc()]).sum();
        let patch = patches.of_cell(cell_on_left(arc, first.is_back()));
        // With y downwards, what is on the left of an outer ring makes this negative.
        rings.push((first.class(arc), patch, sum > 0.0, ring));
    }
    // Those of one patch stay in the order in which they were found.
    rings.par_sort_by_key(|(class, patch, is_hole, _)| (*class, *patch, *is_hole));
    let mut areas: Vec<Area> = Vec::new();
    for (class, _, is_hole, ring) in rings {
        match areas.last_mut() {
            Some(area) if is_hole => area.holes.push(ring),
            _ => areas.push(Area { class, outer: ring, holes: Vec::new() }),
        }
    }
    areas
}

impl Side {
    fn sign(self) -> f64 {
        if self.is_back() { -1.0 } else { 1.0 }
    }

    /// The class on its left.
    fn class(self, arc: &Arc) -> u8 {
        if self.is_back() { arc.right } else { arc.left }
    }
}

/// Twice the area between an arc's line and the origin, with a sign.
fn turned(traced: &Traced, arc: &Arc) -> f64 {
    let line = traced.points.get(arc.points.clone()).unwrap_or_default();
    line.windows(2).map(|ends| ends[0].0 * ends[1].1 - ends[1].0 * ends[0].1).sum()
}

/// Row and column of the cell on the left of an arc's first side, or on its right.
fn cell_on_left(arc: &Arc, is_back: bool) -> (usize, usize) {
    let ((x, y), direction) = arc.from;
    match (direction + usize::from(is_back)) % 4 {
        0 => (y.saturating_sub(1), x),
        1 => (y, x),
        2 => (y, x.saturating_sub(1)),
        _ => (y.saturating_sub(1), x.saturating_sub(1)),
    }
}

/// Where arcs meet.
struct Joints<'a> {
    traced: &'a Traced,
    /// The nodes that each arc leads from and to; of a closed one none.
    ends: Vec<Option<[usize; 2]>>,
    /// For each node the arc that leads from it into each direction.
    exits: Vec<[Option<Side>; 4]>,
}

impl<'a> Joints<'a> {
    fn of(traced: &'a Traced) -> Self {
        let number = |corner: Corner| {
            let place = |(x, y): Corner| (y, x);
            traced.nodes.binary_search_by_key(&place(corner), |node| place(*node)).ok()
        };
        let ends: Vec<Option<[usize; 2]>> = traced
            .arcs
            .par_iter()
            .map(|arc| {
                let is_open = !arc.is_closed;
                is_open.then(|| Some([number(arc.from.0)?, number(arc.to.0)?])).flatten()
            })
            .collect();
        let mut exits = vec![[None; 4]; traced.nodes.len()];
        for (index, (arc, ends)) in traced.arcs.iter().zip(&ends).enumerate() {
            let Some([from, to]) = *ends else { continue };
            exits[from][arc.from.1] = Some(Side::new(index, false));
            exits[to][back(arc.to.1)] = Some(Side::new(index, true));
        }
        Self { traced, ends, exits }
    }

    /// The node that a side leads from.
    fn start(&self, side: Side) -> Option<usize> {
        Some(self.ends[side.arc()]?[usize::from(side.is_back())])
    }

    /// The node that it leads to, and the direction in which it comes there.
    fn end(&self, side: Side) -> Option<(usize, Direction)> {
        let [from, to] = self.ends[side.arc()]?;
        let arc = &self.traced.arcs[side.arc()];
        Some(if side.is_back() { (from, back(arc.from.1)) } else { (to, arc.to.1) })
    }

    /// What follows a side around the cells on its left: the exit that is leftmost, so
    /// that cells of one class on both sides of a node are apart.
    fn next(&self, node: usize, direction: Direction) -> Option<Side> {
        turns(direction).into_iter().find_map(|to| self.exits[node][to])
    }

    /// Every ring around cells of the raster or around what they are around. None meets
    /// a node twice.
    fn rings(&self) -> Vec<Vec<Side>> {
        let sides = 2 * self.traced.arcs.len();
        let mut walk = Walk { done: vec![false; sides], met: vec![0; self.exits.len()] };
        let mut rings = Vec::new();
        for (index, arc) in self.traced.arcs.iter().enumerate() {
            for side in [Side::new(index, false), Side::new(index, true)] {
                if side.class(arc) == OUTSIDE || walk.done[side.at()] {
                    continue;
                }
                if arc.is_closed {
                    rings.push(vec![side]);
                } else {
                    walk.around(self, side, &mut rings);
                }
            }
        }
        rings
    }
}

/// A walk around patches.
struct Walk {
    /// Which sides were passed.
    done: Vec<bool>,
    /// For each node on the way that is not yet part of a ring the number of the side
    /// that leads from it, from one.
    met: Vec<usize>,
}

impl Walk {
    /// Walks from `first` back to it and cuts a ring off wherever a node is met again.
    fn around(&mut self, joints: &Joints<'_>, first: Side, rings: &mut Vec<Vec<Side>>) {
        let (mut way, mut side): (Vec<Side>, Side) = (Vec::new(), first);
        while !self.done[side.at()] {
            self.done[side.at()] = true;
            way.push(side);
            let (Some(start), Some((end, direction))) = (joints.start(side), joints.end(side))
            else {
                return;
            };
            self.met[start] = way.len();
            if self.met[end] > 0 {
                let ring = way.split_off(self.met[end] - 1);
                for node in ring.iter().filter_map(|side| joints.start(*side)) {
                    self.met[node] = 0;
                }
                rings.push(ring);
            }
            let Some(next) = joints.next(end, direction) else { return };
            side = next;
        }
    }
}

/// Which cells belong together: runs of one class in a row, and which are joined.
struct Patches {
    /// The first column of each run, row by row.
    starts: Vec<u32>,
    /// Where each row's runs begin among all, and the end.
    rows: Vec<usize>,
    /// A run of the same patch farther up or left; itself for the first one.
    joined: Vec<u32>,
}

impl Patches {
    fn of(lattice: &Lattice) -> Self {
        let runs = |row: usize| -> Vec<u32> {
            let cells = lattice.row(row);
            let breaks = cells.windows(2).zip(1..).filter(|(pair, _)| pair[0] != pair[1]);
            let first = (!cells.is_empty()).then_some(0);
            first.into_iter().chain(breaks.map(|(_, column)| column)).collect()
        };
        let found: Vec<Vec<u32>> = (0..lattice.rows).into_par_iter().map(runs).collect();
        let mut rows = vec![0];
        let mut end = 0;
        rows.extend(found.iter().map(|runs| {
            end += runs.len();
            end
        }));
        let starts: Vec<u32> = found.concat();
        let joined = (0..).take(starts.len()).collect();
        let mut patches = Self { starts, rows, joined };
        for row in 1..lattice.rows {
            patches.join(lattice, row);
        }
        patches
    }

    /// Joins the runs of a row to those of the row above.
    fn join(&mut self, lattice: &Lattice, row: usize) {
        let (above, below) = (lattice.row(row - 1), lattice.row(row));
        let (mut upper, mut lower) = (self.rows[row - 1], self.rows[row]);
        let (upper_end, lower_end) = (lower, self.rows[row + 1]);
        let class = |cells: &[u8], start: u32| cells.get(start as usize).copied();
        while upper < upper_end && lower < lower_end {
            let [one, other] = [self.starts[upper], self.starts[lower]];
            let [over, under] = [class(above, one), class(below, other)];
            if over == under {
                self.unite(upper, lower);
            }
            let next = |run: usize, end: usize, starts: &[u32]| {
                if run + 1 < end { starts[run + 1] } else { u32::MAX }
            };
            let over_next = next(upper, upper_end, &self.starts);
            let under_next = next(lower, lower_end, &self.starts);
            if over_next == under_next && over_next != u32::MAX {
                // Four runs around a corner: where two classes cross the worse is joined.
                let [right_over, right_under] = [class(above, over_next), class(below, over_next)];
                if over == right_under && right_over == under && over != right_over {
                    if over < under {
                        self.unite(upper, lower + 1);
                    } else {
                        self.unite(upper + 1, lower);
                    }
                }
            }
            upper += usize::from(over_next <= under_next);
            lower += usize::from(under_next <= over_next);
        }
    }

    /// The first run of a run's patch.
    fn root(&mut self, run: usize) -> usize {
        let mut at = run;
        while self.joined[at] as usize != at {
            let above = self.joined[at] as usize;
            self.joined[at] = self.joined[above];
            at = above;
        }
        at
    }

    fn unite(&mut self, one: usize, other: usize) {
        let [one, other] = [self.root(one), self.root(other)];
        // Numbers of runs, which are all below that of the greatest.
        self.joined[one.max(other)] = one.min(other) as u32;
    }

    /// The patch of a cell, row first: the number of its first run.
    fn of_cell(&mut self, (row, column): (usize, usize)) -> u32 {
        let runs = self.rows[row]..self.rows[row + 1];
        let before = self.starts[runs.clone()].partition_point(|start| *start as usize <= column);
        self.root(runs.start + before.saturating_sub(1)) as u32
    }
}
