//! Corrections to the model from reports.

use nalgebra::DMatrix;
use ndarray::Array2;

use super::error::EstimateError;
use super::marginal;
use super::newton::Top;
use super::observation::{LinkReport, Observation};
use super::priors::Priors;
use super::problem::Problem;
use perchline_units::Db;

/// Normal quantile of 97.5 %: 95 of 100 lie within so many deviations.
pub(super) const WITHIN_95: f64 = 1.959_963_984_540_054;

/// One parameter as the reports leave it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Part {
    /// The likeliest value.
    pub value: Db,
    /// Its standard deviation; for sigma to first order.
    pub sd: Db,
    /// From here
    pub low: Db,
    /// to here it is with a probability of 95 %; for sigma worked out on its
    /// logarithm.
    pub high: Db,
    /// What was held before: the published value.
    pub prior: Db,
    /// Reports that bear on it.
    pub informed_by: usize,
}

/// What reports say of a model.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimate {
    /// To be added to the margins of each class.
    pub offsets: Vec<Part>,
    /// To be added to the published body loss of each way to carry.
    pub bodies: Vec<Part>,
    /// Deviation of the true margins about the corrected ones, beside what is
    /// known for each report.
    pub sigma: Part,
    /// Covariance of offsets, bodies and ln sigma, in this order; dB², dB for
    /// those with ln sigma, and 1.
    pub covariance: Array2<f64>,
    /// Reports it rests on.
    pub reports: usize,
    /// Newton steps that it took.
    pub steps: usize,
    /// Greatest slope left at the top, in standard deviations of the
    /// parameter: how far it may be off.
    pub slope: f64,
}

/// The likeliest corrections: the mode of
///
/// sum of ln P(report | offsets, bodies, sigma) + ln prior
///
/// (maximum likelihood, drawn towards the published values by the priors) in
/// offsets and bodies for the likeliest sigma, which is found with these
/// integrated out; and their uncertainty from the curvature there, as if the
/// posterior were normal (Laplace; Gelman et al., Bayesian Data Analysis, 3rd
/// edition, section 4.1). Without reports it is what was held before. Reports of one spot that share
/// their error are counted as if they did not; leave out repetitions.
///
/// # Errors
///
/// A report or a prior is out of range, or nothing is held of a parameter on
/// which the reports say too little.
pub fn estimate(observations: &[Observation], priors: &Priors) -> Result<Estimate, EstimateError> {
    let reports: Vec<LinkReport> = observations.iter().copied().map(Into::into).collect();
    check(&reports, priors)?;
    let problem = Problem::of(&reports, priors);
    let top = marginal::climb(&problem, &problem.means)?;
    Ok(told(&top, &reports, priors))
}

/// Whether all numbers can be used.
pub(super) fn check(reports: &[LinkReport], priors: &Priors) -> Result<(), EstimateError> {
    priors.check()?;
    let known = (priors.offsets.len(), priors.bodies.len());
    reports.iter().zip(1..).try_for_each(|(report, number)| report.check(number, known))
}

/// What the top of all comes to.
pub(super) fn told(top: &Top, reports: &[LinkReport], priors: &Priors) -> Estimate {
    let offsets = priors.offsets.iter().enumerate().map(|(class, prior)| {
        let informed = reports.iter().filter(|report| report.observation.class == class).count();
        part(top, class, prior.mean, informed)
    });
    let from = priors.offsets.len();
    let bodies = priors.bodies.iter().enumerate().map(|(carry, prior)| {
        let worn = |report: &&LinkReport| {
            [report.observation.carry, report.far_carry].contains(&Some(carry))
        };
        part(top, from + carry, prior.mean, reports.iter().filter(worn).count())
    });
    let sigma = Part { prior: priors.sigma.median, ..in_decibels(top, reports.len()) };
    Estimate {
        offsets: offsets.collect(),
        bodies: bodies.collect(),
        sigma,
        covariance: array(&top.covariance),
        reports: reports.len(),
        steps: top.steps,
        slope: top.slope,
    }
}

fn part(top: &Top, index: usize, prior: Db, informed_by: usize) -> Part {
    let (value, sd) = (Db::new(top.at[index]), Db::new(top.covariance[(index, index)].sqrt()));
    let reach = sd * WITHIN_95;
    Part { value, sd, low: value - reach, high: value + reach, prior, informed_by }
}

/// Sigma from its logarithm, the last parameter.
fn in_decibels(top: &Top, informed_by: usize) -> Part {
    let last = part(top, top.at.len() - 1, Db::new(0.0), informed_by);
    let exp = |log: Db| Db::new(log.value().exp());
    let value = exp(last.value);
    let sd = value * last.sd.value();
    Part { value, sd, low: exp(last.low), high: exp(last.high), ..last }
}

fn array(matrix: &DMatrix<f64>) -> Array2<f64> {
    Array2::from_shape_fn(matrix.shape(), |at| matrix[at])
}

impl Estimate {
    /// Number of parameters: offsets, bodies, ln sigma.
    #[must_use]
    pub fn parameters(&self) -> usize {
        self.offsets.len() + self.bodies.len() + 1
    }

    /// A predicted margin with its corrections. What was not estimated is not
    /// corrected.
    #[must_use]
    pub fn corrected(&self, class: usize, carry: Option<usize>, margin: Db) -> Db {
        let value = |part: Option<&Part>| part.map_or(Db::new(0.0), |part| part.value);
        margin + value(self.offsets.get(class))
            - value(carry.and_then(|carry| self.bodies.get(carry)))
    }
}
