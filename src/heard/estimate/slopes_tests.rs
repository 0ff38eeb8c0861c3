//! Gradient and Hessian against differences.

use nalgebra::{Cholesky, DMatrix, DVector};
use proptest::prelude::*;

use super::observation::{Evidence, LinkReport, Observation};
use super::priors::{Prior, Priors, SigmaPrior};
use super::problem::Problem;
use perchline_units::Db;

fn evidence() -> impl Strategy<Value = Evidence> {
    let bound = || prop::option::of((-25.0..25.0).prop_map(Db::new));
    prop_oneof![
        any::<bool>().prop_map(Evidence::Works),
        ((-25.0..25.0), (0.05..30.0)).prop_map(|(low, width)| Evidence::Between {
            low: Some(Db::new(low)),
            high: Some(Db::new(low + width)),
        }),
        bound().prop_map(|low| Evidence::Between { low, high: None }),
        bound().prop_map(|high| Evidence::Between { low: None, high }),
        ((-25.0..25.0), (0.0..5.0)).prop_map(|(excess, spread)| Evidence::Level {
            excess: Db::new(excess),
            spread: Db::new(spread),
        }),
    ]
}

fn report() -> impl Strategy<Value = LinkReport> {
    let carry = || prop::option::of(0usize..2);
    (0usize..2, [carry(), carry()], -30.0..30.0, 0.0..6.0, evidence()).prop_map(
        |(class, [carry, far_carry], margin, local, evidence)| LinkReport {
            observation: Observation {
                class,
                carry,
                margin: Db::new(margin),
                local: Db::new(local),
                evidence,
            },
            far_carry,
        },
    )
}

/// Without gross errors, and with a share of them.
fn gross() -> impl Strategy<Value = f64> {
    prop_oneof![Just(0.0), 0.001..0.4f64]
}

fn priors() -> Priors {
    let prior = |mean, sd| Prior { mean: Db::new(mean), sd: Db::new(sd) };
    Priors {
        offsets: vec![prior(1.0, 4.0), prior(-2.0, 3.0)],
        bodies: vec![prior(0.0, 3.0), prior(0.0, 2.0)],
        sigma: SigmaPrior { median: Db::new(5.6), ln_sd: 0.3 },
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..<_>::default() })]

    /// Source: central differences of fourth order.
    #[test]
    fn slopes_are_those_of_the_value(
        reports in prop::collection::vec(report(), 0..12),
        at in prop::array::uniform4(-8.0..8.0f64),
        log in 0.5..2.5f64,
        gross in gross(),
    ) {
        let problem = Problem::of(&reports, &priors()).with_gross(gross);
        let at = DVector::from_iterator(5, at.into_iter().chain([log]));
        let slopes = problem.slopes(&at);
        prop_assert!((slopes.value - problem.value(&at)).abs() <= 1e-12 * slopes.value.abs());
        let step = 1e-3;
        for i in 0..5 {
            let there = |by: f64| {
                let mut at = at.clone();
                at[i] += by * step;
                at
            };
            let slope = |one: f64, two: f64| (8.0 * one - two) / (12.0 * step);
            let rise = |by: f64| problem.value(&there(by)) - problem.value(&there(-by));
            let found = slope(rise(1.0), rise(2.0));
            let near = 1e-6 * (1.0 + slopes.value.abs());
            prop_assert!((found - slopes.gradient[i]).abs() < near, "{i}: {found} {slopes:?}");
            for j in 0..5 {
                let slope_of = |by: f64| problem.slopes(&there(by)).gradient[j];
                let rise = |by: f64| slope_of(by) - slope_of(-by);
                let found = slope(rise(1.0), rise(2.0));
                let right = slopes.hessian[(i, j)];
                prop_assert!((found - right).abs() < near, "{i} {j}: {found} {right}");
            }
        }
    }

    /// Source: central differences of fourth order, along any way through the
    /// parameters.
    #[test]
    fn the_determinant_grows_as_its_slope_says(
        reports in prop::collection::vec(report(), 0..12),
        at in prop::array::uniform4(-8.0..8.0f64),
        moves in prop::array::uniform4(-2.0..2.0f64),
        log in 0.5..2.5f64,
        gross in gross(),
    ) {
        let problem = Problem::of(&reports, &priors()).with_gross(gross);
        let at = DVector::from_iterator(5, at.into_iter().chain([log]));
        let along = DVector::from_iterator(5, moves.into_iter().chain([1.0]));
        let information = |by: f64| -> DMatrix<f64> {
            let slopes = problem.slopes(&(&at + &along * by));
            -slopes.hessian.view((0, 0), (4, 4)).into_owned()
        };
        // Gross errors can turn the curvature around, far from any top.
        let inverse = Cholesky::new(information(0.0)).map(|factor| factor.inverse());
        prop_assert!(inverse.is_some() || gross > 0.0);
        let Some(inverse) = inverse.filter(|inverse| inverse.amax() < 100.0) else {
            return Ok(());
        };
        let moves = along.rows(0, 4).into_owned();
        let right = problem.log_det_slope(&at, &inverse, &moves);
        // The steeper, the nearer is the place where the determinant is zero, around
        // which differences are off by the fourth power of the step over its distance.
        let step = 1e-3 / right.abs().max(1.0);
        let rise = |by: f64| (information(by * step).determinant() / information(-by * step).determinant()).ln();
        let found = (8.0 * rise(1.0) - rise(2.0)) / (12.0 * step);
        prop_assert!((found - right).abs() < 1e-6 * (1.0 + right.abs()), "{found} {right}");
    }
}
