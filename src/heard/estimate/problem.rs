//! The function whose top is looked for: ln posterior of the parameters.

use nalgebra::{DMatrix, DVector};

use super::likelihood::{self, Term};
use super::observation::{Evidence, Observation};
use super::priors::Priors;

/// One report: its median is `base` plus its linear part.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Row {
    /// Parameters that bear on it, with their factors.
    pub linear: Vec<(usize, f64)>,
    pub base: f64,
    pub local: f64,
    pub evidence: Evidence,
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
    pub rows: Vec<Row>,
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
        };
        Self {
            rows: observations.into_iter().map(row).collect(),
            means: priors.start(),
            precisions: priors.precisions(),
            sigma: Sigma::Last,
        }
    }

    /// ln posterior, but for a constant of the priors.
    pub fn value(&self, at: &DVector<f64>) -> f64 {
        self.log_likelihood(at) + self.prior(at)
    }

    /// ln likelihood alone.
    pub fn log_likelihood(&self, at: &DVector<f64>) -> f64 {
        self.rows.iter().map(|row| self.term(row, at).value).sum()
    }

    pub fn slopes(&self, at: &DVector<f64>) -> Slopes {
        let size = self.means.len();
        let mut gradient = DVector::zeros(size);
        let mut hessian = DMatrix::zeros(size, size);
        let mut value = self.prior(at);
        for row in &self.rows {
            let term = self.term(row, at);
            value += term.value;
            for &(i, by) in &row.linear {
                gradient[i] += by * term.by_mean;
                for &(j, by_too) in &row.linear {
                    hessian[(i, j)] += by * by_too * term.mean_mean;
                }
            }
            if self.sigma == Sigma::Last {
                let last = size - 1;
                gradient[last] += term.by_log;
                hessian[(last, last)] += term.log_log;
                for &(i, by) in &row.linear {
                    hessian[(i, last)] += by * term.mean_log;
                    hessian[(last, i)] += by * term.mean_log;
                }
            }
        }
        for (i, (mean, precision)) in self.means.iter().zip(&self.precisions).enumerate() {
            gradient[i] -= precision * (at[i] - mean);
            hessian[(i, i)] -= precision;
        }
        Slopes { value, gradient, hessian }
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
