//! Slopes to the horizons of both ends, and the worst clearance of the line.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::cells::{Group, Setting};
use super::clear::{Line, Ray, dominant};
use super::ends::{Ends, NEAR, Near, OWN, beside};
use super::fan::Fan;
use super::hull::tangent;
use super::lane::{LANES, Lane, Part, Row, blend, larger, parts};
use crate::propagation::SweptForm;

/// What the ground does to the line of a path.
#[derive(Clone, Copy)]
pub(super) struct Sight {
    /// Steepest slopes up from the mast and from the carried antenna.
    pub up: Row,
    pub back: Row,
    /// (s - S) sqrt(d1 / d2), largest: see [`super::clear`].
    pub worst: Row,
}

/// A pair of antennas over a group of cells.
#[derive(Clone, Copy)]
pub(super) struct Pair<'a> {
    /// Number of the mast.
    pub number: usize,
    /// Its height over the datum.
    pub mast: f32,
    /// Heights of the carried antenna over the datum, less the drop.
    pub tip: &'a Row,
    /// Slopes from the mast to it.
    pub slope: &'a Row,
}

/// Steepest slopes up from the carried antenna, over all points, where wanted;
/// elsewhere over the near ones.
#[inline(always)]
pub(super) fn back<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    fan: &Fan,
    count: usize,
    (ends, near): (&Ends, &Near),
    tip: &Row,
    wanted: &[bool; LANES],
) -> Row {
    let spacing = setting.stage.spacing as f32;
    let (mut tops, mut places) = ([[f32::NEG_INFINITY; LANES]; 2], [[0f32; LANES]; 2]);
    for l in (0..count).filter(|l| wanted[*l]) {
        for side in 0..2 {
            let start = (ends.ray[l] as usize + side) * fan.points;
            let Some(ray) = fan.sunk.get(start..start + fan.points) else { continue };
            let (at, top) = tangent(ray, ends.end[l] as usize, ends.distance[l], tip[l]);
            tops[side][l] = top;
            places[side][l] = at as u32 as f32 * spacing;
        }
    }
    let mut back = [0f32; LANES];
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let (tip, distance) = (at.row(tip), at.row(&ends.distance));
        let before = (at.row(&tops[0]) - tip) / (distance - at.row(&places[0]));
        let after = (at.row(&tops[1]) - tip) / (distance - at.row(&places[1]));
        let mut steepest = blend(before, after, at.row(&ends.share));
        for k in 0..NEAR {
            let gap = distance - at.row(&near.distance[k]);
            steepest = ((at.row(&near.height[k]) - tip) / gap).max(steepest);
        }
        steepest.store(&mut back, part);
    }
    back
}

/// Slopes from the mast over all points, and the worst clearance of the near ones.
#[inline(always)]
pub(super) fn sight<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    fan: &Fan,
    count: usize,
    (ends, near): (&Ends, &Near),
    pair: &Pair<'_>,
) -> Sight {
    let layout = (setting.stage.masts.len(), pair.number);
    let sides = beside(fan, ends, count, &fan.horizon, layout);
    let blank = [0.0; LANES];
    let mut sight = Sight { up: blank, back: blank, worst: blank };
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let (distance, slope) = (at.row(&ends.distance), at.row(pair.slope));
        let mut up = blend(at.row(&sides[0]), at.row(&sides[1]), at.row(&ends.share));
        let mut worst = Lane::splat(simd, f32::NEG_INFINITY);
        for k in 0..NEAR {
            let place = at.row(&near.distance[k]);
            let rise = (at.row(&near.height[k]) - pair.mast) / place;
            up = rise.max(up);
            // By signed squares, to save a root a point.
            let excess = rise - slope;
            worst = (excess * excess.abs() * place / (distance - place)).max(worst);
        }
        up.store(&mut sight.up, part);
        let root = worst.abs().sqrt();
        worst.exceeds(0.0).choose(root, -root).store(&mut sight.worst, part);
    }
    sight
}

/// The same for cells so near that their path is sampled whole.
#[inline(always)]
pub(super) fn own(
    setting: &Setting<'_>,
    group: &Group,
    ends: &Ends,
    pair: &Pair<'_>,
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
            let rise = (ground - pair.mast) / distance;
            let rest = ends.distance[l] - distance;
            up = larger(rise, up);
            back = larger((ground - pair.tip[l]) / rest, back);
            let excess = rise - pair.slope[l];
            worst = larger(excess * excess.abs() * distance / rest, worst);
        });
        sight.up[l] = up;
        sight.back[l] = back;
        sight.worst[l] = worst.abs().sqrt().copysign(worst);
    }
}

/// The worst clearance over the rays too, where the method asks for it.
#[inline(always)]
pub(super) fn worst<S: Simd>(
    simd: S,
    setting: &Setting<'_>,
    fan: &Fan,
    count: usize,
    ends: &Ends,
    pair: &Pair<'_>,
    (sight, hints): (&mut Sight, &mut [u32; LANES]),
) {
    let Pair { number, mast, slope, .. } = *pair;
    let masts = setting.stage.masts.len();
    let spacing = setting.stage.spacing as f32;
    // Below nu = -0.78 at both frequencies nothing counts.
    let [a, b] = &setting.waves;
    let longest = a.twice_per_length.min(b.twice_per_length);
    let always = setting.form == SweptForm::SingleEdge;
    for l in 0..count {
        if ends.steps[l] <= OWN as f32 || (sight.up[l] >= slope[l] && !always) {
            continue;
        }
        let least = larger(sight.worst[l], -0.8 / (longest * ends.distance[l]).sqrt());
        let line = Line { distance: ends.distance[l], slope: slope[l], mast };
        // The nearer ray will do: of a clear path the ground in front counts
        // most, and that is the cell's own.
        let ray = ends.ray[l] as usize + usize::from(ends.share[l] > 0.5);
        let (points, [blocks, batches]) = (fan.points, fan.padded);
        let pair = ray * masts + number;
        let (Some(heights), Some(blocks), Some(batches)) = (
            fan.lows.get(ray * points..(ray + 1) * points),
            fan.blocks.get(pair * blocks..(pair + 1) * blocks),
            fan.batches.get(pair * batches..(pair + 1) * batches),
        ) else {
            continue;
        };
        let (end, inverse) = (ends.end[l] as usize, setting.stage.inverse.as_slice());
        let ray = Ray { heights, blocks, batches, end, spacing, inverse };
        sight.worst[l] = dominant(simd, ray, line, least, &mut hints[l]);
    }
}
