//! From reports beside their predictions to corrections of the model.

use std::collections::HashMap;
use std::fmt::Write as _;

use serde::Serialize;

use super::compare::Compared;
use super::estimate::{
    CalibrationCurve, Estimate, EstimateError, Evidence, Observation, Part, Prior, Priors,
    SigmaPrior, Validation, calibration_curve, cross_validate_by_group, estimate,
};
use perchline_link::MODEL_ERROR;
use perchline_plan::{CARRIES, Calibration, Carry, Plan, Surroundings};
use perchline_units::Db;

/// How far the levels around a radio may lie from a Recommendation's, as a
/// standard deviation (common practice, no source).
const OFFSET_SD: Db = Db::new(4.0);
/// How far the table's body losses may lie from a group's people and radios
/// (common practice, no source).
const BODY_SD: Db = Db::new(3.0);
/// How well that is known: within a factor of 1.8.
const MODEL_ERROR_LN_SD: f64 = 0.3;
/// Parts into which reports are put for cross-validation.
const FOLDS: usize = 10;
/// Bounds of what a calibration file may hold.
const FARTHEST: (f64, f64, f64) = (30.0, 20.0, 20.0);

/// What the reports teach.
#[derive(Debug, Clone)]
pub struct Learned {
    /// The corrections, drawn towards the published values.
    pub estimate: Estimate,
    /// Whether they predict better than those.
    pub validation: Validation,
    /// The corrections as the other verbs take them; nothing where they are not
    /// worth it.
    pub calibration: Option<Calibration>,
    /// Of the spots predicted at so much, how many worked: as predicted.
    pub curve: CalibrationCurve,
    /// The same with the corrections, estimated on these very reports.
    pub corrected: CalibrationCurve,
    /// Reports left out: the station's battery should have been dead.
    pub dead: usize,
}

/// What is held before any report came in.
#[must_use]
pub fn priors(plan: &Plan) -> Priors {
    let stated = plan.prediction.model_error;
    let held = |sd| Prior { mean: Db::new(0.0), sd };
    Priors {
        offsets: Surroundings::ALL.map(|_| held(OFFSET_SD)).to_vec(),
        bodies: CARRIES.map(|_| held(BODY_SD)).to_vec(),
        sigma: SigmaPrior {
            median: stated.filter(|error| error.value() > 0.0).unwrap_or(MODEL_ERROR),
            ln_sd: MODEL_ERROR_LN_SD,
        },
    }
}

/// A report as the statistics take it.
fn observation(compared: &Compared) -> Observation {
    let evidence = &compared.evidence;
    Observation {
        class: evidence.surroundings.index(),
        carry: evidence.carry.map(Carry::index),
        margin: compared.predicted_margin_db,
        local: evidence.local,
        evidence: match (compared.excess_db, evidence.level_spread) {
            (Some(excess), Some(spread)) => Evidence::Level { excess, spread },
            _ => Evidence::Between { low: evidence.low, high: evidence.high },
        },
    }
}

/// Learns from reports.
///
/// # Errors
/// [`EstimateError`] when a number cannot be used; none comes from a report
/// that was read and compared here.
pub fn learn(compared: &[Compared], plan: &Plan) -> Result<Learned, EstimateError> {
    let alive: Vec<&Compared> = compared.iter().filter(|c| !c.evidence.dead).collect();
    let observations: Vec<_> = alive.iter().map(|c| observation(c)).collect();
    // Both ways of a spot, and what was said of it twice, stand or fall together.
    let mut places: HashMap<(u64, u64), usize> = HashMap::new();
    let groups: Vec<usize> = alive
        .iter()
        .map(|c| {
            let at = (c.at.latitude().value().to_bits(), c.at.longitude().value().to_bits());
            let next = places.len();
            *places.entry(at).or_insert(next)
        })
        .collect();
    drop(places);
    let priors = priors(plan);
    let found = estimate(&observations, &priors)?;
    let validation = cross_validate_by_group(&observations, &groups, &priors, FOLDS)?;
    let calibration = validation.worth().then(|| calibration(&found));
    // Reports that leave their question open are no point of a curve.
    let answered: Vec<(&Compared, &Observation, bool)> =
        alive.iter().zip(&observations).filter_map(|(c, o)| Some((*c, o, c.heard?))).collect();
    let predicted: Vec<f64> = answered.iter().map(|(c, ..)| c.predicted_heard).collect();
    let heard: Vec<bool> = answered.iter().map(|(.., heard)| *heard).collect();
    let corrected: Vec<f64> = answered.iter().map(|(c, o, _)| share(&found, c, o)).collect();
    Ok(Learned {
        curve: calibration_curve(&predicted, &heard)?,
        corrected: calibration_curve(&corrected, &heard)?,
        estimate: found,
        validation,
        calibration,
        dead: compared.len() - alive.len(),
    })
}

