//! Closing in on the best cell, and how far from the best there is it may be.

use std::collections::HashSet;

use serde::Serialize;

use super::exact::{Stands, Worth};
use super::screen::Screen;
use super::{BATCH, Hunt, SpotError, every};

/// Cells that are scored on exact paths in closing in, at most.
const BUDGET: usize = 4096;

/// Places, spread out, around which cells are scored first.
const SEEDS: usize = 24;

/// Cells around each of them.
const AROUND: usize = 6;

/// Cells of a fair sample among the good ones.
const SAMPLE: usize = 256;

/// Cells within so much of the best count as good ones.
const GOOD: f64 = 0.1;

/// How far the best spot may be from the best there is, on the demand points.
///
/// It rests on the sweep: no cell is taken to be worth more than the sweep says
/// and the most by which an exact path exceeded the sweep where both were
/// computed. That is a measured error, not a proven one.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Bound {
    /// The best spot's weighted probability on the demand points, 0 to 1.
    pub best: f64,
    /// What no cell is expected to exceed, 0 to 1; not below `best`.
    pub upper: f64,
    /// The difference as a share of `best`, in percent.
    pub gap_percent: f64,
    /// Cells scored on exact paths.
    pub scored_exactly: usize,
    /// Cells scored both ways, of which the error below is taken.
    pub compared: usize,
    /// The most by which an exact score exceeded the sweep's, of all that were
    /// compared.
    pub sweep_short_by: f64,
    /// The same among cells nearly as good as the best.
    pub sweep_short_by_near_the_best: f64,
    /// Cells not scored exactly that may meet every must-have post although the
    /// best spot does not.
    pub may_meet_must_posts: usize,
}

/// A cell scored both ways.
#[derive(Debug, Clone, Copy)]
pub(super) struct Compared {
    score: f64,
    least: f64,
    exact: Worth,
}

/// By how much the sweep was short.
#[derive(Debug, Clone, Copy, Default)]
struct Errors {
    anywhere: f64,
    good: f64,
    /// From this score on a cell is a good one.
    good_from: f64,
    /// The most by which a must-have post that works seemed not to.
    must: f64,
}

impl Errors {
    fn of(compared: &[Compared], good_from: f64, reliability: f64) -> Self {
        let short = |from: f64| {
            compared
                .iter()
                .filter(|c| c.score >= from)
                .map(|c| c.exact.probability - c.score)
                .fold(0.0, f64::max)
        };
        let must = compared.iter().filter(|c| c.exact.must_met);
        Self {
            anywhere: short(f64::NEG_INFINITY),
            good: short(good_from),
            good_from,
            must: must.map(|c| reliability - c.least).fold(0.0, f64::max),
        }
    }

    /// The most that a cell may be worth.
    fn most(&self, score: f64, least: f64, reliability: f64) -> f64 {
        let error = if score >= self.good_from { self.good } else { self.anywhere };
        let must = f64::from(u8::from(least + self.must >= reliability));
        (score + error).min(1.0) + must
    }
}

