//! What single precision and the running forms cost: cells that lie on a ray,
//! every point of their path a point of the ray, against the plain methods in
//! double precision on the very same points.
#![allow(clippy::print_stdout, reason = "figures are printed")]

use std::sync::Mutex;
use std::sync::atomic::AtomicBool;

use pulp::{Arch, Scalar, Simd, WithSimd};

use super::cell_geometry::{FOREGROUND_POINTS, SAMPLED_WHOLE_STEPS};
use super::geometry::{BatchLosses, CellLosses, Setup, StationGeometry, TerrainLayers, Waves};
use super::loss::Wave;
use super::raster::HeightRaster;
use super::scratch::Scratch;
use super::smooth_earth::SmoothEarth;
use super::task::{CellProfiles, CellSpan, Combination, KnownLanes, LossSink};
use super::transform::{PolynomialTransform, StationFrame};
use super::walk::Sweep;
use super::wedge::{MapGrid, Wedge};
use super::woods::{Foliage, Woods};
use perchline_link::Propagator;
use perchline_propagation::p833::Leaves;
use perchline_propagation::{
    Climate, EffectiveEarth, GroundConstants, METHODS, PathLoss, Profile, SweptForm,
};
use perchline_units::{Megahertz, Metres, Polarization};

const SIDE: usize = 801;
const MIDDLE: usize = 400;
const CELL: f64 = 30.0;

/// A hair more than a cell, so that paths over whole cells have that many steps
/// in single precision too.
const SPACING: f64 = CELL * (1.0 + 1e-6);

const MAST: f64 = 17.0;
const CARRIED: f64 = 1.4;
const FREQUENCIES: [f64; 2] = [147.6, 446.0];

/// A number from -1 to 1 for a point of a lattice.
fn scatter(x: usize, y: usize, seed: u32) -> f64 {
    let mut z = (x as u32).wrapping_mul(0x9E37_79B9) ^ (y as u32).wrapping_mul(0x85EB_CA6B) ^ seed;
    for factor in [0x7FEB_352D, 0x846C_A68B] {
        z = (z ^ (z >> 16)).wrapping_mul(factor);
    }
    f64::from(z ^ (z >> 16)) / f64::from(1u32 << 31) - 1.0
}

/// Ground, and the same with trees on it where there are any.
struct Land {
    ground: Vec<f32>,
    wooded: Option<Vec<f32>>,
}

impl Land {
    /// What obstructs.
    fn surface(&self) -> &[f32] {
        self.wooded.as_ref().unwrap_or(&self.ground)
    }
}

/// Hills and roughness of these heights with woods of 11 to 19 m on it, in
/// patches of a few hundred metres.
fn woods(hills: f64, rough: f64) -> Land {
    let Land { ground, .. } = land(hills, rough, false);
    let wooded = ground.iter().enumerate().map(|(i, height)| {
        let (row, column) = (i / SIDE, i % SIDE);
        let patch = scatter(column / 9, row / 7, 3);
        height + if patch > 0.2 { (15.0 + 4.0 * scatter(column, row, 4)) as f32 } else { 0.0 }
    });
    Land { wooded: Some(wooded.collect()), ground }
}

/// Hills and roughness of these heights, and blocks of houses if asked for.
fn land(hills: f64, rough: f64, houses: bool) -> Land {
    let height = |row: usize, column: usize| {
        let (x, y) = (column as f64, row as f64);
        let mut height = 300.0 + hills * ((x * 0.021).sin() + (y * 0.017 + 0.5).cos());
        height += rough * scatter(column, row, 1);
        if houses && column % 5 < 3 && row % 4 < 3 {
            height += 16.0 + 10.0 * scatter(column / 5, row / 4, 2);
        }
        height as f32
    };
    let ground = (0..SIDE * SIDE).map(|i| height(i / SIDE, i % SIDE)).collect();
    Land { ground, wooded: None }
}

/// Keeps talk-in and talk-out of every cell.
struct Keep(Mutex<Vec<[f32; 2]>>);

impl LossSink for Keep {
    fn take(&self, _: Combination, span: CellSpan, _: &KnownLanes, losses: &BatchLosses) {
        let mut all = self.0.lock().unwrap();
        for (l, cell) in span.cells().enumerate() {
            all[cell] = [losses.talk_in[l], losses.talk_out[l]];
        }
    }
}

