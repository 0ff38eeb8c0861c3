//! Every open cell at once: one sweep from each demand point.

use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use super::demand::DemandPoint;
use super::ground::OpenGround;
use perchline_coverage::sweep::{Options, reach};
use perchline_link::{LinkModel, Loss, PathLosses, Propagator};
use perchline_propagation::clearance::TakeOff;
use perchline_propagation::{Model, free_space};
use perchline_terrain::{PlaceError, Terrain, TerrainError};
use perchline_units::{Db, Degrees, Metres};

/// Cells along the side of a tile that is bounded as a whole.
const TILE: usize = 64;

/// By how much the sweep may be short of a cell's own worth and the cell still
/// not be given up too early. What the sweep's error really was is measured
/// afterwards, and the bound that is reported counts it.
const SLACK: f64 = 0.05;

/// A window is cut down where no more than this share of it is left.
const WORTH_CUTTING: f64 = 0.75;

/// What the sweeps say of every cell of the searched part of the map.
pub(super) struct Screen {
    /// Weighted probability over the demand points, 0 to 1; NaN where a cell
    /// was given up before the last of them.
    pub score: Vec<f32>,
    /// The least probability of a must-have post; 1 where there is none.
    pub least: Vec<f32>,
    /// The greatest value that a cell given up early can have by the sweeps,
    /// their error aside; minus infinity where none was.
    pub given_up: f64,
}

/// What a search of every cell needs.
pub(super) struct Sweeps<'a> {
    pub terrain: &'a Terrain,
    pub ground: &'a OpenGround,
    pub demand: &'a [DemandPoint],
    /// A propagator whose method has a swept form.
    pub propagator: &'a Propagator,
    /// Share of spots that is wanted, 0 to 1.
    pub reliability: f64,
    pub swept: &'a (dyn Fn() + Sync),
    pub stop: &'a AtomicBool,
}

/// A window of columns and rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Window {
    left: usize,
    top: usize,
    right: usize,
    bottom: usize,
}

impl Window {
    fn cells(self) -> usize {
        (self.right - self.left) * (self.bottom - self.top)
    }
}

