//! Ways on foot over land from place to place: around the water that the plan knows.
//!
//! The ground is a raster of open and closed cells; the shortest way over open ones is
//! found (E. W. Dijkstra, Numerische Mathematik 1, 1959) and pulled straight where
//! nothing is in between. Houses, fences, rail and what the ground is like are not
//! known to it.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

use serde::Serialize;

use perchline_terrain::{Terrain, TerrainError};
use perchline_units::{Degrees, Metres, Position};

/// Cells of the raster at most; more are taken together.
const MOST_CELLS: f64 = 250_000.0;

/// A place in a closed cell is reached from an open one this near: a post on a bank
/// (ours).
const BANK: f64 = 60.0;

/// Metres on foot in a minute: 4 km/h (common practice, no source).
pub(super) const PACE: f64 = 4000.0 / 60.0;

/// Metres of climb that take a minute more (W. W. Naismith, Scottish Mountaineering
/// Club Journal 2, 1892: an hour for 2000 feet; from memory).
const CLIMB: f64 = 2000.0 * 0.3048 / 60.0;

/// Metres between two heights along a leg of which climbs are counted.
const PITCH: f64 = 50.0;

/// A leg of a walk.
#[derive(Debug, Clone, Serialize)]
pub struct Leg {
    /// Where it begins.
    pub from: String,
    /// Where it ends.
    pub to: String,
    /// How long it is, along the way.
    pub distance_m: Metres,
    /// Where to set out, degrees from true north.
    pub bearing_deg: Degrees,
    /// How much it climbs.
    pub climb_m: Metres,
    /// How long it takes, whole minutes.
    pub minutes: u32,
    /// The way, both ends included.
    pub over: Vec<Position>,
}

/// The ground as somebody on foot finds it.
pub(super) struct Land<'a> {
    terrain: &'a Terrain,
    columns: usize,
    rows: usize,
    closed: Vec<bool>,
    /// Cells of the terrain in one of these, across and down.
    factor: f64,
    /// Width and height of one of these, metres.
    side: (f64, f64),
}

/// The shortest ways from one place to every cell.
pub(super) struct Ways {
    metres: Vec<f64>,
    /// The cell before each on its way; a raster has fewer than numbers of this size.
    before: Vec<u32>,
}

const NOWHERE: u32 = u32::MAX;

