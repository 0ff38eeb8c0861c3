//! Heights of the antennas over the smooth surface that fits the ground of a
//! path best (ITU-R P.526-15 section 4.5.3), for a few cells at once.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use super::cells::{Ends, Group, LANES, NEAR, Near, OWN, Row, Setting};
use super::fan::Fan;
use super::hull::{extreme, tangent};
use super::math::{blend, larger};

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

/// Adds the ground between two points to v1 and v2.
#[inline(always)]
fn add(sums: &mut (f32, f32), from: (f32, f32), to: (f32, f32)) {
    let ((d0, h0), (d, h)) = (from, to);
    sums.0 += (d - d0) * (h + h0);
    sums.1 += (d - d0) * (h * (2.0 * d + d0) + h0 * (d + 2.0 * d0));
}

/// The sums over the ground of each cell's path.
#[inline(always)]
pub(super) fn ground(
    setting: &Setting<'_>,
    fan: &Fan,
    group: &Group,
    ends: &Ends,
    near: &Near,
) -> Ground {
    let curvature = setting.stage.curvature as f32;
    let spacing = setting.stage.spacing as f32;
    let (mut firsts, mut seconds, mut heights) =
        ([[0f32; LANES]; 2], [[0f32; LANES]; 2], [[0f32; LANES]; 2]);
    for l in 0..group.count {
        for side in 0..2 {
            let at = (ends.ray[l] as usize + side) * fan.points + ends.end[l] as usize;
            if let (Some(sums), Some(vertex)) = (fan.sums.get(at), fan.bare.get(at)) {
                firsts[side][l] = sums.first;
                seconds[side][l] = sums.second;
                heights[side][l] = vertex.height;
            }
        }
    }
    let mut ground = Ground { first: [0.0; LANES], second: [0.0; LANES] };
    for l in 0..LANES {
        let share = ends.share[l];
        let mut sums =
            (blend(firsts[0][l], firsts[1][l], share), blend(seconds[0][l], seconds[1][l], share));
        // The end index is a whole number below 2^22.
        let end = ends.end[l] as i32 as f32 * spacing;
        let mut last = (end, blend(heights[0][l], heights[1][l], share));
        for k in (0..NEAR).rev() {
            let distance = near.distance[k][l];
            let next = (distance, near.height[k][l] + distance * distance * curvature);
            add(&mut sums, last, next);
            last = next;
        }
        add(&mut sums, last, (ends.distance[l], ends.ground[l]));
        (ground.first[l], ground.second[l]) = sums;
    }
    for l in 0..group.count {
        if ends.steps[l] <= OWN as f32 {
            let (mut sums, mut last) = ((0.0, 0.0), (0.0, 0.0));
            ends.whole_path(setting, group, l, |distance, height| {
                let next = (distance, height);
                add(&mut sums, last, next);
                last = next;
            });
            add(&mut sums, last, (ends.distance[l], ends.ground[l]));
            (ground.first[l], ground.second[l]) = sums;
        }
    }
    ground
}

/// The effective heights for one pair of antenna heights over the datum and
/// over the carried radio's ground.
#[inline(always)]
pub(super) fn effective(
    setting: &Setting<'_>,
    fan: &Fan,
    group: &Group,
    (ends, near, ground): (&Ends, &Near, &Ground),
    (m, mast): (usize, f32),
    carried: f32,
) -> Effective {
    let curvature = setting.stage.curvature as f32;
    let spacing = setting.stage.spacing as f32;
    let masts = setting.stage.masts.len();
    let mut slope: Row = [0.0; LANES];
    let mut sides = [[f32::NEG_INFINITY; LANES]; 2];
    for l in 0..LANES {
        slope[l] = (ends.ground[l] + carried - mast) / ends.distance[l];
    }
    for l in 0..group.count {
        for side in 0..2 {
            let at =
                ((ends.ray[l] as usize + side) * fan.points + ends.end[l] as usize) * masts + m;
            sides[side][l] = fan.bare_horizon.get(at).copied().unwrap_or(f32::NEG_INFINITY);
        }
    }
    // Heights of the ground over the line, largest, and over the distance to
    // both ends.
    let (mut highest, mut up, mut back): (Row, Row, Row) =
        ([f32::NEG_INFINITY; LANES], [0.0; LANES], [f32::NEG_INFINITY; LANES]);
    for l in 0..LANES {
        up[l] = blend(sides[0][l], sides[1][l], ends.share[l]) - slope[l];
    }
    for k in 0..NEAR {
        for l in 0..LANES {
            let distance = near.distance[k][l];
            let height = near.height[k][l] + distance * distance * curvature;
            let excess = height - mast - slope[l] * distance;
            highest[l] = larger(excess, highest[l]);
            up[l] = larger(excess / distance, up[l]);
            back[l] = larger(excess / (ends.distance[l] - distance), back[l]);
        }
    }
    for l in 0..group.count {
        if ends.steps[l] <= OWN as f32 {
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
        // The nearer ray will do: the fit feels little of a single point.
        let ray = ends.ray[l] as usize + usize::from(ends.share[l] > 0.5);
        let start = ray * fan.points;
        let Some(ray) = fan.bare.get(start..start + fan.points) else { continue };
        let end = ends.end[l] as usize;
        let (at, top) = extreme(ray, end, slope[l]);
        highest[l] = larger(top - mast - slope[l] * (at as f32 * spacing), highest[l]);
        let tip = ends.ground[l] + carried;
        let (at, top) = tangent(ray, end, ends.distance[l], tip);
        let gap = ends.distance[l] - at as f32 * spacing;
        back[l] = larger((top - tip) / gap + slope[l], back[l]);
    }
    let mut effective = Effective { station: [0.0; LANES], carried: [0.0; LANES] };
    for l in 0..LANES {
        let distance = ends.distance[l];
        let inverse = 1.0 / distance;
        let first = ground.first[l] * inverse;
        let second = ground.second[l] * inverse * inverse;
        let (mut start, mut end) = (2.0 * first - second, second - first);
        let lowered = highest[l] / (up[l] + back[l]);
        if highest[l] > 0.0 {
            start -= lowered * up[l];
            end -= lowered * back[l];
        }
        let rise = ends.ground[l];
        effective.station[l] = mast - if start < 0.0 { start } else { 0.0 };
        effective.carried[l] = carried + rise - if end < rise { end } else { rise };
    }
    effective
}
