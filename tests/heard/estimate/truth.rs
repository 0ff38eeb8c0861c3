//! Against the truth that logs were made up from.

use approx::assert_abs_diff_eq;
use perchline::heard::estimate::{
    EstimateError, Evidence, Observation, Priors, SigmaPrior, estimate,
};
use perchline::units::Db;
use proptest::prelude::*;
use rayon::prelude::*;

use super::made::{Made, parts, prior, priors, works};

/// Source: the truth that the reports were made from, drawn from the priors.
/// Seeds 0 to 499.
#[test]
fn intervals_hold_the_truth_as_often_as_they_say() {
    const RUNS: u64 = 500;
    let priors = priors();
    let runs: Vec<(Vec<bool>, f64)> = (0..RUNS)
        .into_par_iter()
        .map(|seed| {
            let mut made = Made::new(seed);
            let truth = made.truth(&priors);
            let reports = 60 + made.below(141);
            let found = estimate(&made.log(&truth, reports), &priors).unwrap();
            assert_eq!(found.reports, reports);
            assert!(found.slope < 1e-8, "{}", found.slope);
            let inside = parts(&found).zip(&truth).enumerate().map(|(i, (part, truth))| {
                let truth = if i == 7 { truth.exp() } else { *truth };
                (part.low.value()..=part.high.value()).contains(&truth)
            });
            let bias = found.offsets.iter().zip(&truth).map(|(p, t)| p.value.value() - t);
            (inside.collect(), bias.sum::<f64>() / 4.0)
        })
        .collect();
    let covered = |of: std::ops::Range<usize>| {
        let all = runs.iter().flat_map(|(inside, _)| &inside[of.clone()]);
        let (held, count) =
            all.fold((0, 0), |(held, n), inside| (held + usize::from(*inside), n + 1));
        100.0 * f64::from(u32::try_from(held).unwrap()) / f64::from(count)
    };
    for (kind, of) in [("offsets", 0..4), ("bodies", 4..7), ("sigma", 7..8), ("all", 0..8)] {
        println!("{kind}: {:.1} %", covered(of.clone()));
        assert!((92.0..=98.0).contains(&covered(of.clone())), "{kind}: {}", covered(of));
    }
    let bias = runs.iter().map(|(_, bias)| bias).sum::<f64>() / RUNS as f64;
    println!("\nfigure interval_coverage_percent {:.1} %", covered(0..8));
    println!("\nfigure calibration_bias_db {:.2} dB", bias.abs());
    assert!(bias.abs() < 0.15, "{bias}");
}

#[test]
fn without_reports_the_published_values_stand() {
    let found = estimate(&[], &priors()).unwrap();
    for part in parts(&found) {
        assert_abs_diff_eq!(part.value.value(), part.prior.value(), epsilon = 1e-12);
        assert_eq!(part.informed_by, 0);
    }
    assert_abs_diff_eq!(found.offsets[0].sd.value(), 4.0, epsilon = 1e-9);
    assert_abs_diff_eq!(found.sigma.high.value(), 5.6 * (0.25f64 * 1.96).exp(), epsilon = 1e-3);
}

/// What is drawn towards the published values stays near them until there is
/// enough to say otherwise. Ten calls predicted 6 dB over what they need, of
/// which five fail, speak by themselves for 6 dB more of body loss.
#[test]
fn ten_reports_against_a_published_value_move_it_only_a_little() {
    let log: Vec<_> = (0..10).map(|at| works(0, Some(0), 6.0, at % 2 == 0)).collect();
    let moved = |sd: f64| {
        let (offsets, bodies) = (vec![prior(0.0, 2.0)], vec![prior(0.0, sd)]);
        let found = estimate(&log, &Priors { offsets, bodies, ..priors() }).unwrap();
        found.bodies[0].value.value()
    };
    for sd in [1.0, 2.0, 3.0] {
        println!("body loss held to {sd} dB: moved by {:.2} dB of 6", moved(sd));
    }
    println!("\nfigure ten_contradictions_move_db {:.1} dB", moved(2.0));
    assert!((0.0..2.0).contains(&moved(2.0)), "{}", moved(2.0));
    // The firmer it is held, the less it moves.
    assert!(moved(1.0) < moved(2.0) && moved(2.0) < moved(3.0));
}

