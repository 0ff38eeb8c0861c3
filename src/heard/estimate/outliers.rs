//! Reports that no correction explains: found, and weighed less.
//!
//! A share e of reports is taken to be gross errors, that have nothing to do with the
//! link (a flat battery, a wrong channel, a plan that was not followed): each report
//! has the likelihood (1 - e) P + e Q, a contamination mixture (J. W. Tukey, A survey
//! of sampling from contaminated distributions, 1960; P. J. Huber, Annals of
//! Mathematical Statistics 35, 1964; from memory). e is estimated with the rest.

use nalgebra::DVector;

use super::error::EstimateError;
use super::fit::{self, Estimate};
use super::marginal;
use super::newton;
use super::observation::LinkReport;
use super::priors::Priors;
use super::problem::{Problem, row};

/// What is held of the share of gross errors before any report came in: as if of so
/// many reports so many had been (common practice, no source).
const BEFORE: (f64, f64) = (1.0, 40.0);

/// No larger share is believed: where more reports disagree, it is the model that is
/// wrong (common practice, no source).
pub const MOST_GROSS: f64 = 0.2;

/// A report is called an outlier from this chance of a gross error on (common
/// practice, no source).
pub const OUTLIER_FROM: f64 = 0.9;

/// The share is found to this.
const NEAR: f64 = 1e-10;

/// Rounds of that at most; five are usual.
const ROUNDS: usize = 100;

/// What reports say of a model, gross errors among them.
#[derive(Debug, Clone, PartialEq)]
pub struct Robust {
    /// The corrections.
    pub estimate: Estimate,
    /// Share of reports that are gross errors, 0 to [`MOST_GROSS`].
    pub gross_share: f64,
    /// For each report the chance, 0 to 1, that it is one; it weighs the less.
    pub chances: Vec<f64>,
}

/// The likeliest corrections as of [`estimate`](super::estimate()), where some
/// reports may be gross errors.
///
/// The share of these is the likeliest with a pull towards one in forty, found in turn
/// with the parameters (expectation and maximisation: A. Dempster, N. Laird and
/// D. Rubin, Journal of the Royal Statistical Society B 39, 1977). Such a posterior can
/// have several tops: the search starts where [`estimate`](super::estimate()) ends, so
/// that what most reports agree on is not taken for an error. Intervals take the share
/// as known.
///
/// # Errors
///
/// As of [`estimate`](super::estimate()).
pub fn estimate_with_outliers(
    reports: &[LinkReport],
    priors: &Priors,
) -> Result<Robust, EstimateError> {
    fit::check(reports, priors)?;
    let problem = Problem::of(reports, priors);
    let plain = marginal::climb(&problem, &problem.means)?;
    let (top, share) = match mixed(problem.clone(), &plain.at) {
        Ok(found) => found,
        // Too few reports to leave any out: what a chance is, is still told.
        Err(EstimateError::Open | EstimateError::Steps { .. }) => (plain, BEFORE.0 / BEFORE.1),
        Err(other) => return Err(other),
    };
    let chance = |report| problem.chance_of_gross(&row(report, priors), &top.at, share);
    Ok(Robust {
        estimate: fit::told(&top, reports, priors),
        gross_share: share,
        chances: reports.iter().map(chance).collect(),
    })
}

/// The top of the mixture and the share of gross errors, from where the reports led
/// without any.
fn mixed(mut problem: Problem, plain: &DVector<f64>) -> Result<(newton::Top, f64), EstimateError> {
    let reports = problem.reports();
    let mut at = plain.clone();
    problem.gross = BEFORE.0 / BEFORE.1;
    for _ in 0..ROUNDS {
        let mut shares = [problem.gross; 3];
        for share in shares.iter_mut().skip(1) {
            at = newton::climb(&problem, at.as_slice())?.at;
            let found = problem.gross_errors(&at, problem.gross);
            problem.gross = ((BEFORE.0 + found) / (BEFORE.1 + reports)).min(MOST_GROSS);
            *share = problem.gross;
        }
        let [first, second, third] = shares;
        if (third - second).abs() < NEAR {
            break;
        }
        // As if each step were the same part of the one before it (A. C. Aitken,
        // Proceedings of the Royal Society of Edinburgh 46, 1926); only where that is
        // likelier, so that no round undoes another.
        let ahead = first - (second - first).powi(2) / (third - 2.0 * second + first);
        if ahead > 0.0 && ahead < MOST_GROSS {
            let there = problem.clone().with_gross(ahead);
            if let Ok(top) = newton::climb(&there, at.as_slice())
                && likelihood(&there, &top.at) > likelihood(&problem, &at)
            {
                (problem, at) = (there, top.at);
            }
        }
    }
    Ok((marginal::climb(&problem, at.as_slice())?, problem.gross))
}

/// ln posterior of all parameters and the share.
fn likelihood(problem: &Problem, at: &DVector<f64>) -> f64 {
    let share = problem.gross;
    let (errors, sound) = (BEFORE.0, BEFORE.1 - BEFORE.0);
    problem.slopes(at).value + errors * share.ln() + sound * (-share).ln_1p()
}
