//! A few neighbouring cells at once: from the rays on both sides of them and
//! the ground right in front of them to their losses.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use super::clear::{Line, Ray, dominant};
use super::exact::CellLosses;
use super::fan::{Fan, Ground, Spread, Stage};
use super::fit::{self, Effective};
use super::frame::DEGREE;
use super::hull::tangent;
use super::loss::{Wave, corrected, knife_edge};
use super::math::{blend, ceil, floor, index, larger};
use super::spherical::{self, Sphere};
use super::surface::{Surface, mix};
use crate::propagation::SweptForm;

/// Cells that are worked on together.
pub(super) const LANES: usize = 16;

/// Points in front of a cell that are sampled on its own path.
pub(super) const NEAR: usize = 8;

/// Paths of up to so many steps are sampled whole, each on its own.
pub(super) const OWN: usize = 32;

pub(super) type Row = [f32; LANES];

/// Everything that is the same for all cells of a sweep.
pub(super) struct Setting<'a> {
    pub ground: Ground<'a>,
    pub stage: Stage,
    /// Heights of the carried antenna over its ground.
    pub carried: Vec<f32>,
    /// Talk-in and talk-out.
    pub waves: [Wave; 2],
    pub form: SweptForm,
    /// Earth and wave of talk-in and talk-out, where the method asks for them.
    pub spheres: Option<[Sphere; 2]>,
}

/// A group of neighbouring cells along a line.
#[derive(Debug, Clone, Copy)]
pub(super) struct Group {
    /// Cells in use, 1 or more, at most [`LANES`].
    pub count: usize,
    /// Column and row of the first cell's centre, from the raster's first centre.
    pub first: (f32, f32),
    /// From a cell's centre to the next one's.
    pub next: (f32, f32),
    /// The antenna, from the raster's first centre.
    pub origin: (f32, f32),
    /// How far the paths bend: the part of their cells that grows with the
    /// square of the distance, at their ends.
    pub bend: (f32, f32),
    /// Distance along the wedge's axis and across it, as polynomials of the lane.
    pub along: [f32; DEGREE + 1],
    pub across: [f32; DEGREE + 1],
    /// Whether paths may bend out of the raster.
    pub rim: bool,
}

/// What comes out for one pair of antenna heights.
#[derive(Debug, Clone, Copy)]
pub(super) struct Losses {
    /// Basic transmission loss, talk-in, dB.
    pub talk_in: Row,
    /// The same, talk-out.
    pub talk_out: Row,
    /// Slope of the path at the station over its horizontal.
    pub up: Row,
    /// Slope of the path at the carried radio over its horizontal.
    pub back: Row,
    /// Whether the straight line clears the ground.
    pub sight: [bool; LANES],
    /// Ground distance in metres.
    pub distance: Row,
}

impl Losses {
    /// Nothing.
    pub(super) const EMPTY: Self = Self {
        talk_in: [0.0; LANES],
        talk_out: [0.0; LANES],
        up: [0.0; LANES],
        back: [0.0; LANES],
        sight: [true; LANES],
        distance: [0.0; LANES],
    };

    /// Those of a single cell, in every lane.
    pub(super) fn of_one(cell: &CellLosses) -> Self {
        Self {
            talk_in: [cell.talk_in; LANES],
            talk_out: [cell.talk_out; LANES],
            up: [cell.up; LANES],
            back: [cell.back; LANES],
            sight: [cell.sight; LANES],
            distance: [0.0; LANES],
        }
    }
}

/// What is known of a cell before its losses are worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    /// The rays hold.
    Known,
    /// Gaps or the rim are so near that the cell's own profile must tell.
    Doubtful,
    /// Terrain is missing on the way.
    Lost,
}

pub(super) type Verdicts = [Verdict; LANES];

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
    drop: Row,
    /// From the antenna to the cell, in cells.
    offset: (Row, Row),
}

/// Ground in front of the cells.
pub(super) struct Near {
    /// Height over the datum less the drop.
    pub height: [Row; NEAR],
    /// Distance from the antenna.
    pub distance: [Row; NEAR],
}

/// Slopes and the worst clearance, of the points in front or of all.
#[derive(Clone, Copy)]
struct Sight {
    up: Row,
    back: Row,
    /// (s - S) sqrt(d1 / d2), largest.
    worst: Row,
}

