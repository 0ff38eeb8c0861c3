//! How far measured levels are off the predicted ones.

use statrs::distribution::{ChiSquared, ContinuousCDF, StudentsT};

use super::error::EstimateError;
use perchline_units::Db;

/// A figure with its interval of 95 % confidence.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// The figure.
    pub value: Db,
    /// From here
    pub low: Db,
    /// to here.
    pub high: Db,
}

/// Bias and spread of measured less predicted levels.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BiasAndSpread {
    /// How many levels.
    pub reports: usize,
    /// Their mean, with Student's t.
    pub bias: Interval,
    /// Their standard deviation (of a sample, n - 1), with chi square.
    pub spread: Interval,
}

/// Mean and standard deviation of `excesses`, measured less predicted levels,
/// taken as normal and independent of each other.
///
/// # Errors
///
/// There are fewer than two, or one is not finite.
pub fn bias_and_spread(excesses: &[Db]) -> Result<BiasAndSpread, EstimateError> {
    let reports = excesses.len();
    if reports < 2 {
        return Err(few(reports));
    }
    if let Some((index, found)) = (1..).zip(excesses).find(|(_, x)| !x.value().is_finite()) {
        let (what, found, allowed) = ("levels", found.value(), "finite");
        return Err(EstimateError::Number { index, what, found, allowed });
    }
    let n = reports as f64;
    let mean = excesses.iter().map(|x| x.value()).sum::<f64>() / n;
    let squares = excesses.iter().map(|x| (x.value() - mean).powi(2)).sum::<f64>();
    let (freedom, spread) = (n - 1.0, (squares / (n - 1.0)).sqrt());
    // Neither fails from one degree of freedom on.
    let (Ok(t), Ok(chi)) = (StudentsT::new(0.0, 1.0, freedom), ChiSquared::new(freedom)) else {
        return Err(few(reports));
    };
    let reach = t.inverse_cdf(0.975) * spread / n.sqrt();
    let bound = |share: f64| Db::new((squares / chi.inverse_cdf(share)).sqrt());
    Ok(BiasAndSpread {
        reports,
        bias: Interval {
            value: Db::new(mean),
            low: Db::new(mean - reach),
            high: Db::new(mean + reach),
        },
        spread: Interval { value: Db::new(spread), low: bound(0.975), high: bound(0.025) },
    })
}

fn few(found: usize) -> EstimateError {
    EstimateError::Few { what: "measured levels", found, wanted: 2 }
}
