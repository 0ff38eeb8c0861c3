//! Which test calls teach the most.

use approx::assert_abs_diff_eq;
use perchline::heard::estimate::{
    Candidate, Priors, estimate, expected_information, plan_tests, variance_after,
};
use perchline::units::Db;

use super::made::{Made, prior, priors};

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
