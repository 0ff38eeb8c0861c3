//! Made-up ground for the sweep's tests: every kind that a group may meet, out
//! of arithmetic and a seed alone.

use std::sync::atomic::AtomicBool;

use ndarray::Array2;
use perchline::coverage::sweep::{Heights, LossLayers, Options, losses};
use perchline::link::Propagator;
use perchline::propagation::{Climate, EffectiveEarth, PathLoss, Profile};
use perchline::terrain::{Grid, PlaceError, Terrain};
use perchline::units::{Megahertz, Metres, Polarization, Position};

/// A number from -1 to 1 that looks random.
pub fn scatter(x: i64, y: i64, seed: u64) -> f64 {
    let mut z = (x as u64)
        .wrapping_mul(0x9E37_79B9_7F4A_7C15)
        .wrapping_add((y as u64).wrapping_mul(0xC2B2_AE3D_27D4_EB4F))
        .wrapping_add(seed.wrapping_mul(0x1656_67B1_9E37_79F9));
    z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

/// Smooth noise with waves of `period` cells.
pub fn noise(x: f64, y: f64, period: f64, seed: u64) -> f64 {
    let (x, y) = (x / period, y / period);
    let (left, top) = (x.floor(), y.floor());
    let ease = |t: f64| t * t * (3.0 - 2.0 * t);
    let (u, v) = (ease(x - left), ease(y - top));
    let at = |dx: i64, dy: i64| scatter(left as i64 + dx, top as i64 + dy, seed);
    let mix = |a: f64, b: f64, t: f64| a + (b - a) * t;
    mix(mix(at(0, 0), at(1, 0), u), mix(at(0, 1), at(1, 1), u), v)
}

/// What the ground is like.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Land {
    /// A plain.
    Flat,
    /// Nothing but water.
    Sea,
    /// Rolling hills.
    Gentle,
    /// Mountains.
    Rough,
    /// Two plains with a sheer step between.
    Cliff,
    /// Sheer blocks as part of the ground itself.
    Blocks,
    /// Gentle ground with houses standing on it as cover.
    Town,
    /// The same with trees among and beyond them.
    Woods,
    /// Gentle ground with pits of sheer benches.
    Quarries,
    /// Islands in a sea of height nothing.
    Islands,
    /// Gentle ground far below the sea.
    Sunk,
}

impl Land {
    /// The height of a cell, metres above sea level.
    pub fn height(self, column: usize, row: usize, seed: u64) -> f32 {
        let (x, y) = (column as f64, row as f64);
        let fractal = |amplitude: f64, fall: f64| -> f64 {
            (0..6)
                .map(|k| {
                    amplitude * fall.powi(k) * noise(x, y, 100.0 / 2f64.powi(k), seed + k as u64)
                })
                .sum()
        };
        (match self {
            Self::Flat => 212.0,
            Self::Sea => 0.0,
            Self::Gentle | Self::Town | Self::Woods => 200.0 + fractal(25.0, 0.45),
            Self::Rough => 900.0 + fractal(150.0, 0.55),
            Self::Cliff => {
                if x + 0.4 * y > 45.0 {
                    80.0
                } else {
                    5.0
                }
            }
            Self::Blocks => {
                let high = scatter(column as i64 / 3, row as i64 / 3, seed);
                20.0 + fractal(5.0, 0.4) + if high > 0.3 { 25.0 * high } else { 0.0 }
            }
            Self::Quarries => {
                let depth = noise(x, y, 40.0, seed + 20) - 0.25;
                // Benches of 12 m.
                let pit = if depth > 0.0 { 12.0 * (1.0 + (depth * 6.0).floor()) } else { 0.0 };
                300.0 + fractal(20.0, 0.45) - pit
            }
            Self::Islands => (fractal(60.0, 0.5) - 12.0).max(0.0),
            Self::Sunk => -405.0 + fractal(25.0, 0.45),
        }) as f32
    }

    /// Terrain of this kind with gaps.
    pub fn terrain(self, grid: Grid, seed: u64, gap: impl Fn(usize, usize) -> bool) -> Terrain {
        self.scaled_terrain(grid, seed, 1.0, gap)
    }

