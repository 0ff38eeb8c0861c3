//! What the tiles of national elevation sets are called that are cut along a national
//! grid: their names follow from the position alone. The forms of the names are from
//! memory; the grids are those of the surveys' own coordinate systems.

use gdal::spatial_ref::CoordTransform;

use super::Extent;
use super::grid::spatial_ref;

/// The most tiles of one set that are named.
const MOST_NAMED: usize = 6;

/// A set of tiles in squares of a national grid.
struct National {
    country: &'static str,
    /// A rectangle around the country: south, north, west, east. A place in it may lie
    /// in a neighbour's.
    around: [f64; 4],
    squares: Squares,
}

/// How a set cuts its squares.
enum Squares {
    /// Of so many metres in a projected system, named by their south-western corner.
    Metres { crs: &'static str, side: f64, name: fn(f64, f64) -> Option<String> },
    /// Of 5' by 7.5', named by their south-western corner.
    Minutes { name: fn(f64, f64) -> Option<String> },
}

/// The sets.
const SETS: [National; 4] = [
    National {
        country: "Great Britain",
        around: [49.8, 60.9, -8.7, 1.8],
        squares: Squares::Metres { crs: "EPSG:27700", side: 10_000.0, name: great_britain },
    },
    National {
        country: "Switzerland",
        around: [45.8, 47.9, 5.9, 10.6],
        squares: Squares::Metres { crs: "EPSG:2056", side: 1_000.0, name: switzerland },
    },
    National {
        country: "France",
        around: [41.3, 51.2, -5.2, 9.6],
        squares: Squares::Metres { crs: "EPSG:2154", side: 5_000.0, name: france },
    },
    National {
        country: "Japan",
        around: [24.0, 45.6, 122.9, 146.0],
        squares: Squares::Minutes { name: japan },
    },
];

/// The tiles of national sets that a rectangle needs, in words; nothing where none of
/// the known sets reaches.
pub(super) fn national_tiles(extent: Extent) -> Option<String> {
    let told: Vec<String> = SETS.iter().filter_map(|set| set.told(extent)).collect();
    (!told.is_empty()).then(|| told.join("; "))
}

impl National {
    fn told(&self, extent: Extent) -> Option<String> {
        let (low, high) = (extent.south_west, extent.north_east);
        let [south, north, west, east] = self.around;
        let middle = |a: f64, b: f64| f64::midpoint(a, b);
        let latitude = middle(low.latitude().value(), high.latitude().value());
        let longitude = middle(low.longitude().value(), high.longitude().value());
        if !(south..north).contains(&latitude) || !(west..east).contains(&longitude) {
            return None;
        }
        let names = self.squares.names(extent)?;
        let (country, count) = (self.country, names.len());
        let first = names.get(..count.min(MOST_NAMED))?.join(", ");
        Some(match count.saturating_sub(MOST_NAMED) {
            0 => format!("in {country} squares {first} of the national grid"),
            more => format!("in {country} squares {first} and {more} more of the national grid"),
        })
    }
}

impl Squares {
    /// The names of all squares that a rectangle touches, from the north-west; nothing
    /// where PROJ cannot place it or there are very many.
    fn names(&self, extent: Extent) -> Option<Vec<String>> {
        /// More squares than anybody downloads one by one.
        const MOST: f64 = 2_000.0;
        let (low, high) = (extent.south_west, extent.north_east);
        let (south, north) = (low.latitude().value(), high.latitude().value());
        let (west, east) = (low.longitude().value(), high.longitude().value());
        let mut x = [west, east, west, east];
        let mut y = [south, south, north, north];
        let (across, up, name) = match self {
            Self::Metres { crs, side, name } => {
                let earth = spatial_ref("EPSG:4326").ok()?;
                let to = CoordTransform::new(&earth, &spatial_ref(crs).ok()?).ok()?;
                to.transform_coords(&mut x, &mut y, &mut []).ok()?;
                (whole(&x, *side), whole(&y, *side), *name)
            }
            Self::Minutes { name } => (whole(&x, 7.5 / 60.0), whole(&y, 5.0 / 60.0), *name),
        };
        let (columns, rows) = (across.1 - across.0 + 1.0, up.1 - up.0 + 1.0);
        // A place that PROJ puts nowhere has no number of squares.
        if (columns * rows).is_nan() || columns * rows > MOST {
            return None;
        }
        let steps = |(first, last): (f64, f64)| {
            std::iter::successors(Some(first), move |at| (*at < last).then_some(at + 1.0))
        };
        let mut rows: Vec<f64> = steps(up).collect();
        rows.reverse();
        let names = rows.into_iter().flat_map(|row| steps(across).map(move |c| name(c, row)));
        let names: Vec<String> = names.flatten().collect();
        (!names.is_empty()).then_some(names)
    }
}

/// The numbers of the first and the last square along an axis.
fn whole(values: &[f64], side: f64) -> (f64, f64) {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    ((least / side).floor(), (most / side).floor())
}

/// Two letters and two digits, such as `TG51` (A guide to coordinate systems in Great
/// Britain, section 7). `None` off the grid, and west of the sea to Ireland.
fn great_britain(column: f64, row: f64) -> Option<String> {
    let on_grid = (0.0..70.0).contains(&column) && (0.0..130.0).contains(&row);
    // Ireland has a grid of its own: it lies west of Wales, and of Galloway in the north.
    let ireland = (10.0..60.0).contains(&row) && column < if row < 48.0 { 14.0 } else { 19.0 };
    if !on_grid || ireland {
        return None;
    }
    let (column, row) = (column as u32, row as u32);
    let (east, north) = (column / 10, row / 10);
    // Five by five squares of 500 km and of 100 km, lettered from the north-west without I.
    let letter = |across: u32, down: u32| {
        let number = down * 5 + across;
        let number = if number >= 8 { number + 1 } else { number };
        char::from_u32(u32::from(b'A') + number)
    };
    let first = letter(east / 5 + 2, 3_u32.checked_sub(north / 5)?)?;
    let second = letter(east % 5, 4 - north % 5)?;
    Some(format!("{first}{second}{}{}", column % 10, row % 10))
}

/// Kilometres east and north, such as `2600-1200`.
fn switzerland(column: f64, row: f64) -> Option<String> {
    Some(format!("{column:.0}-{row:.0}"))
}

/// Kilometres of the north-western corner, such as `0700_6605`.
fn france(column: f64, row: f64) -> Option<String> {
    (column >= 0.0).then(|| format!("{:04.0}_{:04.0}", column * 5.0, (row + 1.0) * 5.0))
}

/// Codes of squares of the first and the second order, such as `5339-46` (JIS X 0410).
fn japan(column: f64, row: f64) -> Option<String> {
    let (first_row, first_column) = ((row / 8.0).floor(), (column / 8.0).floor() - 100.0);
    let (second_row, second_column) = (row.rem_euclid(8.0), column.rem_euclid(8.0));
    Some(format!("{first_row:02.0}{first_column:02.0}-{second_row:.0}{second_column:.0}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_units::{Degrees, Position};

    fn around(latitude: f64, longitude: f64, half: f64) -> Extent {
        let at = |a, b| Position::new(Degrees::new(a), Degrees::new(b)).unwrap();
        Extent {
            south_west: at(latitude - half, longitude - half),
            north_east: at(latitude + half, longitude + half),
        }
    }

    #[test]
    fn squares_are_called_as_the_surveys_call_them() {
        // Worked example of A guide to coordinate systems in Great Britain, annexe C
        // (from memory): 651 409 m E, 313 177 m N is TG 51409 13177.
        assert_eq!(great_britain(65.0, 31.0).unwrap(), "TG51");
        // The false origin lies south-west of all of it, the last square in the north-east.
        assert_eq!(great_britain(40.0, 10.0).unwrap(), "SU00");
        assert_eq!(great_britain(32.0, 67.0).unwrap(), "NT27");
        assert_eq!(great_britain(44.0, 114.0).unwrap(), "HU44");
        assert_eq!(great_britain(70.0, 31.0), None);
        // The old observatory of Bern is 2 600 000 m E, 1 200 000 m N (swisstopo, from memory).
        let bern = national_tiles(around(46.952, 7.4400, 0.0005)).unwrap();
        assert!(bern.contains("in Switzerland squares 2600-1200 of"), "{bern}");
        // The origin of Lambert-93: 46.5° N, 3° E is 700 000 m E, 6 600 000 m N (EPSG:2154).
        let origin = national_tiles(around(46.51, 3.01, 0.0005)).unwrap();
        assert_eq!(origin, "in France squares 0700_6605 of the national grid");
        // The main station of Tokyo lies in 5339-46 (JIS X 0410, from memory).
        let tokyo = national_tiles(around(35.6812, 139.7671, 0.0005)).unwrap();
        assert_eq!(tokyo, "in Japan squares 5339-46 of the national grid");
    }

    #[test]
    fn squares_are_listed_from_the_north_west_and_counted() {
        let edinburgh = national_tiles(around(55.95, -3.20, 0.02)).unwrap();
        assert_eq!(edinburgh, "in Great Britain squares NT27 of the national grid");
        let wide = national_tiles(around(55.95, -3.20, 0.4)).unwrap();
        let listed = "in Great Britain squares NN91, NO01, NO11, NO21, NO31, NO41";
        assert!(wide.starts_with(listed) && wide.contains(" more of the"), "{wide}");
        // A border town is told of both sides.
        let basel = national_tiles(around(47.56, 7.59, 0.001)).unwrap();
        assert!(basel.contains("Switzerland") && basel.contains("France"), "{basel}");
        assert_eq!(national_tiles(around(46.99, -34.90, 0.05)), None);
        for (latitude, longitude) in [(53.35, -6.26), (54.60, -5.90), (51.90, -8.47)] {
            assert_eq!(national_tiles(around(latitude, longitude, 0.02)), None, "Ireland");
        }
    }
}
