//! The probability that a link works both ways, against scipy.
//!
//! `tests/reference/both_ways.csv` is written by `tests/reference/make_both_ways.py`,
//! which holds the recipe.

use perchline::link::Spread;
use perchline::units::Db;

#[derive(serde::Deserialize)]
struct Row {
    talk_in: f64,
    talk_out: f64,
    correlation: f64,
    probability: f64,
    conditioned: f64,
}

/// Source: scipy.stats.multivariate_normal, and an integral over the shared
/// part by scipy.integrate.quad.
#[test]
fn the_probability_of_both_ways_is_scipys() {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/both_ways.csv");
    let rows: Vec<Row> =
        csv::Reader::from_path(file).unwrap().deserialize().map(|row| row.unwrap()).collect();
    assert_eq!(rows.len(), 270);
    let mut worst = 0.0f64;
    for row in rows {
        // In deviations: the same link whatever the spread.
        for deviation in [1.0, 5.6] {
            let spread = Spread::new(Db::new(deviation), row.correlation);
            let (talk_in, talk_out) =
                (Db::new(row.talk_in * deviation), Db::new(row.talk_out * deviation));
            for (a, b) in [(talk_in, talk_out), (talk_out, talk_in)] {
                let found = spread.both_ways(a, b);
                assert!((0.0..=1.0).contains(&found), "{found}");
                worst = worst.max((found - row.probability).abs());
                worst = worst.max((found - row.conditioned).abs());
            }
        }
    }
    println!("\nfigure both_ways_worst {worst:.1e} of 1");
    assert!(worst < 1e-12, "{worst}");
}
