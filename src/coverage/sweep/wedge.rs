//! Which cells belong to which wedge: every cell of the map to exactly one, by
//! arithmetic that does not round, so that wedges can run in any order.
//!
//! The plane around the station is cut along both diagonals into four
//! quadrants, and each quadrant into wedges whose edges run straight through
//! the station. A wedge is walked line by line away from the station; on each
//! line its cells are one run.

/// Parts of a cell to which the station's place is rounded before cells are
/// shared out.
const PARTS: f64 = 1024.0;

/// Where the map's cells lie on the terrain's.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct MapGrid {
    pub columns: usize,
    pub rows: usize,
    /// Size of a map cell in terrain cells, across and down.
    pub scale: (f64, f64),
    /// The map's upper left corner in terrain cells.
    pub offset: (f64, f64),
}

impl MapGrid {
    /// The centre of a cell in terrain cells.
    pub(super) fn centre(&self, column: usize, row: usize) -> (f64, f64) {
        (
            self.offset.0 + (column as f64 + 0.5) * self.scale.0,
            self.offset.1 + (row as f64 + 0.5) * self.scale.1,
        )
    }

    /// A place given in terrain cells in map cells.
    fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        ((x - self.offset.0) / self.scale.0, (y - self.offset.1) / self.scale.1)
    }
}

/// The quadrant around the station in which a wedge lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Quadrant {
    Right,
    Up,
    Left,
    Down,
}

impl Quadrant {
    pub(super) const ALL: [Self; 4] = [Self::Right, Self::Up, Self::Left, Self::Down];

    /// Whether lines are columns, walked down, rather than rows.
    pub(super) const fn lines_are_columns(self) -> bool {
        matches!(self, Self::Right | Self::Left)
    }

    /// Whether walking away from the station is walking down the lines' index.
    const fn backwards(self) -> bool {
        matches!(self, Self::Up | Self::Left)
    }

    /// Whether a run includes its upper rather than its lower bound. Going round,
    /// each quadrant then owns one of its two diagonals.
    const fn includes_upper(self) -> bool {
        matches!(self, Self::Left | Self::Down)
    }
}

/// One wedge of the map.
#[derive(Debug, Clone, Copy)]
pub(super) struct Wedge {
    pub quadrant: Quadrant,
    /// Its number among the wedges of the quadrant, and how many those are.
    index: usize,
    per_quadrant: usize,
    /// The station along the runs and across the lines, in map cells, rounded.
    station: (f64, f64),
    /// Cells along a run and lines, of the whole map.
    size: (usize, usize),
}

/// The cells of a wedge on one line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Run {
    /// The column or row that the line is.
    pub line: usize,
    /// First cell.
    pub start: usize,
    /// One past the last cell.
    pub end: usize,
}

/// The station's place in map cells, rounded as cells are shared out by it.
pub(super) fn rounded_station(map: &MapGrid, origin: (f64, f64)) -> (f64, f64) {
    let (x, y) = map.place(origin);
    ((x * PARTS).round() / PARTS, (y * PARTS).round() / PARTS)
}

/// The cell whose centre is the station's rounded place, which no wedge holds.
pub(super) fn station_cell(map: &MapGrid, origin: (f64, f64)) -> Option<(usize, usize)> {
    let (x, y) = rounded_station(map, origin);
    let index = |v: f64, count: usize| {
        let at = v - 0.5;
        (at.fract() == 0.0 && at >= 0.0 && at < count as f64).then_some(at as usize)
    };
    Some((index(x, map.columns)?, index(y, map.rows)?))
}

