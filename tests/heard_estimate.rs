//! What is estimated from reports: against other programs, and against logs
//! that were made up from a known truth.

#![allow(clippy::unwrap_used, clippy::panic)]

use approx::assert_abs_diff_eq;
use perchline::heard::estimate::{
    Candidate, Estimate, EstimateError, Evidence, Observation, Part, Prior, Priors, SigmaPrior,
    Verdict, bias_and_spread, calibration_curve, cross_validate, cross_validate_by_group, estimate,
    expected_information, plan_tests, probit, variance_after, wilson,
};
use perchline::units::Db;
use proptest::prelude::*;
use rand_distr::{Distribution, StandardNormal};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng, SeedableRng};
use rayon::prelude::*;

fn reference(name: &str) -> csv::Reader<std::fs::File> {
    let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path).unwrap()
}

fn prior(mean: f64, sd: f64) -> Prior {
    Prior { mean: Db::new(mean), sd: Db::new(sd) }
}

/// What a plan may hold: four classes, three ways to carry.
fn priors() -> Priors {
    Priors {
        offsets: vec![prior(0.0, 4.0); 4],
        bodies: vec![prior(0.0, 3.0); 3],
        sigma: SigmaPrior { median: Db::new(5.6), ln_sd: 0.25 },
    }
}

/// Made-up reports, from a seed.
struct Made(Pcg64Mcg);

impl Made {
    fn new(seed: u64) -> Self {
        Self(Pcg64Mcg::seed_from_u64(seed))
    }

    fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.0.next_u64() >> 11) as f64 / (1u64 << 53) as f64
    }

    fn below(&mut self, count: usize) -> usize {
        self.between(0.0, count as f64) as usize
    }

    /// Offsets, bodies and ln sigma as the priors have them.
    fn truth(&mut self, priors: &Priors) -> Vec<f64> {
        let linear: Vec<_> = priors.offsets.iter().chain(&priors.bodies).copied().collect();
        let mut truth: Vec<_> =
            linear.iter().map(|p| p.mean.value() + p.sd.value() * self.normal()).collect();
        truth.push(priors.sigma.median.value().ln() + priors.sigma.ln_sd * self.normal());
        truth
    }

    fn report(&mut self, truth: &[f64]) -> Observation {
        let (class, carry) = (self.below(4), self.below(4).checked_sub(1));
        let (margin, local) = (self.between(-15.0, 25.0), [0.0, 0.0, 2.0, 4.0][self.below(4)]);
        let shift = truth[class] - carry.map_or(0.0, |carry| truth[4 + carry]);
        let y = margin + shift + truth[7].exp().hypot(local) * self.normal();
        let evidence = match self.below(20) {
            0..12 => Evidence::Works(y > 0.0),
            // Heard with noise, well, or without any.
            12..17 => {
                let cuts = [None, Some(-6.0), Some(0.0), Some(7.0), Some(14.0), None];
                let bound = |at: usize| cuts[at].map(Db::new);
                let at = (1..5).take_while(|at| cuts[*at].is_some_and(|cut| y > cut)).count();
                Evidence::Between { low: bound(at), high: bound(at + 1) }
            }
            _ => {
                let spread = [1.0, 3.0][self.below(2)];
                let excess = y - margin + spread * self.normal();
                Evidence::Level { excess: Db::new(excess), spread: Db::new(spread) }
            }
        };
        let (margin, local) = (Db::new(margin), Db::new(local));
        Observation { class, carry, margin, local, evidence }
    }

    fn log(&mut self, truth: &[f64], reports: usize) -> Vec<Observation> {
        (0..reports).map(|_| self.report(truth)).collect()
    }
}

fn parts(found: &Estimate) -> impl Iterator<Item = Part> + '_ {
    found.offsets.iter().chain(&found.bodies).chain([&found.sigma]).copied()
}

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

#[derive(serde::Deserialize)]
struct Row {
    case: String,
    what: String,
    class: usize,
    carry: Option<usize>,
    margin: Option<f64>,
    local: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    excess: Option<f64>,
    spread: Option<f64>,
    value: Option<f64>,
    sd: Option<f64>,
}

impl Row {
    fn report(&self) -> Observation {
        let evidence = match self.what.as_str() {
            "works" => Evidence::Works(true),
            "fails" => Evidence::Works(false),
            "between" => {
                Evidence::Between { low: self.low.map(Db::new), high: self.high.map(Db::new) }
            }
            _ => Evidence::Level {
                excess: Db::new(self.excess.unwrap()),
                spread: Db::new(self.spread.unwrap()),
            },
        };
        let (margin, local) = (Db::new(self.margin.unwrap()), Db::new(self.local.unwrap()));
        Observation { class: self.class, carry: self.carry, margin, local, evidence }
    }
}

