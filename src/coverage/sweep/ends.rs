//! Where a group of cells lies among the rays, and the ground in front of it.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::cells::{Group, Kind, Setting};
use super::fan::{Fan, Spread};
use super::frame::DEGREE;
use super::lane::{COUNT, LANES, Lane, Part, Row, index, parts};
use super::surface::{Strip, Surface};

/// Points in front of a cell that are sampled on its own path.
pub(super) const NEAR: usize = 6;

/// Paths of up to so many steps are sampled whole, each on its own.
pub(super) const OWN: usize = 32;

/// Geometry of a group that does not depend on antenna heights.
pub(super) struct Ends {
    pub distance: Row,
    pub steps: Row,
    /// Index of the ray before each cell, and the share of the way to the next.
    pub ray: [u32; LANES],
    pub share: Row,
    /// Last point of the rays that counts.
    pub end: [u32; LANES],
    /// Ground at the cell over the datum.
    pub ground: Row,
    /// How far the earth has fallen away there.
    pub drop: Row,
    /// From the antenna to the cell, in cells.
    pub offset: (Row, Row),
    /// Whether there are paths that are sampled whole.
    pub close: bool,
}

/// Ground in front of the cells.
pub(super) struct Near {
    /// Height over the datum less the drop.
    pub height: [Row; NEAR],
    /// Distance from the antenna.
    pub distance: [Row; NEAR],
    /// Height of the ground itself over the datum, where something stands on it.
    under: [Row; NEAR],
    covered: bool,
}

impl Ends {
    #[inline(always)]
    pub(super) fn of<S: Simd>(
        simd: S,
        setting: &Setting<'_>,
        strip: &Strip,
        spread: &Spread,
        group: &Group,
    ) -> Self {
        let per_step = (1.0 / setting.stage.spacing) as f32;
        let (first, per_ray) = (spread.first as f32, (1.0 / spread.step) as f32);
        let last_ray = spread.rays.saturating_sub(2) as f32;
        let last_point = spread.points.saturating_sub(1) as f32;
        let curvature = setting.stage.curvature as f32;
        let blank = [0.0; LANES];
        let mut ends = Self {
            distance: blank,
            steps: blank,
            ray: [0; LANES],
            share: blank,
            end: [0; LANES],
            ground: blank,
            drop: blank,
            offset: (blank, blank),
            close: false,
        };
        let (mut rays, mut points, mut x, mut y) = (blank, blank, blank, blank);
        for part in 0..parts::<S>() {
            let t = Lane::load(simd, &COUNT, part);
            let (along, across) = (value(group.along, t), value(group.across, t));
            let distance = (along * along + across * across).sqrt();
            let steps = (distance * per_step).ceil().at_least(1.0);
            let ray = (across / along - first) * per_ray;
            let ray = ray.at_least(0.0).at_most(last_ray + 1.0);
            let before = ray.floor().at_most(last_ray);
            let end = (distance - distance / steps * NEAR as f32) * per_step - 0.5;
            distance.store(&mut ends.distance, part);
            steps.store(&mut ends.steps, part);
            before.store(&mut rays, part);
            (ray - before).store(&mut ends.share, part);
            end.at_least(0.0).at_most(last_point).floor().store(&mut points, part);
            (distance * distance * curvature).store(&mut ends.drop, part);
            let (column, row) =
                (t * group.next.0 + group.first.0, t * group.next.1 + group.first.1);
            column.store(&mut x, part);
            row.store(&mut y, part);
            (column - group.origin.0).store(&mut ends.offset.0, part);
            (row - group.origin.1).store(&mut ends.offset.1, part);
        }
        let ground = match setting.ground.under {
            Some(under) => under.heights(simd, &x, &y),
            None => group.heights(simd, setting, strip, &x, &y),
        };
        for part in 0..parts::<S>() {
            (Lane::load(simd, &ground, part) - setting.stage.datum).store(&mut ends.ground, part);
        }
        for l in 0..LANES {
            ends.ray[l] = index(rays[l]);
            ends.end[l] = index(points[l]);
        }
        ends.close = ends.steps.iter().take(group.count).any(|s| *s <= OWN as f32);
        ends
    }

