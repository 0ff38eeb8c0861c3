//! The rays of one wedge: heights along geodesics that leave the antenna at
//! nearly the same azimuth, with what the cells between them ask for.

use pulp::Simd;

use super::clear::BLOCK;
use super::frame::{DEGREE, Frame};
use super::gaps::{Gaps, Trouble};
use super::hull::{Vertex, put};
use super::lane::{COUNT, LANES, Lane, Row, larger, parts as lane_parts};
use super::surface::Surface;

/// Which rays a wedge needs.
#[derive(Debug, Clone, Copy)]
pub(super) struct Spread {
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

impl Spread {
    /// The unit vector (east, north) of a ray.
    fn direction(&self, ray: usize) -> (f64, f64) {
        let tangent = self.first + self.step * ray as f64;
        let length = tangent.hypot(1.0);
        let (east, north) = self.axis;
        ((east + tangent * north) / length, (north - tangent * east) / length)
    }
}

/// What the heights are measured from and how high the antennas stand.
#[derive(Debug, Clone)]
pub(super) struct Stage {
    /// Height above sea that stands for zero: the ground under the antenna.
    pub datum: f32,
    /// Heights of the fixed antenna over the datum.
    pub masts: Vec<f32>,
    /// 1 / (2 a) of the effective earth, 1/m.
    pub curvature: f64,
    /// Distance between points in metres.
    pub spacing: f64,
    /// 1 / (i spacing).
    pub inverse: Vec<f32>,
    /// i^2 spacing^2 / (2 a): how far the earth has fallen away at point i.
    pub drop: Vec<f32>,
    /// Whether the method asks for the ground without the bulge.
    pub bare: bool,
}

impl Stage {
    /// The tables for rays of up to `points` points.
    pub(super) fn new(
        datum: f32,
        masts: Vec<f32>,
        curvature: f64,
        spacing: f64,
        points: usize,
        bare: bool,
    ) -> Self {
        // Whole blocks of them.
        let points = (points + 2).next_multiple_of(BLOCK);
        let distances = || (0..points).map(|i| i as f64 * spacing);
        Self {
            datum,
            masts,
            curvature,
            spacing,
            inverse: distances().map(|d| (1.0 / d) as f32).collect(),
            drop: distances().map(|d| (d * d * curvature) as f32).collect(),
            bare,
        }
    }
}

/// Sums over the ground up to a point that its best straight line needs.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Sums {
    /// v1 of ITU-R P.526-15 section 4.5.3, m^2.
    pub first: f32,
    /// v2 of the same, m^3.
    pub second: f32,
    /// Height of the point over the datum, metres.
    pub height: f32,
}

/// The rays of a wedge, one after another, as far as they have been followed.
///
/// They grow together as the walk over the wedge's cells moves outwards, so
/// that what the cells ask for has just been written.
#[derive(Debug, Default)]
pub(super) struct Fan {
    /// Points a ray, the antenna's own among them; whole blocks.
    pub points: usize,
    /// Blocks, and batches of blocks, a ray and mast, with what fills their last row.
    pub padded: [usize; 2],
    /// Points that every ray has so far; whole blocks.
    filled: usize,
    /// Ground sunk by the curve of the earth, and its hull.
    pub sunk: Vec<Vertex>,
    /// Steepest slope from each mast up to each point: mast by mast, point by point.
    pub horizon: Vec<f32>,
    /// Heights of the sunk ground.
    pub lows: Vec<f32>,
    /// Steepest slope within each block and each batch of blocks: mast by
    /// mast, block by block.
    pub blocks: Vec<f32>,
    pub batches: Vec<f32>,
    /// The bare ground and its hull, if asked for.
    pub bare: Vec<Vertex>,
    /// Sums over the bare ground, if asked for.
    pub sums: Vec<Sums>,
    /// Steepest slope from each mast over the bare ground.
    pub bare_horizon: Vec<f32>,
    /// Where each ray meets a gap; empty where the terrain has none.
    pub trouble: Vec<Trouble>,
    rays: Vec<Progress>,
}

