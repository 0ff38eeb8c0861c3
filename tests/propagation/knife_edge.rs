//! Knife-edge loss against scipy's Fresnel integrals.
//!
//! `tests/reference/fresnel.csv` is written by `tests/reference/make_fresnel.py`,
//! which holds the recipe.

use perchline::propagation::knife_edge::{LEAST_NU, exact_loss, fresnel_integrals, loss};

#[derive(serde::Deserialize)]
struct Row {
    nu: f64,
    c: f64,
    s: f64,
    loss_db: f64,
}

fn reference() -> Vec<Row> {
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/reference/fresnel.csv");
    let rows: Vec<Row> =
        csv::Reader::from_path(file).unwrap().deserialize().map(|row| row.unwrap()).collect();
    assert_eq!((rows.len(), rows[0].nu, rows[832].nu), (833, -3.0, 10.0));
    rows
}

#[test]
fn the_integrals_and_the_exact_loss_match_scipy() {
    let (mut integrals, mut exact) = (0.0f64, 0.0f64);
    for row in reference() {
        let (c, s) = fresnel_integrals(row.nu);
        let off = exact_loss(row.nu).value() - row.loss_db;
        // A maximum passes over what is not a number.
        assert!(c.is_finite() && s.is_finite() && off.is_finite(), "at {}", row.nu);
        integrals = integrals.max((c - row.c).abs()).max((s - row.s).abs());
        exact = exact.max(off.abs());
    }
    println!("\nfigure fresnel_integrals_worst {integrals:.1e} 1");
    println!("\nfigure knife_edge_exact_worst_db {exact:.1e} dB");
    assert!(integrals < 1e-12, "{integrals}");
    assert!(exact < 1e-9, "{exact} dB");
}

/// P.526 gives J(nu) as an approximation from -0.78 up, without a tolerance;
/// below it takes the loss, which then swings about zero, for nothing.
#[test]
fn j_stays_close_to_scipy() {
    let (mut within, mut below, mut place) = (0.0f64, 0.0f64, 0.0);
    for row in reference() {
        let difference = (loss(row.nu).value() - row.loss_db).abs();
        assert!(difference.is_finite(), "at {}", row.nu);
        if row.nu <= LEAST_NU {
            assert_eq!(loss(row.nu).value(), 0.0);
            below = below.max(difference);
        } else if difference > within {
            (within, place) = (difference, row.nu);
        }
    }
    println!("\nfigure knife_edge_worst_db {within:.3} dB");
    println!("\nfigure knife_edge_worst_nu {place} 1");
    println!("\nfigure knife_edge_worst_below_limit_db {below:.3} dB");
    assert!(within < 0.15, "{within} dB at {place}");
    assert!(below < 1.4, "{below} dB");
}
