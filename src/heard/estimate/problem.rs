//! The function whose top is looked for: ln posterior of the parameters.

use std::collections::HashMap;
use std::sync::Arc;

use nalgebra::{DMatrix, DVector};
use rayon::prelude::*;

use super::likelihood::{self, Term};
use super::observation::{Evidence, LinkReport};
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

/// The row of a report.
pub(super) fn row(report: &LinkReport, priors: &Priors) -> Row {
    let bodies_from = priors.offsets.len();
    let observation = &report.observation;
    let bodies = observation.carry.into_iter().chain(report.far_carry);
    Row {
        linear: std::iter::once((observation.class, 1.0))
            .chain(bodies.map(|carry| (bodies_from + carry, -1.0)))
            .collect(),
        base: observation.margin.value(),
        local: observation.local.value(),
        evidence: observation.evidence,
        times: 1.0,
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
    /// Share of reports that are gross errors, 0 to below 1; at 0 none is.
    pub gross: f64,
}

/// Value, gradient and Hessian at a point.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Slopes {
    pub value: f64,
    pub gradient: DVector<f64>,
    pub hessian: DMatrix<f64>,
}

impl Problem {
    /// Of reports that have been checked, none of which is a gross error.
    pub fn of<'a>(reports: impl IntoIterator<Item = &'a LinkReport>, priors: &Priors) -> Self {
        let reports = reports.into_iter();
        Self {
            rows: merged(reports.map(|report| row(report, priors))),
            means: priors.start(),
            precisions: priors.precisions(),
            sigma: Sigma::Last,
            gross: 0.0,
        }
    }

    /// The same where this share of reports are gross errors.
    pub fn with_gross(self, gross: f64) -> Self {
        Self { gross, ..self }
    }

    /// How many of the reports are gross errors, as is to be expected, where this
    /// share of all are.
    pub fn gross_errors(&self, at: &DVector<f64>, share: f64) -> f64 {
        let of_row = |row: &Row| row.times * self.chance_of_gross(row, at, share);
        self.blocks(|rows| rows.iter().map(of_row).sum::<f64>()).into_iter().sum()
    }

    /// Chance, 0 to 1, that a row is a gross error, where this share of all are.
    pub fn chance_of_gross(&self, row: &Row, at: &DVector<f64>, share: f64) -> f64 {
        let log_gross = likelihood::log_gross(row.evidence, row.base);
        self.sound_term(row, at).chance_of_gross(share, log_gross)
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
        let sound = self.sound_term(row, at);
        if self.gross > 0.0 {
            sound.mixed(self.gross, likelihood::log_gross(row.evidence, row.base))
        } else {
            sound
        }
    }

    /// The term of a row that is no gross error.
    fn sound_term(&self, row: &Row, at: &DVector<f64>) -> Term {
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
