//! Logs with gross errors in them: what is learnt all the same, and which reports are
//! told to be errors.

use perchline::heard::estimate::{
    Evidence, LinkReport, MOST_GROSS, OUTLIER_FROM, Observation, Robust,
    cross_validate_with_outliers, estimate, estimate_with_outliers,
};
use perchline::units::Db;
use rayon::prelude::*;

use super::made::{Made, parts, priors, works};

fn links(log: &[Observation]) -> Vec<LinkReport> {
    log.iter().copied().map(Into::into).collect()
}

fn robust(log: &[Observation]) -> Robust {
    estimate_with_outliers(&links(log), &priors()).unwrap()
}

/// Which gross errors there are.
#[derive(Clone, Copy)]
enum Errors {
    /// Yes for no and no for yes, levels too high and too low.
    BothWays,
    /// Silence and low levels alone, as of flat batteries.
    Misses,
}

/// A gross error: another answer, and a level or the margin behind a quality 30 dB off.
fn spoiled(made: &mut Made, report: Observation, errors: Errors) -> Observation {
    let off = match errors {
        Errors::BothWays => [-30.0, 30.0][made.below(2)],
        Errors::Misses => -30.0,
    };
    let evidence = match (report.evidence, errors) {
        (Evidence::Works(worked), Errors::BothWays) => Evidence::Works(!worked),
        (Evidence::Works(_), Errors::Misses) => Evidence::Works(false),
        (Evidence::Level { excess, spread }, _) => {
            Evidence::Level { excess: excess + Db::new(off), spread }
        }
        // Beyond all steps of quality.
        (Evidence::Between { .. }, _) if off < 0.0 => {
            Evidence::Between { low: None, high: Some(Db::new(-6.0)) }
        }
        (Evidence::Between { .. }, _) => Evidence::Between { low: Some(Db::new(14.0)), high: None },
    };
    Observation { evidence, ..report }
}

/// How often intervals hold the truth, the largest mean error of offsets and of body
/// losses, and the share of gross errors that is found: over 500 logs, this share of
/// whose reports are spoiled.
struct Figures {
    covered: f64,
    by_kind: [f64; 3],
    bias: f64,
    plain_bias: f64,
    share: f64,
}

fn simulated(gross: f64, errors: Errors) -> Figures {
    const RUNS: u64 = 500;
    let priors = priors();
    let runs: Vec<(Vec<bool>, [Vec<f64>; 2], f64)> = (0..RUNS)
        .into_par_iter()
        .map(|seed| {
            let mut made = Made::new(seed);
            let truth = made.truth(&priors);
            let reports = 60 + made.below(141);
            let mut log = made.log(&truth, reports);
            for report in &mut log {
                if made.between(0.0, 1.0) < gross {
                    *report = spoiled(&mut made, *report, errors);
                }
            }
            let found = robust(&log);
            assert!(found.estimate.slope < 1e-6, "{}", found.estimate.slope);
            let inside =
                parts(&found.estimate).zip(&truth).enumerate().map(|(i, (part, truth))| {
                    let truth = if i == 7 { truth.exp() } else { *truth };
                    (part.low.value()..=part.high.value()).contains(&truth)
                });
            let plain = estimate(&log, &priors).unwrap();
            let off = [&found.estimate, &plain].map(|found| {
                parts(found).zip(&truth).take(7).map(|(p, t)| p.value.value() - t).collect()
            });
            (inside.collect(), off, found.gross_share)
        })
        .collect();
    let covered = |of: std::ops::Range<usize>| {
        let all = runs.iter().flat_map(|(inside, ..)| &inside[of.clone()]);
        let (held, count) =
            all.fold((0, 0), |(held, n), inside| (held + usize::from(*inside), n + 1));
        100.0 * held as f64 / f64::from(count)
    };
    let mean = |which: usize, of: std::ops::Range<usize>| {
        let width = of.len() as f64;
        runs.iter().map(|(_, off, _)| off[which][of.clone()].iter().sum::<f64>()).sum::<f64>()
            / (RUNS as f64 * width)
    };
    let bias = |which| mean(which, 0..4).abs().max(mean(which, 4..7).abs());
    Figures {
        covered: covered(0..8),
        by_kind: [covered(0..4), covered(4..7), covered(7..8)],
        bias: bias(0),
        plain_bias: bias(1),
        share: runs.iter().map(|(.., share)| share).sum::<f64>() / RUNS as f64,
    }
}

/// Source: the truth that the reports were made from, 5 % of which are then spoiled.
#[test]
fn one_gross_error_in_twenty_hardly_moves_what_is_learnt() {
    let found = simulated(0.05, Errors::BothWays);
    println!("\nfigure outlier_bias_db {:.2} dB", found.bias);
    println!("figure outlier_coverage_percent {:.1} percent", found.covered);
    println!(
        "offsets, bodies, sigma {:.1?} %; share found {:.3}; without a share for errors bias {:.2} dB",
        found.by_kind, found.share, found.plain_bias
    );
    assert!(found.bias <= 0.5, "{}", found.bias);
    for covered in found.by_kind.into_iter().chain([found.covered]) {
        assert!((92.0..=98.0).contains(&covered), "{:?}", found.by_kind);
    }
}

/// Source: the same, where every error is a silence or a level that is too low.
#[test]
fn misses_alone_that_nothing_explains_hardly_move_it_either() {
    let found = simulated(0.05, Errors::Misses);
    println!(
        "misses alone: {:.1?} %, bias {:.2} dB; without a share for errors {:.2} dB",
        found.by_kind, found.bias, found.plain_bias
    );
    assert!(found.bias <= 0.5 && found.bias < found.plain_bias, "{}", found.bias);
    assert!((92.0..=98.0).contains(&found.covered), "{:?}", found.by_kind);
}