impl Hunt<'_> {
    /// Scores the most promising cells of `screen` on exact paths until none is
    /// left that may be better, or the budget is used up.
    pub(super) fn close_in(&mut self, screen: &Screen, open: &[usize]) -> Result<Bound, SpotError> {
        let reliability = self.task.plan.prediction.reliability;
        let of = |cell: usize| -> Option<(f64, f64)> {
            let score = f64::from(*screen.score.get(cell)?);
            (!score.is_nan()).then_some((score, f64::from(*screen.least.get(cell)?)))
        };
        let mut tried: HashSet<usize> = self.tried();
        let swept: Vec<(usize, f64, f64)> =
            open.iter().filter_map(|cell| of(*cell).map(|(s, l)| (*cell, s, l))).collect();
        // Seeds: the best by the sweep, spread out, and their best neighbours.
        let value = |(_, score, least): &(usize, f64, f64)| {
            score + f64::from(u8::from(*least >= reliability))
        };
        let mut order = swept.clone();
        sort_by(&mut order, value);
        let seeds = self.seeds(&order);
        let floor = self.floor();
        self.cells(&fresh(&seeds, &mut tried), floor)?;
        // A fair sample among the good ones: their error decides.
        let best = self.best().map_or(0.0, |w| w.probability);
        let good: Vec<usize> =
            order.iter().filter(|(_, s, _)| *s >= best - GOOD).map(|(cell, ..)| *cell).collect();
        let sample = fresh(&every(&good, SAMPLE), &mut tried);
        self.cells(&sample, f64::NEG_INFINITY)?;
        // Then best first.
        let compared = self.compared(of);
        let errors = Errors::of(&compared, best - GOOD, reliability);
        sort_by(&mut order, |(_, score, least)| errors.most(*score, *least, reliability));
        let mut left: Vec<(usize, f64, f64)> =
            order.into_iter().filter(|(cell, ..)| !tried.contains(cell)).collect();
        let mut used = 0;
        loop {
            let best = self.best().map_or(f64::NEG_INFINITY, Worth::value);
            let hopeful = left
                .iter()
                .take(BATCH.min(BUDGET - used))
                .take_while(|(_, s, l)| errors.most(*s, *l, reliability) > best)
                .count();
            if hopeful == 0 {
                break;
            }
            let batch: Vec<usize> = left.drain(..hopeful).map(|(cell, ..)| cell).collect();
            used += batch.len();
            tried.extend(&batch);
            let floor = self.floor();
            self.cells(&batch, floor)?;
        }
        // The error again, with all that is known now.
        let compared = self.compared(of);
        let errors = Errors::of(&compared, best - GOOD, reliability);
        Ok(self.bound(&left, &errors, (tried.len(), compared.len()), screen.given_up))
    }

    fn bound(
        &self,
        left: &[(usize, f64, f64)],
        errors: &Errors,
        (scored_exactly, compared): (usize, usize),
        given_up: f64,
    ) -> Bound {
        let reliability = self.task.plan.prediction.reliability;
        let best = self.best().unwrap_or(Worth { probability: 0.0, must_met: false });
        let most = |(_, score, least): &(usize, f64, f64)| errors.most(*score, *least, reliability);
        let doubtful =
            if best.must_met { 0 } else { left.iter().filter(|l| most(l) > 1.0).count() };
        // In the class of the best: a cell that misses must-have posts is no better.
        let class = f64::from(u8::from(best.must_met));
        let of_class = |value: f64| if value > 1.0 { value - 1.0 } else { value - class };
        let upper = left
            .iter()
            .map(most)
            .chain([given_up + errors.anywhere])
            .map(of_class)
            .fold(best.probability, f64::max)
            .min(1.0);
        Bound {
            best: best.probability,
            upper,
            gap_percent: 100.0 * (upper - best.probability) / best.probability.max(1e-9),
            scored_exactly,
            compared,
            sweep_short_by: errors.anywhere,
            sweep_short_by_near_the_best: errors.good,
            may_meet_must_posts: doubtful,
        }
    }

    /// What the best spot so far is worth.
    fn best(&self) -> Option<Worth> {
        self.found.iter().map(|f| f.worth).max_by(|a, b| a.value().total_cmp(&b.value()))
    }

    fn tried(&self) -> HashSet<usize> {
        let cells = self.found.iter().filter_map(|f| match f.place.stands {
            Stands::Cell(cell) => Some(cell),
            Stands::Roof(_) => None,
        });
        cells.collect()
    }

    fn compared(&self, of: impl Fn(usize) -> Option<(f64, f64)>) -> Vec<Compared> {
        let cells = self.found.iter().filter_map(|f| match f.place.stands {
            Stands::Cell(cell) => {
                let (score, least) = of(cell)?;
                Some(Compared { score, least, exact: f.worth })
            }
            Stands::Roof(_) => None,
        });
        cells.collect()
    }

    /// The best cells of `order`, spread out, each with its best neighbours.
    fn seeds(&self, order: &[(usize, f64, f64)]) -> Vec<usize> {
        let columns = self.ground.grid.columns().max(1);
        let side = self.ground.grid.cell_size().map_or(1.0, |(w, h)| w.min(h).value());
        let apart = self.task.plan.search.keep_apart.value() / side;
        let place = |cell: usize| ((cell % columns) as f64, (cell / columns) as f64);
        let near = |a: usize, b: usize, within: f64| {
            let ((x, y), (u, v)) = (place(a), place(b));
            (x - u).hypot(y - v) < within
        };
        let mut seeds: Vec<(usize, usize)> = Vec::new();
        let mut cells = Vec::new();
        for (cell, ..) in order {
            if let Some((_, around)) =
                seeds.iter_mut().find(|(seed, _)| near(*seed, *cell, apart / 2.0))
            {
                if *around < AROUND {
                    *around += 1;
                    cells.push(*cell);
                }
            } else if seeds.len() < SEEDS && !seeds.iter().any(|(s, _)| near(*s, *cell, apart)) {
                seeds.push((*cell, 0));
                cells.push(*cell);
            }
            if cells.len() == SEEDS * (AROUND + 1) {
                break;
            }
        }
        cells
    }
}

/// Those that were not tried yet, which are from now on.
fn fresh(cells: &[usize], tried: &mut HashSet<usize>) -> Vec<usize> {
    cells.iter().copied().filter(|cell| tried.insert(*cell)).collect()
}

/// Greatest first; of equals the one that comes first.
fn sort_by(cells: &mut [(usize, f64, f64)], value: impl Fn(&(usize, f64, f64)) -> f64 + Sync) {
    use rayon::prelude::*;
    cells.par_sort_by(|a, b| value(b).total_cmp(&value(a)).then(a.0.cmp(&b.0)));
}
