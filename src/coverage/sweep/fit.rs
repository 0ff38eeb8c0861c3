//! Heights of the antennas over the smooth surface that fits the ground of a
//! path best (ITU-R P.526-15 section 4.5.3), for a few cells at once.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use std::ops::{Add, Mul, Sub};

use pulp::Simd;

use super::cells::{Group, Setting};
use super::ends::{Ends, NEAR, Near, OWN, beside};
use super::fan::{Fan, Sums};
use super::hull::{extreme, tangent};
use super::lane::{LANES, Lane, Part, Row, blend, larger, parts};
use super::sight::Pair;

/// Effective heights at both ends, metres.
#[derive(Debug, Clone, Copy)]
pub(super) struct Effective {
    pub station: Row,
    pub carried: Row,
}

/// What the fit needs of the bare ground, apart from antenna heights.
pub(super) struct Ground {
    /// v1 and v2 of P.526, over the whole path.
    first: Row,
    second: Row,
}

/// v1 and v2 over a path so far, and where it has come to.
#[derive(Clone, Copy)]
struct Along<T> {
    first: T,
    second: T,
    distance: T,
    height: T,
}

impl<T> Along<T>
where
    T: Copy + Add<Output = T> + Sub<Output = T> + Mul<Output = T> + Mul<f32, Output = T>,
{
    /// Goes on over the ground to a point.
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

/// The sums over the ground of each cell's path.
#[inline(always)]
pub(super) fn ground<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    fan: &Fan,
    group: &Group,
    (ends, near): (&Ends, &Near),
) -> Ground {
    let curvature = setting.stage.curvature as f32;
    let spacing = setting.stage.spacing as f32;
    let blank = [[0f32; LANES]; 2];
    let (mut firsts, mut seconds, mut heights) = (blank, blank, blank);
    let mut reached = [0f32; LANES];
    for l in 0..group.count {
        reached[l] = ends.end[l] as f32 * spacing;
        for side in 0..2 {
            let at = (ends.ray[l] as usize + side) * fan.points + ends.end[l] as usize;
            if let Some(Sums { first, second, height }) = fan.sums.get(at) {
                (firsts[side][l], seconds[side][l], heights[side][l]) = (*first, *second, *height);
            }
        }
    }
    let mut ground = Ground { first: [0.0; LANES], second: [0.0; LANES] };
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let share = at.row(&ends.share);
        let mut along = Along {
            first: blend(at.row(&firsts[0]), at.row(&firsts[1]), share),
            second: blend(at.row(&seconds[0]), at.row(&seconds[1]), share),
            distance: at.row(&reached),
            height: blend(at.row(&heights[0]), at.row(&heights[1]), share),
        };
        for k in (0..NEAR).rev() {
            let distance = at.row(&near.distance[k]);
            along = along.to(distance, at.row(&near.height[k]) + distance * distance * curvature);
        }
        along = along.to(at.row(&ends.distance), at.row(&ends.ground));
        along.first.store(&mut ground.first, part);
        along.second.store(&mut ground.second, part);
    }
    for l in (0..group.count).filter(|_| ends.close) {
        if ends.steps[l] <= OWN as f32 {
            let mut along = Along { first: 0.0f32, second: 0.0, distance: 0.0, height: 0.0 };
            ends.whole_path(setting, group, l, |distance, height| {
                along = along.to(distance, height);
            });
            along = along.to(ends.distance[l], ends.ground[l]);
            (ground.first[l], ground.second[l]) = (along.first, along.second);
        }
    }
    ground
}

/// The point of the bare ground to which the line up from the carried antenna
/// is steepest, and how steep: the same for all masts.
#[derive(Clone, Copy)]
pub(super) struct Crest {
    at: usize,
    rise: f32,
}