/// Source: the same logs without any gross error.
#[test]
fn a_share_for_gross_errors_costs_next_to_nothing_where_there_are_none() {
    let found = simulated(0.0, Errors::BothWays);
    println!("no gross errors: {:?} %, bias {:.2} dB", found.by_kind, found.bias);
    assert!(found.bias < 0.15, "{}", found.bias);
    assert!(found.share < 0.04, "{}", found.share);
    for covered in found.by_kind.into_iter().chain([found.covered]) {
        assert!((92.0..=98.0).contains(&covered), "{:?}", found.by_kind);
    }
}

/// A silence 37 dB over what is needed, among calls that came about as predicted, is
/// named, and moves the offset by less than without a share for errors.
#[test]
fn a_miss_of_37_db_is_an_outlier_and_no_correction() {
    let mut log: Vec<_> = (0..40).map(|at| works(0, None, f64::from(at % 8) + 6.0, true)).collect();
    let without = estimate(&log, &priors()).unwrap().offsets[0].value;
    log.push(works(0, None, 37.0, false));
    let plain = estimate(&log, &priors()).unwrap().offsets[0].value;
    let found = robust(&log);
    let named: Vec<_> = (0..log.len()).filter(|at| found.chances[*at] >= OUTLIER_FROM).collect();
    assert_eq!(named, [40]);
    let moved = (found.estimate.offsets[0].value - without).value().abs();
    assert!(moved < 0.5 && moved < (plain - without).value().abs(), "{moved} {plain} {without}");
    // One that falls short by what spots differ by is none.
    log.pop();
    log.push(works(0, None, 7.0, false));
    let found = robust(&log);
    assert!(found.chances.iter().all(|chance| *chance < OUTLIER_FROM), "{:?}", found.chances);
}

/// Where most reports are far off the prediction, the prediction is wrong and not they.
#[test]
fn what_most_reports_say_is_no_outlier() {
    let level = |excess: f64| Observation {
        evidence: Evidence::Level { excess: Db::new(excess), spread: Db::new(2.0) },
        ..works(1, None, 20.0, true)
    };
    let mut made = Made::new(4);
    let mut log: Vec<_> = (0..60).map(|_| level(-16.0 + 4.0 * made.normal())).collect();
    log.push(level(20.0));
    let found = robust(&log);
    let named: Vec<_> = (0..log.len()).filter(|at| found.chances[*at] >= OUTLIER_FROM).collect();
    assert_eq!(named, [60]);
    assert!(found.estimate.offsets[1].value < Db::new(-13.0), "{:?}", found.estimate.offsets[1]);
    assert!(found.gross_share < 0.06, "{}", found.gross_share);
}

/// Any log has an answer, the order of its reports is all one, and no share beyond the
/// greatest is believed.
#[test]
fn any_log_has_an_answer_whatever_its_order() {
    (0..200u64).into_par_iter().for_each(|seed| {
        let mut made = Made::new(seed);
        let truth = made.truth(&priors());
        let reports = made.below(60);
        let mut log = made.log(&truth, reports);
        for report in &mut log {
            if made.between(0.0, 1.0) < 0.3 {
                *report = spoiled(&mut made, *report, Errors::BothWays);
            }
        }
        let one = robust(&log);
        log.reverse();
        let two = robust(&log);
        assert!((0.0..=MOST_GROSS).contains(&one.gross_share), "{}", one.gross_share);
        assert!((one.gross_share - two.gross_share).abs() < 1e-5, "{seed}");
        for (one, two) in parts(&one.estimate).zip(parts(&two.estimate)) {
            assert!((one.value - two.value).value().abs() < 1e-3, "{seed}: {one:?} {two:?}");
            assert!(one.low <= one.value && one.value <= one.high);
            assert!(one.sd.value() > 0.0 && one.sd.value().is_finite());
        }
        let each: Vec<_> = (0..log.len()).collect();
        let share = two.gross_share;
        let gain = cross_validate_with_outliers(&links(&log), &each, &priors(), 5, share).unwrap();
        assert!(gain.gain.is_finite());
    });
    let none = robust(&[]);
    assert!(none.chances.is_empty() && none.estimate.reports == 0);
    assert!(cross_validate_with_outliers(&[], &[], &priors(), 5, 1.0).is_err());
}

/// The body at the other end counts as that of the radio itself.
#[test]
fn both_bodies_of_a_link_between_radios_count() {
    let level = |carry, far_carry, excess: f64| LinkReport {
        observation: Observation {
            carry,
            evidence: Evidence::Level { excess: Db::new(excess), spread: Db::new(1.0) },
            ..works(0, None, 10.0, true)
        },
        far_carry,
    };
    let one = vec![level(Some(0), None, -3.0); 30];
    let far = vec![level(None, Some(0), -3.0); 30];
    let both = vec![level(Some(0), Some(0), -6.0); 30];
    let body = |log: &[LinkReport]| {
        let part = estimate_with_outliers(log, &priors()).unwrap().estimate.bodies[0];
        assert_eq!(part.informed_by, 30);
        part.value.value()
    };
    assert!((body(&one) - body(&far)).abs() < 1e-9);
    // Twice in a report it bears on it twice as much, so less is left to the offset.
    assert!(body(&both) > body(&one) && body(&both) < 3.0, "{} {}", body(&both), body(&one));
    let stranger = level(None, Some(9), 0.0);
    assert!(estimate_with_outliers(&[stranger], &priors()).is_err());
}
