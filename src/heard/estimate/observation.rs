//! What one report says.

use perchline_units::Db;

use super::error::EstimateError;

/// The narrowest range that a report may give; a narrower one is a level.
pub const NARROWEST: Db = Db::new(0.01);

/// Beyond so many decibels either way a margin or level is a mistake.
pub const FARTHEST: Db = Db::new(1000.0);

/// Standard deviation about the prediction of a level, or of a margin between two
/// bounds, that is a gross error (common practice, no source: a flat battery, a wrong
/// channel or another antenna is good for 20 to 40 dB).
pub const GROSS_SD: Db = Db::new(30.0);

/// A report, and what bears on it at the other end.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LinkReport {
    /// The report.
    pub observation: Observation,
    /// Which body loss bears on it at the other end too, an index into
    /// [`Priors::bodies`](super::Priors::bodies); none for a station.
    pub far_carry: Option<usize>,
}

impl From<Observation> for LinkReport {
    fn from(observation: Observation) -> Self {
        Self { observation, far_carry: None }
    }
}

impl LinkReport {
    /// Whether its numbers can be used; `report` counts from 1.
    pub(super) fn check(
        &self,
        report: usize,
        (classes, bodies): (usize, usize),
    ) -> Result<(), EstimateError> {
        if let Some(found) = self.far_carry.filter(|carry| *carry >= bodies) {
            return Err(EstimateError::Carry { report, found, bodies });
        }
        self.observation.check(report, (classes, bodies))
    }
}

/// One report of a radio link whose margin was predicted.
///
/// The true margin of the spot is taken as
///
/// y = margin + offset\[class\] - body\[carry\] + error
///
/// with a normal error of variance sigma² + local².
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Observation {
    /// Which offset bears on it, an index into [`Priors::offsets`](super::Priors::offsets).
    pub class: usize,
    /// Which body loss bears on it, an index into
    /// [`Priors::bodies`](super::Priors::bodies); none for a radio that nobody wears.
    pub carry: Option<usize>,
    /// Predicted median level over what is needed, the published body loss
    /// included.
    pub margin: Db,
    /// Standard deviation that is known for this report beside sigma, 0 dB or
    /// more: how far off its place is, or what buildings differ by.
    pub local: Db,
    /// What was heard.
    pub evidence: Evidence,
}

/// What was heard.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Evidence {
    /// Whether it worked: y above or below 0 dB.
    Works(bool),
    /// Where y lies, as a quality heard says: margins over the same need as
    /// the prediction's. Without a bound that side is open.
    Between {
        /// From.
        low: Option<Db>,
        /// To; at least [`NARROWEST`] above `low`.
        high: Option<Db>,
    },
    /// A level that was read off.
    Level {
        /// Measured less predicted level.
        excess: Db,
        /// Standard deviation of the measurement itself, 0 dB or more.
        spread: Db,
    },
}

impl Observation {
    /// Whether its numbers can be used; `report` counts from 1.
    pub(super) fn check(
        &self,
        report: usize,
        (classes, bodies): (usize, usize),
    ) -> Result<(), EstimateError> {
        if self.class >= classes {
            return Err(EstimateError::Class { report, found: self.class, classes });
        }
        if let Some(found) = self.carry.filter(|carry| *carry >= bodies) {
            return Err(EstimateError::Carry { report, found, bodies });
        }
        level(report, "margin", self.margin)?;
        deviation(report, "local spread", self.local)?;
        match self.evidence {
            Evidence::Works(_) => Ok(()),
            Evidence::Between { low: None, high: None } => {
                Err(EstimateError::NothingSaid { report })
            }
            Evidence::Between { low, high } => {
                for bound in [low, high].into_iter().flatten() {
                    level(report, "bound", bound)?;
                }
                match (low, high) {
                    (Some(low), Some(high)) if high - low < NARROWEST => {
                        Err(EstimateError::Narrow { report, low, high })
                    }
                    _ => Ok(()),
                }
            }
            Evidence::Level { excess, spread } => {
                level(report, "excess", excess)?;
                deviation(report, "spread of the measurement", spread)
            }
        }
    }
}

fn level(report: usize, what: &'static str, found: Db) -> Result<(), EstimateError> {
    if found.value().abs() <= FARTHEST.value() {
        Ok(())
    } else {
        Err(EstimateError::Level { report, what, found })
    }
}

fn deviation(report: usize, what: &'static str, found: Db) -> Result<(), EstimateError> {
    if (0.0..=FARTHEST.value()).contains(&found.value()) {
        Ok(())
    } else {
        Err(EstimateError::Deviation { report, what, found })
    }
}
