//! Whether corrections predict reports better that they have not seen.

use nalgebra::DVector;
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};

use super::error::EstimateError;
use super::fit;
use super::marginal;
use super::observation::{LinkReport, Observation};
use super::priors::Priors;
use super::problem::Problem;

/// Fewer groups of reports than this say too little (our choice).
pub const LEAST_REPORTS: usize = 30;

/// By how many standard errors a gain has to exceed nothing (our choice).
const CLEARLY: f64 = 2.0;

/// Deals groups to folds; any would do.
const SEED: u64 = 20;

/// Whether it is worth to correct.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// Too few reports, or spots they came from, to tell.
    TooFew {
        /// How many there are.
        have: usize,
        /// How many it takes.
        want: usize,
    },
    /// The corrections do not clearly predict better than the published values.
    NoGain,
    /// They do.
    Worth,
}

/// Corrections against published values on reports that neither has seen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Validation {
    /// Mean ln probability (for measured levels: density per dB) that the
    /// corrections, estimated without it, gave to a report.
    pub with: f64,
    /// The same of the published values.
    pub without: f64,
    /// What the corrections gain, by report; 0 where there were not two groups
    /// to set against each other.
    pub gain: f64,
    /// Standard error of the gain, from how it differs between groups.
    pub gain_sd: f64,
    /// Reports scored.
    pub reports: usize,
    /// What it comes to.
    pub verdict: Verdict,
}

impl Validation {
    /// Whether the corrections are worth having.
    #[must_use]
    pub fn worth(&self) -> bool {
        self.verdict == Verdict::Worth
    }
}

/// Each report for itself; see [`cross_validate_by_group`].
///
/// # Errors
///
/// As [`cross_validate_by_group`].
pub fn cross_validate(
    observations: &[Observation],
    priors: &Priors,
    folds: usize,
) -> Result<Validation, EstimateError> {
    let each: Vec<_> = (0..observations.len()).collect();
    cross_validate_by_group(observations, &each, priors, folds)
}

/// Leaves out one fold of reports after the other, estimates corrections from
/// the rest, and asks how likely they took what the fold says: the logarithmic
/// score (I. J. Good, Journal of the Royal Statistical Society B 14, 1952).
/// Both sides are scored by their likeliest values alone, as a plan uses them.
///
/// Reports of one group (one spot, one person) share their errors and stay in
/// one fold; groups are dealt to folds after a shuffle that is always the same.
/// The verdict is [`Verdict::Worth`] with at least [`LEAST_REPORTS`] groups and
/// a gain of more than one standard error. That error takes the gains of
/// groups as independent, which estimates from shared reports are not quite, so
/// it is somewhat too small (Y. Bengio and Y. Grandvalet, Journal of Machine
/// Learning Research 5, 2004).
///
/// # Errors
///
/// A report or a prior is out of range, there are fewer than two folds,
/// `groups` is not as long as the reports, or a fold cannot be estimated.
pub fn cross_validate_by_group(
    observations: &[Observation],
    groups: &[usize],
    priors: &Priors,
    folds: usize,
) -> Result<Validation, EstimateError> {
    let reports: Vec<LinkReport> = observations.iter().copied().map(Into::into).collect();
    cross_validate_with_outliers(&reports, groups, priors, folds, 0.0)
}