/// The effective heights for one pair of antennas, the carried one at this
/// height over its ground.
#[inline(always)]
pub(super) fn effective<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    fan: &Fan,
    group: &Group,
    (ends, near): (&Ends, &Near),
    ground: &Ground,
    (pair, carried, crests): (&Pair<'_>, f32, &mut [Option<Crest>; LANES]),
) -> Effective {
    let curvature = setting.stage.curvature as f32;
    let spacing = setting.stage.spacing as f32;
    let mast = pair.mast;
    let layout = (setting.stage.masts.len(), pair.number);
    let sides = beside(fan, ends, group.count, &fan.bare_horizon, layout);
    // Slope of the line without the drop, and heights of the ground over it:
    // the largest, and the largest over the distance to either end.
    let blank = [0f32; LANES];
    let (mut slope, mut highest, mut up, mut back) = (blank, blank, blank, blank);
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let distance = at.row(&ends.distance);
        let line = (at.row(&ends.ground) + carried - mast) / distance;
        let mut steep = blend(at.row(&sides[0]), at.row(&sides[1]), at.row(&ends.share)) - line;
        let mut top = Lane::splat(simd, f32::NEG_INFINITY);
        let mut behind = top;
        for k in 0..NEAR {
            let place = at.row(&near.distance[k]);
            let height = at.row(&near.height[k]) + place * place * curvature;
            let excess = height - mast - line * place;
            top = excess.max(top);
            steep = (excess / place).max(steep);
            behind = (excess / (distance - place)).max(behind);
        }
        line.store(&mut slope, part);
        top.store(&mut highest, part);
        steep.store(&mut up, part);
        behind.store(&mut back, part);
    }
    for l in 0..group.count {
        if ends.close && ends.steps[l] <= OWN as f32 {
            (highest[l], up[l], back[l]) =
                (f32::NEG_INFINITY, f32::NEG_INFINITY, f32::NEG_INFINITY);
            ends.whole_path(setting, group, l, |distance, height| {
                let excess = height - mast - slope[l] * distance;
                highest[l] = larger(excess, highest[l]);
                up[l] = larger(excess / distance, up[l]);
                back[l] = larger(excess / (ends.distance[l] - distance), back[l]);
            });
            continue;
        }
        if up[l] <= 0.0 {
            continue;
        }
        let end = ends.end[l] as usize;
        let tip = ends.ground[l] + carried;
        // The nearer ray will do: the fit feels little of a single point.
        let ray = ends.ray[l] as usize + usize::from(ends.share[l] > 0.5);
        let start = ray * fan.points;
        let Some(ray) = fan.bare.get(start..start + fan.points) else { continue };
        let Crest { at, rise } = *crests[l].get_or_insert_with(|| {
            let (at, top) = tangent(ray, end, ends.distance[l], tip);
            let gap = ends.distance[l] - at as u32 as f32 * spacing;
            Crest { at, rise: (top - tip) / gap }
        });
        back[l] = larger(rise + slope[l], back[l]);
        // The highest point lies on the hull no nearer than the steepest one.
        let (at, top) = extreme(ray, at, slope[l]);
        highest[l] = larger(top - mast - slope[l] * (at as u32 as f32 * spacing), highest[l]);
    }
    let mut effective = Effective { station: blank, carried: blank };
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let inverse = Lane::splat(simd, 1.0) / at.row(&ends.distance);
        let first = at.row(&ground.first) * inverse;
        let second = at.row(&ground.second) * inverse * inverse;
        let (up, back, top) = (at.row(&up), at.row(&back), at.row(&highest));
        // Where nothing stands out the slopes may be infinite.
        let (out, none) = (top.exceeds(0.0), inverse.nothing());
        let lowered = top / (up + back);
        let start = first * 2.0 - second - out.choose(lowered * up, none);
        let end = second - first - out.choose(lowered * back, none);
        let rise = at.row(&ends.ground);
        (-start.at_most(0.0) + mast).store(&mut effective.station, part);
        (rise - end.min(rise) + carried).store(&mut effective.carried, part);
    }
    effective
}
