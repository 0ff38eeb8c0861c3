//! From reports beside their predictions to corrections of the model.

use std::collections::HashMap;
use std::fmt::Write as _;

use serde::Serialize;

use std::sync::Arc;

use jiff::Timestamp;

use super::compare::{Agreement, Compared};
use super::estimate::{
    CalibrationCurve, Estimate, EstimateError, Evidence, LinkReport, OUTLIER_FROM, Observation,
    Part, Prior, Priors, SigmaPrior, Validation, calibration_curve, cross_validate_with_outliers,
    estimate_with_outliers,
};
use super::log::Origin;
use perchline_link::{Direction, MODEL_ERROR};
use perchline_plan::{CARRIES, Calibration, CarriedIn, Carry, Plan};
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
    /// Share of the others that are gross errors, as estimated with the corrections.
    pub gross_share: f64,
    /// How many of them nothing explains; each weighs next to nothing.
    pub outlier_count: usize,
    /// The first [`MOST_NAMED`] of these.
    pub outliers: Vec<Outlier>,
}

/// Outliers that are named one by one; all are marked among the reports.
pub const MOST_NAMED: usize = 1000;

/// A report that neither the prediction nor the corrections explain.
#[derive(Debug, Clone, Serialize)]
pub struct Outlier {
    /// The row that it is from.
    pub origin: Origin,
    /// When.
    pub time: Option<Timestamp>,
    /// The place; from radio to radio both ends.
    pub place: String,
    /// The channel.
    pub channel: String,
    /// Which direction.
    pub direction: Direction,
    /// How it agrees with the prediction as published.
    pub agreement: Agreement,
    /// Predicted median over what was asked for, as published.
    pub predicted_over_asked_db: Db,
    /// The same with the corrections.
    pub corrected_over_asked_db: Db,
    /// Measured less predicted level, where a level was reported.
    pub excess_db: Option<Db>,
    /// Chance, 0 to 1, that it is a gross error.
    pub chance: f64,
    /// What was reported against what was predicted, and what to look for.
    pub text: String,
}

/// What to look for where less was heard than anything explains (common practice, no
/// source).
const LOOK_FOR: &str = "look for a flat battery, a wrong channel, or a plan that was not followed";

/// The same where more was heard.
const LOOK_FOR_MORE: &str = "look for another place or time than the log says, another antenna, or a report of another radio";

/// What is held before any report came in.
#[must_use]
pub fn priors(plan: &Plan) -> Priors {
    let stated = plan.prediction.model_error;
    let held = |sd| Prior { mean: Db::new(0.0), sd };
    Priors {
        offsets: CarriedIn::ALL.map(|_| held(OFFSET_SD)).to_vec(),
        bodies: CARRIES.map(|_| held(BODY_SD)).to_vec(),
        sigma: SigmaPrior {
            median: stated.filter(|error| error.value() > 0.0).unwrap_or(MODEL_ERROR),
            ln_sd: MODEL_ERROR_LN_SD,
        },
    }
}

/// A report as the statistics take it.
fn link_report(compared: &Compared) -> LinkReport {
    let evidence = &compared.evidence;
    let observation = Observation {
        class: evidence.environment.index(),
        carry: evidence.carry.map(Carry::index),
        margin: compared.predicted_margin_db,
        local: evidence.local,
        evidence: match (compared.excess_db, evidence.level_spread) {
            (Some(excess), Some(spread)) => Evidence::Level { excess, spread },
            _ => Evidence::Between { low: evidence.low, high: evidence.high },
        },
    };
    LinkReport { observation, far_carry: evidence.far_carry.map(Carry::index) }
}

/// Learns from reports, and marks those that nothing explains: a plan's time zone tells
/// when they were.
///
/// # Errors
/// [`EstimateError`] when a number cannot be used; none comes from a report
/// that was read and compared here.
pub fn learn(compared: &mut [Compared], plan: &Plan) -> Result<Learned, EstimateError> {
    let alive: Vec<usize> =
        (0..).zip(&*compared).filter(|(_, c)| !c.evidence.dead).map(|(index, _)| index).collect();
    let of = |index: &usize| compared.get(*index);
    let reports: Vec<LinkReport> = alive.iter().filter_map(of).map(link_report).collect();
    // Both ways of a spot, and what was said of it twice, stand or fall together.
    let mut places: HashMap<(u64, u64), usize> = HashMap::new();
    let groups: Vec<usize> = alive
        .iter()
        .filter_map(of)
        .map(|c| {
            let at = (c.at.latitude().value().to_bits(), c.at.longitude().value().to_bits());
            let next = places.len();
            *places.entry(at).or_insert(next)
        })
        .collect();
    drop(places);
    let priors = priors(plan);
    let robust = estimate_with_outliers(&reports, &priors)?;
    let share_of_gross = robust.gross_share;
    let validation =
        cross_validate_with_outliers(&reports, &groups, &priors, FOLDS, share_of_gross)?;
    let found = robust.estimate;
    let calibration = validation.worth().then(|| calibration(&found));
    // Reports that leave their question open are no point of a curve.
    let answered: Vec<(&Compared, &LinkReport, bool)> = alive
        .iter()
        .filter_map(of)
        .zip(&reports)
        .filter_map(|(c, o)| Some((c, o, c.heard?)))
        .collect();
    let predicted: Vec<f64> = answered.iter().map(|(c, ..)| c.predicted_heard).collect();
    let heard: Vec<bool> = answered.iter().map(|(.., heard)| *heard).collect();
    let corrected: Vec<f64> = answered.iter().map(|(c, o, _)| share(&found, c, o)).collect();
    let curve = calibration_curve(&predicted, &heard)?;
    let corrected = calibration_curve(&corrected, &heard)?;
    let (mut outliers, mut outlier_count) = (Vec::new(), 0);
    let unnamed: Arc<[String]> = Arc::new(["an outlier: nothing explains it".to_owned()]);
    for ((index, report), chance) in alive.iter().zip(&reports).zip(&robust.chances) {
        let Some(one) = compared.get_mut(*index).filter(|_| *chance >= OUTLIER_FROM) else {
            continue;
        };
        one.outlier = true;
        outlier_count += 1;
        if outliers.len() < MOST_NAMED {
            let corrected = corrected_over_asked(&found, one, report);
            let outlier = Outlier::of(one, corrected, *chance, plan);
            one.because = Arc::new([outlier.text.clone()]);
            outliers.push(outlier);
        } else {
            one.because = Arc::clone(&unnamed);
        }
    }
    Ok(Learned {
        curve,
        corrected,
        estimate: found,
        validation,
        calibration,
        dead: compared.len() - alive.len(),
        gross_share: share_of_gross,
        outlier_count,
        outliers,
    })
}