/// No cell is computed by its own profile here.
struct NoProfiles;

impl CellProfiles for NoProfiles {
    fn losses(&mut self, _: usize) -> Option<Vec<CellLosses>> {
        None
    }
}

/// A plane of square cells seen from the middle one.
fn frame() -> StationFrame {
    let scaled = |factor: f64| {
        let pairs: Vec<_> = (-4..=4)
            .flat_map(|x| (-4..=4).map(move |y| (f64::from(x) * 3000.0, f64::from(y) * 3000.0)))
            .map(|(x, y)| ((x, y), (x * factor, -y * factor)))
            .collect();
        PolynomialTransform::fit(&pairs).unwrap()
    };
    let centre = MIDDLE as f64 + 0.5;
    let mut to_earth = scaled(CELL);
    // Cells reach from -400 to 400, metres from -12000 to 12000.
    let cells: Vec<_> = (-4..=4)
        .flat_map(|x| (-4..=4).map(move |y| (f64::from(x) * 100.0, f64::from(y) * 100.0)))
        .map(|(x, y)| ((x, y), (x * CELL, -y * CELL)))
        .collect();
    if let Some(fit) = PolynomialTransform::fit(&cells) {
        to_earth = fit;
    }
    StationFrame { origin: (centre, centre), to_cell: scaled(1.0 / CELL), to_earth }
}

/// One wedge on the instruction set that it is handed.
struct OneWedge<'s, 't>(&'s Sweep<'t>, &'s Wedge, &'s mut Scratch, &'s Keep);

impl WithSimd for OneWedge<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        self.0.wedge(simd, self.1, self.2, &mut NoProfiles, self.3);
    }
}

fn swept(land: &Land, form: SweptForm, portable: bool) -> Vec<[f32; 2]> {
    let earth = EffectiveEarth::default();
    let map = MapGrid { columns: SIDE, rows: SIDE, scale: (1.0, 1.0), offset: (0.0, 0.0) };
    let frequency = FREQUENCIES.map(Megahertz::new);
    let datum = land.ground[MIDDLE * SIDE + MIDDLE];
    let fits_surface = form == SweptForm::DeltaBullington;
    let curvature = 0.5 / earth.radius().value();
    let stop = AtomicBool::new(false);
    let smooth_earth =
        |f| SmoothEarth::new(f, earth, GroundConstants::LAND, Polarization::Vertical);
    let raster = |heights| HeightRaster::new(heights, SIDE, SIDE).unwrap();
    let ground = raster(&land.ground);
    let bare_earth = land.wooded.as_ref().map(|_| ground);
    let surface = raster(land.surface());
    let setup = Setup {
        terrain: TerrainLayers { surface, bare_earth, gaps: None },
        station: StationGeometry::new(
            datum,
            vec![MAST as f32],
            curvature,
            SPACING,
            SIDE,
            fits_surface,
        ),
        receivers: vec![CARRIED as f32],
        channels: vec![Waves {
            of: frequency.map(|f| Wave::new(f.wavelength().value())),
            smooth_earths: fits_surface.then(|| frequency.map(smooth_earth)),
        }],
        form,
        weighs_doubts: false,
    };
    let woods = bare_earth.filter(|_| form != SweptForm::FreeSpace).map(|ground| Woods {
        cleared: Setup {
            terrain: TerrainLayers { surface: ground, bare_earth: None, gaps: None },
            ..setup.clone()
        },
        foliage: vec![frequency.map(|f| Foliage::of(Leaves::at(f).unwrap()))],
    });
    let sweep = Sweep {
        setup,
        woods,
        frame: frame(),
        map,
        ray_gap: 2.0,
        radius: f64::INFINITY,
        stop: &stop,
    };
    let keep = Keep(Mutex::new(vec![[f32::NAN; 2]; SIDE * SIDE]));
    let mut scratch = Scratch::default();
    for wedge in Wedge::all(&map, sweep.frame.origin, 16) {
        let one = OneWedge(&sweep, &wedge, &mut scratch, &keep);
        if portable { Scalar.vectorize(one) } else { Arch::new().dispatch(one) }
    }
    keep.0.into_inner().unwrap()
}

