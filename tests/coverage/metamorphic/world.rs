//! Relations of paths and maps to where the world lies and how it is turned.
//!
//! All in UTM zone 25 N, whose scale is 0.9996 on its central meridian (500 km
//! east) and grows by (E / 6378 km)^2 / 2 away from it: over the few kilometres
//! of a path the same to a hundred-thousandth, which is 0.0001 dB.

use ndarray::{Array2, Axis};
use perchline::propagation::METHODS;
use perchline::terrain::{Grid, Terrain};
use perchline::units::{Megahertz, Metres};

use crate::support::land::{
    Land, one, own_profile, place, propagator, quantile, scatter, sweep, torn,
};

const FREQUENCIES: (Megahertz, Megahertz) = (Megahertz::new(147.6), Megahertz::new(446.0));
const SIDE: usize = 151;
const MAST: f64 = 18.0;
const CARRIED: f64 = 1.5;

/// Cells of 30 m with their top left corner there.
fn terrain(heights: Array2<f32>, easting: f64, northing: f64) -> Terrain {
    let (rows, columns) = heights.dim();
    let transform = [easting, 30.0, 0.0, northing, 0.0, -30.0];
    let grid = Grid::new(columns, rows, transform, "EPSG:32625").unwrap();
    Terrain::from_heights(grid, heights).unwrap()
}

fn heights(land: Land) -> Array2<f32> {
    Array2::from_shape_fn((SIDE, SIDE), |(row, column)| land.height(column, row, 77))
}

/// Places of a station, and cells to look at, by column and row.
fn pairs() -> impl Iterator<Item = ((f64, f64), (f64, f64))> {
    let at = |k: i64, axis: i64| {
        let cell = ((scatter(k, axis, 9) + 1.0) / 2.0 * SIDE as f64) as usize;
        cell.min(SIDE - 1) as f64
    };
    (0..500).map(move |k| {
        let station = (at(k / 100, 1) + 0.3, at(k / 100, 2) + 0.8);
        (station, (at(k, 3) + 0.5, at(k, 4) + 0.5))
    })
}

/// Losses of one path by every method, and its length in steps.
fn losses(terrain: &Terrain, from: (f64, f64), to: (f64, f64)) -> (Vec<f64>, f64) {
    let grid = terrain.grid();
    let profile =
        own_profile(terrain, place(grid, from.0, from.1), place(grid, to.0, to.1)).unwrap();
    let steps = profile.length().value() / terrain.spacing().value();
    let losses = METHODS.iter().flat_map(|method| {
        let (mast, carried) = (Metres::new(MAST), Metres::new(CARRIED));
        let found = propagator(*method).losses(&profile, mast, carried, FREQUENCIES);
        [found.talk_in, found.talk_out].map(|loss| loss.total().value())
    });
    (losses.collect(), steps)
}

/// The most by which two lists differ.
fn apart(one: &[f64], other: &[f64]) -> f64 {
    one.iter().zip(other).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
}

/// The zone moved under the ground by whole cells, up to 60 km: every path keeps
/// its loss, by every method, but for the scale.
#[test]
fn a_world_moved_by_whole_cells_is_the_same() {
    for land in [Land::Gentle, Land::Rough] {
        let here = terrain(heights(land), 440e3, 5_210e3);
        for (columns, rows) in [(1.0, 0.0), (0.0, 7.0), (-400.0, 1000.0), (2000.0, -1500.0)] {
            let (easting, northing) = (440e3 + 30.0 * columns, 5_210e3 - 30.0 * rows);
            let there = terrain(heights(land), easting, northing);
            for (from, to) in pairs() {
                let (a, steps) = losses(&here, from, to);
                let (b, _) = losses(&there, from, to);
                // A path that is a whole number of steps long may get one more.
                let limit = if torn(steps) { 2.0 } else { 0.01 };
                assert!(apart(&a, &b) < limit, "{land:?} {columns} {rows}: {}", apart(&a, &b));
            }
        }
    }
}

/// A turn or a mirror of the raster, and where a place of it then is.
#[derive(Debug, Clone, Copy)]
enum Turn {
    Quarter,
    Half,
    ThreeQuarters,
    LeftRight,
    TopDown,
}

impl Turn {
    const ALL: [Self; 5] =
        [Self::Quarter, Self::Half, Self::ThreeQuarters, Self::LeftRight, Self::TopDown];

