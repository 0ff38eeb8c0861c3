//! Terrain profiles: the way they take over the cells, and what they refuse.

use geo::{Geodesic, InterpolatePoint};
use ndarray::Array2;
use perchline::propagation::Profile;
use perchline::terrain::{CLOSEST, Grid, PlaceError, Terrain};
use perchline::units::{Degrees, Metres, Position};

fn at(latitude: f64, longitude: f64) -> Position {
    Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap()
}

/// Terrain whose height is its column or its row, in cells: bilinear heights
/// then are the way of the profile itself.
fn ruler(grid: &Grid, columns: bool) -> Terrain {
    let heights = Array2::from_shape_fn((grid.rows(), grid.columns()), |(row, column)| {
        (if columns { column } else { row }) as f32 + 0.5
    });
    Terrain::from_heights(grid.clone(), heights).unwrap()
}

/// The greatest distance in cells between the profile's way and the exact
/// geodesic, converted point by point.
fn worst_departure(grid: &Grid, from: Position, to: Position) -> f64 {
    let projector = grid.projector().unwrap();
    let profiles = [true, false].map(|columns| ruler(grid, columns).profile(from, to).unwrap());
    let [across, down] = &profiles;
    let mut worst = 0f64;
    for (i, distance) in across.distances().iter().enumerate() {
        let t = distance / across.length().value();
        let exact = Geodesic.point_at_ratio_between(from.point(), to.point(), t);
        let (column, row) = projector.to_cell(Position::from_point(exact).unwrap()).unwrap();
        let found = (across.heights()[i], down.heights()[i]);
        worst = worst.max((found.0 - column).hypot(found.1 - row));
    }
    worst
}

/// A square of `side` cells of `cell` units, centred on a place.
fn square(centre: Position, side: usize, cell: (f64, f64), crs: &str) -> Grid {
    let unit = Grid::new(1, 1, [0.0, 1.0, 0.0, 0.0, 0.0, 1.0], crs).unwrap();
    let (x, y) = unit.projector().unwrap().to_cell(centre).unwrap();
    let half = side as f64 / 2.0;
    let transform = [x - half * cell.0, cell.0, 0.0, y + half * cell.1, 0.0, -cell.1];
    Grid::new(side, side, transform, crs).unwrap()
}

#[test]
fn the_way_stays_within_two_hundredths_of_a_cell_over_50_km_at_60_north() {
    let middle = at(60.0, 25.0);
    // One arc second, and 30 m in UTM zone 35 (central meridian 27 E) two degrees off its middle.
    let second = square(middle, 3600, (1.0 / 3600.0, 1.0 / 3600.0), "EPSG:4326");
    let utm = square(middle, 1800, (30.0, 30.0), "EPSG:32635");
    for (grid, name) in [(second, "degrees"), (utm, "UTM")] {
        let mut worst = 0f64;
        for bearing in [0.0, 30.0, 75.0, 90.0, 120.0, 200.0, 290.0] {
            let from = middle.destination(Degrees::new(bearing + 180.0), Metres::new(25_000.0));
            let to = middle.destination(Degrees::new(bearing), Metres::new(25_000.0));
            worst = worst.max(worst_departure(&grid, from, to));
        }
        println!("figure profile_departure_{} {worst:.4} cell", name.to_lowercase());
        assert!(worst < 0.02, "{name}: {worst}");
    }
}

#[test]
fn points_are_equally_spaced_by_no_more_than_a_cell() {
    let grid = square(at(47.0, -34.9), 400, (10.0, 10.0), "EPSG:32625");
    let terrain = ruler(&grid, true);
    let (from, to) = (at(46.99, -34.91), at(47.005, -34.89));
    let profile = terrain.profile(from, to).unwrap();
    assert_eq!(profile.length(), from.distance(to));
    let step = profile.distances()[1];
    assert!(step <= terrain.spacing().value() && step > 0.95 * terrain.spacing().value());
    for pair in profile.distances().windows(2) {
        assert!((pair[1] - pair[0] - step).abs() < 1e-6);
    }
    let end = profile.heights().last().copied().unwrap();
    assert!((end - terrain.ground(to).unwrap().value()).abs() < 1e-6);
    // The way back is the same way.
    let back = terrain.profile(to, from).unwrap().reversed();
    for (there, here) in profile.heights().iter().zip(back.heights()) {
        assert!((there - here).abs() < 1e-3, "{there} {here}");
    }
}

