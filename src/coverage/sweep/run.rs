//! Setting up a sweep and running its wedges on all threads.

use std::sync::atomic::{AtomicUsize, Ordering};

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::cells::Setting;
use super::exact::{self, Exact};
use super::fan::{Ground, Stage};
use super::gaps::Gaps;
use super::loss::Wave;
use super::place;
use super::spherical::Sphere;
use super::surface::Surface;
use super::task::{CellProfiles, LossSink, Task};
use super::walk::{Bench, Sweep};
use super::wedge::{MapCells, Wedge, foot, rounded};
use super::woods::{Foliage, Woods};
use crate::propagation::p833::Leaves;
use crate::propagation::{Ground as Soil, SweptForm};
use crate::terrain::PlaceError;
use crate::units::Megahertz;

/// Wedges a quadrant at most; a power of two.
const WEDGES: usize = 256;

/// Half the width of a wedge at its far end that is aimed at, in map cells.
const FAR_WIDTH: f64 = 28.0;

/// The instruction set on which sweeps run here: "AVX-512", "AVX2", "NEON" or
/// "portable". Results are the same on all of them.
#[must_use]
pub fn instructions() -> &'static str {
    match Arch::new() {
        #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
        Arch::V4(_) => "AVX-512",
        #[cfg(any(target_arch = "x86", target_arch = "x86_64"))]
        Arch::V3(_) => "AVX2",
        #[cfg(target_arch = "aarch64")]
        Arch::Neon(_) => "NEON",
        _ => "portable",
    }
}

impl Task<'_> {
    /// Sweeps, handing every cell to `sink`. `false` where the sweep can't:
    /// for the method, the grid or the projection.
    ///
    /// # Errors
    /// [`PlaceError`] when the antenna is off the terrain, or the projection
    /// fails.
    pub(super) fn run(&self, sink: &dyn LossSink) -> Result<bool, PlaceError> {
        let datum = self.terrain.ground(self.at)?;
        let grid = self.terrain.grid();
        let heights = self.terrain.heights().to_slice().unwrap_or_default();
        let (columns, rows) = (grid.columns(), grid.rows());
        let covered = self.terrain.surface().to_slice().unwrap_or_default();
        let (Some(form), Some(map), Some(surface), Some(ground)) = (
            self.propagator.method.swept(),
            place::map_cells(grid, self.grid),
            Surface::new(covered, columns, rows),
            Surface::new(heights, columns, rows),
        ) else {
            return Ok(false);
        };
        let under = self.terrain.cover().map(|_| ground);
        let cleared = self.terrain.cleared_surface();
        let cleared = cleared.as_ref().and_then(|c| c.to_slice());
        let Some((frame, reach)) = place::frame(self.terrain, self.at, self.options.radius)? else {
            return Ok(false);
        };
        let width = self.options.gap_for(self.propagator).ceil() as usize + 2;
        let gaps = (self.terrain.gap_cells() > 0)
            .then(|| Gaps::find(heights, columns, rows, width))
            .flatten();
        let spacing = self.terrain.spacing().value();
        let stage = Stage::new(
            datum.value() as f32,
            self.masts.iter().map(|m| m.value() as f32).collect(),
            0.5 / self.propagator.earth.radius().value(),
            spacing,
            (reach / spacing) as usize + 4,
            form == SweptForm::DeltaBullington,
        );
        let wave = |f: Megahertz| Wave::new(f.wavelength().value());
        let sphere = |f: Megahertz| {
            Sphere::new(f, self.propagator.earth, Soil::LAND, self.propagator.polarization)
        };
        let setting = Setting {
            ground: Ground { surface, under, gaps: gaps.as_ref() },
            stage,
            carried: self.carried.iter().map(|c| c.value() as f32).collect(),
            waves: [wave(self.frequencies.0), wave(self.frequencies.1)],
            form,
            spheres: (form == SweptForm::DeltaBullington)
                .then(|| [sphere(self.frequencies.0), sphere(self.frequencies.1)]),
        };
        let leaves = [self.frequencies.0, self.frequencies.1].map(Leaves::at);
        let woods = match (cleared.and_then(|c| Surface::new(c, columns, rows)), leaves) {
            // Of free space there is nothing to gain by going through.
            (Some(surface), [Ok(inward), Ok(outward)]) if form != SweptForm::FreeSpace => {
                // What is cleared down to the ground has nothing beneath it.
                let bare = cleared.is_some_and(|c| std::ptr::eq(c, heights));
                let ground = Ground { surface, under: under.filter(|_| !bare), gaps: None };
                let cleared = Setting { ground, ..setting.clone() };
                Some(Woods { cleared, leaves: [inward, outward].map(Foliage::of) })
            }
            _ => None,
        };
        let sweep = Sweep {
            setting,
            woods,
            frame,
            map,
            ray_gap: self.options.gap_for(self.propagator),
            radius: self.options.radius.value(),
            stop: self.stop,
        };
        let exact = Exact::new(self);
        self.walk(&sweep, &map, &exact, sink);
        exact.error().map_or(Ok(true), Err)
    }

    fn walk(&self, sweep: &Sweep<'_>, map: &MapCells, exact: &Exact<'_>, sink: &dyn LossSink) {
        // The side that is farthest from the antenna, in map cells.
        let (x, y) = rounded(map, sweep.frame.origin);
        let (columns, rows) = (map.columns as f64, map.rows as f64);
        let far = x.max(columns - x).max(y.max(rows - y));
        // Narrow wedges keep their rays in cache, wide ones fill the lanes.
        let count = ((far / FAR_WIDTH) as usize).clamp(1, WEDGES).next_power_of_two();
        let wedges = Wedge::all(map, sweep.frame.origin, count);
        let (rows, done) = (map.rows, AtomicUsize::new(0));
        let arch = Arch::new();
        let tools = || (Bench::default(), exact.cells());
        wedges.par_iter().for_each_init(tools, |(bench, profiles), wedge| {
            arch.dispatch(OneWedge { sweep, wedge, bench, profiles, sink });
            // Rows are what progress is counted in.
            let before = done.fetch_add(1, Ordering::Relaxed);
            for _ in rows * before / wedges.len()..rows * (before + 1) / wedges.len() {
                (self.row_done)();
            }
        });
        if let Some((column, row)) = foot(map, sweep.frame.origin) {
            exact::hand_over(self, &mut exact.cells(), row * map.columns + column, sink);
        }
    }
}

/// One wedge as something that is compiled for every instruction set.
struct OneWedge<'a, 't> {
    sweep: &'a Sweep<'t>,
    wedge: &'a Wedge,
    bench: &'a mut Bench,
    profiles: &'a mut dyn CellProfiles,
    sink: &'a dyn LossSink,
}

impl WithSimd for OneWedge<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        self.sweep.wedge(simd, self.wedge, self.bench, self.profiles, self.sink);
    }
}
