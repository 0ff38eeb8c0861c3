//! What is refused.

use perchline::heard::estimate::{
    EstimateError, Evidence, Observation, Prior, Priors, SigmaPrior, cross_validate, estimate,
    probit,
};
use perchline::units::Db;

use super::made::{Made, prior, priors, works};

#[test]
fn a_regression_that_the_rows_leave_open_says_so() {
    let x = |at: f64| vec![1.0, at];
    let apart = [x(-2.0), x(-1.0), x(1.0), x(2.0)];
    assert_eq!(probit(&apart, &[false, false, true, true]), Err(EstimateError::Open));
    let same = [vec![1.0, 1.0], vec![1.0, 1.0], vec![1.0, 1.0]];
    assert_eq!(probit(&same, &[false, true, true]), Err(EstimateError::Open));
    assert!(probit(&apart, &[true]).is_err());
    assert!(probit(&[x(f64::NAN)], &[true]).is_err());
}

#[test]
fn where_nothing_is_held_reports_that_tell_too_little_are_refused() {
    let open = |offset: f64, ln_sd: f64, log: &[Observation]| {
        let sigma = SigmaPrior { ln_sd, ..priors().sigma };
        let priors = Priors { offsets: vec![prior(0.0, offset)], bodies: vec![], sigma };
        estimate(log, &priors) == Err(EstimateError::Open)
    };
    let level = Evidence::Level { excess: Db::new(3.0), spread: Db::new(0.0) };
    let levels = [Observation { evidence: level, ..works(0, None, 0.0, true) }; 3];
    let calls = [works(0, None, 5.0, true), works(0, None, -5.0, true)];
    let nothing = f64::INFINITY;
    assert!(open(nothing, 0.25, &[]) && open(nothing, 0.25, &calls));
    assert!(open(4.0, nothing, &[]) && open(4.0, nothing, &levels));
    assert!(!open(nothing, 0.25, &levels) && !open(4.0, 0.25, &calls));
    // Whether corrections help can still be asked where the rest tells enough.
    let mut made = Made::new(5);
    let held = Priors { offsets: vec![prior(0.0, nothing); 4], ..priors() };
    let truth = made.truth(&priors());
    assert!(cross_validate(&made.log(&truth, 150), &held, 10).unwrap().gain.is_finite());
}

#[test]
fn what_cannot_be_used_is_refused_by_report_and_reason() {
    let priors = priors();
    let refused = |report: Observation| {
        let log = [works(0, None, 1.0, true), report];
        estimate(&log, &priors).unwrap_err().to_string()
    };
    let good = works(0, None, 1.0, true);
    let between = |low: Option<f64>, high: Option<f64>| Observation {
        evidence: Evidence::Between { low: low.map(Db::new), high: high.map(Db::new) },
        ..good
    };
    let told = [
        (works(4, None, 1.0, true), "report 2: class number 4; there are 4"),
        (works(0, Some(3), 1.0, true), "report 2: way to carry number 3; there are 3"),
        (works(0, None, f64::NAN, true), "report 2: its margin is NaN dB"),
        (works(0, None, 1e9, true), "within 1000 dB of 0"),
        (Observation { local: Db::new(-1.0), ..good }, "report 2: its local spread is -1 dB"),
        (between(None, None), "report 2: a range of margins without a bound"),
        (between(Some(3.0), Some(3.0)), "report 2: margins from 3 dB to 3 dB"),
        (between(Some(f64::NAN), None), "report 2: its bound is NaN dB"),
    ];
    for (report, words) in told {
        assert!(refused(report).contains(words), "{}", refused(report));
    }
    let held = |held: Prior| Priors { offsets: vec![held], ..self::priors() };
    for wrong in [prior(f64::NAN, 1.0), prior(0.0, 0.0), prior(0.0, -1.0), prior(0.0, f64::NAN)] {
        let error = estimate(&[], &held(wrong)).unwrap_err();
        assert!(matches!(error, EstimateError::Prior { .. }), "{error}");
    }
}
