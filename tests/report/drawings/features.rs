use std::time::Instant;

use perchline::report::geojson;
use perchline::units::Db;

use super::town::{ferry, town};

#[test]
fn the_collection_names_everything_on_the_map() {
    let mut town = ferry(14);
    town.site.posts[2].governing_margin_db = Some(Db::new(f64::NAN));
    let collection = geojson::map_features(&town.content()).unwrap();
    let count = |kind: &str| {
        collection.features.iter().filter(|f| f.property("kind").is_some_and(|k| k == kind)).count()
    };
    assert_eq!(count("post"), 14);
    assert_eq!((count("staging-area"), count("route"), count("site")), (2, 1, 1));
    assert_eq!(count("coverage"), 6);
    let post = |name: &str| {
        collection.features.iter().find(|f| f.property("name").is_some_and(|n| n == name)).unwrap()
    };
    assert!(post("First aid east").property("governing_margin_db").unwrap().is_null());
    let start = post("Start line");
    assert_eq!(start.property("talk_out_margin_db").unwrap(), 21.0);
    assert_eq!(start.property("outcome").unwrap(), "strong");
    // It reads back, unknown margins as null, and says what it was made with.
    let text = collection.to_string();
    let back: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(back["type"], "FeatureCollection");
    assert_eq!(back["provenance"]["method"], "delta-bullington");
    assert_eq!(back["channel"], "Event net");
    assert!(back.get("crs").is_none());
}

/// The full size of a plan: 12 by 9 km in cells of 10 m, speckled at the seams.
#[test]
fn a_million_cells_dissolve_in_seconds() {
    let mut town =
        town(1200, 900, [494_000.0, 10.0, 0.0, 4_004_500.0, 0.0, -10.0], "EPSG:32625", 1);
    let mut scatter = super::town::Scatter::new(3);
    let outcomes = town.coverage.outcome.clone();
    for ((row, column), outcome) in town.coverage.outcome.indexed_iter_mut() {
        if scatter.next() < 0.05 {
            let row = row.saturating_sub((scatter.next() * 12.0) as usize);
            let column = column.saturating_sub((scatter.next() * 12.0) as usize);
            *outcome = outcomes[(row, column)];
        }
    }
    let start = Instant::now();
    let collection = geojson::coverage_features(&town.coverage).unwrap();
    let seconds = start.elapsed().as_secs_f64();
    println!("{} bytes in {seconds:.1} s", collection.to_string().len());
    assert!(seconds < 20.0, "dissolving took {seconds:.1} s");
    assert_eq!(collection.features.len(), 6);
}