impl<'a> Land<'a> {
    /// The ground of a terrain, on which `bridges` lead over water.
    pub(super) fn of<'l>(
        terrain: &'a Terrain,
        bridges: impl Iterator<Item = &'l geo::LineString>,
    ) -> Result<Self, TerrainError> {
        let mut land = Self::around(terrain, |row, column| terrain.is_water(row, column))?;
        for line in bridges {
            land.open_along(line);
        }
        Ok(land)
    }

    /// The ground of a terrain, on whose cells water is where `is_water` says so.
    fn around(
        terrain: &'a Terrain,
        is_water: impl Fn(usize, usize) -> bool,
    ) -> Result<Self, TerrainError> {
        let grid = terrain.grid();
        let (columns, rows) = (grid.columns(), grid.rows());
        let cells = columns as f64 * rows as f64;
        let factor = (cells / MOST_CELLS).sqrt().ceil().max(1.0);
        // Some hundreds at most.
        let step = factor as usize;
        let (coarse_columns, coarse_rows) = (columns.div_ceil(step), rows.div_ceil(step));
        let mut closed = vec![false; coarse_columns * coarse_rows];
        for row in 0..rows {
            for column in 0..columns {
                let cell = row / step * coarse_columns + column / step;
                if let Some(closed) = closed.get_mut(cell).filter(|c| !**c) {
                    *closed = is_water(row, column);
                }
            }
        }
        let (width, height) = grid.cell_size()?;
        Ok(Self {
            terrain,
            columns: coarse_columns,
            rows: coarse_rows,
            closed,
            factor,
            side: (width.value() * factor, height.value() * factor),
        })
    }

    /// Opens the cells that a line crosses.
    fn open_along(&mut self, line: &geo::LineString) {
        let places: Vec<Position> =
            line.points().filter_map(|p| Position::from_point(p).ok()).collect();
        for pair in places.windows(2) {
            let [from, to] = pair else { continue };
            let (Some(from), Some(to)) = (self.place(*from), self.place(*to)) else { continue };
            for cell in self.cells_between(from, to) {
                if let Some(closed) = cell.and_then(|cell| self.closed.get_mut(cell)) {
                    *closed = false;
                }
            }
        }
    }

    /// Where a position lies on the raster, in cells.
    fn place(&self, at: Position) -> Option<(f64, f64)> {
        let (column, row) = self.terrain.grid().projector().ok()?.to_cell(at).ok()?;
        Some((column / self.factor, row / self.factor))
    }

    /// The number of the cell of a place on the raster, if it is on it.
    fn cell(&self, (column, row): (f64, f64)) -> Option<usize> {
        let inside =
            column >= 0.0 && row >= 0.0 && column < self.columns as f64 && row < self.rows as f64;
        // Cut to whole cells within the raster.
        inside.then(|| row as usize * self.columns + column as usize)
    }

    fn is_open(&self, cell: usize) -> bool {
        self.closed.get(cell) == Some(&false)
    }

    /// The cells under a straight line, at a quarter of a cell's pitch; nothing for
    /// parts off the raster.
    fn cells_between(&self, from: (f64, f64), to: (f64, f64)) -> Vec<Option<usize>> {
        let (dx, dy) = (to.0 - from.0, to.1 - from.1);
        // Some thousands at most on a raster of this size.
        let steps = (dx.hypot(dy) * 4.0).ceil().clamp(1.0, 1e5) as usize;
        (0..=steps)
            .map(|step| {
                let part = step as f64 / steps as f64;
                self.cell((from.0 + dx * part, from.1 + dy * part))
            })
            .collect()
    }

    /// Whether a straight line lies on open cells alone, its ends aside.
    fn is_clear(&self, from: Position, to: Position) -> bool {
        let (Some(from), Some(to)) = (self.place(from), self.place(to)) else { return false };
        let ends = [self.cell(from), self.cell(to)];
        let between = self.cells_between(from, to);
        between
            .into_iter()
            .all(|cell| ends.contains(&cell) || cell.is_some_and(|cell| self.is_open(cell)))
    }

    /// The open cell of a place, or the nearest one to it within reach of a bank.
    fn open_cell(&self, at: Position) -> Option<usize> {
        let place = self.place(at)?;
        let own = self.cell(place)?;
        if self.is_open(own) {
            return Some(own);
        }
        let (row, column) = (own / self.columns, own % self.columns);
        let across = (BANK / self.side.0).ceil().clamp(1.0, 1e4) as usize;
        let down = (BANK / self.side.1).ceil().clamp(1.0, 1e4) as usize;
        let rows = row.saturating_sub(down)..(row + down + 1).min(self.rows);
        let near = rows.flat_map(|row| {
            let columns = column.saturating_sub(across)..(column + across + 1).min(self.columns);
            columns.map(move |column| (row, column))
        });
        let away = |(r, c): (usize, usize)| {
            let (dx, dy) = (c as f64 - column as f64, r as f64 - row as f64);
            (dx * self.side.0).hypot(dy * self.side.1)
        };
        near.filter(|(row, column)| self.is_open(row * self.columns + column))
            .filter(|place| away(*place) <= BANK.max(self.side.0.max(self.side.1) * 1.5))
            .min_by(|a, b| away(*a).total_cmp(&away(*b)))
            .map(|(row, column)| row * self.columns + column)
    }

    /// Open neighbours of a cell and how far they are; corners between closed cells are
    /// not cut.
    fn neighbours(&self, cell: usize) -> impl Iterator<Item = (usize, f64)> + '_ {
        let (row, column) = (cell / self.columns, cell % self.columns);
        let at = move |dy: isize, dx: isize| {
            let row = row.checked_add_signed(dy).filter(|row| *row < self.rows)?;
            let column = column.checked_add_signed(dx).filter(|c| *c < self.columns)?;
            let cell = row * self.columns + column;
            self.is_open(cell).then_some(cell)
        };
        let steps = [(-1, -1), (-1, 0), (-1, 1), (0, -1), (0, 1), (1, -1), (1, 0), (1, 1)];
        steps.into_iter().filter_map(move |(dy, dx)| {
            let next = at(dy, dx)?;
            if dy != 0 && dx != 0 {
                at(dy, 0)?;
                at(0, dx)?;
            }
            let (across, down) = self.side;
            Some((next, (dx as f64 * across).hypot(dy as f64 * down)))
        })
    }

    /// The shortest ways from a place; nothing where it is not on land.
    pub(super) fn ways(&self, from: Position) -> Option<Ways> {
        let start = self.open_cell(from)?;
        let mut metres = vec![f64::INFINITY; self.closed.len()];
        let mut before = vec![NOWHERE; self.closed.len()];
        let mut next = BinaryHeap::new();
        // Millimetres, so that ways are in a whole order.
        next.push((Reverse(0u64), start));
        if let Some(at) = metres.get_mut(start) {
            *at = 0.0;
        }
        while let Some((Reverse(walked), cell)) = next.pop() {
            let here = metres.get(cell).copied().unwrap_or(f64::INFINITY);
            if walked > millimetres(here) {
                continue;
            }
            for (to, by) in self.neighbours(cell) {
                let (Some(known), Some(prior)) = (metres.get_mut(to), before.get_mut(to)) else {
                    continue;
                };
                if here + by < *known {
                    *known = here + by;
                    *prior = cell as u32;
                    next.push((Reverse(millimetres(here + by)), to));
                }
            }
        }
        Some(Ways { metres, before })
    }

    /// The way from a place to each of others, a straight line where none is known.
    pub(super) fn ways_to(&self, from: Position, others: &[Position]) -> Vec<Vec<Position>> {
        let ways = self.ways(from);
        let way = |to: &Position| {
            let known = ways.as_ref().and_then(|ways| self.way(ways, from, *to));
            known.unwrap_or_else(|| vec![from, *to])
        };
        others.iter().map(way).collect()
    }

    /// Whether ways lead to a place.
    pub(super) fn leads_to(&self, ways: &Ways, to: Position) -> bool {
        self.open_cell(to)
            .and_then(|cell| ways.metres.get(cell))
            .is_some_and(|metres| metres.is_finite())
    }

    /// The way to a place, both ends included; nothing where none leads there.
    pub(super) fn way(&self, ways: &Ways, from: Position, to: Position) -> Option<Vec<Position>> {
        if self.is_clear(from, to) {
            return Some(vec![from, to]);
        }
        let mut cell = self.open_cell(to)?;
        if !ways.metres.get(cell)?.is_finite() {
            return None;
        }
        let mut cells = vec![cell];
        while let Some(before) = ways.before.get(cell).copied().filter(|b| *b != NOWHERE) {
            cell = before as usize;
            cells.push(cell);
        }
        cells.reverse();
        let middle = |cell: usize| {
            let (row, column) = (cell / self.columns, cell % self.columns);
            ((column as f64 + 0.5) * self.factor, (row as f64 + 0.5) * self.factor)
        };
        let middles: Vec<(f64, f64)> = cells.into_iter().map(middle).collect();
        let between = self.terrain.grid().projector().ok()?.to_positions(&middles).ok()?;
        let all: Vec<Position> =
            std::iter::once(from).chain(between).chain(std::iter::once(to)).collect();
        Some(self.straightened(&all))
    }

    /// A way without the corners that nothing asks for.
    fn straightened(&self, way: &[Position]) -> Vec<Position> {
        let mut kept: Vec<Position> = way.first().copied().into_iter().collect();
        let mut at = 0;
        while let Some(here) = way.get(at).copied() {
            let Some(later) = way.get(at + 1..).filter(|later| !later.is_empty()) else { break };
            // The farthest that is in sight, or the next.
            let farthest = later.iter().rposition(|place| self.is_clear(here, *place));
            at += farthest.unwrap_or(0) + 1;
            kept.extend(way.get(at).copied());
        }
        kept
    }

    /// A leg over a way.
    pub(super) fn leg(&self, from: &str, to: &str, over: Vec<Position>) -> Leg {
        let pairs = || over.iter().zip(over.iter().skip(1));
        let distance: f64 = pairs().map(|(a, b)| a.distance(*b).value()).sum();
        let climb: f64 = pairs().map(|(a, b)| self.climb(*a, *b)).sum();
        let bearing = pairs().next().map_or(Degrees::new(0.0), |(a, b)| a.bearing(*b));
        Leg {
            from: from.to_owned(),
            to: to.to_owned(),
            distance_m: Metres::new(distance),
            bearing_deg: bearing,
            climb_m: Metres::new(climb),
            // A day's walk at most.
            minutes: (distance / PACE + climb / CLIMB).ceil() as u32,
            over,
        }
    }

    /// What a straight line climbs, metres; gaps count as level.
    fn climb(&self, from: Position, to: Position) -> f64 {
        let length = from.distance(to).value();
        let steps = (length / PITCH).ceil().clamp(1.0, 1e4) as usize;
        let heights: Vec<f64> = (0..=steps)
            .filter_map(|step| {
                let at = from.on_the_way(to, step as f64 / steps as f64).ok()?;
                Some(self.terrain.ground(at).ok()?.value())
            })
            .collect();
        let rise = |pair: &[f64]| match pair {
            [low, high] => (high - low).max(0.0),
            _ => 0.0,
        };
        heights.windows(2).map(rise).sum()
    }
}