/// The errors in dB of the cells straight above, below and beside the middle.
fn errors(land: &Land, method: &'static dyn PathLoss) -> Vec<f64> {
    let got = swept(land, method.swept().unwrap(), false);
    let mut errors = Vec::new();
    for (dx, dy) in [(1isize, 0isize), (-1, 0), (0, 1), (0, -1)] {
        let cell = |k: usize| {
            let at = |d: isize| (MIDDLE as isize + d * k as isize) as usize;
            at(dy) * SIDE + at(dx)
        };
        // Shorter paths are sampled whole: not from rays.
        for k in SAMPLED_WHOLE_STEPS + 1..=MIDDLE {
            // Points of the ray, then those in front of the cell.
            let places = (0..k - FOREGROUND_POINTS).map(|i| i as f64 * SPACING / CELL);
            let places = places.chain((k - FOREGROUND_POINTS..=k).map(|i| i as f64));
            let at = |heights: &[f32], place: f64| {
                let (whole, share) = (place.floor() as usize, place.fract());
                let height = |i: usize| f64::from(heights[cell(i.min(MIDDLE))]);
                height(whole) * (1.0 - share) + height(whole + 1) * share
            };
            let (distance, ground): (Vec<_>, Vec<_>) =
                places.clone().map(|place| (place * CELL, at(&land.ground, place))).unzip();
            let mut profile = Profile::new(distance, ground.clone()).unwrap();
            if land.wooded.is_some() {
                let trees: Vec<_> = places.map(|place| at(land.surface(), place)).collect();
                let trees: Vec<_> = trees.iter().zip(&ground).map(|(t, g)| t - g).collect();
                profile = profile.with_cover(trees.clone()).unwrap().with_woods(trees).unwrap();
            }
            let propagator = Propagator {
                method,
                earth: EffectiveEarth::default(),
                climate: Climate::DEFAULT,
                polarization: Polarization::Vertical,
            };
            let [mast, carried] = [MAST, CARRIED].map(Metres::new);
            let [first, second] = FREQUENCIES.map(Megahertz::new);
            let exact = propagator.slice(&profile, mast, carried, (first, second));
            for (number, exact) in [exact.talk_in, exact.talk_out].into_iter().enumerate() {
                errors.push((f64::from(got[cell(k)][number]) - exact.total().value()).abs());
            }
        }
    }
    errors
}

#[test]
fn instruction_sets_do_not_show() {
    for land in [land(60.0, 8.0, true), woods(60.0, 8.0)] {
        for method in METHODS.iter().filter_map(|m| m.swept()) {
            let bits = |portable| -> Vec<[u32; 2]> {
                swept(&land, method, portable).iter().map(|pair| pair.map(f32::to_bits)).collect()
            };
            assert!(bits(true) == bits(false), "{method:?} differs");
        }
    }
}

#[test]
fn single_precision_on_a_ray_costs_a_hundredth_of_a_decibel_at_most() {
    let lands = [
        ("gentle", land(40.0, 1.0, false)),
        ("rough", land(150.0, 25.0, false)),
        ("city", land(8.0, 0.3, true)),
        ("woods", woods(25.0, 0.8)),
    ];
    let mut worst = 0f64;
    for (name, land) in &lands {
        for method in METHODS.iter().filter(|m| m.swept().is_some()) {
            let errors = errors(land, *method);
            assert!(errors.len() > 2000 && errors.iter().all(|e| e.is_finite()));
            let counts = [1e-5, 1e-4, 1e-3, 1e-2, f64::INFINITY]
                .map(|limit| errors.iter().filter(|e| **e < limit).count());
            let most = errors.iter().fold(0f64, |a, b| a.max(*b));
            println!(
                "on-ray error, {name}, {}: below 1e-5 / 1e-4 / 1e-3 / 1e-2 dB / all: {counts:?}, \
                 worst {most:.5} dB",
                method.name()
            );
            worst = worst.max(most);
        }
    }
    println!("figure on_ray_worst_db {worst:.4} dB");
    assert!(worst <= 0.01, "{worst}");
}
