//! Which test calls would teach the most: what a yes or no is expected to say.

use nalgebra::{DMatrix, DVector};
use ndarray::Array2;

use super::error::EstimateError;
use super::fit::Estimate;
use super::normal::inverse_mills;
use perchline_units::Db;

/// A spot where a test call could be made.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Candidate {
    /// Which offset bears on it.
    pub class: usize,
    /// Which body loss bears on it, if any.
    pub carry: Option<usize>,
    /// Predicted median level over what is needed, not corrected.
    pub margin: Db,
    /// Deviation that is known for this spot beside sigma, 0 dB or more.
    pub local: Db,
}

/// What one call says: weight · slope slope'.
struct Call {
    weight: f64,
    slope: DVector<f64>,
}

impl Call {
    /// P(works) = Phi(z), z = corrected margin / s, s² = sigma² + local², has
    /// the information phi(z)² / (Phi(z) Phi(-z)) · dz dz'.
    fn new(candidate: &Candidate, number: usize, held: &Estimate) -> Result<Self, EstimateError> {
        let Candidate { class, carry, margin, local } = *candidate;
        let classes = held.offsets.len();
        let (report, bodies) = (number, held.bodies.len());
        if class >= classes {
            return Err(EstimateError::Class { report, found: class, classes });
        }
        if let Some(found) = carry.filter(|carry| *carry >= bodies) {
            return Err(EstimateError::Carry { report, found, bodies });
        }
        if !margin.value().is_finite() {
            return Err(EstimateError::Level { report, what: "margin", found: margin });
        }
        if local.value().is_nan() || local < Db::new(0.0) {
            return Err(EstimateError::Deviation { report, what: "local spread", found: local });
        }
        let sigma = held.sigma.value.value();
        let s = sigma.hypot(local.value());
        let z = held.corrected(class, carry, margin).value() / s;
        let mut slope = DVector::zeros(held.parameters());
        slope[class] = 1.0 / s;
        if let Some(carry) = carry {
            slope[classes + carry] = -1.0 / s;
        }
        slope[classes + bodies] = -z * (sigma / s).powi(2);
        Ok(Self { weight: inverse_mills(z) * inverse_mills(-z), slope })
    }
}

fn calls(candidates: &[Candidate], held: &Estimate) -> Result<Vec<Call>, EstimateError> {
    candidates.iter().zip(1..).map(|(candidate, at)| Call::new(candidate, at, held)).collect()
}

/// Fisher's information on offsets, bodies and ln sigma that a yes or no from
/// each of the candidates is expected to bring, all together, were the
/// estimate right (1/dB², as [`Estimate::covariance`]'s inverse). Added to that
/// inverse it gives the inverse of the covariance to be expected.
///
/// # Errors
///
/// A candidate names a class or carry that was not estimated, or a number of
/// it cannot be used.
pub fn expected_information(
    candidates: &[Candidate],
    held: &Estimate,
) -> Result<Array2<f64>, EstimateError> {
    let size = held.parameters();
    let mut sum = DMatrix::<f64>::zeros(size, size);
    for Call { weight, slope } in calls(candidates, held)? {
        sum.ger(weight, &slope, &slope, 1.0);
    }
    Ok(Array2::from_shape_fn((size, size), |at| sum[at]))
}

/// The `count` candidates, in the order in which to call, that most reduce the
/// variance g' Cov g of a quantity with this gradient by offsets, bodies and
/// ln sigma: one after the other, each the best given those before it (greedy;
/// the best set may be a little better). Fewer where nothing more helps.
/// Of equals the first is taken.
///
/// # Errors
///
/// As [`expected_information`], and where the gradient has not one finite
/// number a parameter.
pub fn plan_tests(
    candidates: &[Candidate],
    gradient: &[f64],
    held: &Estimate,
    count: usize,
) -> Result<Vec<usize>, EstimateError> {
    let calls = calls(candidates, held)?;
    let (gradient, mut covariance) = start(gradient, held)?;
    let mut chosen = Vec::new();
    while chosen.len() < count {
        let towards = &covariance * &gradient;
        let mut best: Option<(usize, f64)> = None;
        for (index, call) in calls.iter().enumerate().filter(|(i, _)| !chosen.contains(i)) {
            let spread = call.slope.dot(&(&covariance * &call.slope));
            let gain =
                call.weight * towards.dot(&call.slope).powi(2) / (1.0 + call.weight * spread);
            if gain > best.map_or(0.0, |(_, most)| most) {
                best = Some((index, gain));
            }
        }
        let Some((index, _)) = best else { break };
        if let Some(call) = calls.get(index) {
            learn(&mut covariance, call);
        }
        chosen.push(index);
    }
    Ok(chosen)
}

/// The variance g' Cov g that is to be expected once calls were made at all of
/// the candidates; without any, as it is.
///
/// # Errors
///
/// As [`plan_tests`].
pub fn variance_after(
    candidates: &[Candidate],
    gradient: &[f64],
    held: &Estimate,
) -> Result<f64, EstimateError> {
    let (gradient, mut covariance) = start(gradient, held)?;
    for call in calls(candidates, held)? {
        learn(&mut covariance, &call);
    }
    Ok(gradient.dot(&(&covariance * &gradient)))
}

fn start(gradient: &[f64], held: &Estimate) -> Result<(DVector<f64>, DMatrix<f64>), EstimateError> {
    let size = held.parameters();
    if gradient.len() != size {
        let (found, wanted) = (gradient.len(), size);
        return Err(EstimateError::Length { what: "numbers in the gradient", found, wanted });
    }
    if let Some((index, found)) = (1..).zip(gradient.iter().copied()).find(|g| !g.1.is_finite()) {
        let (what, allowed) = ("gradient", "finite");
        return Err(EstimateError::Number { index, what, found, allowed });
    }
    let at = |i, j| held.covariance.get((i, j)).copied().unwrap_or(0.0);
    Ok((DVector::from_column_slice(gradient), DMatrix::from_fn(size, size, at)))
}

/// (C^-1 + w v v')^-1 by Sherman and Morrison's formula (Annals of
/// Mathematical Statistics 21, 1950).
fn learn(covariance: &mut DMatrix<f64>, call: &Call) {
    let seen = &*covariance * &call.slope;
    let weight = call.weight / (1.0 + call.weight * call.slope.dot(&seen));
    covariance.ger(-weight, &seen, &seen, 1.0);
}
