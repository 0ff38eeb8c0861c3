//! Probit regression: how the chance of a yes depends on numbers.

use nalgebra::DMatrix;

use super::error::EstimateError;
use super::newton;
use super::observation::Evidence;
use super::problem::{Problem, Row, Sigma, merged};

/// A probit regression, P(yes) = Phi(x · coefficients).
#[derive(Debug, Clone, PartialEq)]
pub struct Probit {
    /// One a column.
    pub coefficients: Vec<f64>,
    /// Their standard errors, from the observed information.
    pub standard_errors: Vec<f64>,
    /// ln likelihood at the coefficients.
    pub log_likelihood: f64,
}

/// Maximum likelihood by the same means as [`estimate`](super::estimate()),
/// with nothing held beforehand and a deviation of 1. A row of `x` for each of
/// `y`; a constant is a column of ones.
///
/// # Errors
///
/// Lengths differ, a number is not finite, or the rows leave the coefficients
/// open: too few of them, columns that say the same, or yes and no wholly apart.
pub fn probit(x: &[Vec<f64>], y: &[bool]) -> Result<Probit, EstimateError> {
    if x.len() != y.len() {
        let (found, wanted) = (y.len(), x.len());
        return Err(EstimateError::Length { what: "outcomes", found, wanted });
    }
    let columns = x.first().map_or(0, Vec::len);
    for (row, index) in x.iter().zip(1..) {
        if row.len() != columns {
            let (found, wanted) = (row.len(), columns);
            return Err(EstimateError::Length { what: "numbers in a row", found, wanted });
        }
        if let Some(found) = row.iter().copied().find(|number| !number.is_finite()) {
            let (what, allowed) = ("rows", "finite");
            return Err(EstimateError::Number { index, what, found, allowed });
        }
    }
    // Columns are brought to the size of one, so that steps are.
    let scales: Vec<f64> = (0..columns)
        .map(|column| {
            x.iter().fold(0.0f64, |most, row| {
                row.get(column).map_or(most, |number| most.max(number.abs()))
            })
        })
        .map(|most| if most > 0.0 { most } else { 1.0 })
        .collect();
    let row = |(row, yes): (&Vec<f64>, &bool)| Row {
        linear: row.iter().zip(&scales).map(|(x, scale)| x / scale).enumerate().collect(),
        base: 0.0,
        local: 0.0,
        evidence: Evidence::Works(*yes),
        times: 1.0,
    };
    let problem = Problem {
        rows: merged(x.iter().zip(y).map(row)),
        means: vec![0.0; columns],
        precisions: vec![0.0; columns],
        sigma: Sigma::Known(1.0),
        gross: 0.0,
    };
    let top = newton::climb(&problem, &problem.means)?;
    let scaled = |values: &mut dyn Iterator<Item = f64>| {
        values.zip(&scales).map(|(value, scale)| value / scale).collect()
    };
    let covariance: &DMatrix<f64> = &top.covariance;
    Ok(Probit {
        coefficients: scaled(&mut top.at.iter().copied()),
        standard_errors: scaled(&mut covariance.diagonal().iter().map(|v| v.sqrt())),
        log_likelihood: problem.log_likelihood(&top.at),
    })
}