impl Sweeps<'_> {
    /// Sweeps from one demand point after the other. Cells that cannot reach
    /// the value `floor` any more leave the window as far as it can be cut.
    ///
    /// # Errors
    /// [`PlaceError`] as for [`reach`].
    pub fn run(&self, floor: f64) -> Result<Screen, PlaceError> {
        let grid = &self.ground.grid;
        let (columns, rows) = (grid.columns(), grid.rows());
        let cells = columns * rows;
        let mut screen = Screen {
            score: vec![0.0; cells],
            least: vec![1.0; cells],
            given_up: f64::NEG_INFINITY,
        };
        let mut window = Window { left: 0, top: 0, right: columns, bottom: rows };
        let rest = self.best_to_come()?;
        for (index, point) in self.demand.iter().enumerate() {
            if self.stop.load(Ordering::Relaxed) {
                break;
            }
            let Some(part) = grid.part(window.left..window.right, window.top..window.bottom) else {
                break;
            };
            let options = Options::default();
            let found =
                reach(self.terrain, &part, &point.model, self.propagator, &options, self.stop)?;
            let weight = point.weight as f32;
            screen
                .score
                .par_chunks_mut(columns)
                .zip(screen.least.par_chunks_mut(columns))
                .skip(window.top)
                .take(window.bottom - window.top)
                .zip(found.as_slice().unwrap_or_default().par_chunks(part.columns()))
                .for_each(|((score, least), probability)| {
                    let cells = score.iter_mut().zip(least).skip(window.left);
                    for ((score, least), p) in cells.zip(probability) {
                        // What is not known counts as not working.
                        let p = if p.is_nan() { 0.0 } else { *p };
                        *score += weight * p;
                        if point.must {
                            *least = least.min(p);
                        }
                    }
                });
            (self.swept)();
            if let Some(to_come) = rest.get(index + 1) {
                self.cut(&mut screen, &mut window, to_come, floor);
            }
        }
        Ok(screen)
    }

    /// Cuts the window to the cells that may still reach `floor`.
    fn cut(&self, screen: &mut Screen, window: &mut Window, to_come: &[f64], floor: f64) {
        let columns = self.ground.grid.columns();
        let tiles = columns.div_ceil(TILE);
        let most = |cell: usize, column: usize, row: usize| -> Option<f64> {
            if self.ground.open.get(cell) != Some(&true) {
                return None;
            }
            let score = f64::from(*screen.score.get(cell)?);
            let least = f64::from(*screen.least.get(cell)?);
            let to_come = to_come.get(row / TILE * tiles + column / TILE)?;
            let must = f64::from(u8::from(least + SLACK >= self.reliability));
            Some(score + to_come + must)
        };
        let lines: Vec<Option<(usize, usize)>> = (window.top..window.bottom)
            .into_par_iter()
            .map(|row| {
                let alive = |column: &usize| {
                    most(row * columns + column, *column, row).is_some_and(|m| m + SLACK >= floor)
                };
                let left = (window.left..window.right).find(alive)?;
                let right = (window.left..window.right).rev().find(alive)?;
                Some((left, right + 1))
            })
            .collect();
        let alive = || lines.iter().enumerate().filter_map(|(row, line)| Some((row, (*line)?)));
        let Some((first, _)) = alive().next() else { return };
        let last = alive().next_back().map_or(first, |(row, _)| row);
        let next = Window {
            left: alive().map(|(_, (left, _))| left).min().unwrap_or(window.left),
            right: alive().map(|(_, (_, right))| right).max().unwrap_or(window.right),
            top: window.top + first,
            bottom: window.top + last + 1,
        };
        if next.cells() as f64 > WORTH_CUTTING * window.cells() as f64 {
            return;
        }
        let outside = |column: usize, row: usize| {
            !(next.left..next.right).contains(&column) || !(next.top..next.bottom).contains(&row)
        };
        let mut given_up = screen.given_up;
        let mut lost = Vec::new();
        for row in window.top..window.bottom {
            for column in (window.left..window.right).filter(|column| outside(*column, row)) {
                let cell = row * columns + column;
                if let Some(most) = most(cell, column, row) {
                    given_up = given_up.max(most);
                }
                lost.push(cell);
            }
        }
        screen.given_up = given_up;
        for cell in lost {
            if let Some(score) = screen.score.get_mut(cell) {
                *score = f32::NAN;
            }
        }
        *window = next;
    }

    /// For each demand point and tile: the weighted probability that it and all
    /// after it can add at most, with nothing but free space between.
    fn best_to_come(&self) -> Result<Vec<Vec<f64>>, TerrainError> {
        let grid = &self.ground.grid;
        let (width, height) = grid.cell_size()?;
        let half = Metres::new(0.5 * TILE as f64 * width.value().hypot(height.value()));
        let middles: Vec<(f64, f64)> = (0..grid.rows().div_ceil(TILE))
            .flat_map(|row| (0..grid.columns().div_ceil(TILE)).map(move |column| (column, row)))
            .map(|(c, r)| ((c * TILE) as f64, (r * TILE) as f64))
            .map(|(c, r)| (c + 0.5 * TILE as f64, r + 0.5 * TILE as f64))
            .collect();
        let middles = grid.projector()?.to_positions(&middles)?;
        let mut rest = vec![vec![0.0; middles.len()]];
        for point in self.demand.iter().rev() {
            let before = rest.last().cloned().unwrap_or_default();
            let with = before.par_iter().zip(&middles).map(|(before, middle)| {
                // A tile reaches half its diagonal out of its middle; 1 in 50
                // more for a grid whose cells are not all of one size.
                let near = middle.distance(point.model.carried().at) - half * 1.02;
                before + point.weight * at_best(&point.model, near)
            });
            let with = with.collect();
            rest.push(with);
        }
        rest.reverse();
        Ok(rest)
    }
}

/// The probability over free space alone, both antennas at their best.
fn at_best(model: &LinkModel, distance: Metres) -> f64 {
    let distance = distance.max(Metres::new(1.0));
    let (input, output) = model.frequencies();
    let loss = |frequency| Loss {
        free_space: free_space::loss(frequency, distance),
        diffraction: Db::new(0.0),
        leaves: Db::new(0.0),
        streets: Db::new(0.0),
        rows: Db::new(0.0),
        model: Model::Method("free-space"),
    };
    let level = Degrees::new(0.0);
    let losses = PathLosses {
        talk_in: loss(input),
        talk_out: loss(output),
        take_off: TakeOff { at_transmitter: level, at_receiver: level },
        woods: None,
        streets: None,
    };
    model.probability(&model.assess(&losses))
}