    fn place(self, (column, row): (f64, f64)) -> (f64, f64) {
        let side = SIDE as f64;
        match self {
            Self::Quarter => (side - row, column),
            Self::Half => (side - column, side - row),
            Self::ThreeQuarters => (row, side - column),
            Self::LeftRight => (side - column, row),
            Self::TopDown => (column, side - row),
        }
    }

    fn raster(self, heights: &Array2<f32>) -> Array2<f32> {
        let mut turned = heights.clone();
        if matches!(self, Self::Quarter | Self::ThreeQuarters) {
            turned = turned.reversed_axes();
        }
        if matches!(self, Self::Half | Self::LeftRight | Self::Quarter) {
            turned.invert_axis(Axis(1));
        }
        if matches!(self, Self::Half | Self::TopDown | Self::ThreeQuarters) {
            turned.invert_axis(Axis(0));
        }
        turned
    }
}

/// The middle of the raster lies on the central meridian, so that east and west
/// have the same scale.
fn centred(heights: Array2<f32>) -> Terrain {
    let half = SIDE as f64 * 15.0;
    terrain(heights, 500e3 - half, 5_210e3 + half)
}

/// A path over turned or mirrored ground, its ends with it, keeps its loss by
/// every method. Geodesics bend by the map's convergence, which turning does not
/// turn: less than a thousandth of a cell over these 4.5 km.
#[test]
fn a_world_turned_or_mirrored_is_the_same() {
    for land in [Land::Gentle, Land::Rough] {
        let plain = heights(land);
        let here = centred(plain.clone());
        for turn in Turn::ALL {
            let there = centred(turn.raster(&plain));
            for (from, to) in pairs() {
                let (a, steps) = losses(&here, from, to);
                let (b, _) = losses(&there, turn.place(from), turn.place(to));
                let limit = if torn(steps) { 2.0 } else { 0.02 };
                assert!(apart(&a, &b) < limit, "{land:?} {turn:?}: {}", apart(&a, &b));
            }
        }
    }
}

/// The swept maps of turned ground: rays fall otherwise between the cells, so
/// that cells differ as swept ones do from their own paths, twice over.
#[test]
fn a_swept_map_turned_or_mirrored_is_the_same() {
    let plain = heights(Land::Gentle);
    let here = centred(plain.clone());
    let at = (61.3, 88.8);
    let run = |terrain: &Terrain, at: (f64, f64), method| {
        let station = place(terrain.grid(), at.0, at.1);
        let layers = sweep(terrain, station, &one(MAST, CARRIED), FREQUENCIES, &propagator(method));
        layers.layers[0].talk_in.clone()
    };
    for method in METHODS.iter().filter(|m| m.swept().is_some()) {
        let before = run(&here, at, *method);
        for turn in Turn::ALL {
            let there = centred(turn.raster(&plain));
            let after = run(&there, turn.place(at), *method);
            // The array turned as the ground was.
            let before = turn.raster(&before);
            let mut off: Vec<f64> =
                before.iter().zip(&after).map(|(a, b)| f64::from((a - b).abs())).collect();
            let (middle, high) = (quantile(&mut off, 0.5), quantile(&mut off, 0.99));
            let name = method.name();
            assert!(middle < 0.02 && high < 1.0, "{name} {turn:?}: p50 {middle}, p99 {high}");
        }
    }
}

/// All ground raised by 512 m, exactly in single precision: paths and swept maps
/// stay what they are, land that was below the sea among it.
#[test]
fn a_world_raised_is_the_same() {
    for land in [Land::Gentle, Land::Islands, Land::Sunk] {
        // Quarters of a metre have room for 512 more without rounding.
        let low = heights(land).mapv(|h| (h * 4.0).round() / 4.0);
        let high = low.mapv(|h| h + 512.0);
        let (low, high) = (centred(low), centred(high));
        for (from, to) in pairs() {
            let ((a, _), (b, _)) = (losses(&low, from, to), losses(&high, from, to));
            assert!(apart(&a, &b) < 1e-6, "{land:?}: {}", apart(&a, &b));
        }
        for method in METHODS.iter().filter(|m| m.swept().is_some()) {
            let run = |terrain: &Terrain| {
                let at = place(terrain.grid(), 61.3, 88.8);
                sweep(terrain, at, &one(MAST, CARRIED), FREQUENCIES, &propagator(*method))
            };
            let (a, b) = (run(&low), run(&high));
            let off = a.layers[0].talk_in.iter().zip(&b.layers[0].talk_in);
            let worst = off.map(|(a, b)| (a - b).abs()).fold(0.0, f32::max);
            assert!(worst < 0.01, "{land:?} {}: {worst}", method.name());
        }
    }
}
