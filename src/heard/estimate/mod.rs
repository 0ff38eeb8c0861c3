//! What reports say of offsets, body loss and spread: plain numbers.
//!
//! A report is a spot whose margin was predicted, and what was heard there.
//! The true margin is taken as
//!
//! y = margin + offset\[class\] - body\[carry\] + error,
//! error ~ N(0, sigma² + local²)
//!
//! and what was heard says that y is above 0, between two bounds, or how it
//! compares with a level that was measured. [`estimate`] finds the likeliest
//! offsets, changes of body loss and sigma, drawn towards the published values;
//! [`estimate_with_outliers`] does where some reports are gross errors, and says which;
//! [`cross_validate`] tells whether they predict better than those;
//! [`calibration_curve`] and [`bias_and_spread`] look at the predictions as
//! they were; [`plan_tests`] says which test calls would teach the most.
//!
//! The method is that of a probit or tobit regression (C. I. Bliss, Science
//! 79, 1934; J. Tobin, Econometrica 26, 1958) with normal priors.
#![allow(
    clippy::indexing_slicing,
    reason = "vectors and matrices are made as long as the problem has parameters, and only those number them"
)]

mod bias;
mod calibration;
mod error;
mod fit;
mod likelihood;
mod marginal;
mod newton;
mod normal;
mod observation;
mod outliers;
mod priors;
mod probit;
mod problem;
#[cfg(test)]
mod slopes_tests;
mod test_calls;
mod validation;

pub use bias::{BiasAndSpread, Interval, bias_and_spread};
pub use calibration::{Bin, CalibrationCurve, calibration_curve, wilson};
pub use error::EstimateError;
pub use fit::{Estimate, Part, estimate};
pub use observation::{Evidence, FARTHEST, GROSS_SD, LinkReport, NARROWEST, Observation};
pub use outliers::{MOST_GROSS, OUTLIER_FROM, Robust, estimate_with_outliers};
pub use priors::{Prior, Priors, SigmaPrior};
pub use probit::{Probit, probit};
pub use test_calls::{Candidate, expected_information, plan_tests, variance_after};
pub use validation::{
    LEAST_REPORTS, Validation, Verdict, cross_validate, cross_validate_by_group,
    cross_validate_with_outliers,
};