/// The losses of the group for every pair of heights, handed to `out` with the
/// number of mast and carried antenna.
#[inline(always)]
pub(super) fn work(
    setting: &Setting<'_>,
    fan: &Fan,
    spread: &Spread,
    group: &Group,
    mut out: impl FnMut(usize, usize, &Verdicts, &mut Losses),
) {
    let ends = ends(setting, spread, group);
    let verdicts = verdicts(setting, fan, group, &ends);
    let near = near(setting, group, &ends);
    let ground = setting.stage.bare.then(|| fit::ground(setting, fan, group, &ends, &near));
    for (c, carried) in setting.carried.iter().enumerate() {
        let mut height = [0f32; LANES];
        for l in 0..LANES {
            height[l] = ends.ground[l] - ends.drop[l] + carried;
        }
        let back = back(setting, fan, group, &ends, &near, &height);
        for (m, mast) in setting.stage.masts.iter().enumerate() {
            let mut slope = [0f32; LANES];
            for l in 0..LANES {
                slope[l] = (height[l] - mast) / ends.distance[l];
            }
            let mut sight = sight(fan, setting, group, &ends, &near, (m, *mast), &slope);
            sight.back = back;
            own(setting, group, &ends, (*mast, &height, &slope), &mut sight);
            if setting.form != SweptForm::FreeSpace {
                worst(setting, fan, group, &ends, (m, *mast), &slope, &mut sight);
            }
            let mut losses = losses(setting, &ends, (*mast, &height, &slope), &sight);
            if let (Some(ground), Some(spheres)) = (&ground, &setting.spheres) {
                let case = (&ends, &near, ground);
                let heights = fit::effective(setting, fan, group, case, (m, *mast), *carried);
                add_spherical(spheres, &ends, &heights, &mut losses);
            }
            out(m, c, &verdicts, &mut losses);
        }
    }
}

#[inline(always)]
fn ends(setting: &Setting<'_>, spread: &Spread, group: &Group) -> Ends {
    let per_step = (1.0 / setting.stage.spacing) as f32;
    let (first, per_ray) = (spread.first as f32, (1.0 / spread.step) as f32);
    let last_ray = (spread.rays.saturating_sub(2)) as f32;
    let last_point = (spread.points.saturating_sub(1)) as f32;
    let curvature = setting.stage.curvature as f32;
    let mut ends = Ends {
        distance: [0.0; LANES],
        steps: [0.0; LANES],
        ray: [0; LANES],
        share: [0.0; LANES],
        end: [0; LANES],
        ground: [0.0; LANES],
        drop: [0.0; LANES],
        offset: ([0.0; LANES], [0.0; LANES]),
    };
    let mut cell = [0u32; LANES];
    let (mut right, mut down) = ([0f32; LANES], [0f32; LANES]);
    for l in 0..LANES {
        let t = l as f32;
        let poly = |[a, b, c, d, e]: [f32; DEGREE + 1]| a + t * (b + t * (c + t * (d + t * e)));
        let (along, across) = (poly(group.along), poly(group.across));
        let distance = (along * along + across * across).sqrt();
        ends.distance[l] = distance;
        let steps = ceil(distance * per_step);
        ends.steps[l] = larger(steps, 1.0);
        let ray = within((across / along - first) * per_ray, last_ray + 1.0);
        let before = within(floor(ray).0, last_ray);
        ends.ray[l] = index(before);
        ends.share[l] = ray - before;
        let step = distance / ends.steps[l];
        ends.end[l] = floor(within((distance - NEAR as f32 * step) * per_step - 0.5, last_point)).1;
        ends.drop[l] = distance * distance * curvature;
        let (x, y) = (group.first.0 + t * group.next.0, group.first.1 + t * group.next.1);
        ends.offset.0[l] = x - group.origin.0;
        ends.offset.1[l] = y - group.origin.1;
        (cell[l], right[l], down[l]) = setting.ground.surface.cell(x, y);
    }
    let ground = gather(&setting.ground.surface, &cell, &right, &down);
    for l in 0..LANES {
        ends.ground[l] = ground[l] - setting.stage.datum;
    }
    ends
}

impl Ends {
    /// Hands the points between the ends of a cell's own path to `note`:
    /// distance, height over the datum.
    #[inline(always)]
    pub(super) fn whole_path(
        &self,
        setting: &Setting<'_>,
        group: &Group,
        l: usize,
        mut note: impl FnMut(f32, f32),
    ) {
        for i in 1..self.steps[l] as u32 {
            let t = i as f32 / self.steps[l];
            let rest = 1.0 - t;
            let x = group.origin.0 + t * (self.offset.0[l] - rest * group.bend.0);
            let y = group.origin.1 + t * (self.offset.1[l] - rest * group.bend.1);
            note(t * self.distance[l], setting.ground.surface.at(x, y) - setting.stage.datum);
        }
    }
}

