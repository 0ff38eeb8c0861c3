//! The rasters on which the swept engine is tried: where they lie, what their
//! ground is like, what is missing on them.

use perchline::terrain::{Grid, Terrain};
use perchline::units::Position;

use crate::support::land::{Land, noise, place, scatter};

/// A number from 0 to 1 for a case.
fn chance(case: usize, what: i64) -> f64 {
    (scatter(case as i64, what, 1812) + 1.0) / 2.0
}

/// Where rasters lie: a coordinate system, the transform of their cells, and
/// the side of a cell in metres, roughly.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum World {
    /// In the middle of a UTM zone, cells of 30 m.
    Zone,
    /// At its western edge (easting 166 km) by the equator, at its eastern (834 km).
    WestEdge,
    EastEdge,
    /// At the northern end of UTM, 84 degrees.
    NorthEnd,
    /// Polar stereographic, the pole itself on the raster; and the southern one.
    NorthPole,
    SouthPole,
    /// Degrees at 60 N: an arc second is 31 m high and 15 m wide.
    Degrees,
    /// Degrees, the 180th meridian in its middle.
    DateLine,
    /// Degrees from 0 to 360, as some rasters count.
    FullTurn,
    /// Northings of the southern hemisphere.
    South,
    /// Cells that are not square.
    Oblong,
    /// Cells of 1 m and of 90 m.
    Fine,
    Coarse,
}

pub const WORLDS: [World; 13] = [
    World::Zone,
    World::WestEdge,
    World::EastEdge,
    World::NorthEnd,
    World::NorthPole,
    World::SouthPole,
    World::Degrees,
    World::DateLine,
    World::FullTurn,
    World::South,
    World::Oblong,
    World::Fine,
    World::Coarse,
];

impl World {
    /// A raster there, and by what heights made for cells of 30 m are multiplied.
    fn grid(self, columns: usize, rows: usize) -> (Grid, f32) {
        let second = 1.0 / 3600.0;
        let (wide, high) = (columns as f64, rows as f64);
        let (transform, crs, scale) = match self {
            Self::Zone => ([410e3, 30.0, 0.0, 5_210e3, 0.0, -30.0], "EPSG:32625", 1.0),
            Self::WestEdge => ([166e3, 30.0, 0.0, 2_000.0, 0.0, -30.0], "EPSG:32625", 1.0),
            Self::EastEdge => {
                ([834e3 - 30.0 * wide, 30.0, 0.0, 5_210e3, 0.0, -30.0], "EPSG:32625", 1.0)
            }
            // 84 N on the central meridian is northing 9 328 km.
            Self::NorthEnd => ([470e3, 30.0, 0.0, 9_329e3, 0.0, -30.0], "EPSG:32631", 1.0),
            // The pole is at (2000 km, 2000 km) of both.
            Self::NorthPole => {
                let (x, y) = (2e6 - 15.0 * wide, 2e6 + 15.0 * high);
                ([x, 30.0, 0.0, y, 0.0, -30.0], "EPSG:32661", 1.0)
            }
            Self::SouthPole => {
                let (x, y) = (2e6 - 9.0 * wide, 2e6 + 21.0 * high);
                ([x, 30.0, 0.0, y, 0.0, -30.0], "EPSG:32761", 1.0)
            }
            Self::Degrees => ([-33.5, second, 0.0, 60.2, 0.0, -second], "EPSG:4326", 0.7),
            Self::DateLine => {
                let left = 180.0 - wide / 2.0 * second;
                ([left, second, 0.0, -17.0, 0.0, -second], "EPSG:4326", 1.0)
            }
            Self::FullTurn => ([326.5, second, 0.0, 47.2, 0.0, -second], "EPSG:4326", 0.8),
            Self::South => ([330e3, 30.0, 0.0, 6_250e3, 0.0, -30.0], "EPSG:32756", 1.0),
            Self::Oblong => ([410e3, 20.0, 0.0, 5_210e3, 0.0, -35.0], "EPSG:32625", 0.9),
            Self::Fine => ([410e3, 1.0, 0.0, 5_210e3, 0.0, -1.0], "EPSG:32625", 0.15),
            Self::Coarse => ([410e3, 90.0, 0.0, 5_210e3, 0.0, -90.0], "EPSG:32625", 1.6),
        };
        (Grid::new(columns, rows, transform, crs).unwrap(), scale)
    }
}

const LANDS: [Land; 9] = [
    Land::Gentle,
    Land::Rough,
    Land::Cliff,
    Land::Quarries,
    Land::Islands,
    Land::Sunk,
    Land::Town,
    Land::Woods,
    Land::Blocks,
];

/// Where heights are missing.
#[derive(Debug, Clone, Copy)]
enum Voids {
    None,
    /// Here and there a cell, or a few.
    Holes,
    /// Ragged along two sides.
    Edge,
    /// A lake between the station and much of the raster.
    OnThePath,
    /// Right beside the station, which stands on the last cell that is known.
    BesideTheStation,
}

const VOIDS: [Voids; 7] = [
    Voids::None,
    Voids::Holes,
    Voids::None,
    Voids::Edge,
    Voids::None,
    Voids::OnThePath,
    Voids::BesideTheStation,
];

impl Voids {
    fn gap(self, at: (f64, f64), (column, row): (usize, usize), seed: u64) -> bool {
        let (c, r) = (column as f64 + 0.5 - at.0, row as f64 + 0.5 - at.1);
        match self {
            Self::None => false,
            Self::Holes => {
                let single = scatter(column as i64, row as i64, seed + 1) > 0.9996;
                let block = scatter(column as i64 / 4, row as i64 / 3, seed + 2) > 0.998;
                (single || block) && (c.abs() > 2.5 || r.abs() > 2.5)
            }
            Self::Edge => {
                let ragged = 9.0 + 6.0 * noise(column as f64, row as f64, 7.0, seed + 3);
                ((column as f64) < ragged || (row as f64) < ragged)
                    && (c.abs() > 2.5 || r.abs() > 2.5)
            }
            Self::OnThePath => (12.0..26.0).contains(&c) && (-9.0..14.0).contains(&r),
            // The four cells around a place on a cell's centre line stay.
            Self::BesideTheStation => (1.01..8.0).contains(&c) && r.abs() < 6.0,
        }
    }
}

/// A raster with a station on it.
pub struct Case {
    pub world: World,
    pub land: Land,
    pub terrain: Terrain,
    pub at: Position,
    pub mast: f64,
    pub carried: f64,
}

/// The case of this number: always the same.
pub fn case(number: usize) -> Case {
    let land = LANDS[number % LANDS.len()];
    // 13, 9 and 7 share no factor: all pairs come up.
    let (world, voids) = (WORLDS[number % WORLDS.len()], VOIDS[number % VOIDS.len()]);
    let side = |what| 120 + (chance(number, what) * 100.0) as usize;
    let (columns, rows) = (side(1), side(2));
    let (grid, scale) = world.grid(columns, rows);
    let within = |what, size: usize| (0.08 + 0.84 * chance(number, what)) * size as f64;
    let origin = (within(3, columns), within(4, rows));
    let seed = 5000 + number as u64;
    let terrain = land
        .scaled_terrain(grid, seed, scale, |column, row| voids.gap(origin, (column, row), seed));
    Case {
        world,
        land,
        at: place(terrain.grid(), origin.0, origin.1),
        terrain,
        mast: 2.0 + 48.0 * chance(number, 5).powi(2),
        carried: [1.5, 1.0, 4.0][number % 3],
    }
}
