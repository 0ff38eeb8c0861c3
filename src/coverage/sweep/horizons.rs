//! Slopes to the radio horizons of both ends of a path, and its obstruction:
//! what the terrain does to the line between two antennas.
//!
//! Everything here is in the effective-earth plane.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS};
use super::fan::Fan;
use super::foreground::Foreground;
use super::geometry::{Batch, Setup, Waves};
use super::hull::tangent;
use super::obstruction::{RayPoints, SightLine, dominant_obstruction};
use super::registers::{LANES, Lanes, Part, Register, interpolate, larger, parts};
use perchline_propagation::SweptForm;

/// The lines from one mast to the receiver antennas of a batch.
#[derive(Clone, Copy)]
pub(super) struct SightLines<'a> {
    /// Number of the mast.
    pub number: usize,
    /// Station antenna height, metres above datum.
    pub mast: f32,
    /// Receiver antenna heights in the effective-earth plane, metres above datum.
    pub receiver: &'a Lanes,
    /// Slopes from the station antenna to the receiver antennas.
    pub slope: &'a Lanes,
}

/// What the terrain does to them.
#[derive(Clone, Copy)]
pub(super) struct Horizons {
    /// Steepest slope from the station antenna up to the terrain.
    pub station_slope: Lanes,
    /// Steepest slope from the receiver antenna up to the terrain, looking back.
    pub receiver_slope: Lanes,
    /// Largest (s - S) sqrt(d1 / d2): see [`super::obstruction`].
    pub obstruction: Lanes,
    /// By how much both slopes may be off, as the two rays differ: zero where
    /// the foreground decides.
    pub station_doubt: Lanes,
    pub receiver_doubt: Lanes,
}

impl Default for Horizons {
    fn default() -> Self {
        let blank = [0.0; LANES];
        Self {
            station_slope: blank,
            receiver_slope: blank,
            obstruction: blank,
            station_doubt: blank,
            receiver_doubt: blank,
        }
    }
}

impl Horizons {
    /// Those from the mast over all points, and the obstruction by the
    /// foreground.
    #[inline(always)]
    pub(super) fn from_mast<S: Simd>(
        simd: S,
        setup: &Setup<'_>,
        fan: &Fan,
        count: usize,
        (cells, foreground): (&CellGeometry, &Foreground),
        lines: &SightLines<'_>,
    ) -> Self {
        let masts = (setup.station.masts.len(), lines.number);
        let sides = cells.on_both_rays(fan, count, &fan.horizon, masts);
        let mut horizons = Self::default();
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let (distance, slope) = (at.load(&cells.distance), at.load(lines.slope));
            let (before, after) = (at.load(&sides[0]), at.load(&sides[1]));
            let by_rays = interpolate(before, after, at.load(&cells.share));
            let mut worst = Register::splat(simd, f32::NEG_INFINITY);
            let mut steepest = worst;
            for k in 0..FOREGROUND_POINTS {
                let place = at.load(&foreground.distance[k]);
                let rise = (at.load(&foreground.height[k]) - lines.mast) / place;
                steepest = rise.max(steepest);
                // By signed squares, to save a root a point.
                let excess = rise - slope;
                worst = (excess * excess.abs() * place / (distance - place)).max(worst);
            }
            if setup.weighs_doubts {
                let doubt = in_doubt(before, after, by_rays, steepest);
                doubt.store(&mut horizons.station_doubt, part);
            }
            by_rays.max(steepest).store(&mut horizons.station_slope, part);
            let root = worst.abs().sqrt();
            worst.exceeds(0.0).select(root, -root).store(&mut horizons.obstruction, part);
        }
        horizons
    }

    /// Replaces those of the cells whose path is sampled whole.
    #[inline(always)]
    pub(super) fn sample_whole_paths(
        &mut self,
        setup: &Setup<'_>,
        batch: &Batch,
        cells: &CellGeometry,
        lines: &SightLines<'_>,
    ) {
        for l in 0..batch.count {
            if !cells.sampled_whole(l) {
                continue;
            }
            let (mut up, mut back, mut worst) =
                (f32::NEG_INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY);
            let curvature = setup.station.curvature as f32;
            cells.own_path(setup, &setup.terrain.surface, batch, l, |distance, height| {
                let ground = height - distance * distance * curvature;
                let rise = (ground - lines.mast) / distance;
                let rest = cells.distance[l] - distance;
                up = larger(rise, up);
                back = larger((ground - lines.receiver[l]) / rest, back);
                let excess = rise - lines.slope[l];
                worst = larger(excess * excess.abs() * distance / rest, worst);
            });
            self.station_slope[l] = up;
            self.receiver_slope[l] = back;
            self.obstruction[l] = worst.abs().sqrt().copysign(worst);
            (self.station_doubt[l], self.receiver_doubt[l]) = (0.0, 0.0);
        }
    }

    /// The same as one channel alone would have found them, whatever others shared the
    /// sweep.
    #[inline(always)]
    pub(super) fn as_told_by_rays(
        &self,
        setup: &Setup<'_>,
        waves: &Waves,
        cells: &CellGeometry,
    ) -> Self {
        let mut own = *self;
        if setup.channels.len() > 1 && setup.form != SweptForm::FreeSpace {
            let longest = waves.longest();
            for (obstruction, distance) in own.obstruction.iter_mut().zip(&cells.distance) {
                let least = least_that_counts(longest, *distance);
                // As the search leaves it, which goes by squares.
                let least = -(least * least).sqrt();
                *obstruction = larger(*obstruction, least);
            }
        }
        own
    }

    /// Counts the points of the rays in the obstruction too, where the method
    /// needs them. `hints` speed up the search from mast to mast.
    #[inline(always)]
    pub(super) fn obstruct_by_rays<S: Simd>(
        &mut self,
        simd: S,
        setup: &Setup<'_>,
        fan: &Fan,
        count: usize,
        cells: &CellGeometry,
        (lines, hints): (&SightLines<'_>, &mut [u32; LANES]),
    ) {
        let SightLines { number, mast, slope, .. } = *lines;
        let masts = setup.station.masts.len();
        let spacing = setup.station.spacing as f32;
        // Below nu = -0.78 at all frequencies nothing counts.
        let longest = setup.channels.iter().map(Waves::longest).fold(f32::INFINITY, f32::min);
        let always = setup.form == SweptForm::SingleEdge;
        for l in 0..count {
            let blocked = self.station_slope[l] >= slope[l];
            if cells.sampled_whole(l) || (blocked && !always) {
                continue;
            }
            let least = larger(self.obstruction[l], least_that_counts(longest, cells.distance[l]));
            let line = SightLine { distance: cells.distance[l], slope: slope[l], mast };
            // The closer ray is enough: on a clear path the foreground counts
            // most, and that is the cell's own.
            let ray = cells.closer_ray(l);
            let (points, [blocks, superblocks]) = (fan.points, fan.padded);
            let pair = ray * masts + number;
            let (Some(heights), Some(blocks), Some(superblocks)) = (
                fan.heights.get(ray * points..(ray + 1) * points),
                fan.blocks.get(pair * blocks..(pair + 1) * blocks),
                fan.superblocks.get(pair * superblocks..(pair + 1) * superblocks),
            ) else {
                continue;
            };
            let (last, inverse) = (cells.last_point[l] as usize, setup.station.inverse.as_slice());
            let ray = RayPoints { heights, blocks, superblocks, last, spacing, inverse };
            self.obstruction[l] = dominant_obstruction(simd, ray, line, least, &mut hints[l]);
        }
    }
}

