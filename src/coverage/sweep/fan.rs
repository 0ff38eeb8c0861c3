//! The rays of one wedge: terrain heights along geodesics that leave the station
//! at nearly the same azimuth, with what the cells between them will look up.

use pulp::Simd;

use super::gaps::GapOnRay;
use super::geometry::{StationGeometry, TerrainLayers};
use super::hull::{HullPoint, append};
use super::obstruction::BLOCK;
use super::registers::{LANE_NUMBERS, LANES, Lanes, Register, larger, parts};
use super::transform::{DEGREE, StationFrame};

/// The rays that a wedge needs.
#[derive(Debug, Clone, Copy)]
pub(super) struct FanShape {
    /// East and north parts of the unit vector along the wedge.
    pub axis: (f64, f64),
    /// Tangent of the first ray's angle to the axis.
    pub first: f64,
    /// Step of the tangent from ray to ray.
    pub step: f64,
    /// Number of rays, 2 or more.
    pub rays: usize,
    /// Points a ray.
    pub points: usize,
}

impl FanShape {
    /// The unit vector (east, north) of a ray.
    fn direction(&self, ray: usize) -> (f64, f64) {
        let tangent = self.first + self.step * ray as f64;
        let length = tangent.hypot(1.0);
        let (east, north) = self.axis;
        ((east + tangent * north) / length, (north - tangent * east) / length)
    }
}

/// Integrals over the bare earth up to a point of a ray, of which the smooth
/// surface that fits it best is made.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct FitSums {
    /// v1 of ITU-R P.526-15 section 4.5.3, m^2.
    pub first: f32,
    /// v2 of the same, m^3.
    pub second: f32,
    /// Bare earth at the point, metres above datum.
    pub height: f32,
}

/// The rays of a wedge, one after another, as far as they have been followed.
///
/// They grow together as the walk over the wedge's cells moves outwards, so
/// that what the cells look up has just been written.
#[derive(Debug, Default)]
pub(super) struct Fan {
    /// Points a ray, the station's own among them; whole blocks.
    pub points: usize,
    /// Blocks, and superblocks, a ray and mast; whole lanes of them.
    pub padded: [usize; 2],
    /// Points that every ray has so far; whole blocks.
    filled: usize,
    /// The surface in the effective-earth plane, and its hull.
    pub hull: Vec<HullPoint>,
    /// Heights of the surface in the effective-earth plane, metres above datum.
    pub heights: Vec<f32>,
    /// Steepest slope from each mast up to each point: mast by mast, point by
    /// point.
    pub horizon: Vec<f32>,
    /// Steepest slope within each block and each superblock: mast by mast,
    /// block by block.
    pub blocks: Vec<f32>,
    pub superblocks: Vec<f32>,
    /// The bare earth, without curvature drop, and its hull, if a surface is
    /// fitted.
    pub bare_hull: Vec<HullPoint>,
    /// Integrals over it likewise.
    pub sums: Vec<FitSums>,
    /// Steepest slope from each mast over it likewise.
    pub bare_horizon: Vec<f32>,
    /// Where each ray meets a gap; empty where the terrain has none.
    pub gaps: Vec<GapOnRay>,
    rays: Vec<RayProgress>,
}

/// How a ray runs over the raster, and its integrals so far.
#[derive(Debug, Clone, Copy)]
struct RayProgress {
    /// Cells from the station as a polynomial of the point's index.
    course: [(f32, f32); DEGREE],
    /// v1 and v2 in units of the spacing, and the last height in metres.
    first: f64,
    second: f64,
    height: f64,
}

/// A block of points of a ray.
#[derive(Clone, Copy)]
struct Block<'a> {
    ray: usize,
    /// Index of its first point on the ray.
    first: usize,
    /// 1 over the distance of its points, 1/m.
    inverse: &'a Lanes,
}

/// Points that rays are followed further at a time, or a few times as many.
const STRETCH: usize = 4 * BLOCK;