/// Source: scipy.optimize on the same posterior written anew,
/// `tests/reference/make_estimate.py`.
#[test]
fn values_and_deviations_are_scipys() {
    let rows: Vec<Row> = reference("estimate.csv").deserialize().map(|row| row.unwrap()).collect();
    let mut cases: Vec<_> = rows.iter().map(|row| row.case.clone()).collect();
    cases.dedup();
    assert_eq!(cases.len(), 4);
    let mut worst = 0.0f64;
    for case in cases {
        let of = |what: &str| {
            rows.iter().filter(|row| row.case == case && row.what == what).collect::<Vec<_>>()
        };
        let held: Vec<_> = of("prior")
            .iter()
            .map(|row| prior(row.value.unwrap(), row.sd.unwrap_or(f64::INFINITY)))
            .collect();
        let priors = Priors {
            offsets: held[..3].to_vec(),
            bodies: held[3..5].to_vec(),
            sigma: SigmaPrior { median: held[5].mean, ln_sd: held[5].sd.value() },
        };
        let log: Vec<_> = rows
            .iter()
            .filter(|row| row.case == case && !["prior", "fit"].contains(&row.what.as_str()))
            .map(Row::report)
            .collect();
        assert!(log.len() >= 70);
        let found = estimate(&log, &priors).unwrap();
        for (i, (part, row)) in parts(&found).zip(of("fit")).enumerate() {
            assert_eq!(row.class, i);
            let sd = found.covariance[(i, i)].sqrt();
            for (found, right) in [(part.value.value(), row.value), (sd, row.sd)] {
                worst = worst.max((found - right.unwrap()).abs());
                assert_abs_diff_eq!(found, right.unwrap(), epsilon = 1e-6);
            }
        }
    }
    println!("\nfigure estimate_worst_db {worst:.1e} dB");
}

#[derive(serde::Deserialize)]
struct Four {
    what: String,
    a: f64,
    b: f64,
    c: f64,
    d: f64,
}

/// Source: statsmodels on the data of Spector and Mazzeo (1980),
/// `tests/reference/make_probit.py`.
#[test]
fn the_probit_regression_is_that_of_statsmodels() {
    let rows: Vec<Four> = reference("probit.csv").deserialize().map(|row| row.unwrap()).collect();
    let of = |what: &str| {
        let rows = rows.iter().filter(|row| row.what == what);
        rows.map(|row| vec![row.a, row.b, row.c, row.d]).collect::<Vec<_>>()
    };
    let data = of("data");
    assert_eq!(data.len(), 32);
    let x: Vec<_> = data.iter().map(|row| vec![1.0, row[0], row[1], row[2]]).collect();
    let y: Vec<_> = data.iter().map(|row| row[3] == 1.0).collect();
    let found = probit(&x, &y).unwrap();
    for (found, what) in
        [(&found.coefficients, "coefficients"), (&found.standard_errors, "standard_errors")]
    {
        for (found, right) in found.iter().zip(&of(what)[0]) {
            assert!((found - right).abs() < 1e-10 * right.abs(), "{what}: {found} {right}");
        }
    }
    assert_abs_diff_eq!(found.log_likelihood, of("log_likelihood")[0][0], epsilon = 1e-9);
}

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

#[derive(serde::Deserialize)]
struct Bounds {
    what: String,
    first: f64,
    second: f64,
    low: f64,
    high: f64,
}

/// Source: statsmodels' proportion_confint, scipy's t and chi2,
/// `tests/reference/make_intervals.py`.
#[test]
fn confidence_intervals_are_those_of_statsmodels_and_scipy() {
    let mut seen = 0;
    for row in reference("intervals.csv").deserialize() {
        let row: Bounds = row.unwrap();
        let n = row.first as usize;
        let (low, high) = if row.what == "wilson" {
            wilson(n, row.second as usize)
        } else {
            let values: Vec<_> = (0..n).map(|i| Db::new(((37 * i) % 11) as f64 - 4.2)).collect();
            let found = bias_and_spread(&values).unwrap();
            let interval = if row.what == "bias" { found.bias } else { found.spread };
            assert_abs_diff_eq!(interval.value.value(), row.second, epsilon = 1e-12);
            (interval.low.value(), interval.high.value())
        };
        for (found, right) in [(low, row.low), (high, row.high)] {
            let near = 1e-9 * (1.0 + right.abs());
            assert!((found - right).abs() < near, "{} {n}: {found} {right}", row.what);
        }
        seen += 1;
    }
    assert_eq!(seen, 46);
}

