//! What the elevation tiles of a place are called in the sets that anybody may
//! use, and where a tile of such a name lies.

use std::fmt;

use super::Extent;
use super::national_tiles::national_tiles;

/// The most squares that are listed by name.
const MOST_NAMED: usize = 12;

/// A square of one degree, called by its south-western corner in whole degrees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct TileSquare {
    /// Latitude of its southern side.
    south: i32,
    /// Longitude of its western side.
    west: i32,
}

impl TileSquare {
    /// The squares that a rectangle touches, from the north-west.
    #[must_use]
    pub fn of(extent: Extent) -> Vec<Self> {
        let (low, high) = (extent.south_west, extent.north_east);
        // What ends on a side does not reach into the square beyond it.
        let whole = |low: f64, high: f64, first: i32, last: i32| {
            let low = (low.floor() as i32).clamp(first, last);
            let high = ((high.ceil() as i32) - 1).clamp(low, last);
            low..=high
        };
        let souths = whole(low.latitude().value(), high.latitude().value(), -90, 89);
        let wests = whole(low.longitude().value(), high.longitude().value(), -180, 179);
        let row = |south| wests.clone().map(move |west| Self { south, west });
        souths.rev().flat_map(row).collect()
    }

    /// The square that a file of one of the known names covers, its ending aside.
    ///
    /// Known are names with both numbers of the south-western corner (`N46W035`,
    /// `Copernicus_DSM_COG_10_N46_00_W035_00_DEM`) and those of the United States'
    /// set with the north-western one (`USGS_13_n47w035`).
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let name = name.to_ascii_lowercase();
        let (latitude, longitude) = name
            .char_indices()
            .filter(|(at, c)| {
                let before = name.get(..*at).and_then(|text| text.chars().next_back());
                matches!(c, 'n' | 's') && before.is_none_or(|c| !c.is_alphanumeric())
            })
            .find_map(|(at, _)| corner(name.get(at..)?))?;
        let south = if name.starts_with("usgs_") { latitude - 1 } else { latitude };
        let on_earth = (-90..90).contains(&south) && (-180..180).contains(&longitude);
        on_earth.then_some(Self { south, west: longitude })
    }

    /// Whether a file of this square's name may lie in a rectangle: sets differ in
    /// which corner names a square, so a degree on every side counts.
    pub(super) fn may_touch(self, extent: Extent) -> bool {
        let (south, west) = (f64::from(self.south), f64::from(self.west));
        let (low, high) = (extent.south_west, extent.north_east);
        south - 1.0 <= high.latitude().value()
            && south + 2.0 >= low.latitude().value()
            && west - 1.0 <= high.longitude().value()
            && west + 2.0 >= low.longitude().value()
    }

    /// The part of a rectangle inside the square, by its sides: south, north, west
    /// and east in degrees.
    pub(super) fn part_of(self, extent: Extent) -> [f64; 4] {
        let (south, west) = (f64::from(self.south), f64::from(self.west));
        let (low, high) = (extent.south_west, extent.north_east);
        [
            south.max(low.latitude().value()),
            (south + 1.0).min(high.latitude().value()),
            west.max(low.longitude().value()),
            (west + 1.0).min(high.longitude().value()),
        ]
    }

    /// Its name in the one-degree sets of the shuttle radar mission, such as
    /// `N46W035.hgt`.
    #[must_use]
    pub fn srtm(self) -> String {
        let (ns, ew) = self.sides();
        format!("{ns}{:02}{ew}{:03}.hgt", self.south.abs(), self.west.abs())
    }

    /// Its name in the global 30 m set, such as
    /// `Copernicus_DSM_COG_10_N46_00_W035_00_DEM.tif`.
    #[must_use]
    pub fn global_30(self) -> String {
        let (ns, ew) = self.sides();
        format!(
            "Copernicus_DSM_COG_10_{ns}{:02}_00_{ew}{:03}_00_DEM.tif",
            self.south.abs(),
            self.west.abs()
        )
    }

    /// Its name in the United States' set of a third of an arc second, such as
    /// `USGS_13_n41w106.tif`, which counts from the north-western corner; `None`
    /// where that set has nothing. From memory.
    #[must_use]
    pub fn united_states(self) -> Option<String> {
        /// Squares with land of the United States, roughly: south, north, west, east.
        const LAND: [[i32; 4]; 4] =
            [[24, 49, -125, -66], [51, 72, -180, -129], [18, 23, -161, -154], [17, 19, -68, -64]];
        let inside = |[south, north, west, east]: &[i32; 4]| {
            (*south..*north).contains(&self.south) && (*west..*east).contains(&self.west)
        };
        let north = self.south + 1;
        LAND.iter().any(inside).then(|| format!("USGS_13_n{north:02}w{:03}.tif", self.west.abs()))
    }

    fn sides(self) -> (char, char) {
        (if self.south < 0 { 'S' } else { 'N' }, if self.west < 0 { 'W' } else { 'E' })
    }
}

/// Latitude and longitude at the head of a text such as `n46w035` or `n46_00_w035_00`.
fn corner(text: &str) -> Option<(i32, i32)> {
    let signed = |text: &str, plus: char, minus: char, least: usize| {
        let sign = match text.chars().next()? {
            c if c == plus => 1,
            c if c == minus => -1,
            _ => return None,
        };
        let (number, rest) = number(text.get(1..)?, least, 3)?;
        let rest = rest.strip_prefix("_00").unwrap_or(rest);
        Some((sign * number, rest.to_owned()))
    };
    let (latitude, rest) = signed(text, 'n', 's', 2)?;
    let (longitude, rest) = signed(rest.strip_prefix('_').unwrap_or(&rest), 'e', 'w', 3)?;
    // Longer numbers are of another kind of name.
    (!rest.starts_with(|c: char| c.is_ascii_digit())).then_some((latitude, longitude))
}

