//! Setting up a sweep and running its wedges on all threads.

use std::sync::atomic::{AtomicUsize, Ordering};

use pulp::{Arch, Simd, WithSimd};
use rayon::prelude::*;

use super::exact::{self, Exact};
use super::gaps::GapMap;
use super::geometry::{Setup, StationGeometry, TerrainLayers, Waves};
use super::georeference;
use super::loss::Wave;
use super::raster::HeightRaster;
use super::scratch::Scratch;
use super::smooth_earth::SmoothEarth;
use super::task::{CellProfiles, LossSink, Task};
use super::walk::Sweep;
use super::wedge::{MapGrid, Wedge, rounded_station, station_cell};
use super::woods::{Foliage, Woods};
use perchline_link::Propagator;
use perchline_propagation::p833::Leaves;
use perchline_propagation::{GroundConstants, SweptForm};
use perchline_terrain::PlaceError;
use perchline_units::{Megahertz, Metres};

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
    /// Sweeps, handing every cell to `sink`. `false` where the sweep can't: for
    /// the method, the map or the projection.
    ///
    /// # Errors
    /// [`PlaceError`] when the station is off the terrain, or the projection
    /// fails.
    pub(super) fn run(&self, sink: &dyn LossSink) -> Result<bool, PlaceError> {
        let datum = self.terrain.ground(self.at)?;
        let grid = self.terrain.grid();
        let heights = self.terrain.heights().to_slice().unwrap_or_default();
        let surface = self.terrain.surface().to_slice().unwrap_or_default();
        let cleared = self.terrain.cleared_surface().and_then(|c| c.to_slice());
        let own = self.terrain.own_ground();
        let raster = |heights| {
            let raster = HeightRaster::new(heights, grid.columns(), grid.rows())?;
            Some(raster.with_own(own))
        };
        let (Some(form), Some(map), Some(surface), Some(ground)) = (
            self.propagator.method.swept(),
            georeference::map_grid(grid, self.grid),
            raster(surface),
            raster(heights),
        ) else {
            return Ok(false);
        };
        let radius = self.options.radius;
        let Some((frame, reach)) = georeference::station_frame(self.terrain, self.at, radius)?
        else {
            return Ok(false);
        };
        let ray_gap = self.options.gap_for(self.propagator);
        let gaps = self.gap_map(heights, ray_gap);
        let bare_earth = self.terrain.cover().map(|_| ground);
        let terrain = TerrainLayers { surface, bare_earth, gaps: gaps.as_ref() };
        let doubts = sink.weighs_doubts();
        let setup = self.setup(terrain, form, datum, (reach, doubts));
        let cleared = cleared.and_then(raster).map(|surface| {
            // What is cleared down to the ground has nothing beneath it.
            let down_to_ground = cleared.is_some_and(|c| std::ptr::eq(c, heights));
            let bare_earth = bare_earth.filter(|_| !down_to_ground);
            TerrainLayers { surface, bare_earth, gaps: None }
        });
        let sweep = Sweep {
            woods: cleared.and_then(|terrain| self.woods(&setup, terrain)),
            setup,
            frame,
            map,
            ray_gap,
            radius: radius.value(),
            stop: self.stop,
        };
        let exact = Exact::new(self);
        self.walk(&sweep, &map, &exact, sink);
        exact.error().map_or(Ok(true), Err)
    }

    /// Where the terrain has gaps, seen with the width of a gap between rays, in
    /// spacings; `None` where it has none.
    fn gap_map(&self, heights: &[f32], ray_gap: f64) -> Option<GapMap> {
        let grid = self.terrain.grid();
        let width = ray_gap.ceil() as usize + 2;
        (self.terrain.gap_cells() > 0)
            .then(|| GapMap::find(heights, grid.columns(), grid.rows(), width))
            .flatten()
    }

    /// What is the same for all cells, up to `reach` metres away, with doubts or
    /// without.
    fn setup<'t>(
        &self,
        terrain: TerrainLayers<'t>,
        form: SweptForm,
        datum: Metres,
        (reach, weighs_doubts): (f64, bool),
    ) -> Setup<'t> {
        let spacing = self.terrain.spacing().value();
        let fits_surface = form == SweptForm::DeltaBullington;
        let Propagator { earth, polarization, .. } = *self.propagator;
        let smooth_earth = |f| SmoothEarth::new(f, earth, GroundConstants::LAND, polarization);
        let waves = |(talk_in, talk_out): &(Megahertz, Megahertz)| {
            let frequencies = [*talk_in, *talk_out];
            Waves {
                of: frequencies.map(|f| Wave::new(f.wavelength().value())),
                smooth_earths: fits_surface.then(|| frequencies.map(smooth_earth)),
            }
        };
        Setup {
            terrain,
            station: StationGeometry::new(
                datum.value() as f32,
                self.masts.iter().map(|m| m.value() as f32).collect(),
                0.5 / earth.radius().value(),
                spacing,
                (reach / spacing) as usize + 4,
                fits_surface,
            ),
            receivers: self.receivers.iter().map(|r| r.value() as f32).collect(),
            channels: self.channels.iter().map(waves).collect(),
            form,
            weighs_doubts,
        }
    }

    /// The way through the woods, over the terrain cleared of trees; `None` where
    /// it is not counted, which is so for all channels that share a sweep or for none.
    fn woods<'t>(&self, setup: &Setup<'t>, terrain: TerrainLayers<'t>) -> Option<Woods<'t>> {
        // On free-space paths there is nothing to gain by going through.
        if setup.form == SweptForm::FreeSpace {
            return None;
        }
        let foliage = |(talk_in, talk_out): &(Megahertz, Megahertz)| {
            let [Ok(talk_in), Ok(talk_out)] = [*talk_in, *talk_out].map(Leaves::at) else {
                return None;
            };
            Some([talk_in, talk_out].map(Foliage::of))
        };
        let foliage = self.channels.iter().map(foliage).collect::<Option<Vec<_>>>()?;
        Some(Woods { cleared: Setup { terrain, ..setup.clone() }, foliage })
    }

    /// Sweeps the wedges on all threads, then the station's own cell.
    fn walk(&self, sweep: &Sweep<'_>, map: &MapGrid, exact: &Exact<'_>, sink: &dyn LossSink) {
        // The edge of the map that is farthest from the station, in map cells.
        let (x, y) = rounded_station(map, sweep.frame.origin);
        let (columns, rows) = (map.columns as f64, map.rows as f64);
        let far = x.max(columns - x).max(y.max(rows - y));
        // Narrow wedges keep their rays in cache, wide ones fill the lanes.
        let count = ((far / FAR_WIDTH) as usize).clamp(1, WEDGES).next_power_of_two();
        let wedges = Wedge::all(map, sweep.frame.origin, count);
        let (rows, done) = (map.rows, AtomicUsize::new(0));
        let arch = Arch::new();
        let tools = || (Scratch::default(), exact.cells());
        wedges.par_iter().for_each_init(tools, |(scratch, profiles), wedge| {
            arch.dispatch(OneWedge { sweep, wedge, scratch, profiles, sink });
            // Rows are what progress is counted in.
            let before = done.fetch_add(1, Ordering::Relaxed);
            for _ in rows * before / wedges.len()..rows * (before + 1) / wedges.len() {
                (self.row_done)();
            }
        });
        if let Some((column, row)) = station_cell(map, sweep.frame.origin) {
            exact::hand_over(self, &mut exact.cells(), row * map.columns + column, sink);
        }
    }
}

/// One wedge as something that is compiled for every instruction set.
struct OneWedge<'a, 't> {
    sweep: &'a Sweep<'t>,
    wedge: &'a Wedge,
    scratch: &'a mut Scratch,
    profiles: &'a mut dyn CellProfiles,
    sink: &'a dyn LossSink,
}

impl WithSimd for OneWedge<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        self.sweep.wedge(simd, self.wedge, self.scratch, self.profiles, self.sink);
    }
}
