//! The function whose top is looked for: ln posterior of the parameters.

use std::collections::HashMap;
use std::sync::Arc;

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::likelihood::{self, Term};
use super::observation::{Evidence, Observation};
use super::priors::Priors;
use perchline_units::Db;

/// Rows that are summed in one go, and on one core: sums of whole blocks are
/// added in their order, so that no number depends on how many cores there are.
const BLOCK: usize = 4096;

/// Reports that say the same: their median is `base` plus their linear part.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    /// Parameters that bear on it, with their factors.
    pub linear: Vec<(usize, f64)>,
    pub base: f64,
    pub local: f64,
    pub evidence: Evidence,
    /// How many reports it stands for.
    pub times: f64,
}

/// All numbers of a row but how often it occurs, to the bit.
#[derive(PartialEq, Eq, Hash)]
struct Content {
    linear: Vec<(usize, u64)>,
    base: u64,
    local: u64,
    evidence: (u8, Option<u64>, Option<u64>),
}

impl Row {
    fn content(&self) -> Content {
        let bits = |db: Db| db.value().to_bits();
        Content {
            linear: self.linear.iter().map(|(index, by)| (*index, by.to_bits())).collect(),
            base: self.base.to_bits(),
            local: self.local.to_bits(),
            evidence: match self.evidence {
                Evidence::Works(worked) => (u8::from(worked), None, None),
                Evidence::Between { low, high } => (2, low.map(bits), high.map(bits)),
                Evidence::Level { excess, spread } => (3, Some(bits(excess)), Some(bits(spread))),
            },
        }
    }
}

/// Each row once, in the order in which they first come. Thousands of reports
/// of a post say one of a few things.
pub(super) fn merged(rows: impl Iterator<Item = Row>) -> Arc<[Row]> {
    let mut known: HashMap<Content, usize> = HashMap::new();
    let mut kept: Vec<Row> = Vec::new();
    for row in rows {
        let at = *known.entry(row.content()).or_insert(kept.len());
        match kept.get_mut(at) {
            Some(same) => same.times += row.times,
            None => kept.push(row),
        }
    }
    kept.into()
}

/// The deviation common to all reports.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Sigma {
    /// Its logarithm is the last parameter.
    Last,
    Known(f64),
}

/// Reports, and what is held of the parameters: each normal about its mean, by
/// itself.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Problem {
    pub rows: Arc<[Row]>,
    pub means: Vec<f64>,
    pub precisions: Vec<f64>,
    pub sigma: Sigma,
}

/// Value, gradient and Hessian at a point.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slopes {
    pub value: f64,
    pub gradient: DVector<f64>,
    pub hessian: DMatrix<f64>,
}