impl Fan {
    /// Begins the rays of `shape`.
    pub(super) fn begin(
        &mut self,
        terrain: TerrainLayers<'_>,
        frame: &StationFrame,
        station: &StationGeometry,
        shape: &FanShape,
    ) {
        let blocks = shape.points.div_ceil(BLOCK);
        self.points = blocks * BLOCK;
        self.padded =
            [blocks.next_multiple_of(BLOCK), blocks.div_ceil(BLOCK).next_multiple_of(BLOCK)];
        self.filled = 0;
        let (rays, masts) = (shape.rays, station.masts.len());
        let points = rays * self.points;
        size(&mut self.hull, points, HullPoint::first(0, 0.0));
        size(&mut self.horizon, points * masts, 0.0);
        size(&mut self.heights, points, 0.0);
        // What is not there yet stands below everything.
        self.blocks.clear();
        self.blocks.resize(rays * masts * self.padded[0], f32::NEG_INFINITY);
        self.superblocks.clear();
        self.superblocks.resize(rays * masts * self.padded[1], f32::NEG_INFINITY);
        if station.fits_surface {
            size(&mut self.bare_hull, points, HullPoint::first(0, 0.0));
            size(&mut self.sums, points, FitSums::default());
            size(&mut self.bare_horizon, points * masts, 0.0);
        }
        self.gaps.clear();
        if terrain.gaps.is_some() {
            self.gaps.resize(rays, GapOnRay::NONE);
        }
        self.rays.clear();
        self.rays.extend((0..rays).map(|ray| {
            let (east, north) = shape.direction(ray);
            let parts = frame.to_cell.ray(east * station.spacing, north * station.spacing);
            let course = parts.map(|(x, y)| (x as f32, y as f32));
            RayProgress { course, first: 0.0, second: 0.0, height: 0.0 }
        }));
    }

    /// Points that every ray has so far; whole blocks.
    pub(super) fn filled(&self) -> usize {
        self.filled
    }

    /// Follows every ray at least up to a point, if it is that long.
    #[inline(always)]
    pub(super) fn extend_to<S: Simd>(
        &mut self,
        simd: S,
        terrain: TerrainLayers<'_>,
        frame: &StationFrame,
        station: &StationGeometry,
        point: usize,
    ) {
        if point < self.filled {
            return;
        }
        let to = (point + 1).next_multiple_of(STRETCH).min(self.points);
        let origin = frame.offset_to_first_centre();
        for ray in 0..self.rays.len() {
            for block in self.filled / BLOCK..to / BLOCK {
                self.sample_block(simd, terrain, origin, station, (ray, block));
            }
        }
        self.filled = to.max(self.filled);
    }

    /// Samples a block of a ray that starts at `origin`.
    #[inline(always)]
    fn sample_block<S: Simd>(
        &mut self,
        simd: S,
        terrain: TerrainLayers<'_>,
        origin: (f32, f32),
        station: &StationGeometry,
        (ray, block): (usize, usize),
    ) {
        let first = block * BLOCK;
        let (Some(progress), Some(drop), Some(inverse)) =
            (self.rays.get(ray), lanes(&station.drop, first), lanes(&station.inverse, first))
        else {
            return;
        };
        let block = Block { ray, first, inverse };
        let (x, y) = progress.places(simd, origin, first);
        let surface = terrain.surface.heights(simd, &x, &y);
        if let (Some(gaps), Some(gap)) = (terrain.gaps, self.gaps.get_mut(ray)) {
            for (point, (x, y)) in (first as u32..).zip(x.iter().zip(&y)) {
                gaps.record(terrain.surface.cell(*x, *y), point, gap);
            }
        }
        let (mut over_datum, mut effective) = ([0f32; LANES], [0f32; LANES]);
        for part in 0..parts::<S>() {
            let height = Register::load(simd, &surface, part) - station.datum;
            height.store(&mut over_datum, part);
            (height - Register::load(simd, drop, part)).store(&mut effective, part);
        }
        self.put_surface(simd, station, block, &effective);
        if station.fits_surface {
            if let Some(bare_earth) = terrain.bare_earth {
                let heights = bare_earth.heights(simd, &x, &y);
                for part in 0..parts::<S>() {
                    let height = Register::load(simd, &heights, part) - station.datum;
                    height.store(&mut over_datum, part);
                }
            }
            self.put_bare_earth(simd, station, block, &over_datum);
        }
    }

    /// Puts down the heights of a block in the effective-earth plane, their
    /// hull, and the horizons of all masts over them.
    #[inline(always)]
    fn put_surface<S: Simd>(
        &mut self,
        simd: S,
        station: &StationGeometry,
        Block { ray, first, inverse }: Block<'_>,
        heights: &Lanes,
    ) {
        put_lanes(&mut self.heights, ray * self.points + first, heights);
        let spacing = station.spacing as f32;
        if let Some(chain) = self.hull.get_mut(ray * self.points..(ray + 1) * self.points) {
            for (index, height) in (first..).zip(*heights) {
                append(chain, index, height, spacing, &station.inverse);
            }
        }
        let (masts, block) = (station.masts.len(), first / BLOCK);
        for (number, mast) in station.masts.iter().enumerate() {
            let pair = ray * masts + number;
            let start = pair * self.points + first;
            let (slopes, most) =
                running_maxima(simd, heights, *mast, inverse, &self.horizon, (start, first));
            put_lanes(&mut self.horizon, start, &slopes);
            if let Some(top) = self.blocks.get_mut(pair * self.padded[0] + block) {
                *top = most;
            }
            if let Some(top) = self.superblocks.get_mut(pair * self.padded[1] + block / BLOCK) {
                *top = larger(most, *top);
            }
        }
    }