impl Wedge {
    /// The wedges of a map around a station, so many to a quadrant, a power of two.
    pub(super) fn all(map: &MapGrid, origin: (f64, f64), per_quadrant: usize) -> Vec<Self> {
        let (x, y) = rounded_station(map, origin);
        let wedge = |quadrant: Quadrant, index| {
            let (station, size) = if quadrant.lines_are_columns() {
                ((y, x), (map.rows, map.columns))
            } else {
                ((x, y), (map.columns, map.rows))
            };
            Self { quadrant, index, per_quadrant, station, size }
        };
        Quadrant::ALL
            .into_iter()
            .flat_map(|quadrant| (0..per_quadrant).map(move |i| wedge(quadrant, i)))
            .collect()
    }

    /// Slopes of the two edges: cells along the run a line.
    fn slopes(&self) -> (f64, f64) {
        let edge = |i: usize| 2.0 * i as f64 / self.per_quadrant as f64 - 1.0;
        (edge(self.index), edge(self.index + 1))
    }

    /// The lines from the station outwards that may hold cells of the wedge.
    pub(super) fn lines(&self) -> impl DoubleEndedIterator<Item = usize> + use<> {
        let (count, at) = (self.size.1 as f64, self.station.1);
        let backwards = self.quadrant.backwards();
        let lines = if backwards {
            // Centres before the station.
            0..(at - 0.5).ceil().clamp(0.0, count) as usize
        } else {
            ((at - 0.5).floor() + 1.0).clamp(0.0, count) as usize..self.size.1
        };
        let (first, last) = (lines.start, lines.end);
        lines.map(move |line| if backwards { first + last - 1 - line } else { line })
    }

    /// The wedge's cells on a line; `None` if there are none.
    pub(super) fn run(&self, line: usize) -> Option<Run> {
        let away = (line as f64 + 0.5 - self.station.1).abs();
        let (low, high) = self.slopes();
        let along = self.station.0 - 0.5;
        let (start, end) = if self.quadrant.includes_upper() {
            ((along - high * away).floor() + 1.0, (along - low * away).floor() + 1.0)
        } else {
            ((along + low * away).ceil(), (along + high * away).ceil())
        };
        let limit = |v: f64| v.clamp(0.0, self.size.0 as f64) as usize;
        let run = Run { line, start: limit(start), end: limit(end) };
        (run.start < run.end).then_some(run)
    }

    /// Places on both edges of the wedge at a distance of `away` lines from the
    /// station, in map cells from it: column and row.
    pub(super) fn edges(&self, away: f64) -> [(f64, f64); 2] {
        let (low, high) = self.slopes();
        [low, high].map(|slope| {
            let slope = if self.quadrant.includes_upper() { -slope } else { slope };
            match self.quadrant {
                Quadrant::Right => (away, slope * away),
                Quadrant::Left => (-away, slope * away),
                Quadrant::Down => (slope * away, away),
                Quadrant::Up => (slope * away, -away),
            }
        })
    }

    /// Distance of a line from the station, in lines.
    pub(super) fn away(&self, line: usize) -> f64 {
        (line as f64 + 0.5 - self.station.1).abs()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn every_cell_has_one_owner(
            columns in 1usize..40,
            rows in 1usize..40,
            x in -3.0f64..43.0,
            y in -3.0f64..43.0,
            centred: bool,
            power in 0u32..5,
        ) {
            let map = MapGrid { columns, rows, scale: (1.0, 1.0), offset: (0.0, 0.0) };
            let origin = if centred { (x.floor() + 0.5, y.floor() + 0.5) } else { (x, y) };
            let mut owners = vec![0; columns * rows];
            if let Some((column, row)) = station_cell(&map, origin) {
                owners[row * columns + column] += 1;
            }
            for wedge in Wedge::all(&map, origin, 1 << power) {
                for run in wedge.lines().filter_map(|line| wedge.run(line)) {
                    for at in run.start..run.end {
                        let (column, row) = if wedge.quadrant.lines_are_columns() {
                            (run.line, at)
                        } else {
                            (at, run.line)
                        };
                        owners[row * columns + column] += 1;
                    }
                }
            }
            prop_assert!(owners.iter().all(|n| *n == 1), "{owners:?}");
        }
    }
}