#[test]
fn a_tracer_gives_what_a_single_profile_gives() {
    let grid = square(at(47.0, -34.9), 400, (10.0, 10.0), "EPSG:32625");
    let terrain = ruler(&grid, false);
    let from = at(47.0, -34.9);
    let mut tracer = terrain.tracer(from).unwrap();
    let mut profile = Profile::default();
    for (latitude, longitude) in [(47.005, -34.89), (46.99, -34.9), (46.999, -34.92)] {
        let to = at(latitude, longitude);
        tracer.trace(to, &mut profile).unwrap();
        assert_eq!(profile, terrain.profile(from, to).unwrap());
    }
    assert_eq!(tracer.ground(), terrain.ground(from).unwrap());
}

#[test]
fn short_paths_have_two_points_and_one_place_a_metre_of_level_ground() {
    let grid = square(at(47.0, -34.9), 40, (10.0, 10.0), "EPSG:32625");
    let terrain = ruler(&grid, true);
    let from = at(47.0, -34.9);
    let near = from.destination(Degrees::new(40.0), Metres::new(4.0));
    assert_eq!(terrain.profile(from, near).unwrap().len(), 2);
    let nearer = from.destination(Degrees::new(40.0), CLOSEST * 0.9);
    let ground = terrain.ground(from).unwrap().value();
    for to in [from, nearer] {
        let profile = terrain.profile(from, to).unwrap();
        assert_eq!(profile.distances(), [0.0, CLOSEST.value()]);
        assert_eq!(profile.heights(), [ground, ground]);
    }
}

#[test]
fn the_rim_belongs_to_the_terrain_and_nothing_beyond_it_does() {
    let grid = square(at(47.0, -34.9), 40, (10.0, 10.0), "EPSG:32625");
    let terrain = ruler(&grid, true);
    let projector = grid.projector().unwrap();
    let place = |column, row| projector.to_position(column, row).unwrap();
    // In the outer half of the outermost cells the outermost centre holds.
    assert!((terrain.ground(place(0.1, 20.0)).unwrap().value() - 0.5).abs() < 1e-6);
    assert!((terrain.ground(place(39.9, 20.0)).unwrap().value() - 39.5).abs() < 1e-6);
    assert!((terrain.ground(place(17.25, 39.9)).unwrap().value() - 17.25).abs() < 1e-6);
    let beyond = terrain.ground(place(40.1, 20.0));
    assert!(matches!(beyond, Err(PlaceError::Outside { swapped: false, .. })));
    let across = terrain.profile(place(20.0, 20.0), place(20.0, 60.0));
    assert!(matches!(across, Err(PlaceError::Outside { .. })));
}

#[test]
fn a_gap_on_the_way_is_named_where_it_begins() {
    let grid = square(at(47.0, -34.9), 40, (10.0, 10.0), "EPSG:32625");
    let mut heights = Array2::from_elem((40, 40), 5.0f32);
    heights[(20, 30)] = f32::NAN;
    let terrain = Terrain::from_heights(grid.clone(), heights).unwrap();
    assert_eq!(terrain.gap_cells(), 1);
    let projector = grid.projector().unwrap();
    let place = |column, row| projector.to_position(column, row).unwrap();
    let Err(PlaceError::Gap { at }) = terrain.profile(place(5.5, 20.5), place(38.5, 20.5)) else {
        panic!("the gap was crossed");
    };
    let (column, row) = projector.to_cell(at).unwrap();
    // The first point with the void among its neighbours: past the centre of column 29.
    assert!((29.5..30.6).contains(&column) && (row - 20.5).abs() < 0.01, "{column} {row}");
    // On the centres of the neighbouring row the void has no weight.
    assert!((terrain.ground(place(30.5, 21.5)).unwrap().value() - 5.0).abs() < 1e-5);
}

#[test]
fn terrain_of_one_cell_is_flat() {
    let grid = square(at(47.0, -34.9), 1, (100.0, 100.0), "EPSG:32625");
    let terrain = Terrain::from_heights(grid.clone(), Array2::from_elem((1, 1), 9.0)).unwrap();
    let projector = grid.projector().unwrap();
    let (from, to) =
        (projector.to_position(0.1, 0.1).unwrap(), projector.to_position(0.9, 0.9).unwrap());
    assert!(terrain.profile(from, to).unwrap().heights().iter().all(|h| *h == 9.0));
}
