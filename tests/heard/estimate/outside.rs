//! Against other programs.

use approx::assert_abs_diff_eq;
use perchline::heard::estimate::{
    Evidence, LinkReport, Observation, Priors, SigmaPrior, bias_and_spread, estimate,
    estimate_with_outliers, probit, wilson,
};
use perchline::units::Db;

use super::made::{parts, prior};

fn reference(name: &str) -> csv::Reader<std::fs::File> {
    let path = format!("{}/tests/reference/{name}", env!("CARGO_MANIFEST_DIR"));
    csv::Reader::from_path(path).unwrap()
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

/// Source: scipy.optimize on the posterior with gross errors written anew,
/// `tests/reference/make_outliers.py`.
#[test]
fn with_gross_errors_values_and_deviations_are_scipys_too() {
    let rows: Vec<Row> = reference("outliers.csv").deserialize().map(|row| row.unwrap()).collect();
    let mut cases: Vec<_> = rows.iter().map(|row| row.case.clone()).collect();
    cases.dedup();
    assert_eq!(cases, ["mixed", "levels", "calls"]);
    let mut worst = 0.0f64;
    let mut near = |found: f64, right: f64, within: f64| {
        worst = worst.max((found - right).abs());
        assert_abs_diff_eq!(found, right, epsilon = within);
    };
    for case in cases {
        let of = |what: &str| {
            rows.iter().filter(|row| row.case == case && row.what == what).collect::<Vec<_>>()
        };
        let held: Vec<_> =
            of("prior").iter().map(|row| prior(row.value.unwrap(), row.sd.unwrap())).collect();
        let priors = Priors {
            offsets: held[..3].to_vec(),
            bodies: held[3..5].to_vec(),
            sigma: SigmaPrior { median: held[5].mean, ln_sd: held[5].sd.value() },
        };
        let log: Vec<LinkReport> = rows
            .iter()
            .filter(|row| row.case == case && !["prior", "fit", "share"].contains(&&*row.what))
            .map(|row| row.report().into())
            .collect();
        assert!(log.len() >= 60);
        let found = estimate_with_outliers(&log, &priors).unwrap();
        let share = of("share")[0];
        near(found.gross_share, share.value.unwrap(), 1e-7);
        near(found.chances.iter().sum(), share.sd.unwrap(), 1e-6);
        for (i, (part, row)) in parts(&found.estimate).zip(of("fit")).enumerate() {
            near(part.value.value(), row.value.unwrap(), 1e-6);
            near(found.estimate.covariance[(i, i)].sqrt(), row.sd.unwrap(), 1e-6);
        }
    }
    println!("\nfigure outlier_estimate_worst_db {worst:.1e} dB");
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
