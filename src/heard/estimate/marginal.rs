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

/// The others at their best for a given sigma.
struct Given {
    /// All parameters, ln sigma last.
    at: DVector<f64>,
    /// ln det A.
    log_det: f64,
}

struct Profile<'a> {
    whole: &'a Problem,
    given: Problem,
    /// Where the search for the others starts: where it last ended.
    start: Vec<f64>,
}

/// Sigma at the top of f, the others at their best for it; the covariance is
/// that of a normal whose spread in ln sigma is f's.
pub(super) fn climb(problem: &Problem) -> Result<Top, EstimateError> {
    let top = newton::climb(problem, &problem.means)?;
    let last = top.at.len() - 1;
    if problem.sigma != Sigma::Last || last == 0 {
        return Ok(top);
    }
    let given = Problem {
        rows: problem.rows.clone(),
        means: problem.means.iter().copied().take(last).collect(),
        precisions: problem.precisions.iter().copied().take(last).collect(),
        sigma: Sigma::Known(top.at[last].exp()),
    };
    let mut profile =
        Profile { whole: problem, given, start: top.at.iter().copied().take(last).collect() };
    let log = profile.root(top.at[last])?;
    let at = profile.at(log)?.at;
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

impl Profile<'_> {
    fn at(&mut self, log: f64) -> Result<Given, EstimateError> {
        self.given.sigma = Sigma::Known(log.exp());
        let top = newton::climb(&self.given, &self.start)?;
        self.start.copy_from_slice(top.at.as_slice());
        let Some(factor) = Cholesky::new(-self.given.slopes(&top.at).hessian) else {
            return Err(EstimateError::Open);
        };
        let log_det = 2.0 * factor.l_dirty().diagonal().iter().map(|d| d.ln()).sum::<f64>();
        Ok(Given { at: top.at.push(log), log_det })
    }

    /// df/dt. That the others move does not count at their best.
    fn slope(&mut self, log: f64) -> Result<f64, EstimateError> {
        let here = self.at(log)?;
        let of_all = self.whole.slopes(&here.at).gradient[self.given.means.len()];
        let of_det = difference(|by| self.at(log + by).map(|there| there.log_det))?;
        Ok(of_all - 0.5 * of_det)
    }

    /// Where df/dt is zero: outwards from `start` until it changes sign, then
    /// by false position (Illinois: M. Dowell and P. Jarratt, BIT 11, 1971).
    fn root(&mut self, start: f64) -> Result<f64, EstimateError> {
        let (mut near, mut far) = (start, start);
        let (mut at_near, mut at_far) = (self.slope(start)?, 0.0);
        let towards = at_near.signum();
        let mut stride = 0.05;
        for round in 0.. {
            if at_near == 0.0 {
                return Ok(near);
            }
            far = near + towards * stride;
            at_far = self.slope(far)?;
            if at_far * at_near <= 0.0 {
                break;
            }
            if round > 7 {
                return Err(EstimateError::Open);
            }
            (near, at_near) = (far, at_far);
            stride *= 2.0;
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
