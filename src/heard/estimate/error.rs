//! What keeps reports from being used.

use perchline_units::Db;

use super::observation::{FARTHEST, NARROWEST};

/// Why nothing could be estimated. Reports are counted from 1.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum EstimateError {
    /// A class that has no prior.
    #[error("report {report}: class number {found}; there are {classes}, counted from 0")]
    Class {
        /// Which.
        report: usize,
        /// What it names.
        found: usize,
        /// How many there are.
        classes: usize,
    },
    /// A way to carry that has no prior.
    #[error("report {report}: way to carry number {found}; there are {bodies}, counted from 0")]
    Carry {
        /// Which.
        report: usize,
        /// What it names.
        found: usize,
        /// How many there are.
        bodies: usize,
    },
    /// A level that is none.
    #[error("report {report}: its {what} is {found}; it has to be within {FARTHEST} of 0")]
    Level {
        /// Which.
        report: usize,
        /// Which of its numbers.
        what: &'static str,
        /// What it says.
        found: Db,
    },
    /// A standard deviation that is none.
    #[error("report {report}: its {what} is {found}; it has to be 0 dB to {FARTHEST}")]
    Deviation {
        /// Which.
        report: usize,
        /// Which of its numbers.
        what: &'static str,
        /// What it says.
        found: Db,
    },
    /// A range without bounds.
    #[error("report {report}: a range of margins without a bound says nothing; leave it out")]
    NothingSaid {
        /// Which.
        report: usize,
    },
    /// A range that is empty or all but.
    #[error("report {report}: margins from {low} to {high}; it has to be {NARROWEST} or more")]
    Narrow {
        /// Which.
        report: usize,
        /// From.
        low: Db,
        /// To.
        high: Db,
    },
    /// What is held beforehand is out of range.
    #[error("what is held beforehand of {what}: {found}; it has to be {allowed}")]
    Prior {
        /// Of what.
        what: String,
        /// What it says.
        found: f64,
        /// What it may say.
        allowed: &'static str,
    },
    /// Reports that leave a parameter open.
    #[error(
        "the reports leave open how large the corrections are: give a finite spread beforehand, \
         or more reports"
    )]
    Open,
    /// The search went on and on.
    #[error("no best fit was found in {steps} steps; this is a fault of the program")]
    Steps {
        /// How many were made.
        steps: usize,
    },
    /// Two lists that belong together differ in length.
    #[error("{found} {what}; {wanted} belong here")]
    Length {
        /// Of what.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many there should be.
        wanted: usize,
    },
    /// A number that cannot be used where it stands.
    #[error("number {index} of the {what} is {found}; it has to be {allowed}")]
    Number {
        /// Which, from 1.
        index: usize,
        /// Of what.
        what: &'static str,
        /// What it says.
        found: f64,
        /// What it may say.
        allowed: &'static str,
    },
    /// Too little to say anything of.
    #[error("{found} {what}; at least {wanted} are needed")]
    Few {
        /// Of what.
        what: &'static str,
        /// How many there are.
        found: usize,
        /// How many it takes.
        wanted: usize,
    },
}
