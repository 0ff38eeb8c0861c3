//! Effective antenna heights: over the smooth surface that fits the bare earth
//! of a path best (ITU-R P.526-15 section 4.5.3).
//!
//! Everything here is without curvature drop, as the Recommendation has it.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use std::ops::{Add, Mul, Sub};

use pulp::Simd;

use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS};
use super::fan::{Fan, FitSums};
use super::foreground::Foreground;
use super::geometry::{Batch, Setup};
use super::horizons::SightLines;
use super::hull::{highest_over, tangent};
use super::registers::{LANES, Lanes, Part, Register, interpolate, larger, parts, parts_of};

/// Heights of both antennas over the smooth surface, metres.
#[derive(Debug, Clone, Copy)]
pub(super) struct EffectiveHeights {
    pub station: Lanes,
    pub receiver: Lanes,
}

/// v1 and v2 of P.526 over whole paths, m^2 and m^3: what the fit needs of the
/// bare earth, whatever the antenna heights.
#[derive(Clone, Copy, Default)]
pub(super) struct PathIntegrals {
    pub first: Lanes,
    pub second: Lanes,
}

/// v1 and v2 over a path so far, and the point that it has come to.
#[derive(Clone, Copy)]
struct Integral<T> {
    first: T,
    second: T,
    distance: T,
    height: T,
}

impl<T> Integral<T>
where
    T: Copy + Add<Output = T> + Sub<Output = T> + Mul<Output = T> + Mul<f32, Output = T>,
{
    /// Integrates on to a point: distance and height in metres.
    #[inline(always)]
    fn to(self, distance: T, height: T) -> Self {
        let (d0, h0, d, h) = (self.distance, self.height, distance, height);
        let step = d - d0;
        Self {
            first: self.first + step * (h + h0),
            second: self.second + step * (h * (d * 2.0 + d0) + h0 * (d + d0 * 2.0)),
            distance,
            height,
        }
    }
}

impl PathIntegrals {
    /// Those of each cell's path: of the two rays up to the last point that
    /// counts, then over the foreground.
    #[inline(always)]
    pub(super) fn of<S: Simd>(
        simd: S,
        setup: &Setup<'_>,
        fan: &Fan,
        batch: &Batch,
        (cells, foreground): (&CellGeometry, &Foreground),
    ) -> Self {
        let curvature = setup.station.curvature as f32;
        let spacing = setup.station.spacing as f32;
        let blank = [[0f32; LANES]; 2];
        let (mut firsts, mut seconds, mut heights) = (blank, blank, blank);
        let mut reached = [0f32; LANES];
        for l in 0..batch.count {
            reached[l] = cells.last_point[l] as f32 * spacing;
            for side in 0..2 {
                let start = (cells.ray[l] as usize + side) * fan.points;
                let sums = fan.sums.get(start + cells.last_point[l] as usize);
                if let Some(FitSums { first, second, height }) = sums {
                    (firsts[side][l], seconds[side][l]) = (*first, *second);
                    heights[side][l] = *height;
                }
            }
        }
        let mut whole = Self { first: [0.0; LANES], second: [0.0; LANES] };
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let share = at.load(&cells.share);
            let mut integral = Integral {
                first: interpolate(at.load(&firsts[0]), at.load(&firsts[1]), share),
                second: interpolate(at.load(&seconds[0]), at.load(&seconds[1]), share),
                distance: at.load(&reached),
                height: interpolate(at.load(&heights[0]), at.load(&heights[1]), share),
            };
            for k in (0..FOREGROUND_POINTS).rev() {
                let distance = at.load(&foreground.distance[k]);
                integral = integral.to(distance, foreground.bare(at, k, curvature));
            }
            integral = integral.to(at.load(&cells.distance), at.load(&cells.ground));
            integral.first.store(&mut whole.first, part);
            integral.second.store(&mut whole.second, part);
        }
        whole.sample_whole_paths(setup, batch, cells);
        whole
    }

    /// Replaces those of the cells whose path is sampled whole.
    #[inline(always)]
    fn sample_whole_paths(&mut self, setup: &Setup<'_>, batch: &Batch, cells: &CellGeometry) {
        for l in (0..batch.count).filter(|_| cells.any_sampled_whole) {
            if cells.sampled_whole(l) {
                let mut integral =
                    Integral { first: 0.0f32, second: 0.0, distance: 0.0, height: 0.0 };
                let ground = setup.terrain.ground();
                cells.own_path(setup, &ground, batch, l, |distance, height| {
                    integral = integral.to(distance, height);
                });
                integral = integral.to(cells.distance[l], cells.ground[l]);
                (self.first[l], self.second[l]) = (integral.first, integral.second);
            }
        }
    }
}

/// The radio horizon of a receiver antenna over the bare earth of the closer
/// ray: the same for all masts.
#[derive(Clone, Copy)]
pub(super) struct BareHorizon {
    /// Index of the point to which the line up from the antenna is steepest.
    at: usize,
    /// Its slope, looking back.
    slope: f32,
}

/// What stands out over the lines of a batch, over the bare earth.
#[derive(Clone, Copy)]
pub(super) struct Protrusions {
    /// Slopes from the station antenna to the receiver antennas.
    pub slope: Lanes,
    /// Largest height of the bare earth over the line, metres.
    pub highest: Lanes,
    /// The largest such height over the distance from the station.
    pub from_station: Lanes,
    /// The same over the distance from the receiver.
    pub from_receiver: Lanes,
}