/// The same where the share `gross` of reports, 0 to below 1, are gross errors: as
/// [`estimate_with_outliers`](super::estimate_with_outliers) finds it. Both sides are
/// scored with it.
///
/// # Errors
///
/// As [`cross_validate_by_group`].
pub fn cross_validate_with_outliers(
    reports: &[LinkReport],
    groups: &[usize],
    priors: &Priors,
    folds: usize,
    gross: f64,
) -> Result<Validation, EstimateError> {
    fit::check(reports, priors)?;
    if !(0.0..1.0).contains(&gross) {
        let (what, allowed) = ("shares of gross errors", "0 to below 1");
        return Err(EstimateError::Number { index: 1, what, found: gross, allowed });
    }
    if groups.len() != reports.len() {
        let (found, wanted) = (groups.len(), reports.len());
        return Err(EstimateError::Length { what: "group numbers", found, wanted });
    }
    if folds < 2 {
        return Err(EstimateError::Few { what: "folds", found: folds, wanted: 2 });
    }
    let (fold_of, have) = deal(groups, folds);
    let published = DVector::from_vec(priors.start());
    let score = |parameters: &DVector<f64>, report: &LinkReport| {
        Problem::of([report], priors).with_gross(gross).log_likelihood(parameters)
    };
    let without: Vec<_> = reports.iter().map(|report| score(&published, report)).collect();
    let mut with = without.clone();
    if have >= 2 {
        for fold in 0..folds.min(have) {
            let all = || reports.iter().zip(&fold_of);
            let rest = all().filter(|(_, of)| **of != fold).map(|(report, _)| report);
            let corrected = values(Problem::of(rest, priors), gross)?;
            for ((report, of), with) in all().zip(&mut with) {
                if *of == fold {
                    *with = score(&corrected, report);
                }
            }
        }
    }
    let gains: Vec<_> = with.iter().zip(&without).map(|(with, without)| with - without).collect();
    let (gain, gain_sd) = (mean(&gains), error_of_mean(&gains, groups, have));
    let verdict = if have < LEAST_REPORTS {
        Verdict::TooFew { have, want: LEAST_REPORTS }
    } else if gain > CLEARLY * gain_sd && gain > 0.0 {
        Verdict::Worth
    } else {
        Verdict::NoGain
    };
    let (with, without) = (mean(&with), mean(&without));
    Ok(Validation { with, without, gain, gain_sd, reports: gains.len(), verdict })
}

/// The fold of each report, and the number of groups.
fn deal(groups: &[usize], folds: usize) -> (Vec<usize>, usize) {
    let mut distinct = groups.to_vec();
    distinct.sort_unstable();
    distinct.dedup();
    let mut random = Pcg64Mcg::seed_from_u64(SEED);
    let mut shuffled: Vec<_> = distinct.iter().map(|group| (random.next_u64(), *group)).collect();
    shuffled.sort_unstable();
    let folds = folds.min(distinct.len()).max(1);
    let mut dealt: Vec<_> =
        shuffled.iter().enumerate().map(|(at, (_, group))| (*group, at % folds)).collect();
    dealt.sort_unstable();
    let fold = |group: &usize| {
        let at = dealt.binary_search_by_key(group, |(group, _)| *group);
        at.ok().and_then(|at| dealt.get(at)).map_or(0, |(_, fold)| *fold)
    };
    (groups.iter().map(fold).collect(), distinct.len())
}

/// The corrections from the reports of a problem, as [`Priors::start`] lists them.
fn values(problem: Problem, gross: f64) -> Result<DVector<f64>, EstimateError> {
    let plain = marginal::values(&problem, &problem.means)?;
    if gross > 0.0 {
        let mixed = problem.with_gross(gross);
        // Where the mixture has no top, reports tell too little to leave any out.
        return Ok(marginal::values(&mixed, plain.as_slice()).unwrap_or(plain));
    }
    Ok(plain)
}

fn mean(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / (values.len() as f64).max(1.0)
}

/// Standard error of the mean over reports that are independent by group alone.
fn error_of_mean(gains: &[f64], groups: &[usize], have: usize) -> f64 {
    if have < 2 {
        return 0.0;
    }
    let mean = mean(gains);
    let mut by_group = std::collections::BTreeMap::<usize, f64>::new();
    for (gain, group) in gains.iter().zip(groups) {
        *by_group.entry(*group).or_default() += gain - mean;
    }
    let squares: f64 = by_group.values().map(|sum| sum * sum).sum();
    let groups = have as f64;
    (squares * groups / (groups - 1.0)).sqrt() / gains.len() as f64
}