    /// Heights of antennas this high over the cells' ground, over the datum,
    /// less the drop.
    #[inline(always)]
    pub(super) fn tips<S: Simd>(&self, simd: S, carried: f32) -> Row {
        let mut tips = [0.0; LANES];
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            (at.row(&self.ground) - at.row(&self.drop) + carried).store(&mut tips, part);
        }
        tips
    }

    /// Hands the points of a surface between the ends of a cell's own path to
    /// `note`: distance, height over the datum.
    #[inline(always)]
    pub(super) fn whole_path(
        &self,
        setting: &Setting<'_>,
        surface: &Surface<'_>,
        group: &Group,
        l: usize,
        mut note: impl FnMut(f32, f32),
    ) {
        self.course(group, l, |distance, (x, y)| {
            note(distance, surface.at(x, y) - setting.stage.datum);
        });
    }

    /// Hands the points between the ends of a cell's own path to `note`:
    /// distance, column and row from the first centre.
    #[inline(always)]
    pub(super) fn course(&self, group: &Group, l: usize, mut note: impl FnMut(f32, (f32, f32))) {
        for i in 1..self.steps[l] as u32 {
            let t = i as f32 / self.steps[l];
            let rest = 1.0 - t;
            let x = group.origin.0 + t * (self.offset.0[l] - rest * group.bend.0);
            let y = group.origin.1 + t * (self.offset.1[l] - rest * group.bend.1);
            note(t * self.distance[l], (x, y));
        }
    }
}

impl Default for Near {
    fn default() -> Self {
        let blank = [[0.0; LANES]; NEAR];
        Self { height: blank, distance: blank, under: blank, covered: false }
    }
}

impl Near {
    /// The ground itself at the point `k`, over the datum, without the drop.
    #[inline(always)]
    pub(super) fn bare<S: Simd>(&self, at: Part<S>, k: usize, curvature: f32) -> Lane<S> {
        if self.covered {
            return at.row(&self.under[k]);
        }
        let distance = at.row(&self.distance[k]);
        at.row(&self.height[k]) + distance * distance * curvature
    }

    /// Samples the ground in front of a group.
    #[inline(always)]
    pub(super) fn fill<S: Simd>(
        &mut self,
        simd: S,
        setting: &Setting<'_>,
        strip: &Strip,
        group: &Group,
        ends: &Ends,
    ) {
        let curvature = setting.stage.curvature as f32;
        let blank = [0.0; LANES];
        let (mut x, mut y, mut per_step) = (blank, blank, blank);
        let under = setting.ground.under.filter(|_| setting.stage.bare);
        self.covered = under.is_some();
        for part in 0..parts::<S>() {
            let steps = Lane::load(simd, &ends.steps, part);
            (Lane::splat(simd, 1.0) / steps).store(&mut per_step, part);
        }
        for k in 0..NEAR {
            for part in 0..parts::<S>() {
                let at = Part { simd, part };
                let back = at.row(&per_step) * (k + 1) as f32;
                let t = -back + 1.0;
                let (dx, dy) = (at.row(&ends.offset.0), at.row(&ends.offset.1));
                (t * (dx - back * group.bend.0) + group.origin.0).store(&mut x, part);
                (t * (dy - back * group.bend.1) + group.origin.1).store(&mut y, part);
                (at.row(&ends.distance) * t).store(&mut self.distance[k], part);
            }
            let ground = group.heights(simd, setting, strip, &x, &y);
            for part in 0..parts::<S>() {
                let at = Part { simd, part };
                let distance = at.row(&self.distance[k]);
                let fallen = distance * distance * curvature + setting.stage.datum;
                (at.row(&ground) - fallen).store(&mut self.height[k], part);
            }
            if let Some(under) = under {
                let ground = under.heights(simd, &x, &y);
                for part in 0..parts::<S>() {
                    let height = Lane::load(simd, &ground, part) - setting.stage.datum;
                    height.store(&mut self.under[k], part);
                }
            }
        }
    }
}

impl Group {
    /// The ground at a row of places about a cell apart.
    #[inline(always)]
    fn heights<S: Simd>(
        &self,
        simd: S,
        setting: &Setting<'_>,
        strip: &Strip,
        x: &Row,
        y: &Row,
    ) -> Row {
        let surface = &setting.ground.surface;
        match self.kind {
            Kind::AlongRows => strip.heights(simd, surface, x, y),
            Kind::AlongColumns => strip.heights(simd, surface, y, x),
            Kind::Apart => surface.heights(simd, x, y),
        }
    }
}

/// The value of a polynomial.
#[inline(always)]
fn value<S: Simd>([a, b, c, d, e]: [f32; DEGREE + 1], t: Lane<S>) -> Lane<S> {
    (((t * e + d) * t + c) * t + b) * t + a
}

/// What is stored for a point of a ray and a mast, for the two rays beside
/// every cell.
#[inline(always)]
pub(super) fn beside(
    fan: &Fan,
    ends: &Ends,
    count: usize,
    values: &[f32],
    (masts, mast): (usize, usize),
) -> [Row; 2] {
    let mut sides = [[f32::NEG_INFINITY; LANES]; 2];
    for l in 0..count {
        let ray = ends.ray[l] as usize;
        for side in 0..2 {
            let at = ((ray + side) * masts + mast) * fan.points + ends.end[l] as usize;
            if let Some(value) = values.get(at) {
                sides[side][l] = *value;
            }
        }
    }
    sides
}