/// How a ray runs over the raster, and its sums so far.
#[derive(Debug, Clone, Copy)]
struct Progress {
    /// Cells from the antenna as a polynomial of the point's index.
    course: [(f32, f32); DEGREE],
    /// v1 and v2 in units of the spacing, and the last height.
    first: f64,
    second: f64,
    height: f64,
}

/// Where the heights of a sweep come from.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub surface: Surface<'a>,
    pub gaps: Option<&'a Gaps>,
}

/// Points that rays are followed further at a time, or a few times as many.
const STRETCH: usize = 4 * BLOCK;

impl Fan {
    /// Begins the rays of `spread`.
    pub(super) fn begin(
        &mut self,
        ground: Ground<'_>,
        frame: &Frame,
        stage: &Stage,
        spread: &Spread,
    ) {
        let blocks = spread.points.div_ceil(BLOCK);
        self.points = blocks * BLOCK;
        self.padded =
            [blocks.next_multiple_of(BLOCK), blocks.div_ceil(BLOCK).next_multiple_of(BLOCK)];
        self.filled = 0;
        let (rays, masts) = (spread.rays, stage.masts.len());
        let points = rays * self.points;
        size(&mut self.sunk, points, Vertex::first(0, 0.0));
        size(&mut self.horizon, points * masts, 0.0);
        size(&mut self.lows, points, 0.0);
        // What is not there yet stands below everything.
        self.blocks.clear();
        self.blocks.resize(rays * masts * self.padded[0], f32::NEG_INFINITY);
        self.batches.clear();
        self.batches.resize(rays * masts * self.padded[1], f32::NEG_INFINITY);
        if stage.bare {
            size(&mut self.bare, points, Vertex::first(0, 0.0));
            size(&mut self.sums, points, Sums::default());
            size(&mut self.bare_horizon, points * masts, 0.0);
        }
        self.trouble.clear();
        if ground.gaps.is_some() {
            self.trouble.resize(rays, Trouble::NONE);
        }
        self.rays.clear();
        self.rays.extend((0..rays).map(|ray| {
            let (east, north) = spread.direction(ray);
            let parts = frame.to_cell.along(east * stage.spacing, north * stage.spacing);
            let course = parts.map(|(x, y)| (x as f32, y as f32));
            Progress { course, first: 0.0, second: 0.0, height: 0.0 }
        }));
    }

    /// Follows every ray at least up to a point, if it is that long.
    #[inline(always)]
    pub(super) fn reach<S: Simd>(
        &mut self,
        simd: S,
        ground: Ground<'_>,
        frame: &Frame,
        stage: &Stage,
        point: usize,
    ) {
        if point < self.filled {
            return;
        }
        let to = (point + 1).next_multiple_of(STRETCH).min(self.points);
        let origin = ((frame.origin.0 - 0.5) as f32, (frame.origin.1 - 0.5) as f32);
        for ray in 0..self.rays.len() {
            for block in self.filled / BLOCK..to / BLOCK {
                self.follow(simd, ground, origin, stage, (ray, block));
            }
        }
        self.filled = to.max(self.filled);
    }