/// The number of `least` to `most` digits at the head of a text, and what follows it.
fn number(text: &str, least: usize, most: usize) -> Option<(i32, &str)> {
    let digits = text.bytes().take(most).take_while(u8::is_ascii_digit).count();
    let (number, rest) = text.split_at_checked(digits).filter(|_| digits >= least)?;
    Some((number.parse().ok()?, rest))
}

/// Squares of which nothing is there, told by the names that their tiles have.
#[derive(Debug, Clone, PartialEq)]
pub struct MissingTiles {
    /// The squares.
    pub squares: Vec<TileSquare>,
    /// The place that they are wanted for.
    pub extent: Extent,
}

impl MissingTiles {
    /// All of a place.
    #[must_use]
    pub fn of(extent: Extent) -> Self {
        Self { squares: TileSquare::of(extent), extent }
    }
}

impl fmt::Display for MissingTiles {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let named = self.squares.iter().take(MOST_NAMED).map(|square| {
            let more =
                square.united_states().map_or_else(String::new, |name| format!(" or {name}"));
            format!("{} or {}{more}", square.srtm(), square.global_30())
        });
        f.write_str(&named.collect::<Vec<_>>().join(", "))?;
        match self.squares.len().saturating_sub(MOST_NAMED) {
            0 => {}
            more => write!(f, ", and {more} squares more")?,
        }
        national_tiles(self.extent).map_or(Ok(()), |names| write!(f, "; {names}"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use perchline_units::{Degrees, Position};

    fn extent(south: f64, west: f64, north: f64, east: f64) -> Extent {
        let at = |a, b| Position::new(Degrees::new(a), Degrees::new(b)).unwrap();
        Extent { south_west: at(south, west), north_east: at(north, east) }
    }

    #[test]
    fn squares_are_called_by_their_corners() {
        let squares = TileSquare::of(extent(46.95, -34.95, 47.02, -34.88));
        let names: Vec<_> = squares.iter().map(|square| square.srtm()).collect();
        assert_eq!(names, ["N47W035.hgt", "N46W035.hgt"]);
        assert_eq!(squares[1].global_30(), "Copernicus_DSM_COG_10_N46_00_W035_00_DEM.tif");
        assert_eq!(squares[1].united_states(), None);
        // The corner of the north and the west, as that set has it.
        let mountains = TileSquare::of(extent(40.2, -105.8, 40.5, -105.5));
        assert_eq!(mountains[0].united_states().unwrap(), "USGS_13_n41w106.tif");
        let south_east = TileSquare::of(extent(-33.9, 151.1, -33.8, 151.2));
        assert_eq!(south_east[0].srtm(), "S34E151.hgt");
        assert_eq!(south_east[0].global_30(), "Copernicus_DSM_COG_10_S34_00_E151_00_DEM.tif");
    }

    #[test]
    fn a_rectangle_that_ends_on_a_side_does_not_reach_beyond() {
        assert_eq!(TileSquare::of(extent(46.0, -35.0, 47.0, -34.0)).len(), 1);
        assert_eq!(TileSquare::of(extent(46.0, -35.0, 47.1, -33.9)).len(), 4);
        // No rectangle is empty, not even a point's.
        assert_eq!(TileSquare::of(extent(46.0, -35.0, 46.0, -35.0)).len(), 1);
        assert_eq!(TileSquare::of(extent(90.0, 180.0, 90.0, 180.0)).len(), 1);
    }

    #[test]
    fn names_say_where_a_tile_lies() {
        let at = |south, west| Some(TileSquare { south, west });
        for (name, square) in [
            ("N46W035", at(46, -35)),
            ("n46w035.SRTMGL1", at(46, -35)),
            ("NASADEM_HGT_n46w035", at(46, -35)),
            ("Copernicus_DSM_COG_10_N46_00_W035_00_DEM", at(46, -35)),
            ("Copernicus_DSM_COG_10_S34_00_E151_00_DEM", at(-34, 151)),
            ("USGS_13_n41w106", at(40, -106)),
            ("N046E007_DSM", at(46, 7)),
            ("S01E000", at(-1, 0)),
            ("hills", None),
            ("N46", None),
            ("N46W0351", None),
            ("N91W035", None),
            ("town46n035w", None),
            ("\u{e9}N46W035", None),
        ] {
            assert_eq!(TileSquare::named(name), square, "{name}");
        }
    }

    /// Every square's names lead back to it.
    #[test]
    fn names_are_read_as_they_are_written() {
        for south in -90..90 {
            for west in -180..180 {
                let square = TileSquare { south, west };
                for name in [Some(square.srtm()), Some(square.global_30()), square.united_states()]
                    .into_iter()
                    .flatten()
                {
                    let (stem, _) = name.rsplit_once('.').unwrap();
                    assert_eq!(TileSquare::named(stem), Some(square), "{name}");
                }
            }
        }
    }

    #[test]
    fn many_missing_squares_are_counted() {
        let all = MissingTiles::of(extent(46.0, -35.0, 50.0, -30.0));
        let text = all.to_string();
        assert!(text.starts_with("N49W035.hgt or Copernicus"), "{text}");
        assert!(text.ends_with("and 8 squares more"), "{text}");
        let edinburgh = MissingTiles::of(extent(55.94, -3.22, 55.96, -3.18)).to_string();
        assert!(edinburgh.starts_with("N55W004.hgt or"), "{edinburgh}");
        assert!(edinburgh.ends_with("; in Great Britain squares NT27 of the national grid"));
    }
}
