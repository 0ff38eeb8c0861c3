use std::path::Path;
use std::sync::atomic::AtomicBool;
use std::time::Instant;

use geo::{Area, MultiPolygon, Validation};
use perchline::coverage::{Coverage, cover};
use perchline::link::{LinkModel, Propagator, Terminal};
use perchline::report::geojson;
use perchline::report::outbox::Outbox;
use perchline::report::outputs::{SITE_MAP, put_all};
use perchline::units::{Db, Position};

use super::town::{ferry, town};
use crate::support::open_plan;

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

/// The map of the sample's car park on the cells of its plan.
fn sample() -> Coverage {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let (plan, terrain) = open_plan(&root.join("sample-terrain/ferry-lights.toml"));
    let grid = terrain.grid().coarser(plan.map.cell.unwrap()).unwrap();
    let (channel, site) = (&plan.channels[0], plan.sites.iter().find(|s| s.name == "Car park"));
    let station = Terminal::at_site(&plan, channel, site.unwrap(), &terrain).unwrap();
    let carried = Terminal::anywhere(&plan, channel, None, site.unwrap().at);
    let model = LinkModel::new(&plan, channel, &station, &carried);
    let propagator = Propagator::new(&plan.prediction);
    cover(&terrain, &grid, &model, &propagator, &|| {}, &AtomicBool::new(false)).unwrap()
}

/// Which of a row's cells have their centre in these polygons: the even-odd rule on the
/// grid's own cells.
fn held(rings: &[Vec<(f64, f64)>], row: usize, columns: usize) -> Vec<bool> {
    let y = row as f64 + 0.5;
    let mut crossings: Vec<f64> = rings
        .iter()
        .flat_map(|ring| ring.windows(2))
        .filter(|ends| (ends[0].1 <= y) != (ends[1].1 <= y))
        .map(|ends| {
            let [(x, from), (end, to)] = [ends[0], ends[1]];
            x + (y - from) / (to - from) * (end - x)
        })
        .collect();
    crossings.sort_by(f64::total_cmp);
    let before = |column: usize| crossings.partition_point(|x| *x < column as f64 + 0.5);
    (0..columns).map(|column| before(column) % 2 == 1).collect()
}

#[test]
fn the_samples_classes_are_valid_and_each_holds_its_own_cells() {
    let coverage = sample();
    let (rows, columns) = coverage.outcome.dim();
    let projector = coverage.grid.projector().unwrap();
    let grounds = geojson::coverage_polygons(&coverage).unwrap();
    for (outcome, ground) in &grounds {
        assert!(ground.is_valid(), "{outcome:?}: {:?}", ground.check_validation());
        let rings: Vec<Vec<(f64, f64)>> = ground
            .iter()
            .flat_map(|p| std::iter::once(p.exterior()).chain(p.interiors()))
            .map(|ring| {
                let places: Vec<Position> =
                    ring.points().map(|p| Position::from_point(p).unwrap()).collect();
                projector.to_many_cells(&places).unwrap()
            })
            .collect();
        for row in 0..rows {
            let own: Vec<bool> = coverage.outcome.row(row).iter().map(|o| o == outcome).collect();
            assert_eq!(held(&rings, row, columns), own, "{outcome:?} in row {row}");
        }
    }
    // Together they are the map. Its rim has corners where classes meet it and where the
    // projection bends it: as a whole it has fewer, and runs some millimetres beside.
    let mut whole = coverage.clone();
    whole.outcome.fill(grounds[0].0);
    let whole: &MultiPolygon = &geojson::coverage_polygons(&whole).unwrap()[0].1;
    let total: f64 = grounds.iter().map(|(_, ground)| ground.unsigned_area()).sum();
    approx::assert_relative_eq!(total, whole.unsigned_area(), max_relative = 1e-5);
}

/// The file is written without the library that makes the collection.
#[test]
fn the_file_says_what_the_collection_says() {
    let town = ferry(14);
    let folder = tempfile::tempdir().unwrap();
    let mut outbox = Outbox::open(folder.path()).unwrap();
    put_all(&mut outbox, &SITE_MAP, "map", &town.content()).unwrap();
    outbox.deliver().unwrap();
    let text = std::fs::read_to_string(folder.path().join("map.geojson")).unwrap();
    let read = |text: &str| text.parse::<::geojson::FeatureCollection>().unwrap();
    let collection = geojson::map_features(&town.content()).unwrap();
    assert_eq!(read(&text), read(&collection.to_string()));
}
