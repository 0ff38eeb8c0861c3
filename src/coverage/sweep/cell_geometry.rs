//! Where the cells of a batch lie among the rays, and their own paths.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::fan::{Fan, FanShape};
use super::geometry::{Batch, Layout, Setup};
use super::raster::{HeightRaster, Strip};
use super::registers::{LANE_NUMBERS, LANES, Lanes, Part, Register, index, parts};
use super::transform::DEGREE;

/// Points in front of a cell that are sampled on its own path.
pub(super) const FOREGROUND_POINTS: usize = 6;

/// Paths of up to so many steps are sampled whole, each on its own.
pub(super) const SAMPLED_WHOLE_STEPS: usize = 32;

/// The geometry of a batch that does not depend on antenna heights.
pub(super) struct CellGeometry {
    /// Ground distance from the station, metres.
    pub distance: Lanes,
    /// Steps of the path, each a spacing of the terrain long or a little less.
    pub steps: Lanes,
    /// Index of the ray before each cell, and the share of the way to the next.
    pub ray: [u32; LANES],
    pub share: Lanes,
    /// Last point of the rays that counts: beyond it the foreground does.
    pub last_point: [u32; LANES],
    /// Ground at the cell, metres above datum.
    pub ground: Lanes,
    /// Curvature drop at the cell, metres.
    pub drop: Lanes,
    /// From the station to the cell, in cells of the terrain.
    pub offset: (Lanes, Lanes),
    /// How far each path bends, in cells of the terrain: see [`Batch`].
    pub bend: (Lanes, Lanes),
    /// Whether some of the paths are sampled whole.
    pub any_sampled_whole: bool,
}

impl CellGeometry {
    #[inline(always)]
    pub(super) fn of<S: Simd>(
        simd: S,
        setup: &Setup<'_>,
        strip: &Strip,
        fan: &FanShape,
        batch: &Batch,
    ) -> Self {
        let per_step = (1.0 / setup.station.spacing) as f32;
        let (first, per_ray) = (fan.first as f32, (1.0 / fan.step) as f32);
        let last_ray = fan.rays.saturating_sub(2) as f32;
        let last_point = fan.points.saturating_sub(1) as f32;
        let curvature = setup.station.curvature as f32;
        let blank = [0.0; LANES];
        let mut cells = Self {
            distance: blank,
            steps: blank,
            ray: [0; LANES],
            share: blank,
            last_point: [0; LANES],
            ground: blank,
            drop: blank,
            offset: (blank, blank),
            bend: (blank, blank),
            any_sampled_whole: false,
        };
        let (mut rays, mut points, mut x, mut y) = (blank, blank, blank, blank);
        for part in 0..parts::<S>() {
            let t = Register::load(simd, &LANE_NUMBERS, part);
            let (along, across) = (value(batch.along, t), value(batch.across, t));
            let distance = (along * along + across * across).sqrt();
            let steps = (distance * per_step).ceil().at_least(1.0);
            let ray = (across / along - first) * per_ray;
            let ray = ray.at_least(0.0).at_most(last_ray + 1.0);
            let before = ray.floor().at_most(last_ray);
            let last = (distance - distance / steps * FOREGROUND_POINTS as f32) * per_step - 0.5;
            distance.store(&mut cells.distance, part);
            steps.store(&mut cells.steps, part);
            before.store(&mut rays, part);
            (ray - before).store(&mut cells.share, part);
            last.at_least(0.0).at_most(last_point).floor().store(&mut points, part);
            (distance * distance * curvature).store(&mut cells.drop, part);
            let (column, row) =
                (t * batch.step.0 + batch.first.0, t * batch.step.1 + batch.first.1);
            column.store(&mut x, part);
            row.store(&mut y, part);
            (column - batch.station.0).store(&mut cells.offset.0, part);
            (row - batch.station.1).store(&mut cells.offset.1, part);
            let [constant, linear, square] = batch.bend;
            ((t * square.0 + linear.0) * t + constant.0).store(&mut cells.bend.0, part);
            ((t * square.1 + linear.1) * t + constant.1).store(&mut cells.bend.1, part);
        }
        let ground = match setup.terrain.bare_earth {
            Some(bare_earth) => bare_earth.heights(simd, &x, &y),
            None => surface_heights(simd, setup, strip, batch.layout, (&x, &y)),
        };
        for part in 0..parts::<S>() {
            let height = Register::load(simd, &ground, part) - setup.station.datum;
            height.store(&mut cells.ground, part);
        }
        for l in 0..LANES {
            cells.ray[l] = index(rays[l]);
            cells.last_point[l] = index(points[l]);
        }
        cells.any_sampled_whole = (0..batch.count).any(|l| cells.sampled_whole(l));
        cells
    }