/// The largest obstruction that surely counts for nothing where the least 2 / lambda is
/// `longest`, 1/m, over a distance in metres.
#[inline(always)]
fn least_that_counts(longest: f32, distance: f32) -> f32 {
    -0.8 / (longest * distance).sqrt()
}

/// By how much a slope may be off that is interpolated between those of two
/// rays, `by_rays`, where the foreground's is the other candidate.
#[inline(always)]
fn in_doubt<S: Simd>(
    before: Register<S>,
    after: Register<S>,
    by_rays: Register<S>,
    foreground: Register<S>,
) -> Register<S> {
    let apart = before.above(after).or(after.above(before));
    let doubt = apart.select((before - after).abs(), before.zero()).at_most(STEEP);
    (by_rays + doubt).above(foreground).select(doubt, doubt.zero())
}

/// Slopes are not told apart beyond this.
const STEEP: f32 = 10.0;

/// Steepest slopes from the receiver antennas up to the terrain, looking back,
/// and by how much they may be off: over all points in the lanes that are
/// `wanted`, over the foreground elsewhere.
#[inline(always)]
pub(super) fn receiver_slopes<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    fan: &Fan,
    count: usize,
    (cells, foreground): (&CellGeometry, &Foreground),
    receiver: &Lanes,
    wanted: &[bool; LANES],
) -> [Lanes; 2] {
    let spacing = setup.station.spacing as f32;
    let (mut tops, mut places) = ([[f32::NEG_INFINITY; LANES]; 2], [[0f32; LANES]; 2]);
    for l in (0..count).filter(|l| wanted[*l]) {
        for side in 0..2 {
            let start = (cells.ray[l] as usize + side) * fan.points;
            let Some(ray) = fan.hull.get(start..start + fan.points) else { continue };
            let last = cells.last_point[l] as usize;
            let (at, top) = tangent(ray, last, cells.distance[l], receiver[l]);
            tops[side][l] = top;
            places[side][l] = at as u32 as f32 * spacing;
        }
    }
    let (mut slopes, mut doubts) = ([0f32; LANES], [0f32; LANES]);
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let (receiver, distance) = (at.load(receiver), at.load(&cells.distance));
        let before = (at.load(&tops[0]) - receiver) / (distance - at.load(&places[0]));
        let after = (at.load(&tops[1]) - receiver) / (distance - at.load(&places[1]));
        let by_rays = interpolate(before, after, at.load(&cells.share));
        let mut steepest = Register::splat(simd, f32::NEG_INFINITY);
        for k in 0..FOREGROUND_POINTS {
            let rest = distance - at.load(&foreground.distance[k]);
            steepest = ((at.load(&foreground.height[k]) - receiver) / rest).max(steepest);
        }
        if setup.weighs_doubts {
            in_doubt(before, after, by_rays, steepest).store(&mut doubts, part);
        }
        by_rays.max(steepest).store(&mut slopes, part);
    }
    [slopes, doubts]
}