/// What gaps, the rim and the antenna's own cell leave in doubt.
#[inline(always)]
fn verdicts(setting: &Setting<'_>, fan: &Fan, group: &Group, ends: &Ends) -> Verdicts {
    let mut verdicts = [Verdict::Known; LANES];
    let at_the_antenna = ends.distance.iter().any(|d| *d < 2.0);
    if fan.trouble.is_empty() && !group.rim && !at_the_antenna {
        return verdicts;
    }
    for l in 0..group.count {
        let ray = ends.ray[l] as usize;
        let whole = ends.steps[l] as u32;
        for trouble in fan.trouble.iter().skip(ray).take(2) {
            if trouble.lost < whole {
                verdicts[l] = Verdict::Lost;
            } else if trouble.doubt <= whole && verdicts[l] == Verdict::Known {
                verdicts[l] = Verdict::Doubtful;
            }
        }
        if ends.distance[l] < 2.0 {
            verdicts[l] = Verdict::Doubtful;
        }
        if group.rim && verdicts[l] != Verdict::Lost {
            verdicts[l] = verdicts[l].or(over_the_rim(setting, group, ends, l));
        }
    }
    verdicts
}

impl Verdict {
    /// The worse of both.
    fn or(self, other: Self) -> Self {
        match (self, other) {
            (Self::Lost, _) | (_, Self::Lost) => Self::Lost,
            (Self::Doubtful, _) | (_, Self::Doubtful) => Self::Doubtful,
            _ => Self::Known,
        }
    }
}

/// Whether a cell's path leaves the raster on its way.
fn over_the_rim(setting: &Setting<'_>, group: &Group, ends: &Ends, l: usize) -> Verdict {
    /// How well the bend of a path is known, in cells.
    const DOUBT: f32 = 0.05;
    let last = setting.ground.surface.last();
    let farthest = |start: f32, offset: f32, bend: f32, last: f32| {
        // Extreme of start + t offset + t (t - 1) bend for t from 0 to 1.
        let turn = if bend == 0.0 { 0.0 } else { (0.5 * (bend - offset) / bend).clamp(0.0, 1.0) };
        let at = start + turn * offset + turn * (turn - 1.0) * bend;
        (-0.5 - at).max(at - last - 0.5)
    };
    let over = farthest(group.origin.0, ends.offset.0[l], group.bend.0, last.0).max(farthest(
        group.origin.1,
        ends.offset.1[l],
        group.bend.1,
        last.1,
    ));
    if over > DOUBT {
        Verdict::Lost
    } else if over > -DOUBT {
        Verdict::Doubtful
    } else {
        Verdict::Known
    }
}

/// A number brought between zero and a limit.
#[inline(always)]
fn within(x: f32, limit: f32) -> f32 {
    let x = larger(x, 0.0);
    if x < limit { x } else { limit }
}

#[inline(always)]
fn gather(surface: &Surface<'_>, cell: &[u32; LANES], right: &Row, down: &Row) -> Row {
    let mut corners = [[0f32; LANES]; 4];
    for l in 0..LANES {
        let four = surface.four(cell[l]);
        for k in 0..4 {
            corners[k][l] = four[k];
        }
    }
    let mut heights = [0f32; LANES];
    for l in 0..LANES {
        heights[l] =
            mix([corners[0][l], corners[1][l], corners[2][l], corners[3][l]], right[l], down[l]);
    }
    heights
}

#[inline(always)]
fn near(setting: &Setting<'_>, group: &Group, ends: &Ends) -> Near {
    let curvature = setting.stage.curvature as f32;
    let mut near = Near { height: [[0.0; LANES]; NEAR], distance: [[0.0; LANES]; NEAR] };
    let mut cell = [0u32; LANES];
    let (mut right, mut down) = ([0f32; LANES], [0f32; LANES]);
    for k in 0..NEAR {
        let mut fallen = [0f32; LANES];
        for l in 0..LANES {
            let back = (k + 1) as f32 / ends.steps[l];
            let t = 1.0 - back;
            let x = group.origin.0 + t * (ends.offset.0[l] - back * group.bend.0);
            let y = group.origin.1 + t * (ends.offset.1[l] - back * group.bend.1);
            (cell[l], right[l], down[l]) = setting.ground.surface.cell(x, y);
            let distance = ends.distance[l] * t;
            near.distance[k][l] = distance;
            fallen[l] = distance * distance * curvature;
        }
        let ground = gather(&setting.ground.surface, &cell, &right, &down);
        for l in 0..LANES {
            near.height[k][l] = ground[l] - setting.stage.datum - fallen[l];
        }
    }
    near
}