    /// Whether the path to a cell is so short that it is sampled whole.
    #[inline(always)]
    pub(super) fn sampled_whole(&self, lane: usize) -> bool {
        self.steps[lane] <= SAMPLED_WHOLE_STEPS as f32
    }

    /// The ray that a cell is closer to.
    #[inline(always)]
    pub(super) fn closer_ray(&self, lane: usize) -> usize {
        self.ray[lane] as usize + usize::from(self.share[lane] > 0.5)
    }

    /// Receiver antenna heights in the effective-earth plane, metres above datum,
    /// of antennas so many metres above the ground of their cells.
    #[inline(always)]
    pub(super) fn receiver_heights<S: Simd>(&self, simd: S, above_ground: f32) -> Lanes {
        let mut heights = [0.0; LANES];
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let height = at.load(&self.ground) - at.load(&self.drop) + above_ground;
            height.store(&mut heights, part);
        }
        heights
    }

    /// Hands the points between the ends of a cell's own path to `take`: distance
    /// in metres, height of the raster there in metres above datum, without
    /// curvature drop.
    #[inline(always)]
    pub(super) fn own_path(
        &self,
        setup: &Setup<'_>,
        raster: &HeightRaster<'_>,
        batch: &Batch,
        lane: usize,
        mut take: impl FnMut(f32, f32),
    ) {
        self.own_course(batch, lane, |distance, (x, y)| {
            take(distance, raster.at(x, y) - setup.station.datum);
        });
    }

    /// Hands the points between the ends of a cell's own path to `take`: distance
    /// in metres, column and row from the first centre.
    #[inline(always)]
    pub(super) fn own_course(
        &self,
        batch: &Batch,
        lane: usize,
        mut take: impl FnMut(f32, (f32, f32)),
    ) {
        for i in 1..self.steps[lane] as u32 {
            let t = i as f32 / self.steps[lane];
            let rest = 1.0 - t;
            let x = batch.station.0 + t * (self.offset.0[lane] - rest * self.bend.0[lane]);
            let y = batch.station.1 + t * (self.offset.1[lane] - rest * self.bend.1[lane]);
            take(t * self.distance[lane], (x, y));
        }
    }

    /// What a table of the fan holds for one mast at the last point that counts,
    /// on the two rays that each cell lies between. `masts` is how many there are.
    #[inline(always)]
    pub(super) fn on_both_rays(
        &self,
        fan: &Fan,
        count: usize,
        table: &[f32],
        (masts, mast): (usize, usize),
    ) -> [Lanes; 2] {
        let mut sides = [[f32::NEG_INFINITY; LANES]; 2];
        for l in 0..count {
            let ray = self.ray[l] as usize;
            for side in 0..2 {
                let start = ((ray + side) * masts + mast) * fan.points;
                if let Some(value) = table.get(start + self.last_point[l] as usize) {
                    sides[side][l] = *value;
                }
            }
        }
        sides
    }
}

/// Heights of the surface, metres above sea level, at one place a lane, about a
/// cell of the map apart.
#[inline(always)]
pub(super) fn surface_heights<S: Simd>(
    simd: S,
    setup: &Setup<'_>,
    strip: &Strip,
    layout: Layout,
    (x, y): (&Lanes, &Lanes),
) -> Lanes {
    let surface = &setup.terrain.surface;
    match layout {
        Layout::AlongRows => strip.heights(simd, surface, x, y),
        Layout::AlongColumns => strip.heights(simd, surface, y, x),
        Layout::Scattered => surface.heights(simd, x, y),
    }
}

/// The value of a polynomial.
#[inline(always)]
fn value<S: Simd>([a, b, c, d, e]: [f32; DEGREE + 1], t: Register<S>) -> Register<S> {
    (((t * e + d) * t + c) * t + b) * t + a
}