    /// The same with all heights times `scale`: cells need not be 30 m.
    pub fn scaled_terrain(
        self,
        grid: Grid,
        seed: u64,
        scale: f32,
        gap: impl Fn(usize, usize) -> bool,
    ) -> Terrain {
        let heights = Array2::from_shape_fn((grid.rows(), grid.columns()), |(row, column)| {
            if gap(column, row) { f32::NAN } else { self.height(column, row, seed) * scale }
        });
        let terrain = Terrain::from_heights(grid, heights).unwrap();
        if !matches!(self, Self::Town | Self::Woods) {
            return terrain;
        }
        let cover = Array2::from_shape_fn(terrain.heights().dim(), |(row, column)| {
            let street = column % 5 > 2 || row % 4 > 2;
            let high = scatter(column as i64 / 5, row as i64 / 4, seed);
            if street { 0.0 } else { (12.0 + 8.0 * high) as f32 }
        });
        if matches!(self, Self::Town) {
            return terrain.with_cover(cover).unwrap();
        }
        // One house in four stands, the rest of its ground is wooded.
        let house = |row: usize, column: usize| scatter(column as i64 / 5, row as i64 / 4, 7) > 0.5;
        let mut mixed = cover.clone();
        for ((row, column), cell) in mixed.indexed_iter_mut() {
            let patch = noise(column as f64, row as f64, 12.0, seed + 9);
            if !house(row, column) {
                *cell = if patch > 0.0 { 14.0 + 3.0 * patch as f32 } else { 0.0 };
            }
        }
        let trees =
            Array2::from_shape_fn(
                mixed.dim(),
                |at| {
                    if house(at.0, at.1) { 0.0 } else { mixed[at] }
                },
            );
        terrain.with_cover(mixed).unwrap().with_woods(trees).unwrap()
    }
}

/// The place of a fractional cell.
pub fn place(grid: &Grid, column: f64, row: f64) -> Position {
    grid.projector().unwrap().to_position(column, row).unwrap()
}

/// This method over the median earth.
pub fn propagator(method: &'static dyn PathLoss) -> Propagator {
    Propagator {
        method,
        earth: EffectiveEarth::from_k_factor(4.0 / 3.0),
        climate: Climate::DEFAULT,
        polarization: Polarization::Vertical,
    }
}

/// One mast, one carried antenna.
pub fn one(mast: f64, carried: f64) -> Heights {
    Heights { masts: vec![Metres::new(mast)], carried: vec![Metres::new(carried)] }
}

/// The part of a grid that reaches so many cells from a place to every side.
pub fn cells_around(grid: &Grid, at: Position, reach: usize) -> Grid {
    let (column, row) = grid.projector().unwrap().to_cell(at).unwrap();
    let (column, row) = (column as usize, row as usize);
    grid.part(column - reach..column + reach, row - reach..row + reach).unwrap()
}

/// The sweep as it is used.
pub fn sweep(
    terrain: &Terrain,
    at: Position,
    heights: &Heights,
    frequencies: (Megahertz, Megahertz),
    with: &Propagator,
) -> LossLayers {
    let stop = AtomicBool::new(false);
    let options = Options::default();
    losses(terrain, terrain.grid(), at, heights, frequencies, with, &options, &stop).unwrap()
}

/// The profile of a cell's own path, `None` where a height is missing on it.
pub fn own_profile(terrain: &Terrain, from: Position, to: Position) -> Option<Profile> {
    match terrain.profile(from, to) {
        Ok(profile) => Some(profile),
        Err(PlaceError::Gap { .. } | PlaceError::Outside { .. }) => None,
        Err(other) => panic!("{other}"),
    }
}

/// Paths of up to so many steps are sampled whole by the sweep too.
pub const WHOLE: f64 = 31.0;

/// Whether a path is a hair's breadth over a whole number of steps: it then
/// gets one point more, and single precision may see it the other way.
pub fn torn(steps: f64) -> bool {
    (steps - steps.round()).abs() < 1e-4
}

/// The value below which a share of the errors lies.
pub fn quantile(errors: &mut [f64], share: f64) -> f64 {
    errors.sort_by(f64::total_cmp);
    errors[((errors.len() - 1) as f64 * share) as usize]
}