/// Ten failures at even odds are a chance of one in a thousand: they move what
/// is held, but never out of sight; with nothing held there is no answer.
#[test]
fn failures_alone_move_a_value_no_further_than_it_is_held() {
    let log: Vec<_> = (0..10).map(|_| works(0, None, 0.0, false)).collect();
    let with = |sd: f64| Priors { offsets: vec![prior(0.0, sd)], bodies: vec![], ..priors() };
    for sd in [1.0, 2.0, 4.0] {
        let moved = -estimate(&log, &with(sd)).unwrap().offsets[0].value.value();
        assert!(moved > sd && moved < 2.0 * sd, "{sd}: {moved}");
    }
    assert_eq!(estimate(&log, &with(f64::INFINITY)), Err(EstimateError::Open));
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..<_>::default() })]

    /// With sigma known the ln posterior is concave, and its negative Hessian
    /// an M-matrix with positive row sums, whose inverse is largest on the
    /// diagonal (A. Berman and R. Plemmons, Nonnegative Matrices in the
    /// Mathematical Sciences, chapter 6, from memory): one more call that worked
    /// lifts the offset of its class, and one that failed lowers it.
    #[test]
    fn one_more_call_that_works_never_lowers_its_offset(
        seed in 0u64..10_000, reports in 0usize..80, class in 0usize..4,
        carry in prop::option::of(0usize..3), margin in -60.0..60.0, worked: bool,
    ) {
        let mut made = Made::new(seed);
        let known = SigmaPrior { ln_sd: 1e-6, ..priors().sigma };
        let priors = Priors { sigma: known, ..priors() };
        let truth = made.truth(&priors);
        let mut log = made.log(&truth, reports);
        let before = estimate(&log, &priors).unwrap().offsets[class].value;
        log.push(works(class, carry, margin, worked));
        let after = estimate(&log, &priors).unwrap().offsets[class].value;
        let lift = if worked { after - before } else { before - after };
        prop_assert!(lift > Db::new(-1e-6), "{before} {after}");
    }

    /// Whatever is reported, a fit is found, and the order of reports and the
    /// size of the log change nothing in that.
    #[test]
    fn any_log_has_a_fit_and_its_order_is_all_one(
        seed in 0u64..10_000, reports in 0usize..60, wild in -900.0..900.0,
    ) {
        let mut made = Made::new(seed);
        let truth = made.truth(&priors());
        let mut log = made.log(&truth, reports);
        log.push(works(1, Some(2), wild, wild < 0.0));
        let one = estimate(&log, &priors()).unwrap();
        log.reverse();
        let two = estimate(&log, &priors()).unwrap();
        for (one, two) in parts(&one).zip(parts(&two)) {
            prop_assert!((one.value - two.value).value().abs() < 1e-7, "{one:?} {two:?}");
            prop_assert!(one.low <= one.value && one.value <= one.high);
            prop_assert!(one.sd.value() > 0.0 && one.sd.value().is_finite());
        }
    }
}

/// With sigma free it can be otherwise: a call that was all but certain to work
/// narrows sigma, which weighs the levels that speak against the published value
/// more. The offset then falls, though by little.
#[test]
fn with_sigma_free_a_call_that_works_lowers_its_offset_by_next_to_nothing() {
    let mut most = 0.0f64;
    for (sd, levels, excess) in [(1.0, 16, -6.0), (2.0, 16, -15.0), (4.0, 8, -15.0)] {
        let priors = Priors { offsets: vec![prior(0.0, sd)], bodies: vec![], ..priors() };
        let (excess, spread) = (Db::new(excess), Db::new(0.0));
        let level = Observation {
            evidence: Evidence::Level { excess, spread },
            ..works(0, None, 0.0, true)
        };
        let offset = |log: &[Observation]| estimate(log, &priors).unwrap().offsets[0].value;
        let before = offset(&vec![level; levels]);
        for margin in -20..40 {
            let mut log = vec![level; levels];
            log.push(works(0, None, f64::from(margin), true));
            most = most.max((before - offset(&log)).value());
        }
    }
    println!("one more call that works lowers its offset by {most:.3} dB at most");
    assert!(most > 1e-4 && most < 0.05, "{most}");
}