impl Problem {
    /// Of reports that have been checked.
    pub fn of<'a>(
        observations: impl IntoIterator<Item = &'a Observation>,
        priors: &Priors,
    ) -> Self {
        let bodies_from = priors.offsets.len();
        let row = |report: &Observation| Row {
            linear: [(report.class, 1.0)]
                .into_iter()
                .chain(report.carry.map(|carry| (bodies_from + carry, -1.0)))
                .collect(),
            base: report.margin.value(),
            local: report.local.value(),
            evidence: report.evidence,
            times: 1.0,
        };
        Self {
            rows: merged(observations.into_iter().map(row)),
            means: priors.start(),
            precisions: priors.precisions(),
            sigma: Sigma::Last,
        }
    }

    /// ln posterior, but for a constant of the priors.
    #[cfg(test)]
    pub fn value(&self, at: &DVector<f64>) -> f64 {
        self.log_likelihood(at) + self.prior(at)
    }

    /// How many reports there are.
    pub fn reports(&self) -> f64 {
        self.rows.iter().map(|row| row.times).sum()
    }

    /// ln likelihood alone.
    pub fn log_likelihood(&self, at: &DVector<f64>) -> f64 {
        let sum = |rows: &[Row]| rows.iter().map(|row| row.times * self.term(row, at).value).sum();
        match self.blocks(sum).split_first() {
            Some((first, rest)) => rest.iter().fold(*first, |sum: f64, block| sum + block),
            None => 0.0,
        }
    }

    pub fn slopes(&self, at: &DVector<f64>) -> Slopes {
        let size = self.means.len();
        let mut sum = Slopes {
            value: self.prior(at),
            gradient: DVector::zeros(size),
            hessian: DMatrix::zeros(size, size),
        };
        let nothing = || Slopes { value: 0.0, ..sum.clone() };
        if self.rows.len() <= BLOCK {
            self.add_rows(&self.rows, at, &mut sum);
        } else {
            let blocks = self.blocks(|rows| {
                let mut block = nothing();
                self.add_rows(rows, at, &mut block);
                block
            });
            for block in blocks {
                sum.value += block.value;
                sum.gradient += block.gradient;
                sum.hessian += block.hessian;
            }
        }
        for (i, (mean, precision)) in self.means.iter().zip(&self.precisions).enumerate() {
            sum.gradient[i] -= precision * (at[i] - mean);
            sum.hessian[(i, i)] -= precision;
        }
        sum
    }

    /// By how much ln det A grows with ln sigma, A being the negative Hessian in
    /// the other parameters, whose inverse is `inverse`, while these move by
    /// `moves` with it.
    pub fn log_det_slope(
        &self,
        at: &DVector<f64>,
        inverse: &DMatrix<f64>,
        moves: &DVector<f64>,
    ) -> f64 {
        let of_row = |row: &Row| {
            let term = self.term(row, at);
            let moved: f64 = row.linear.iter().map(|&(i, by)| by * moves[i]).sum();
            let mut spread = 0.0;
            for &(i, by) in &row.linear {
                for &(j, by_too) in &row.linear {
                    spread += by * by_too * inverse[(i, j)];
                }
            }
            -row.times * spread * (term.mean_mean_mean * moved + term.mean_mean_log)
        };
        self.blocks(|rows| rows.iter().map(of_row).sum::<f64>()).into_iter().sum()
    }

    /// What `of` makes of each block of rows, in their order.
    fn blocks<T: Send>(&self, of: impl Fn(&[Row]) -> T + Send + Sync) -> Vec<T> {
        if self.rows.len() <= BLOCK {
            // Cross-validation asks of single reports, millions of times.
            return vec![of(&self.rows)];
        }
        self.rows.par_chunks(BLOCK).map(of).collect()
    }

    fn add_rows(&self, rows: &[Row], at: &DVector<f64>, sum: &mut Slopes) {
        for row in rows {
            let term = self.term(row, at);
            let times = row.times;
            sum.value += times * term.value;
            for &(i, by) in &row.linear {
                sum.gradient[i] += times * (by * term.by_mean);
                for &(j, by_too) in &row.linear {
                    sum.hessian[(i, j)] += times * (by * by_too * term.mean_mean);
                }
            }
            if self.sigma == Sigma::Last {
                let last = self.means.len() - 1;
                sum.gradient[last] += times * term.by_log;
                sum.hessian[(last, last)] += times * term.log_log;
                for &(i, by) in &row.linear {
                    sum.hessian[(i, last)] += times * (by * term.mean_log);
                    sum.hessian[(last, i)] += times * (by * term.mean_log);
                }
            }
        }
    }

    fn term(&self, row: &Row, at: &DVector<f64>) -> Term {
        let mean = row.base + row.linear.iter().map(|&(i, by)| by * at[i]).sum::<f64>();
        let sigma = match self.sigma {
            Sigma::Last => at[self.means.len() - 1].exp(),
            Sigma::Known(sigma) => sigma,
        };
        likelihood::term(row.evidence, row.base, mean, sigma, row.local)
    }

    fn prior(&self, at: &DVector<f64>) -> f64 {
        let held = self.means.iter().zip(&self.precisions).zip(at.iter());
        -0.5 * held.map(|((mean, precision), at)| precision * (at - mean).powi(2)).sum::<f64>()
    }
}
