use super::*;
use geo::{Area as _, Validation, Winding};
use rand_pcg::Pcg64Mcg;
use rand_pcg::rand_core::{Rng as _, SeedableRng};

/// A raster of patches: noise that is smoothed this many times, in so many classes.
fn raster(
    rows: usize,
    columns: usize,
    smoothed: usize,
    classes: usize,
    seed: u64,
) -> Array2<Outcome> {
    let mut draws = Pcg64Mcg::seed_from_u64(seed);
    let mut field = Array2::from_shape_fn((rows, columns), |_| {
        (draws.next_u32() >> 8) as f64 / f64::from(1 << 24)
    });
    for _ in 0..smoothed {
        let old = field.clone();
        for ((row, column), value) in field.indexed_iter_mut() {
            let near = old.slice(ndarray::s![
                row.saturating_sub(1)..(row + 2).min(rows),
                column.saturating_sub(1)..(column + 2).min(columns)
            ]);
            *value = near.mean().unwrap();
        }
    }
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    field.iter().for_each(|v| (low, high) = (low.min(*v), high.max(*v)));
    field.mapv(|value| {
        let share = (value - low) / (high - low) * classes as f64;
        Outcome::ALL[(share as usize).min(classes - 1)]
    })
}

/// Many rasters of every kind: noise and patches, two classes and six, one cell and many.
fn rasters() -> impl Iterator<Item = Array2<Outcome>> {
    let sizes = [(1, 1), (1, 7), (5, 1), (2, 2), (3, 3), (9, 14), (40, 31), (70, 90)];
    sizes.into_iter().flat_map(|(rows, columns)| {
        (0..6).flat_map(move |smoothed| {
            [2, 3, 6].into_iter().map(move |classes| {
                raster(rows, columns, smoothed, classes, (rows * 7 + smoothed * 3 + classes) as u64)
            })
        })
    })
}

fn in_cells(outcome: &Array2<Outcome>) -> Vec<(Outcome, MultiPolygon)> {
    let borders = Borders::of(outcome);
    let places: Vec<Coord> = borders.points().iter().map(|(x, y)| Coord { x: *x, y: *y }).collect();
    borders.polygons(&places, false)
}

/// Which polygons hold the centres of a row's cells, by the even-odd rule.
fn held(ground: &MultiPolygon, row: usize, columns: usize) -> Vec<bool> {
    let y = row as f64 + 0.5;
    let mut crossings: Vec<f64> = Vec::new();
    for polygon in ground {
        for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
            for line in ring.lines().filter(|l| (l.start.y <= y) != (l.end.y <= y)) {
                crossings.push(line.start.x + (y - line.start.y) / line.dy() * line.dx());
            }
        }
    }
    (0..columns)
        .map(|c| crossings.iter().filter(|x| **x < c as f64 + 0.5).count() % 2 == 1)
        .collect()
}

#[test]
fn every_class_is_valid_and_holds_the_centres_of_its_cells_and_no_others() {
    for outcome in rasters() {
        let (rows, columns) = outcome.dim();
        let grounds = in_cells(&outcome);
        let mut area = 0.0;
        for (class, ground) in &grounds {
            assert!(ground.is_valid(), "{class:?}: {:?}", ground.check_validation());
            for polygon in ground {
                // With y downwards all is the other way round.
                assert!(
                    polygon.exterior().is_cw() && polygon.interiors().iter().all(Winding::is_ccw)
                );
            }
            for row in 0..rows {
                let own: Vec<bool> = outcome.row(row).iter().map(|there| there == class).collect();
                assert_eq!(
                    held(ground, row, columns),
                    own,
                    "{class:?} in row {row} of {outcome:?}"
                );
            }
            area += ground.unsigned_area();
        }
        approx::assert_relative_eq!(area, (rows * columns) as f64, max_relative = 1e-9);
        assert_eq!(
            grounds.len(),
            Outcome::ALL.iter().filter(|c| outcome.iter().any(|o| o == *c)).count()
        );
    }
}

