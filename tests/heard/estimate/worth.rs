//! Whether corrections help, and how good predictions were.

use approx::assert_abs_diff_eq;
use perchline::heard::estimate::{
    Verdict, calibration_curve, cross_validate, cross_validate_by_group, wilson,
};
use rayon::prelude::*;

use super::made::{Made, priors};

#[test]
fn corrections_are_worth_it_where_the_model_is_off_and_not_where_it_is_right() {
    let priors = priors();
    let mut made = Made::new(7);
    let right: Vec<_> = vec![0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 5.6f64.ln()];
    let off = vec![6.0, -7.0, 5.0, -4.0, 3.0, -2.0, 2.0, 7f64.ln()];
    let log = made.log(&off, 150);
    let found = cross_validate(&log, &priors, 10).unwrap();
    assert!(found.worth() && found.gain > 0.1, "{found:?}");
    assert_abs_diff_eq!(found.gain, found.with - found.without, epsilon = 1e-12);
    assert_eq!(found, cross_validate(&log, &priors, 10).unwrap());
    let few = cross_validate(&log[..12], &priors, 10).unwrap();
    assert_eq!(few.verdict, Verdict::TooFew { have: 12, want: 30 });
    let none = cross_validate(&[], &priors, 10).unwrap();
    assert_eq!((none.verdict, none.gain), (Verdict::TooFew { have: 0, want: 30 }, 0.0));
    assert!(cross_validate(&log, &priors, 1).is_err());
    // Where the published values are right, corrections can only harm.
    let worth = (0..100u64).into_par_iter().filter(|seed| {
        let log = Made::new(*seed).log(&right, 100);
        cross_validate(&log, &priors, 5).unwrap().worth()
    });
    let worth = worth.count();
    println!("published values right: corrections judged worth it in {worth} of 100 logs");
    assert!(worth < 10, "{worth}");
}

/// The same report over and over is one report: its group says so.
#[test]
fn repeated_reports_count_once_where_their_group_says_so() {
    let priors = priors();
    let mut made = Made::new(3);
    let off = vec![6.0, -7.0, 5.0, -4.0, 3.0, -2.0, 2.0, 7f64.ln()];
    let log: Vec<_> = made.log(&off, 20).into_iter().flat_map(|report| [report; 5]).collect();
    let groups: Vec<_> = (0..100).map(|report| report / 5).collect();
    let alone = cross_validate(&log, &priors, 10).unwrap();
    let grouped = cross_validate_by_group(&log, &groups, &priors, 10).unwrap();
    assert_eq!(grouped.verdict, Verdict::TooFew { have: 20, want: 30 });
    assert!(grouped.gain < alone.gain && grouped.gain_sd > alone.gain_sd, "{grouped:?} {alone:?}");
}

#[test]
fn the_curve_counts_what_worked_by_what_was_predicted() {
    let mut made = Made::new(11);
    let (mut predicted, mut worked) = (vec![0.0, 1.0], vec![false, true]);
    for _ in 0..4000 {
        let p = made.between(0.0, 1.0);
        predicted.push(p);
        worked.push(made.between(0.0, 1.0) < p);
    }
    let curve = calibration_curve(&predicted, &worked).unwrap();
    assert_eq!(curve.bins.len(), 11);
    assert_eq!(curve.bins.iter().map(|bin| bin.reports).sum::<usize>(), 4002);
    let held =
        curve.bins.iter().filter(|bin| bin.low <= bin.predicted && bin.predicted <= bin.high);
    assert!(held.count() >= 9, "{curve:?}");
    let nine = curve.bins[9];
    assert_eq!((nine.from, nine.to), (0.85, 0.95));
    assert_eq!((nine.low, nine.high), wilson(nine.worked, nine.reports));
    let line = curve.line.unwrap();
    for (found, (sd, right)) in
        line.coefficients.iter().zip(line.standard_errors.iter().zip([0.0, 1.0]))
    {
        assert!((found - right).abs() < 3.0 * sd, "{line:?}");
    }
    // Reports of one kind tell no line, but still fill a bin.
    let curve = calibration_curve(&[0.9, 0.92], &[true, true]).unwrap();
    assert_eq!((curve.bins.len(), curve.line), (1, None));
    assert!(calibration_curve(&[], &[]).unwrap().bins.is_empty());
    assert!(calibration_curve(&[1.1], &[true]).is_err());
    assert!(calibration_curve(&[0.5], &[]).is_err());
}