/// Probability of what a report says, with the corrections.
fn share(found: &Estimate, compared: &Compared, observation: &Observation) -> f64 {
    let margin = found.corrected(observation.class, observation.carry, observation.margin);
    let deviation = found.sigma.value.value().hypot(observation.local.value());
    perchline_link::Spread::new(Db::new(deviation), 0.0).one_way(margin - compared.evidence.asked)
}

/// The corrections as the other verbs take them.
fn calibration(found: &Estimate) -> Calibration {
    let within = |part: &Part, most: f64| Db::new(part.value.value().clamp(-most, most));
    let mut calibration = Calibration::NONE;
    for (offset, part) in calibration.offsets.iter_mut().zip(&found.offsets) {
        *offset = within(part, FARTHEST.0);
    }
    for (body, part) in calibration.bodies.iter_mut().zip(&found.bodies) {
        *body = within(part, FARTHEST.1);
    }
    calibration.model_error = Some(Db::new(found.sigma.value.value().clamp(0.0, FARTHEST.2)));
    calibration
}

/// A correction in words and numbers.
#[derive(Debug, Clone, Serialize)]
pub struct Correction {
    /// What it corrects.
    pub what: String,
    /// The correction.
    pub value_db: Db,
    /// From here
    pub low_db: Db,
    /// to here with 95 %.
    pub high_db: Db,
    /// The published value.
    pub published_db: Db,
    /// Reports that bear on it.
    pub reports: usize,
}

impl Learned {
    /// Every correction that a report bears on.
    #[must_use]
    pub fn corrections(&self) -> Vec<Correction> {
        let of = |what: String, part: &Part| Correction {
            what,
            value_db: part.value,
            low_db: part.low,
            high_db: part.high,
            published_db: part.prior,
            reports: part.informed_by,
        };
        let offsets = Surroundings::ALL
            .iter()
            .zip(&self.estimate.offsets)
            .map(|(s, part)| of(format!("levels, {} surroundings", s.word()), part));
        let bodies = CARRIES
            .iter()
            .zip(&self.estimate.bodies)
            .map(|(c, part)| of(format!("body loss, {}", c.words()), part));
        offsets
            .chain(bodies)
            .filter(|correction| correction.reports > 0)
            .chain([of("the model's own error".to_owned(), &self.estimate.sigma)])
            .collect()
    }

    /// The calibration file's text; nothing where the corrections are not worth
    /// it. `made` are lines of what it was made with, as TOML.
    #[must_use]
    pub fn file(&self, made: &str) -> Option<String> {
        let calibration = self.calibration.as_ref()?;
        let mut text = format!(
            "# Corrections learned from what was heard: for --calibration, or\n# [prediction] calibration = \"this file\". low and high: 95 of 100 chances.\n\n[made]\n{made}"
        );
        let around = |part: &Part| {
            format!(
                "low = \"{:.1} dB\"\nhigh = \"{:.1} dB\"\n",
                part.low.value(),
                part.high.value()
            )
        };
        // Writing to a String cannot fail.
        if let Some(error) = calibration.model_error {
            let _ = write!(
                text,
                "\n[model_error]\ndeviation = \"{:.2} dB\"\n{}",
                error.value(),
                around(&self.estimate.sigma)
            );
        }
        for (surroundings, part) in Surroundings::ALL.iter().zip(&self.estimate.offsets) {
            if part.informed_by > 0 {
                let _ = write!(
                    text,
                    "\n[[offset]]\nsurroundings = \"{}\"\nadd = \"{:.2} dB\"\n{}reports = {}\n",
                    surroundings.word(),
                    calibration.offset(*surroundings).value(),
                    around(part),
                    part.informed_by
                );
            }
        }
        for (carry, part) in CARRIES.into_iter().zip(&self.estimate.bodies) {
            if part.informed_by > 0 {
                let _ = write!(
                    text,
                    "\n[[body]]\ncarry = \"{}\"\nmore_loss = \"{:.2} dB\"\n{}reports = {}\n",
                    Carry::word(carry),
                    calibration.body(carry).value(),
                    around(part),
                    part.informed_by
                );
            }
        }
        Some(text)
    }
}
