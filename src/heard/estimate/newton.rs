//! The top of a smooth function by Newton's method.
//!
//! Where the function is not curved downwards all around, its curvature is
//! raised until it is (Levenberg; Nocedal and Wright, Numerical Optimization,
//! 2nd edition, section 3.4); a step is halved until it gains enough (Armijo's
//! rule, section 3.1).

use nalgebra::{Cholesky, DMatrix, DVector, Dyn};

use super::error::EstimateError;
use super::problem::{Problem, Sigma, Slopes};

/// Steps at most; ten are many.
const STEPS: usize = 100;

/// No parameter moves by more in a step: decibels, or e-folds of sigma.
const REACH: f64 = 30.0;
const REACH_OF_LOG: f64 = 1.0;

/// Done once no parameter would move by more than this part of its size.
const SMALL: f64 = 1e-11;

/// A parameter whose variance at the top is beyond this, dB², is left open.
const OPEN: f64 = 1e8;

/// The top, and what is known of its surroundings.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Top {
    pub at: DVector<f64>,
    /// Inverse of the negative Hessian.
    pub covariance: DMatrix<f64>,
    /// Steps that it took.
    pub steps: usize,
    /// Greatest slope left, by parameter in units of its standard deviation.
    pub slope: f64,
}

/// Climbs from `start`, a value a parameter.
pub(super) fn climb(problem: &Problem, start: &[f64]) -> Result<Top, EstimateError> {
    let mut at = DVector::from_column_slice(start);
    let mut slopes = problem.slopes(&at);
    for steps in 0..STEPS {
        let downwards = -&slopes.hessian;
        let Some((factor, raised)) = factor(&downwards) else {
            return Err(EstimateError::Open);
        };
        let mut step: DVector<f64> = factor.solve(&slopes.gradient);
        let small = step.iter().zip(at.iter()).all(|(s, a)| s.abs() <= SMALL * (1.0 + a.abs()));
        if small {
            if raised {
                // Level and not a top.
                return Err(EstimateError::Open);
            }
            let covariance = factor.inverse();
            bounded(&covariance)?;
            let slope = slope_left(&slopes.gradient, &covariance);
            return Ok(Top { at, covariance, steps, slope });
        }
        step *= within_reach(problem, &step);
        let Some(further) = further(problem, &at, &step, &slopes) else {
            // Nothing is gained either way: the top, but for rounding, or a plain.
            return Err(EstimateError::Open);
        };
        (at, slopes) = further;
        if at.amax() > 1e6 {
            return Err(EstimateError::Open);
        }
    }
    // Reports that all say the same lead ever further out, ever more slowly,
    // unless something else is held.
    if problem.precisions.contains(&0.0) {
        Err(EstimateError::Open)
    } else {
        Err(EstimateError::Steps { steps: STEPS })
    }
}

/// Whether the reports tell anything of each parameter.
pub(super) fn bounded(covariance: &DMatrix<f64>) -> Result<(), EstimateError> {
    let told = |variance: &f64| (0.0..=OPEN).contains(variance);
    if covariance.diagonal().iter().all(told) { Ok(()) } else { Err(EstimateError::Open) }
}

/// The steepest slope, each in units of its parameter's standard deviation.
pub(super) fn slope_left(gradient: &DVector<f64>, covariance: &DMatrix<f64>) -> f64 {
    let deviations = covariance.diagonal().map(f64::sqrt);
    gradient.component_mul(&deviations).amax()
}

/// The Cholesky factor, and whether the diagonal had to be raised for it.
fn factor(matrix: &DMatrix<f64>) -> Option<(Cholesky<f64, Dyn>, bool)> {
    if let Some(factor) = Cholesky::new(matrix.clone()) {
        return Some((factor, false));
    }
    let most = matrix.diagonal().amax();
    let mut raise = most * 1e-3;
    for _ in 0..12 {
        let mut raised = matrix.clone();
        for i in 0..raised.nrows() {
            raised[(i, i)] += raise;
        }
        if let Some(factor) = Cholesky::new(raised) {
            return Some((factor, true));
        }
        raise *= 4.0;
    }
    None
}

/// By how much a step has to be shortened.
fn within_reach(problem: &Problem, step: &DVector<f64>) -> f64 {
    let logs = match problem.sigma {
        Sigma::Last => step.len() - 1,
        Sigma::Known(_) => step.len(),
    };
    step.iter().enumerate().fold(1.0, |least: f64, (i, by)| {
        let reach = if i < logs { REACH } else { REACH_OF_LOG };
        least.min(reach / by.abs().max(f64::MIN_POSITIVE))
    })
}

/// Where all of the step leads, or a half of it, a quarter ..., and the slopes
/// there.
fn further(
    problem: &Problem,
    at: &DVector<f64>,
    step: &DVector<f64>,
    here: &Slopes,
) -> Option<(DVector<f64>, Slopes)> {
    let rise = here.gradient.dot(step);
    // What rounding takes from a sum of this size may not stop the last steps.
    let rounding = 1e-13 * (1.0 + here.value.abs()) * (1.0 + problem.reports()).sqrt();
    let mut length = 1.0;
    for _ in 0..60 {
        let there = at + step * length;
        let slopes = problem.slopes(&there);
        if slopes.value >= here.value + 1e-4 * length * rise - rounding {
            return Some((there, slopes));
        }
        length /= 2.0;
    }
    None
}