/// Whole millimetres of a distance on a raster.
fn millimetres(metres: f64) -> u64 {
    // Cut at what a whole number holds, which no way comes near.
    (metres * 1000.0) as u64
}

/// The shortest round that begins and ends at place 0 of a square table of distances:
/// to the nearest that is left, then two legs changed for two shorter ones until none
/// is found (2-opt: G. A. Croes, Operations Research 6, 1958). The order of the others.
pub(super) fn round(metres: &[Vec<f64>]) -> Vec<usize> {
    let count = metres.len();
    let between = |a: usize, b: usize| {
        metres.get(a).and_then(|row| row.get(b)).copied().unwrap_or(f64::INFINITY)
    };
    let mut left: Vec<usize> = (1..count).collect();
    let mut order = Vec::new();
    let mut here = 0;
    while let Some((index, _)) = left
        .iter()
        .enumerate()
        .min_by(|(_, a), (_, b)| between(here, **a).total_cmp(&between(here, **b)))
    {
        here = left.remove(index);
        order.push(here);
    }
    let length = |order: &[usize]| {
        let stops = std::iter::once(0).chain(order.iter().copied());
        let next = order.iter().copied().chain(std::iter::once(0));
        stops.zip(next).map(|(a, b)| between(a, b)).sum::<f64>()
    };
    let mut best = length(&order);
    // Each change is shorter, so this ends; a round has some tens of stops.
    for _ in 0..count * count {
        let mut changed = false;
        for from in 0..order.len() {
            for to in from + 1..order.len() {
                let mut other = order.clone();
                if let Some(part) = other.get_mut(from..=to) {
                    part.reverse();
                }
                let found = length(&other);
                if found + 1e-6 < best {
                    (order, best, changed) = (other, found, true);
                }
            }
        }
        if !changed {
            break;
        }
    }
    order
}