fn works(class: usize, carry: Option<usize>, margin: f64, works: bool) -> Observation {
    let (margin, local) = (Db::new(margin), Db::new(0.0));
    Observation { class, carry, margin, local, evidence: Evidence::Works(works) }
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

fn candidates(made: &mut Made, count: usize) -> Vec<Candidate> {
    let mut one = || Candidate {
        class: made.below(4),
        carry: made.below(4).checked_sub(1),
        margin: Db::new(made.between(-20.0, 20.0)),
        local: Db::new(made.between(0.0, 4.0)),
    };
    (0..count).map(|_| one()).collect()
}

/// All sets of `count` of `of`, as lists of indices.
fn sets(of: usize, count: usize) -> Vec<Vec<usize>> {
    (0u32..1 << of)
        .filter(|set| set.count_ones() as usize == count)
        .map(|set| (0..of).filter(|i| set >> i & 1 == 1).collect())
        .collect()
}

/// Source: all sets there are, each by inverting its information anew.
#[test]
fn greedy_tests_teach_nearly_as_much_as_the_best_set() {
    let priors = priors();
    let mut least = 1.0f64;
    for seed in 0..200u64 {
        let mut made = Made::new(seed);
        let truth = made.truth(&priors);
        let held = estimate(&made.log(&truth, 5), &priors).unwrap();
        let candidates = candidates(&mut made, 9);
        let gradient: Vec<_> = (0..8).map(|_| made.normal()).collect();
        let of = |set: &[usize]| set.iter().map(|i| candidates[*i]).collect::<Vec<_>>();
        let after = |set: &[usize]| variance_after(&of(set), &gradient, &held).unwrap();
        let by_inverse = |set: &[usize]| {
            let information = expected_information(&of(set), &held).unwrap();
            let before = nalgebra::DMatrix::from_fn(8, 8, |i, j| held.covariance[(i, j)]);
            let learnt = nalgebra::DMatrix::from_fn(8, 8, |i, j| information[(i, j)]);
            let g = nalgebra::DVector::from_column_slice(&gradient);
            let covariance = (before.try_inverse().unwrap() + learnt).try_inverse().unwrap();
            g.dot(&(covariance * &g))
        };
        for count in [1, 2, 3, 4] {
            let chosen = plan_tests(&candidates, &gradient, &held, count).unwrap();
            assert_eq!(chosen.len(), count);
            let best =
                sets(9, count).iter().map(|set| by_inverse(set)).fold(f64::INFINITY, f64::min);
            let (before, found) = (after(&[]), after(&chosen));
            assert_abs_diff_eq!(found, by_inverse(&chosen), epsilon = 1e-9 * before);
            let part = (before - found) / (before - best);
            assert!(part <= 1.0 + 1e-9);
            if count == 1 {
                assert!(part > 1.0 - 1e-9, "{seed}: {part}");
            }
            least = least.min(part);
        }
    }
    println!("\nfigure greedy_tests_least_percent {:.1} % of the best set's gain", 100.0 * least);
    assert!(least > 0.9, "{least}");
}

/// Source: Fisher's information of a probit by hand.
#[test]
fn a_call_at_even_odds_says_what_it_says_by_hand_and_a_sure_one_nothing() {
    let priors = Priors { offsets: vec![prior(0.0, 4.0)], bodies: vec![], ..priors() };
    let held = estimate(&[], &priors).unwrap();
    let call = Candidate { class: 0, carry: None, margin: Db::new(0.0), local: Db::new(0.0) };
    let found = expected_information(&[call], &held).unwrap();
    // At even odds: phi(0)² / (1/2)² / sigma² = (2 / pi) / sigma², and nothing
    // of sigma.
    let by_hand = std::f64::consts::FRAC_2_PI / (5.6 * 5.6);
    assert_abs_diff_eq!(found[(0, 0)], by_hand, epsilon = 1e-12);
    assert_abs_diff_eq!(found[(1, 1)], 0.0, epsilon = 1e-12);
    // A call whose outcome is certain says nothing, and is not made.
    let sure = Candidate { margin: Db::new(500.0), ..call };
    assert_eq!(plan_tests(&[sure, call, call], &[1.0, 0.0], &held, 3).unwrap(), [1, 2]);
    assert!(plan_tests(&[call], &[1.0], &held, 1).is_err());
    let stranger = Candidate { class: 1, ..call };
    assert!(plan_tests(&[stranger], &[1.0, 0.0], &held, 1).is_err());
}