    /// Samples a block of a ray.
    #[inline(always)]
    fn follow<S: Simd>(
        &mut self,
        simd: S,
        Ground { surface, gaps }: Ground<'_>,
        origin: (f32, f32),
        stage: &Stage,
        (ray, block): (usize, usize),
    ) {
        let first = block * BLOCK;
        let (Some(progress), Some(drop), Some(inverse)) =
            (self.rays.get_mut(ray), row(&stage.drop, first), row(&stage.inverse, first))
        else {
            return;
        };
        let [a, b, c, d] = progress.course;
        let (mut x, mut y) = ([0f32; LANES], [0f32; LANES]);
        for part in 0..lane_parts::<S>() {
            let t = Lane::load(simd, &COUNT, part) + first as u32 as f32;
            ((((t * d.0 + c.0) * t + b.0) * t + a.0) * t + origin.0).store(&mut x, part);
            ((((t * d.1 + c.1) * t + b.1) * t + a.1) * t + origin.1).store(&mut y, part);
        }
        let heights = surface.heights(simd, &x, &y);
        if let (Some(gaps), Some(trouble)) = (gaps, self.trouble.get_mut(ray)) {
            for (point, (x, y)) in (first as u32..).zip(x.iter().zip(&y)) {
                gaps.note(surface.cell(*x, *y), point, trouble);
            }
        }
        let at = ray * self.points + first;
        let masts = stage.masts.len();
        let (mut bare, mut sunk) = ([0f32; LANES], [0f32; LANES]);
        for part in 0..lane_parts::<S>() {
            let height = Lane::load(simd, &heights, part) - stage.datum;
            height.store(&mut bare, part);
            (height - Lane::load(simd, drop, part)).store(&mut sunk, part);
        }
        put_row(&mut self.lows, at, &sunk);
        let spacing = stage.spacing as f32;
        let chain = ray * self.points..(ray + 1) * self.points;
        if let Some(chain) = self.sunk.get_mut(chain.clone()) {
            for (index, height) in (first..).zip(sunk) {
                put(chain, index, height, spacing, &stage.inverse);
            }
        }
        for (m, mast) in stage.masts.iter().enumerate() {
            let start = (ray * masts + m) * self.points + first;
            let (slopes, most) = running(simd, &sunk, *mast, inverse, &self.horizon, start, first);
            put_row(&mut self.horizon, start, &slopes);
            let pair = ray * masts + m;
            if let Some(top) = self.blocks.get_mut(pair * self.padded[0] + block) {
                *top = most;
            }
            if let Some(top) = self.batches.get_mut(pair * self.padded[1] + block / BLOCK) {
                *top = larger(most, *top);
            }
        }
        if !stage.bare {
            return;
        }
        if let Some(chain) = self.bare.get_mut(chain) {
            for (index, height) in (first..).zip(bare) {
                put(chain, index, height, spacing, &stage.inverse);
            }
        }
        for (index, height) in (first..).zip(bare) {
            // The antenna stands on the datum, whatever the raster says there.
            let height = if index == 0 { 0.0 } else { f64::from(height) };
            if index > 0 {
                // In units of the spacing.
                let d = index as u32 as f64;
                progress.first += height + progress.height;
                progress.second += height * (3.0 * d - 1.0) + progress.height * (3.0 * d - 2.0);
            }
            progress.height = height;
            if let Some(sums) = self.sums.get_mut(ray * self.points + index) {
                let unit = stage.spacing;
                *sums = Sums {
                    first: (progress.first * unit) as f32,
                    second: (progress.second * unit * unit) as f32,
                    height: height as f32,
                };
            }
        }
        for (m, mast) in stage.masts.iter().enumerate() {
            let start = (ray * masts + m) * self.points + first;
            let (slopes, _) =
                running(simd, &bare, *mast, inverse, &self.bare_horizon, start, first);
            put_row(&mut self.bare_horizon, start, &slopes);
        }
    }
}

/// Running maxima of the slopes from a mast over a block, going on from what
/// stands before `start`, and the largest slope of the block alone.
#[inline(always)]
fn running<S: Simd>(
    simd: S,
    heights: &Row,
    mast: f32,
    inverse: &Row,
    horizon: &[f32],
    start: usize,
    first: usize,
) -> (Row, f32) {
    let mut slopes = [0f32; LANES];
    for part in 0..lane_parts::<S>() {
        let slope = (Lane::load(simd, heights, part) - mast) * Lane::load(simd, inverse, part);
        slope.store(&mut slopes, part);
    }
    let mut highest = f32::NEG_INFINITY;
    if first == 0 {
        // The antenna's own point has no slope.
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

/// The row of a table that begins at an index.
#[inline(always)]
fn row(table: &[f32], start: usize) -> Option<&Row> {
    table.get(start..)?.first_chunk()
}

/// Writes a row at an index.
#[inline(always)]
fn put_row(table: &mut [f32], start: usize, row: &Row) {
    if let Some(slot) = table.get_mut(start..start + LANES) {
        slot.copy_from_slice(row);
    }
}