#[cfg(test)]
mod tests {
    use super::*;
    use ndarray::Array2;
    use perchline_terrain::Grid;

    /// Level land of 100 by 100 cells of some 10 m, with a bed of 6 m from north to
    /// south.
    fn terrain() -> Terrain {
        let transform = [-34.91, 0.000_13, 0.0, 47.01, 0.0, -0.000_09];
        let grid = Grid::new(100, 100, transform, "EPSG:4326").unwrap();
        let bed = |column: usize| (45..55).contains(&column);
        let heights = Array2::from_shape_fn((100, 100), |(_, c)| if bed(c) { -1.0 } else { 5.0 });
        Terrain::from_heights(grid, heights).unwrap()
    }

    /// Water in the bed but at its northern end, of 20 cells.
    fn river(row: usize, column: usize) -> bool {
        (45..55).contains(&column) && row >= 20
    }

    fn at(terrain: &Terrain, column: f64, row: f64) -> Position {
        terrain.grid().projector().unwrap().to_position(column, row).unwrap()
    }

    /// By hand: the corners of a square are walked around, not across.
    #[test]
    fn a_round_does_not_cross_itself() {
        let corners = [(0.0, 0.0), (1.0, 1.0), (1.0, 0.0), (0.0, 1.0)];
        let metres: Vec<Vec<f64>> = corners
            .iter()
            .map(|a| corners.iter().map(|b: &(f64, f64)| (a.0 - b.0).hypot(a.1 - b.1)).collect())
            .collect();
        let order = round(&metres);
        assert!([[2, 1, 3], [3, 1, 2]].contains(&[order[0], order[1], order[2]]), "{order:?}");
        assert!(round(&[vec![0.0]]).is_empty());
    }

