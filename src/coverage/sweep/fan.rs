//! The rays of one wedge: heights along geodesics that leave the antenna at
//! nearly the same azimuth, with what the cells between them ask for.

use std::sync::atomic::{AtomicBool, Ordering};

use super::clear::{BATCH, BLOCK};
use super::frame::{DEGREE, Frame};
use super::gaps::{Gaps, Trouble};
use super::hull::{Vertex, push};
use super::surface::{Surface, mix};

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
        let distances = || (0..points + 2).map(|i| i as f64 * spacing);
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
}

/// The rays of a wedge, one after another.
#[derive(Debug, Default)]
pub(super) struct Fan {
    /// Points a ray, the antenna's own among them.
    pub points: usize,
    /// Blocks a ray and mast, whole batches of them.
    pub blocks: usize,
    /// Ground sunk by the curve of the earth, and its hull.
    pub sunk: Vec<Vertex>,
    /// Steepest slope from each mast up to each point: point by point, mast by mast.
    pub horizon: Vec<f32>,
    /// Steepest slope within each block: mast by mast, block by block.
    pub steepest: Vec<f32>,
    /// The bare ground and its hull, if asked for.
    pub bare: Vec<Vertex>,
    /// Sums over the bare ground, if asked for.
    pub sums: Vec<Sums>,
    /// Steepest slope from each mast over the bare ground.
    pub bare_horizon: Vec<f32>,
    /// Where each ray meets a gap; empty where the terrain has none.
    pub trouble: Vec<Trouble>,
    heights: Vec<f32>,
    chain: Vec<Vertex>,
}

/// Where the heights of a sweep come from.
#[derive(Clone, Copy)]
pub(super) struct Ground<'a> {
    pub surface: Surface<'a>,
    pub gaps: Option<&'a Gaps>,
}

impl Fan {
    /// Samples the rays of `spread` anew, until told to stop.
    #[inline(always)]
    pub(super) fn fill(
        &mut self,
        ground: Ground<'_>,
        frame: &Frame,
        stage: &Stage,
        spread: &Spread,
        stop: &AtomicBool,
    ) {
        self.points = spread.points;
        self.blocks = spread.points.div_ceil(BLOCK).next_multiple_of(BATCH);
        self.sunk.clear();
        self.horizon.clear();
        self.steepest.clear();
        self.bare.clear();
        self.sums.clear();
        self.bare_horizon.clear();
        self.trouble.clear();
        for ray in 0..spread.rays {
            if stop.load(Ordering::Relaxed) {
                return;
            }
            self.sample(ground, frame, stage.spacing, spread.direction(ray));
            self.sunken(stage);
            self.horizons(stage);
            if stage.bare {
                self.bare_ground(stage);
            }
        }
    }

    /// Heights of one ray's points over sea level.
    #[inline(always)]
    fn sample(
        &mut self,
        Ground { surface, gaps }: Ground<'_>,
        frame: &Frame,
        spacing: f64,
        (east, north): (f64, f64),
    ) {
        const CHUNK: usize = 16;
        let parts: [(f32, f32); DEGREE] =
            frame.to_cell.along(east * spacing, north * spacing).map(|(x, y)| (x as f32, y as f32));
        let origin = ((frame.origin.0 - 0.5) as f32, (frame.origin.1 - 0.5) as f32);
        self.heights.clear();
        let mut trouble = Trouble::NONE;
        let mut start = 0;
        while start < self.points {
            let (mut cells, mut right, mut down) = ([0u32; CHUNK], [0f32; CHUNK], [0f32; CHUNK]);
            for l in 0..CHUNK {
                let t = (start + l) as f32;
                let [a, b, c, d] = parts;
                let x = t * (a.0 + t * (b.0 + t * (c.0 + t * d.0)));
                let y = t * (a.1 + t * (b.1 + t * (c.1 + t * d.1)));
                (cells[l], right[l], down[l]) = surface.cell(origin.0 + x, origin.1 + y);
            }
            let mut corners = [[0f32; CHUNK]; 4];
            for l in 0..CHUNK {
                let four = surface.four(cells[l]);
                for k in 0..4 {
                    corners[k][l] = four[k];
                }
            }
            let mut heights = [0f32; CHUNK];
            for l in 0..CHUNK {
                heights[l] = mix(
                    [corners[0][l], corners[1][l], corners[2][l], corners[3][l]],
                    right[l],
                    down[l],
                );
            }
            self.heights.extend_from_slice(&heights);
            if let Some(gaps) = gaps {
                for (point, cell) in (start as u32..).zip(cells) {
                    gaps.note(cell, point, &mut trouble);
                }
            }
            start += CHUNK;
        }
        if gaps.is_some() {
            self.trouble.push(trouble);
        }
        self.heights.truncate(self.points);
    }