    /// Puts down the hull and the integrals of a block of bare earth, without
    /// curvature drop, and the horizons of all masts over it.
    #[inline(always)]
    fn put_bare_earth<S: Simd>(
        &mut self,
        simd: S,
        station: &StationGeometry,
        Block { ray, first, inverse }: Block<'_>,
        heights: &Lanes,
    ) {
        let spacing = station.spacing as f32;
        if let Some(chain) = self.bare_hull.get_mut(ray * self.points..(ray + 1) * self.points) {
            for (index, height) in (first..).zip(*heights) {
                append(chain, index, height, spacing, &station.inverse);
            }
        }
        if let Some(progress) = self.rays.get_mut(ray) {
            for (index, height) in (first..).zip(*heights) {
                // The antenna stands on the datum, whatever the raster says there.
                let height = if index == 0 { 0.0 } else { f64::from(height) };
                progress.integrate(index, height);
                if let Some(sums) = self.sums.get_mut(ray * self.points + index) {
                    *sums = progress.sums(station.spacing);
                }
            }
        }
        let masts = station.masts.len();
        for (number, mast) in station.masts.iter().enumerate() {
            let start = (ray * masts + number) * self.points + first;
            let (slopes, _) =
                running_maxima(simd, heights, *mast, inverse, &self.bare_horizon, (start, first));
            put_lanes(&mut self.bare_horizon, start, &slopes);
        }
    }
}

impl RayProgress {
    /// Where the points of a block from point `first` on lie, from the raster's
    /// first centre.
    #[inline(always)]
    fn places<S: Simd>(&self, simd: S, origin: (f32, f32), first: usize) -> (Lanes, Lanes) {
        let [a, b, c, d] = self.course;
        let (mut x, mut y) = ([0f32; LANES], [0f32; LANES]);
        for part in 0..parts::<S>() {
            let t = Register::load(simd, &LANE_NUMBERS, part) + first as u32 as f32;
            ((((t * d.0 + c.0) * t + b.0) * t + a.0) * t + origin.0).store(&mut x, part);
            ((((t * d.1 + c.1) * t + b.1) * t + a.1) * t + origin.1).store(&mut y, part);
        }
        (x, y)
    }

    /// Integrates on to the point `index`, bare earth in metres above datum.
    #[inline(always)]
    fn integrate(&mut self, index: usize, height: f64) {
        if index > 0 {
            // In units of the spacing.
            let d = index as u32 as f64;
            self.first += height + self.height;
            self.second += height * (3.0 * d - 1.0) + self.height * (3.0 * d - 2.0);
        }
        self.height = height;
    }

    #[inline(always)]
    fn sums(&self, spacing: f64) -> FitSums {
        FitSums {
            first: (self.first * spacing) as f32,
            second: (self.second * spacing * spacing) as f32,
            height: self.height as f32,
        }
    }
}

/// Running maxima of the slopes from a mast over a block, going on from what
/// stands before `start` in `horizon`, and the largest slope of the block alone.
/// `first` is the block's first point.
#[inline(always)]
fn running_maxima<S: Simd>(
    simd: S,
    heights: &Lanes,
    mast: f32,
    inverse: &Lanes,
    horizon: &[f32],
    (start, first): (usize, usize),
) -> (Lanes, f32) {
    let mut slopes = [0f32; LANES];
    for part in 0..parts::<S>() {
        let rise = Register::load(simd, heights, part) - mast;
        (rise * Register::load(simd, inverse, part)).store(&mut slopes, part);
    }
    let mut highest = f32::NEG_INFINITY;
    if first == 0 {
        // The station's own point has no slope.
        slopes[0] = f32::NEG_INFINITY;
    } else if let Some(before) = horizon.get(start.wrapping_sub(1)) {
        highest = *before;
    }
    let mut most = f32::NEG_INFINITY;
    for slope in &mut slopes {
        most = larger(*slope, most);
        highest = larger(*slope, highest);
        *slope = highest;
    }
    (slopes, most)
}

/// Makes a table this long. One that has no room for it is made anew: growing
/// would hold more than is needed, and nothing in it is worth copying.
fn size<T: Copy>(table: &mut Vec<T>, length: usize, filler: T) {
    if table.capacity() < length {
        *table = Vec::with_capacity(length);
    }
    table.resize(length, filler);
}

/// The lanes of a table from an index on.
#[inline(always)]
fn lanes(table: &[f32], start: usize) -> Option<&Lanes> {
    table.get(start..)?.first_chunk()
}

/// Writes lanes from an index on.
#[inline(always)]
fn put_lanes(table: &mut [f32], start: usize, lanes: &Lanes) {
    if let Some(slot) = table.get_mut(start..start + LANES) {
        slot.copy_from_slice(lanes);
    }
}