    #[test]
    fn without_water_a_way_is_straight() {
        let terrain = terrain();
        let land = Land::of(&terrain, std::iter::empty()).unwrap();
        let (from, to) = (at(&terrain, 10.5, 50.5), at(&terrain, 90.5, 50.5));
        let ways = land.ways(from).unwrap();
        assert_eq!(land.way(&ways, from, to).unwrap(), [from, to]);
        let leg = land.leg("a", "b", vec![from, to]);
        assert!((leg.distance_m.value() - from.distance(to).value()).abs() < 1e-9);
        // Down into the bed and up again: 6 m. Some 800 m at 4 km/h are 12 minutes.
        assert!((leg.climb_m.value() - 6.0).abs() < 1.0, "{}", leg.climb_m);
        assert!((12..=14).contains(&leg.minutes), "{}", leg.minutes);
    }

    /// By hand: round the northern end of the water, two straight lines that meet
    /// there, and never on it.
    #[test]
    fn a_way_goes_round_water_and_over_a_bridge() {
        let terrain = terrain();
        let land = Land::around(&terrain, river).unwrap();
        let (from, to) = (at(&terrain, 10.5, 50.5), at(&terrain, 90.5, 50.5));
        let ways = land.ways(from).unwrap();
        let way = land.way(&ways, from, to).unwrap();
        assert!(way.len() >= 3 && way[0] == from && way[way.len() - 1] == to, "{way:?}");
        let walked = land.leg("a", "b", way.clone()).distance_m.value();
        let corner = at(&terrain, 50.0, 20.0);
        let least = from.distance(corner) + corner.distance(to);
        assert!(walked > least.value() * 0.99 && walked < least.value() * 1.1, "{walked} {least}");
        for pair in way.windows(2) {
            for part in 0..=200 {
                let here = pair[0].on_the_way(pair[1], f64::from(part) / 200.0).unwrap();
                let (column, row) = terrain.grid().projector().unwrap().to_cell(here).unwrap();
                assert!(!river(row as usize, column as usize), "{column} {row}");
            }
        }
        // A bridge across is walked over; a place on the bank is reached, one in the
        // middle of the water is not.
        let bridge = [at(&terrain, 40.0, 50.5), at(&terrain, 60.0, 50.5)];
        let bridge = geo::LineString::from_iter(bridge.map(|p| p.point()));
        let mut over = Land::around(&terrain, river).unwrap();
        over.open_along(&bridge);
        let ways = over.ways(from).unwrap();
        let walked = over.leg("a", "b", over.way(&ways, from, to).unwrap()).distance_m;
        assert!(walked < from.distance(to) * 1.05, "{walked}");
        let ways = land.ways(from).unwrap();
        assert!(land.leads_to(&ways, at(&terrain, 46.5, 60.5)));
        let island = |row: usize, column: usize| {
            river(row, column) || (40..60).contains(&row) || (40..60).contains(&column)
        };
        let cut = Land::around(&terrain, island).unwrap();
        let ways = cut.ways(at(&terrain, 10.5, 10.5)).unwrap();
        assert!(!cut.leads_to(&ways, at(&terrain, 90.5, 90.5)));
        assert!(cut.way(&ways, at(&terrain, 10.5, 10.5), at(&terrain, 90.5, 90.5)).is_none());
    }
}
