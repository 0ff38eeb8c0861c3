//! Of the spots predicted to work at 90 %, how many worked.

use statrs::distribution::{ContinuousCDF, Normal};

use super::error::EstimateError;
use super::fit::WITHIN_95;
use super::probit::{Probit, probit};

/// Bins around each tenth: that of 90 % holds 85 % to 95 %.
const EDGES: [f64; 12] = [0.0, 0.05, 0.15, 0.25, 0.35, 0.45, 0.55, 0.65, 0.75, 0.85, 0.95, 1.0];

/// Probabilities nearer to 0 or 1 count as this near where a line is fitted:
/// no prediction is as sure as that.
const SUREST: f64 = 1e-6;

/// Reports whose predictions were alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bin {
    /// Predicted probabilities from here, 0 to 1,
    pub from: f64,
    /// to below here; the last bin includes 1.
    pub to: f64,
    /// Mean of the predictions in it.
    pub predicted: f64,
    /// Reports in it.
    pub reports: usize,
    /// How many of them worked.
    pub worked: usize,
    /// The share that worked, 0 to 1.
    pub share: f64,
    /// The share of all such spots that work is from here
    pub low: f64,
    /// to here, with a confidence of 95 % (see [`wilson`]).
    pub high: f64,
}

/// Predictions against what happened.
#[derive(Debug, Clone, PartialEq)]
pub struct CalibrationCurve {
    /// Those with reports in them, in rising order.
    pub bins: Vec<Bin>,
    /// Intercept and slope of P(worked) = Phi(intercept + slope ·
    /// Phi^-1(predicted)): 0 and 1 where predictions are right; an intercept
    /// above 0 where they are too low throughout, a slope below 1 where they
    /// are too sure of themselves (D. R. Cox, Biometrika 45, 1958, there with
    /// the logistic function). None where the reports do not tell.
    pub line: Option<Probit>,
}

/// Interval of 95 % confidence for a share of which `worked` of `reports` were
/// seen: E. B. Wilson, Journal of the American Statistical Association 22
/// (1927), 209-212. Without reports it is 0 to 1.
#[must_use]
pub fn wilson(worked: usize, reports: usize) -> (f64, f64) {
    if reports == 0 {
        return (0.0, 1.0);
    }
    let n = reports as f64;
    let share = worked.min(reports) as f64 / n;
    let z2 = WITHIN_95 * WITHIN_95;
    let middle = (share + z2 / (2.0 * n)) / (1.0 + z2 / n);
    let reach =
        WITHIN_95 / (1.0 + z2 / n) * (share * (1.0 - share) / n + z2 / (4.0 * n * n)).sqrt();
    // What rounding leaves of an exact 0 or 1.
    let low = if worked == 0 { 0.0 } else { (middle - reach).max(0.0) };
    let high = if worked >= reports { 1.0 } else { (middle + reach).min(1.0) };
    (low, high)
}

/// How often it worked where it was predicted to, bin by bin. `predicted` are
/// probabilities, 0 to 1; `worked` says of each what happened.
///
/// # Errors
///
/// The lists differ in length, or a prediction is no probability.
pub fn calibration_curve(
    predicted: &[f64],
    worked: &[bool],
) -> Result<CalibrationCurve, EstimateError> {
    if predicted.len() != worked.len() {
        let (found, wanted) = (worked.len(), predicted.len());
        return Err(EstimateError::Length { what: "outcomes", found, wanted });
    }
    if let Some((index, found)) =
        (1..).zip(predicted.iter().copied()).find(|(_, p)| !(0.0..=1.0).contains(p))
    {
        let (what, allowed) = ("predictions", "0 to 1");
        return Err(EstimateError::Number { index, what, found, allowed });
    }
    let reports = || predicted.iter().copied().zip(worked.iter().copied());
    let bins = EDGES.windows(2).filter_map(|edges| match *edges {
        [from, to] => bin(reports(), from, to),
        _ => None,
    });
    Ok(CalibrationCurve { bins: bins.collect(), line: line(predicted, worked)? })
}

fn bin(reports: impl Iterator<Item = (f64, bool)>, from: f64, to: f64) -> Option<Bin> {
    let inside: Vec<_> =
        reports.filter(|(p, _)| *p >= from && (*p < to || (to == 1.0 && *p == to))).collect();
    let count = inside.len();
    let worked = inside.iter().filter(|(_, worked)| *worked).count();
    let (low, high) = wilson(worked, count);
    (count > 0).then(|| Bin {
        from,
        to,
        predicted: inside.iter().map(|(p, _)| p).sum::<f64>() / count as f64,
        reports: count,
        worked,
        share: worked as f64 / count as f64,
        low,
        high,
    })
}

fn line(predicted: &[f64], worked: &[bool]) -> Result<Option<Probit>, EstimateError> {
    let deviations = |p: &f64| Normal::standard().inverse_cdf(p.clamp(SUREST, 1.0 - SUREST));
    let rows: Vec<_> = predicted.iter().map(|p| vec![1.0, deviations(p)]).collect();
    match probit(&rows, worked) {
        Ok(line) => Ok((line.coefficients.len() == 2).then_some(line)),
        Err(EstimateError::Open) => Ok(None),
        Err(other) => Err(other),
    }
}