/// With the sum of areas above: neither overlap nor hole.
#[test]
fn no_two_classes_overlap() {
    use geo::BooleanOps;
    for (smoothed, classes) in [(0, 2), (0, 6), (1, 3), (2, 6), (4, 4)] {
        let grounds = in_cells(&raster(30, 40, smoothed, classes, 5));
        for (index, (_, one)) in grounds.iter().enumerate() {
            for (_, other) in grounds.iter().skip(index + 1) {
                assert!(one.intersection(other).unsigned_area() < 1e-6);
            }
        }
    }
}

/// Each point of a line, and points between, against the sides of cells that part classes.
#[test]
fn no_line_is_farther_than_half_a_cell_from_the_border_along_the_cells() {
    for outcome in rasters() {
        let (rows, columns) = outcome.dim();
        let class = |row: isize, column: isize| {
            let (row, column) = (usize::try_from(row).ok()?, usize::try_from(column).ok()?);
            outcome.get((row, column)).copied()
        };
        let parts = |x: isize, y: isize, is_level: bool| {
            let other = if is_level { class(y - 1, x) } else { class(y, x - 1) };
            class(y, x) != other
        };
        let far = |x: f64, y: f64| {
            let mut least = f64::INFINITY;
            let (left, top) = (x.floor() as isize, y.floor() as isize);
            for down in -1..=1 {
                for right in -1..=1 {
                    let (cx, cy) = (left + right, top + down);
                    let along = |v: f64, from: isize| v - v.clamp(from as f64, from as f64 + 1.0);
                    if cx >= 0 && cx < columns as isize && parts(cx, cy, true) {
                        least = least.min(along(x, cx).hypot(y - cy as f64));
                    }
                    if cy >= 0 && cy < rows as isize && parts(cx, cy, false) {
                        least = least.min((x - cx as f64).hypot(along(y, cy)));
                    }
                }
            }
            least
        };
        for (_, ground) in in_cells(&outcome) {
            for polygon in &ground {
                for ring in std::iter::once(polygon.exterior()).chain(polygon.interiors()) {
                    for line in ring.lines() {
                        for part in 0..8 {
                            let share = f64::from(part) / 8.0;
                            let at = (
                                line.start.x + share * line.dx(),
                                line.start.y + share * line.dy(),
                            );
                            let distance = far(at.0, at.1);
                            assert!(distance <= 0.5 + 1e-9, "{at:?}: {distance} in {outcome:?}");
                        }
                    }
                }
            }
        }
    }
}

/// A straight border at any slope: few corners where its cells make up to 120.
#[test]
fn a_straight_border_takes_few_corners() {
    for (slope, most) in
        [(0.0, 5), (0.1, 14), (0.37, 20), (0.5, 14), (0.77, 20), (1.0, 8), (2.3, 18)]
    {
        let outcome = Array2::from_shape_fn((60, 60), |(row, column)| {
            let above = (row as f64) < 3.3 + slope * column as f64;
            if above { Outcome::Clear } else { Outcome::Patchy }
        });
        let borders = Borders::of(&outcome);
        let inner = |arc: &&Arc| arc.left != lattice::OUTSIDE && arc.right != lattice::OUTSIDE;
        let corners: Vec<usize> =
            borders.arcs.iter().filter(inner).map(|arc| arc.points.len()).collect();
        // Its ends and one every 16 cells among them.
        assert!(corners.len() == 1 && corners[0] <= most, "slope {slope}: {corners:?}");
    }
}

/// Where two classes cross the worse is joined through the corner and the better is apart.
#[test]
fn the_worse_class_is_joined_where_two_cross() {
    let [a, b] = [Outcome::Clear, Outcome::Patchy];
    for cells in [[[a, b], [b, a]], [[b, a], [a, b]]] {
        let grounds = in_cells(&Array2::from(cells.to_vec()));
        assert_eq!((grounds[0].0, grounds[0].1.0.len()), (a, 2));
        assert_eq!((grounds[1].0, grounds[1].1.0.len()), (b, 1));
    }
}
