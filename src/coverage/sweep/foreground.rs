//! The foreground of a batch: the last points in front of each cell, sampled on
//! the cell's own path.

use pulp::Simd;

use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS, surface_heights};
use super::geometry::{Batch, Setup};
use super::raster::Strip;
use super::registers::{LANES, Lanes, Part, Register, parts};

/// The points in front of the cells, from the cell towards the station.
pub(super) struct Foreground {
    /// Surface in the effective-earth plane, metres above datum.
    pub height: [Lanes; FOREGROUND_POINTS],
    /// Distance from the station, metres.
    pub distance: [Lanes; FOREGROUND_POINTS],
    /// Bare earth without curvature drop, metres above datum, where something
    /// stands on it.
    bare: [Lanes; FOREGROUND_POINTS],
    has_bare: bool,
}

impl Default for Foreground {
    fn default() -> Self {
        let blank = [[0.0; LANES]; FOREGROUND_POINTS];
        Self { height: blank, distance: blank, bare: blank, has_bare: false }
    }
}

impl Foreground {
    /// Bare earth at point `k` without curvature drop, metres above datum.
    #[inline(always)]
    pub(super) fn bare<S: Simd>(&self, at: Part<S>, k: usize, curvature: f32) -> Register<S> {
        if self.has_bare {
            return at.load(&self.bare[k]);
        }
        let distance = at.load(&self.distance[k]);
        at.load(&self.height[k]) + distance * distance * curvature
    }

    /// Samples the foreground of a batch.
    #[inline(always)]
    pub(super) fn sample<S: Simd>(
        &mut self,
        simd: S,
        setup: &Setup<'_>,
        strip: &Strip,
        batch: &Batch,
        cells: &CellGeometry,
    ) {
        let curvature = setup.station.curvature as f32;
        let blank = [0.0; LANES];
        let (mut x, mut y, mut per_step) = (blank, blank, blank);
        let bare_earth = setup.terrain.bare_earth.filter(|_| setup.station.fits_surface);
        self.has_bare = bare_earth.is_some();
        for part in 0..parts::<S>() {
            let steps = Register::load(simd, &cells.steps, part);
            (Register::splat(simd, 1.0) / steps).store(&mut per_step, part);
        }
        for k in 0..FOREGROUND_POINTS {
            for part in 0..parts::<S>() {
                let at = Part { simd, part };
                let back = at.load(&per_step) * (k + 1) as f32;
                let t = -back + 1.0;
                let (dx, dy) = (at.load(&cells.offset.0), at.load(&cells.offset.1));
                let (across, down) = (at.load(&cells.bend.0), at.load(&cells.bend.1));
                (t * (dx - back * across) + batch.station.0).store(&mut x, part);
                (t * (dy - back * down) + batch.station.1).store(&mut y, part);
                (at.load(&cells.distance) * t).store(&mut self.distance[k], part);
            }
            let surface = surface_heights(simd, setup, strip, batch.layout, (&x, &y));
            for part in 0..parts::<S>() {
                let at = Part { simd, part };
                let distance = at.load(&self.distance[k]);
                let plane = distance * distance * curvature + setup.station.datum;
                (at.load(&surface) - plane).store(&mut self.height[k], part);
            }
            if let Some(bare_earth) = bare_earth {
                let heights = bare_earth.heights(simd, &x, &y);
                for part in 0..parts::<S>() {
                    let height = Register::load(simd, &heights, part) - setup.station.datum;
                    height.store(&mut self.bare[k], part);
                }
            }
        }
    }
}