impl Outlier {
    fn of(one: &Compared, corrected: Db, chance: f64, plan: &Plan) -> Self {
        let over = one.over_asked();
        let agreement = match (one.agreement, one.excess_db) {
            // A level far below the prediction may still have been heard.
            (Agreement::Worse | Agreement::Better, _) | (_, None) => one.agreement,
            (_, Some(excess)) if excess < Db::new(0.0) => Agreement::Worse,
            (_, Some(_)) => Agreement::Better,
        };
        let when = one.time.map_or_else(String::new, |time| {
            let zone = plan.event.starts.time_zone().clone();
            format!(" at {}", time.to_zoned_datetime(zone).strftime("%H:%M"))
        });
        let level = one.excess_db.filter(|_| one.evidence.level_spread.is_some());
        let predicted = if over < Db::new(0.0) {
            format!("where {:.0} were predicted to be missing", -over)
        } else {
            format!("where {over:.0} of margin were predicted")
        };
        let against = match (level, one.heard) {
            (Some(excess), _) if excess < Db::new(0.0) => {
                format!("measured {:.0} less than was predicted", -excess)
            }
            (Some(excess), _) => format!("measured {excess:.0} more than was predicted"),
            (None, Some(true)) => format!("{} {predicted}", reached(one)),
            (None, _) => format!("{} {predicted}", missed(one)),
        };
        let look = if agreement == Agreement::Better { LOOK_FOR_MORE } else { LOOK_FOR };
        let who = who(one);
        Self {
            origin: one.origin.clone(),
            time: one.time,
            place: one.link(),
            channel: one.channel.to_string(),
            direction: one.direction,
            agreement,
            predicted_over_asked_db: over,
            corrected_over_asked_db: corrected,
            excess_db: one.excess_db,
            chance,
            text: format!("{who}{when} {against}: an outlier; {look}"),
        }
    }
}

/// Who is spoken of: the place, and from radio to radio the one who listened.
fn who(one: &Compared) -> String {
    match (&one.to, one.direction) {
        (Some(to), Direction::TalkIn) => format!("{to}, called by {},", one.place),
        (Some(to), Direction::TalkOut) => format!("{}, called by {to},", one.place),
        (None, _) => one.place.to_string(),
    }
}

/// What came of a call that was not good enough.
fn missed(one: &Compared) -> &'static str {
    match (one.evidence.of_quality, one.direction, &one.to) {
        (true, ..) => "reported a poor quality",
        (false, Direction::TalkIn, None) => "was not heard",
        (false, ..) => "heard nothing",
    }
}

/// What came of one that was.
fn reached(one: &Compared) -> &'static str {
    match (one.evidence.of_quality, one.direction, &one.to) {
        (true, ..) => "reported a good quality",
        (false, Direction::TalkIn, None) => "was heard",
        (false, ..) => "heard the call",
    }
}

/// Predicted median over what was asked for, with the corrections.
fn corrected_over_asked(found: &Estimate, one: &Compared, report: &LinkReport) -> Db {
    corrected_margin(found, report) - one.evidence.asked
}

/// The margin of a report with the corrections of both ends.
fn corrected_margin(found: &Estimate, report: &LinkReport) -> Db {
    let LinkReport { observation, far_carry } = report;
    let far = far_carry.and_then(|carry| found.bodies.get(carry));
    found.corrected(observation.class, observation.carry, observation.margin)
        - far.map_or(Db::new(0.0), |part| part.value)
}

/// Probability of what a report says, with the corrections.
fn share(found: &Estimate, compared: &Compared, report: &LinkReport) -> f64 {
    let deviation = found.sigma.value.value().hypot(report.observation.local.value());
    perchline_link::Spread::new(Db::new(deviation), 0.0)
        .one_way(corrected_over_asked(found, compared, report))
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
        let offsets = CarriedIn::ALL
            .iter()
            .zip(&self.estimate.offsets)
            .map(|(s, part)| of(format!("levels, environment {}", s.word()), part));
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
        for (environment, part) in CarriedIn::ALL.iter().zip(&self.estimate.offsets) {
            if part.informed_by > 0 {
                let _ = write!(
                    text,
                    "\n[[offset]]\nenvironment = \"{}\"\nadd = \"{:.2} dB\"\n{}reports = {}\n",
                    environment.word(),
                    calibration.offset(*environment).value(),
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