/// Steepest slopes down from the carried antenna's end, over all points.
#[inline(always)]
fn back(
    setting: &Setting<'_>,
    fan: &Fan,
    group: &Group,
    ends: &Ends,
    near: &Near,
    height: &Row,
) -> Row {
    let spacing = setting.stage.spacing as f32;
    let (mut tops, mut places) = ([[f32::NEG_INFINITY; LANES]; 2], [[0f32; LANES]; 2]);
    for l in 0..group.count {
        for side in 0..2 {
            let start = (ends.ray[l] as usize + side) * fan.points;
            let Some(ray) = fan.sunk.get(start..start + fan.points) else { continue };
            let (at, top) = tangent(ray, ends.end[l] as usize, ends.distance[l], height[l]);
            tops[side][l] = top;
            places[side][l] = at as f32 * spacing;
        }
    }
    let mut back = [0f32; LANES];
    for l in 0..LANES {
        let slope =
            |side: usize| (tops[side][l] - height[l]) / (ends.distance[l] - places[side][l]);
        back[l] = blend(slope(0), slope(1), ends.share[l]);
    }
    for k in 0..NEAR {
        for l in 0..LANES {
            let gap = ends.distance[l] - near.distance[k][l];
            back[l] = larger((near.height[k][l] - height[l]) / gap, back[l]);
        }
    }
    back
}

/// Slopes from the mast over all points, and the worst clearance of the near ones.
#[inline(always)]
fn sight(
    fan: &Fan,
    setting: &Setting<'_>,
    group: &Group,
    ends: &Ends,
    near: &Near,
    (m, mast): (usize, f32),
    slope: &Row,
) -> Sight {
    let masts = setting.stage.masts.len();
    let mut sides = [[f32::NEG_INFINITY; LANES]; 2];
    for l in 0..group.count {
        for side in 0..2 {
            let at =
                ((ends.ray[l] as usize + side) * fan.points + ends.end[l] as usize) * masts + m;
            sides[side][l] = fan.horizon.get(at).copied().unwrap_or(f32::NEG_INFINITY);
        }
    }
    let mut sight =
        Sight { up: [0.0; LANES], back: [0.0; LANES], worst: [f32::NEG_INFINITY; LANES] };
    for l in 0..LANES {
        sight.up[l] = blend(sides[0][l], sides[1][l], ends.share[l]);
    }
    let mut worst = [f32::NEG_INFINITY; LANES];
    for k in 0..NEAR {
        for l in 0..LANES {
            let distance = near.distance[k][l];
            let up = (near.height[k][l] - mast) / distance;
            sight.up[l] = larger(up, sight.up[l]);
            // By signed squares, to save a root a point.
            let excess = up - slope[l];
            let square = excess * excess.abs() * distance / (ends.distance[l] - distance);
            worst[l] = larger(square, worst[l]);
        }
    }
    for l in 0..LANES {
        sight.worst[l] = worst[l].abs().sqrt().copysign(worst[l]);
    }
    sight
}

/// Cells so near that their path is sampled whole.
#[inline(always)]
fn own(
    setting: &Setting<'_>,
    group: &Group,
    ends: &Ends,
    (mast, sight_height, slope): (f32, &Row, &Row),
    sight: &mut Sight,
) {
    for l in 0..group.count {
        if ends.steps[l] > OWN as f32 {
            continue;
        }
        let (mut up, mut back, mut worst) =
            (f32::NEG_INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY);
        let curvature = setting.stage.curvature as f32;
        ends.whole_path(setting, group, l, |distance, height| {
            let ground = height - distance * distance * curvature;
            let rise = (ground - mast) / distance;
            let rest = ends.distance[l] - distance;
            up = larger(rise, up);
            back = larger((ground - sight_height[l]) / rest, back);
            let excess = rise - slope[l];
            worst = larger(excess * excess.abs() * distance / rest, worst);
        });
        sight.up[l] = up;
        sight.back[l] = back;
        sight.worst[l] = worst.abs().sqrt().copysign(worst);
    }
}