/// What stands out for one mast and receiver antennas `receiver` metres above the
/// ground of their cells.
#[inline(always)]
pub(super) fn protrusions<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    fan: &Fan,
    batch: &Batch,
    (cells, foreground): (&CellGeometry, &Foreground),
    (lines, receiver, horizons): (&SightLines<'_>, f32, &mut [Option<BareHorizon>; LANES]),
) -> Protrusions {
    let both = (cells, foreground);
    let mut over = Protrusions::of(simd, setup, fan, batch.count, both, (lines, receiver));
    for l in 0..batch.count {
        if cells.any_sampled_whole && cells.sampled_whole(l) {
            over.sample_whole_path(setup, batch, cells, lines.mast, l);
            continue;
        }
        if over.from_station[l] <= 0.0 {
            continue;
        }
        over.count_ray(setup, fan, cells, (lines.mast, receiver), l, &mut horizons[l]);
    }
    over
}

/// The effective heights of antennas `mast` metres above datum and `receiver`
/// metres above the ground of the cells; those of other lanes mean nothing.
#[inline(always)]
pub(super) fn effective_heights<S: Simd>(
    simd: S,
    cells: &CellGeometry,
    integrals: &PathIntegrals,
    over: &Protrusions,
    (mast, receiver): (f32, f32),
    lanes: u32,
) -> EffectiveHeights {
    let blank = [0f32; LANES];
    let mut heights = EffectiveHeights { station: blank, receiver: blank };
    for part in parts_of::<S>(lanes) {
        let at = Part { simd, part };
        let inverse = Register::splat(simd, 1.0) / at.load(&cells.distance);
        let first = at.load(&integrals.first) * inverse;
        let second = at.load(&integrals.second) * inverse * inverse;
        let (up, back) = (at.load(&over.from_station), at.load(&over.from_receiver));
        let top = at.load(&over.highest);
        // Where nothing stands out the slopes may be infinite.
        let (out, none) = (top.exceeds(0.0), inverse.zero());
        let lowered = top / (up + back);
        let start = first * 2.0 - second - out.select(lowered * up, none);
        let end = second - first - out.select(lowered * back, none);
        let ground = at.load(&cells.ground);
        (-start.at_most(0.0) + mast).store(&mut heights.station, part);
        (ground - end.min(ground) + receiver).store(&mut heights.receiver, part);
    }
    heights
}

impl Protrusions {
    /// Those from the station's horizon and the foreground.
    #[inline(always)]
    fn of<S: Simd>(
        simd: S,
        setup: &Setup<'_>,
        fan: &Fan,
        count: usize,
        (cells, foreground): (&CellGeometry, &Foreground),
        (lines, receiver): (&SightLines<'_>, f32),
    ) -> Self {
        let (curvature, mast) = (setup.station.curvature as f32, lines.mast);
        let masts = (setup.station.masts.len(), lines.number);
        let sides = cells.on_both_rays(fan, count, &fan.bare_horizon, masts);
        let blank = [0f32; LANES];
        let mut over =
            Self { slope: blank, highest: blank, from_station: blank, from_receiver: blank };
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let distance = at.load(&cells.distance);
            let line = (at.load(&cells.ground) + receiver - mast) / distance;
            let (before, after) = (at.load(&sides[0]), at.load(&sides[1]));
            let mut up = interpolate(before, after, at.load(&cells.share)) - line;
            let mut top = Register::splat(simd, f32::NEG_INFINITY);
            let mut back = top;
            for k in 0..FOREGROUND_POINTS {
                let place = at.load(&foreground.distance[k]);
                let height = foreground.bare(at, k, curvature);
                let excess = height - mast - line * place;
                top = excess.max(top);
                up = (excess / place).max(up);
                back = (excess / (distance - place)).max(back);
            }
            line.store(&mut over.slope, part);
            top.store(&mut over.highest, part);
            up.store(&mut over.from_station, part);
            back.store(&mut over.from_receiver, part);
        }
        over
    }

    /// Replaces those of a cell whose path is sampled whole.
    #[inline(always)]
    fn sample_whole_path(
        &mut self,
        setup: &Setup<'_>,
        batch: &Batch,
        cells: &CellGeometry,
        mast: f32,
        lane: usize,
    ) {
        let slope = self.slope[lane];
        let (mut top, mut up, mut back) = (f32::NEG_INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY);
        cells.own_path(setup, &setup.terrain.ground(), batch, lane, |distance, height| {
            let excess = height - mast - slope * distance;
            top = larger(excess, top);
            up = larger(excess / distance, up);
            back = larger(excess / (cells.distance[lane] - distance), back);
        });
        (self.highest[lane], self.from_station[lane], self.from_receiver[lane]) = (top, up, back);
    }

    /// Counts the closer ray of a cell whose line is blocked. One ray is enough:
    /// the fit changes little with a single point.
    #[inline(always)]
    fn count_ray(
        &mut self,
        setup: &Setup<'_>,
        fan: &Fan,
        cells: &CellGeometry,
        (mast, receiver): (f32, f32),
        lane: usize,
        horizon: &mut Option<BareHorizon>,
    ) {
        let spacing = setup.station.spacing as f32;
        let height = cells.ground[lane] + receiver;
        let start = cells.closer_ray(lane) * fan.points;
        let Some(ray) = fan.bare_hull.get(start..start + fan.points) else { return };
        let BareHorizon { at, slope: back } = *horizon.get_or_insert_with(|| {
            let last = cells.last_point[lane] as usize;
            let (at, top) = tangent(ray, last, cells.distance[lane], height);
            let rest = cells.distance[lane] - at as u32 as f32 * spacing;
            BareHorizon { at, slope: (top - height) / rest }
        });
        let slope = self.slope[lane];
        self.from_receiver[lane] = larger(back + slope, self.from_receiver[lane]);
        // The highest point lies on the hull no nearer than the steepest one.
        let (at, top) = highest_over(ray, at, slope);
        let excess = top - mast - slope * (at as u32 as f32 * spacing);
        self.highest[lane] = larger(excess, self.highest[lane]);
    }
}
