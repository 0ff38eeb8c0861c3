//! Distances, bearings and destinations against the geographiclib package.

use std::path::Path;

use perchline::units::{Degrees, Metres, Position};

/// One geodesic: from, bearing there, length in metres, to.
struct Known {
    from: Position,
    bearing: f64,
    distance: f64,
    to: Position,
}

/// `tests/reference/geodesics.csv`; made anew by `make_geodesics.py` beside it.
fn table() -> Vec<Known> {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference/geodesics.csv");
    let rows: Vec<Known> = csv::ReaderBuilder::new()
        .comment(Some(b'#'))
        .from_path(file)
        .unwrap()
        .deserialize::<[f64; 6]>()
        .map(|row| {
            let [latitude, longitude, bearing, distance, latitude2, longitude2] = row.unwrap();
            let at = |latitude, longitude| {
                Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
            };
            Known {
                from: at(latitude, longitude),
                bearing,
                distance,
                to: at(latitude2, longitude2),
            }
        })
        .collect();
    assert_eq!(rows.len(), 250);
    rows
}

/// The aim is 0.1 %. The table's positions are rounded to 1e-12 degrees (0.1
/// micrometres), so what is left of 25 m is a few parts in 1e9.
#[test]
fn distances_agree_within_a_millionth() {
    let worst = table()
        .iter()
        .map(|k| (k.from.distance(k.to).value() / k.distance - 1.0).abs())
        .fold(0.0, f64::max);
    println!("figure geodesic_worst_percent {:.9} %", worst * 100.0);
    assert!(worst < 1e-6, "{worst}");
}

#[test]
fn bearings_agree_within_a_thousandth_of_a_degree() {
    for k in table() {
        let bearing = k.from.bearing(k.to).value();
        let apart = (bearing - k.bearing + 540.0).rem_euclid(360.0) - 180.0;
        assert!(apart.abs() < 1e-3, "{bearing} against {}", k.bearing);
        assert!((0.0..360.0).contains(&bearing));
    }
}

#[test]
fn destinations_agree_within_a_millimetre() {
    for k in table() {
        let end = k.from.destination(Degrees::new(k.bearing), Metres::new(k.distance));
        assert!(end.distance(k.to).value() < 1e-3, "{end:?} against {:?}", k.to);
    }
}
