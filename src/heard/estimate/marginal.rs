//! Sigma with offsets and bodies integrated out.
//!
//! The mode of all parameters together takes sigma too small, because the
//! offsets follow the reports' errors: as a standard deviation divided by n in
//! place of n - 1 does. So sigma is taken where
//!
//! f(t) = max over the others of ln posterior - ln det(A) / 2, t = ln sigma,
//!
//! is greatest, A being the negative Hessian in the others (Laplace's
//! approximation to the integral over them: L. Tierney and J. Kadane, Journal
//! of the American Statistical Association 81, 1986; for levels alone it is the
//! restricted likelihood of H. D. Patterson and R. Thompson, Biometrika 58,
//! 1971).

use std::sync::Arc;

use nalgebra::{Cholesky, DMatrix, DVector};

use super::error::EstimateError;
use super::newton::{self, Top};
use super::problem::{Problem, Sigma};

/// Step of differences in ln sigma; those of fourth order err by some 1e-9.
const STEP: f64 = 0.01;

/// ln sigma is found to this.
const NEAR: f64 = 1e-11;

/// Rounds of the search at most; five to eight are usual.
const ROUNDS: usize = 100;

/// A stride of that search, in ln sigma, where nothing says how far it is; each
/// is twice the one before it.
const STRIDE: f64 = 0.05;
const MOST_STRIDES: usize = 8;

struct Profile<'a> {
    whole: &'a Problem,
    given: Problem,
    /// Where the search for the others starts: where it last ended.
    start: Vec<f64>,
}

/// Sigma at the top of f, the others at their best for it; the covariance is
/// that of a normal whose spread in ln sigma is f's. The search starts at `start`, a
/// value a parameter.
pub(super) fn climb(problem: &Problem, start: &[f64]) -> Result<Top, EstimateError> {
    let top = newton::climb(problem, start)?;
    let Some((mut profile, log)) = profile(problem, &top)? else { return Ok(top) };
    let last = top.at.len() - 1;
    let at = profile.at(log)?;
    let curvature = -difference(|by| profile.slope(log + by))?;
    let slopes = problem.slopes(&at);
    // The block of the others stays; that of ln sigma is such that what is
    // left of it once they are integrated out is f's curvature.
    let mut information = -&slopes.hessian;
    let others = information.view((0, 0), (last, last)).into_owned();
    let Some(factor) = Cholesky::new(others) else { return Err(EstimateError::Open) };
    let across = information.view((0, last), (last, 1)).into_owned();
    information[(last, last)] = curvature + across.dot(&factor.solve(&across));
    let Some(factor) = Cholesky::new(information) else { return Err(EstimateError::Open) };
    let covariance: DMatrix<f64> = factor.inverse();
    newton::bounded(&covariance)?;
    let mut left = slopes.gradient;
    left[last] = profile.slope(log)?;
    let slope = newton::slope_left(&left, &covariance);
    Ok(Top { at, covariance, steps: top.steps, slope })
}

/// The same without what is known of the surroundings of the top.
pub(super) fn values(problem: &Problem, start: &[f64]) -> Result<DVector<f64>, EstimateError> {
    let top = newton::climb(problem, start)?;
    match profile(problem, &top)? {
        Some((mut profile, log)) => profile.at(log),
        None => Ok(top.at),
    }
}

/// f, and where its top is, from the top of all parameters together; nothing
/// where there is no sigma to find, or nothing to integrate out.
fn profile<'a>(
    problem: &'a Problem,
    top: &Top,
) -> Result<Option<(Profile<'a>, f64)>, EstimateError> {
    let last = top.at.len() - 1;
    if problem.sigma != Sigma::Last || last == 0 {
        return Ok(None);
    }
    let given = Problem {
        rows: Arc::clone(&problem.rows),
        means: problem.means.iter().copied().take(last).collect(),
        precisions: problem.precisions.iter().copied().take(last).collect(),
        sigma: Sigma::Known(top.at[last].exp()),
        gross: problem.gross,
    };
    let start = top.at.iter().copied().take(last).collect();
    let mut profile = Profile { whole: problem, given, start };
    let log = profile.root(top.at[last])?;
    Ok(Some((profile, log)))
}

impl Profile<'_> {
    /// All parameters, ln sigma last, the others at their best for it.
    fn at(&mut self, log: f64) -> Result<DVector<f64>, EstimateError> {
        self.given.sigma = Sigma::Known(log.exp());
        let top = newton::climb(&self.given, &self.start)?;
        self.start.copy_from_slice(top.at.as_slice());
        Ok(top.at.push(log))
    }

    /// df/dt. That the others move does not count at their best, but for what it
    /// does to det A.
    fn slope(&mut self, log: f64) -> Result<f64, EstimateError> {
        self.slope_and_bend(log).map(|(slope, _)| slope)
    }

    /// df/dt, and how it falls with t as far as det A stays as it is.
    fn slope_and_bend(&mut self, log: f64) -> Result<(f64, f64), EstimateError> {
        let at = self.at(log)?;
        let slopes = self.whole.slopes(&at);
        let last = self.given.means.len();
        let information = -&slopes.hessian;
        let others = information.view((0, 0), (last, last)).into_owned();
        let Some(factor) = Cholesky::new(others) else { return Err(EstimateError::Open) };
        let across = information.view((0, last), (last, 1)).column(0).into_owned();
        let moves = -factor.solve(&across);
        let bend = information[(last, last)] + across.dot(&moves);
        let of_det = self.whole.log_det_slope(&at, &factor.inverse(), &moves);
        Ok((slopes.gradient[last] - 0.5 * of_det, bend))
    }

    /// Where df/dt is zero: outwards from `start` until it changes sign, then
    /// by false position (Illinois: M. Dowell and P. Jarratt, BIT 11, 1971).
    fn root(&mut self, start: f64) -> Result<f64, EstimateError> {
        let (slope, bend) = self.slope_and_bend(start)?;
        let (mut near, mut far) = (start, start);
        let (mut at_near, mut at_far) = (slope, 0.0);
        let towards = at_near.signum();
        // Somewhat farther than Newton's step, so that it lies between.
        let guess = 1.5 * at_near.abs() / bend;
        let mut stride = if guess > 0.0 { guess.clamp(1e3 * NEAR, STRIDE) } else { STRIDE };
        for round in 0.. {
            if at_near == 0.0 {
                return Ok(near);
            }
            far = near + towards * stride;
            at_far = self.slope(far)?;
            if at_far * at_near <= 0.0 {
                break;
            }
            if round > MOST_STRIDES {
                return Err(EstimateError::Open);
            }
            (near, at_near) = (far, at_far);
            stride = (stride * 2.0).max(STRIDE);
        }
        for _ in 0..ROUNDS {
            let middle = (near * at_far - far * at_near) / (at_far - at_near);
            if at_far == 0.0 || (middle - far).abs() < NEAR || (far - near).abs() < NEAR {
                return Ok(if at_far == 0.0 { far } else { middle });
            }
            let at_middle = self.slope(middle)?;
            if at_middle * at_far < 0.0 {
                (near, at_near) = (far, at_far);
            } else {
                at_near /= 2.0;
            }
            (far, at_far) = (middle, at_middle);
        }
        Err(EstimateError::Steps { steps: ROUNDS })
    }
}

/// Central difference of fourth order at 0.
fn difference(mut of: impl FnMut(f64) -> Result<f64, EstimateError>) -> Result<f64, EstimateError> {
    let one = of(STEP)? - of(-STEP)?;
    let two = of(2.0 * STEP)? - of(-2.0 * STEP)?;
    Ok((8.0 * one - two) / (12.0 * STEP))
}