/// The worst clearance over the rays too, where the method asks for it.
#[inline(always)]
fn worst(
    setting: &Setting<'_>,
    fan: &Fan,
    group: &Group,
    ends: &Ends,
    (m, mast): (usize, f32),
    slope: &Row,
    sight: &mut Sight,
) {
    let masts = setting.stage.masts.len();
    let spacing = setting.stage.spacing as f32;
    // Below nu = -0.78 at both frequencies nothing counts.
    let [a, b] = &setting.waves;
    let longest = a.twice_per_length.min(b.twice_per_length);
    let always = setting.form == SweptForm::SingleEdge;
    for l in 0..group.count {
        if ends.steps[l] <= OWN as f32 || (sight.up[l] >= slope[l] && !always) {
            continue;
        }
        let least = larger(sight.worst[l], -0.8 / (longest * ends.distance[l]).sqrt());
        let line = Line { distance: ends.distance[l], slope: slope[l], mast };
        let mut found = [least; 2];
        for side in 0..2 {
            let ray = ends.ray[l] as usize + side;
            let (start, blocks) = (ray * fan.points, (ray * masts + m) * fan.blocks);
            let (Some(points), Some(steepest)) = (
                fan.sunk.get(start..start + fan.points),
                fan.steepest.get(blocks..blocks + fan.blocks),
            ) else {
                continue;
            };
            let end = ends.end[l] as usize;
            let inverse = setting.stage.inverse.as_slice();
            let ray = Ray { points, steepest, end, spacing, inverse };
            found[side] = dominant(ray, line, least);
        }
        sight.worst[l] = blend(found[0], found[1], ends.share[l]);
    }
}

#[inline(always)]
fn losses(
    setting: &Setting<'_>,
    ends: &Ends,
    (mast, height, slope): (f32, &Row, &Row),
    sight: &Sight,
) -> Losses {
    let mut out = Losses { distance: ends.distance, ..Losses::EMPTY };
    let curvature = setting.stage.curvature as f32;
    let mut obstruction = [0f32; LANES];
    let mut square = [0f32; LANES];
    for l in 0..LANES {
        let distance = ends.distance[l];
        out.sight[l] = sight.up[l] < slope[l];
        // The drop makes the plane of the heights tilt: at the station the
        // horizontal is level in it, at the carried radio it is not.
        let tilt = 2.0 * distance * curvature;
        out.up[l] = larger(sight.up[l], slope[l]);
        out.back[l] = larger(sight.back[l], -slope[l]) - tilt;
        let over = larger(sight.up[l] - slope[l], 0.0) * larger(sight.back[l] + slope[l], 0.0);
        let virtual_edge = !out.sight[l] && setting.form != SweptForm::SingleEdge;
        obstruction[l] = distance.sqrt() * if virtual_edge { over.sqrt() } else { sight.worst[l] };
        let rise = height[l] + ends.drop[l] - mast;
        square[l] = distance * distance + rise * rise;
    }
    let [first, second] = &setting.waves;
    out.talk_in = total(setting.form, first, &ends.distance, &obstruction, &square);
    out.talk_out = total(setting.form, second, &ends.distance, &obstruction, &square);
    out
}

/// What the smooth earth adds.
#[inline(always)]
fn add_spherical(
    [first, second]: &[Sphere; 2],
    ends: &Ends,
    heights: &Effective,
    losses: &mut Losses,
) {
    let path = |l: usize| spherical::Path {
        distance: ends.distance[l],
        steps: ends.steps[l],
        station: heights.station[l],
        carried: heights.carried[l],
    };
    for l in 0..LANES {
        losses.talk_in[l] += first.beyond_bullington(path(l));
    }
    for l in 0..LANES {
        losses.talk_out[l] += second.beyond_bullington(path(l));
    }
}

#[inline(always)]
fn total(form: SweptForm, wave: &Wave, distance: &Row, obstruction: &Row, square: &Row) -> Row {
    let factor = wave.twice_per_length.sqrt();
    let mut loss = [0f32; LANES];
    for l in 0..LANES {
        loss[l] = wave.free_space(square[l]);
    }
    if form == SweptForm::FreeSpace {
        return loss;
    }
    for l in 0..LANES {
        let knife = knife_edge(obstruction[l] * factor);
        loss[l] +=
            if form == SweptForm::SingleEdge { knife } else { corrected(knife, distance[l]) };
    }
    loss
}