    /// The hull of the ground less the drop of the earth.
    #[inline(always)]
    fn sunken(&mut self, stage: &Stage) {
        for ((height, drop), _) in self.heights.iter_mut().zip(&stage.drop).zip(0..self.points) {
            *height -= stage.datum + *drop;
        }
        chain(&mut self.chain, &self.heights, stage);
        self.sunk.extend_from_slice(&self.chain);
    }

    /// Running maxima and block maxima of the slopes from every mast.
    #[inline(always)]
    fn horizons(&mut self, stage: &Stage) {
        let masts = stage.masts.len();
        let (start, blocks_start) = (self.horizon.len(), self.steepest.len());
        self.horizon.resize(start + self.points * masts, f32::NEG_INFINITY);
        self.steepest.resize(blocks_start + self.blocks * masts, f32::NEG_INFINITY);
        let (Some(horizon), Some(steepest)) =
            (self.horizon.get_mut(start..), self.steepest.get_mut(blocks_start..))
        else {
            return;
        };
        if let [mast] = stage.masts.as_slice() {
            let mut highest = f32::NEG_INFINITY;
            let slopes = self.heights.iter().zip(&stage.inverse).map(|(h, i)| (h - mast) * i);
            let mut rows = horizon.iter_mut().zip(slopes).skip(1);
            for (block, top) in steepest.iter_mut().enumerate() {
                let mut most = f32::NEG_INFINITY;
                for (out, slope) in rows.by_ref().take(if block == 0 { BLOCK - 1 } else { BLOCK }) {
                    most = if slope > most { slope } else { most };
                    highest = if slope > highest { slope } else { highest };
                    *out = highest;
                }
                *top = most;
            }
            return;
        }
        let mut highest = vec![f32::NEG_INFINITY; masts];
        for (point, (out, height)) in horizon.chunks_exact_mut(masts).zip(&self.heights).enumerate()
        {
            if point == 0 {
                continue;
            }
            let inverse = stage.inverse.get(point).copied().unwrap_or(0.0);
            let tops = steepest.iter_mut().skip(point / BLOCK).step_by(self.blocks);
            for (((out, top), high), mast) in
                out.iter_mut().zip(tops).zip(&mut highest).zip(&stage.masts)
            {
                let slope = (height - mast) * inverse;
                *top = if slope > *top { slope } else { *top };
                *high = if slope > *high { slope } else { *high };
                *out = *high;
            }
        }
    }

    /// Hull, sums and horizons of the ground without the drop.
    #[inline(always)]
    fn bare_ground(&mut self, stage: &Stage) {
        for (height, drop) in self.heights.iter_mut().zip(&stage.drop) {
            *height += *drop;
        }
        chain(&mut self.chain, &self.heights, stage);
        self.bare.extend_from_slice(&self.chain);
        let (mut v1, mut v2, mut before) = (0.0f64, 0.0f64, 0.0f64);
        for (point, height) in self.heights.iter().enumerate() {
            // The antenna stands on the datum, whatever the raster says there.
            let height = if point == 0 { 0.0 } else { f64::from(*height) };
            if point > 0 {
                // In units of the spacing.
                let d = point as f64;
                v1 += height + before;
                v2 += height * (3.0 * d - 1.0) + before * (3.0 * d - 2.0);
            }
            before = height;
            let unit = stage.spacing;
            self.sums.push(Sums { first: (v1 * unit) as f32, second: (v2 * unit * unit) as f32 });
        }
        let masts = stage.masts.len();
        let start = self.bare_horizon.len();
        self.bare_horizon.resize(start + self.points * masts, f32::NEG_INFINITY);
        let Some(horizon) = self.bare_horizon.get_mut(start..) else { return };
        for (m, mast) in stage.masts.iter().enumerate() {
            let mut highest = f32::NEG_INFINITY;
            let slopes = self.heights.iter().zip(&stage.inverse).map(|(h, i)| (h - mast) * i);
            let outs = horizon.iter_mut().skip(m).step_by(masts);
            for (out, slope) in outs.zip(slopes).skip(1) {
                highest = if slope > highest { slope } else { highest };
                *out = highest;
            }
        }
    }
}

/// The chain of hulls over the heights, the first of which (under the antenna
/// itself) is no part of it.
#[inline(always)]
fn chain(chain: &mut Vec<Vertex>, heights: &[f32], stage: &Stage) {
    chain.clear();
    chain.reserve(heights.len());
    for (index, height) in heights.iter().enumerate() {
        if index < 2 {
            chain.push(Vertex::first(index as u32, *height));
        } else {
            push(chain, *height, stage.spacing as f32, &stage.inverse);
        }
    }
}
