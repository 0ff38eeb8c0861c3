//! What is held before any report came in: the published values, and how far
//! from them the truth may lie.

use perchline_units::Db;

use super::error::EstimateError;

/// A value that is known to be normally distributed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Prior {
    /// Its mean, the published value.
    pub mean: Db,
    /// Its standard deviation, above 0 dB. Infinite where nothing is held, so
    /// that reports alone decide.
    pub sd: Db,
}

/// What is held of the deviation sigma: its logarithm is normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SigmaPrior {
    /// Its median, above 0 dB: what the plan says.
    pub median: Db,
    /// Standard deviation of its natural logarithm, above 0; 0.3 says that it
    /// is within a factor of 1.8 of the median in 95 of 100 cases. Infinite
    /// where nothing is held.
    pub ln_sd: f64,
}

/// What is held of all parameters, independently of each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Priors {
    /// Of what is to be added to the margins of each class.
    pub offsets: Vec<Prior>,
    /// Of the change to the published body loss of each way to carry.
    pub bodies: Vec<Prior>,
    /// Of the deviation.
    pub sigma: SigmaPrior,
}

impl Priors {
    /// Number of parameters: offsets, bodies, ln sigma, in this order.
    #[must_use]
    pub fn parameters(&self) -> usize {
        self.offsets.len() + self.bodies.len() + 1
    }

    /// The published values themselves, ln sigma last.
    pub(super) fn start(&self) -> Vec<f64> {
        let means = self.offsets.iter().chain(&self.bodies).map(|prior| prior.mean.value());
        means.chain([self.sigma.median.value().ln()]).collect()
    }

    /// 1 / sd² of each parameter; 0 where nothing is held.
    pub(super) fn precisions(&self) -> Vec<f64> {
        let sds = self.offsets.iter().chain(&self.bodies).map(|prior| prior.sd.value());
        sds.chain([self.sigma.ln_sd]).map(|sd| (sd * sd).recip()).collect()
    }

    pub(super) fn check(&self) -> Result<(), EstimateError> {
        let wrong = |what: String, found: f64, allowed: &'static str| {
            Err(EstimateError::Prior { what, found, allowed })
        };
        for (name, priors) in [("offset", &self.offsets), ("body loss", &self.bodies)] {
            for (index, prior) in priors.iter().enumerate() {
                let (mean, sd) = (prior.mean.value(), prior.sd.value());
                if mean.is_nan() || mean.abs() > 1000.0 {
                    let what = format!("the mean of {name} {index}");
                    return wrong(what, mean, "a number of decibels from -1000 to 1000");
                }
                if sd.is_nan() || sd < LEAST {
                    let what = format!("the spread of {name} {index}");
                    return wrong(what, sd, "0.000001 dB or more");
                }
            }
        }
        let SigmaPrior { median, ln_sd } = self.sigma;
        if !(0.001..=1000.0).contains(&median.value()) {
            let what = "the median of the deviation".to_owned();
            return wrong(what, median.value(), "0.001 to 1000 dB");
        }
        if ln_sd.is_nan() || ln_sd < LEAST {
            return wrong("the spread of the deviation".to_owned(), ln_sd, "0.000001 or more");
        }
        Ok(())
    }
}

/// The least spread that can be held: a value that is fixed for all purposes.
const LEAST: f64 = 1e-6;
