//! Woods on the path: the better of the loss over them, as over anything that
//! stands there, and the loss through them, where foliage attenuates.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use std::ops::Range;

use pulp::Simd;

use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS};
use super::fan::Fan;
use super::geometry::{Batch, BatchLosses, Setup};
use super::obstruction::BLOCK;
use super::registers::{
    ALL_LANES, LANE_NUMBERS, LANES, Lanes, Part, Register, interpolate, larger, parts, parts_of,
    smaller,
};
use super::scratch::SurfaceScratch;
use super::trees::TreeBlocks;
use perchline_propagation::p833::Leaves;

/// The terrain as if no trees stood on it, and what foliage attenuates.
pub(super) struct Woods<'a> {
    pub cleared: Setup<'a>,
    /// At talk-in and talk-out of each channel.
    pub foliage: Vec<[Foliage; 2]>,
}

/// What foliage does to the wave of one frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foliage {
    /// Maximum attenuation, dB.
    most: f32,
    /// Times the depth in metres: the power of 2 of which the rest is left.
    decay: f32,
}

impl Foliage {
    pub(super) fn of(leaves: Leaves) -> Self {
        let most = leaves.most().value();
        let decay = -leaves.attenuation() / most * std::f64::consts::LOG2_E;
        Self { most: most as f32, decay: decay as f32 }
    }

    /// The attenuation by a depth of woods in metres, dB.
    #[inline(always)]
    fn loss<S: Simd>(self, depth: Register<S>) -> Register<S> {
        (-(depth * self.decay).exp2() + 1.0) * self.most
    }
}

/// The uppermost crowns count in part ([`perchline_propagation::p833::grazed_depth`]):
/// 1 over their height in metres.
const PER_CROWNS: f32 = 0.5;

/// The path through the woods in the effective-earth plane, trees away: from the
/// mast up to its horizon, and from there down to the receiver.
#[derive(Clone, Copy)]
struct HorizonPath {
    /// Station antenna height, metres above datum.
    mast: f32,
    /// Slope from the station antenna to its horizon.
    station_slope: f32,
    /// Receiver antenna height, metres above datum.
    receiver: f32,
    /// Slope from the receiver antenna to its horizon, looking back.
    receiver_slope: f32,
    /// Ground distance, metres.
    distance: f32,
}

impl HorizonPath {
    /// Its height at distances from the station, metres above datum.
    #[inline(always)]
    fn along<S: Simd>(self, distance: Register<S>) -> Register<S> {
        let rise = distance * self.station_slope + self.mast;
        rise.min((-distance + self.distance) * self.receiver_slope + self.receiver)
    }

    /// The same at one.
    #[inline(always)]
    fn at(self, distance: f32) -> f32 {
        let rise = self.mast + self.station_slope * distance;
        smaller(rise, self.receiver + self.receiver_slope * (self.distance - distance))
    }
}

impl Woods<'_> {
    /// Makes the first half of `found`, the losses over the woods, the better
    /// of itself and the second half, the losses through them without foliage.
    #[inline(always)]
    pub(super) fn merge<S: Simd>(
        &self,
        simd: S,
        over: &Setup<'_>,
        surfaces: (&[SurfaceScratch; 2], &TreeBlocks),
        batch: &Batch,
        cells: &CellGeometry,
        found: &mut [BatchLosses],
    ) {
        let mut first = 0;
        for above_ground in &over.receivers {
            for (number, mast) in over.station.masts.iter().enumerate() {
                let channels = first..first + self.foliage.len();
                first = channels.end;
                let which = (channels, 0, (number, *mast, *above_ground), ALL_LANES);
                self.merge_pair(simd, over, surfaces, (batch, cells), which, found);
            }
        }
    }

    /// The same for one pair of antennas, some of its channels, numbers `which` of
    /// what was found, the first of which is channel `first`, and some lanes.
    #[inline(always)]
    pub(super) fn merge_pair<S: Simd>(
        &self,
        simd: S,
        over: &Setup<'_>,
        surfaces: (&[SurfaceScratch; 2], &TreeBlocks),
        (batch, cells): (&Batch, &CellGeometry),
        (which, first, (number, mast, above_ground), lanes): (
            Range<usize>,
            usize,
            (usize, f32, f32),
            u32,
        ),
        found: &mut [BatchLosses],
    ) {
        let (found, through) = found.split_at_mut(found.len() / 2);
        let (Some(found), Some(through)) = (found.get_mut(which.clone()), through.get(which))
        else {
            return;
        };
        let lanes = || (0..batch.count).filter(|l| lanes & 1 << l != 0);
        let mut wanted = 0;
        for (found, through) in found.iter_mut().zip(through) {
            for l in lanes() {
                wanted |= u32::from(is_lower(through, found, l)) << l;
                found.doubt[l] = larger(found.doubt[l], through.doubt[l]);
            }
        }
        let Some(geometry) = through.first().filter(|_| wanted != 0) else { return };
        let receiver = cells.receiver_heights(simd, above_ground);
        let (antennas, cells) = ((number, mast, &receiver), (batch, cells));
        // Where a path runs does not depend on its frequency.
        let depth = self.depths(simd, over, surfaces, cells, antennas, (geometry, wanted));
        let foliage = self.foliage.iter().skip(first);
        for ((found, through), foliage) in found.iter_mut().zip(through).zip(foliage) {
            let wanted =
                lanes().fold(0, |bits, l| bits | u32::from(is_lower(through, found, l)) << l);
            take_lower(simd, *foliage, (&depth, wanted), through, found);
        }
    }

    /// How much of each path runs through woods, metres.
    #[inline(always)]
    fn depths<S: Simd>(
        &self,
        simd: S,
        over: &Setup<'_>,
        ([tops, feet], trees): (&[SurfaceScratch; 2], &TreeBlocks),
        (batch, cells): (&Batch, &CellGeometry),
        (number, mast, receiver): (usize, f32, &Lanes),
        (through, wanted): (&BatchLosses, u32),
    ) -> Lanes {
        let curvature = over.station.curvature as f32;
        let (masts, spacing) = (over.station.masts.len(), over.station.spacing as f32);
        let mut sides = [[0f32; LANES]; 2];
        let mut whole = [-1f32; LANES];
        for l in (0..batch.count).filter(|l| wanted & 1 << l != 0) {
            let distance = cells.distance[l];
            let path = HorizonPath {
                mast,
                station_slope: through.station_take_off[l],
                receiver: receiver[l],
                // Back from the receiver's horizontal to the effective-earth plane.
                receiver_slope: through.receiver_take_off[l] + 2.0 * curvature * distance,
                distance,
            };
            if cells.sampled_whole(l) {
                whole[l] = self.depth_sampled_whole(over, batch, cells, l, path);
                continue;
            }
            for side in 0..2 {
                let ray = cells.ray[l] as usize + side;
                let last = cells.last_point[l] as usize;
                let fans = ([&tops.fan, &feet.fan], trees);
                let points = points_in_woods(simd, fans, (ray, masts, number), last, path, spacing);
                sides[side][l] = points * spacing;
            }
        }
        let mut depth = [0f32; LANES];
        for part in parts_of::<S>(wanted) {
            let at = Part { simd, part };
            let distance = at.load(&cells.distance);
            let (up, receiver) = (at.load(&through.station_take_off), at.load(receiver));
            let back = at.load(&through.receiver_take_off) + distance * (2.0 * curvature);
            let step = distance / at.load(&cells.steps);
            let mut sum =
                interpolate(at.load(&sides[0]), at.load(&sides[1]), at.load(&cells.share));
            let zero = sum.zero();
            for k in 0..FOREGROUND_POINTS {
                let along = at.load(&tops.foreground.distance[k]);
                let path = (along * up + mast).min((distance - along) * back + receiver);
                let top = at.load(&tops.foreground.height[k]);
                let foot = at.load(&feet.foreground.height[k]);
                let depth = share_in_crowns(top, path) * step;
                sum = sum + top.above(foot).select(depth, zero);
            }
            let whole = at.load(&whole);
            whole.exceeds(-0.5).select(whole, sum).store(&mut depth, part);
        }
        depth
    }

    /// The same of a cell whose path is sampled whole.
    #[inline(always)]
    fn depth_sampled_whole(
        &self,
        over: &Setup<'_>,
        batch: &Batch,
        cells: &CellGeometry,
        lane: usize,
        path: HorizonPath,
    ) -> f32 {
        let (tops, feet) = (&over.terrain.surface, &self.cleared.terrain.surface);
        let curvature = over.station.curvature as f32;
        let mut inside = 0.0;
        cells.own_course(batch, lane, |distance, (x, y)| {
            let (top, foot) = (tops.at(x, y), feet.at(x, y));
            if top > foot {
                let height = top - over.station.datum - distance * distance * curvature;
                let above = height - path.at(distance);
                inside += smaller(larger(above * PER_CROWNS, 0.0), 1.0);
            }
        });
        inside * cells.distance[lane] / cells.steps[lane]
    }
}

/// Whether the loss through woods without foliage is lower in a lane than that found.
#[inline(always)]
fn is_lower(through: &BatchLosses, found: &BatchLosses, lane: usize) -> bool {
    through.talk_in[lane] < found.talk_in[lane] || through.talk_out[lane] < found.talk_out[lane]
}

/// Takes the path through the woods where it is wanted and its loss the lower one.
#[inline(always)]
fn take_lower<S: Simd>(
    simd: S,
    [foliage_in, foliage_out]: [Foliage; 2],
    (depth, wanted): (&Lanes, u32),
    through: &BatchLosses,
    found: &mut BatchLosses,
) {
    // Of what is not wanted the loss stays what it is.
    let mut beyond = [f32::INFINITY; LANES];
    for (lane, beyond) in beyond.iter_mut().enumerate() {
        if wanted & 1 << lane != 0 {
            *beyond = 0.0;
        }
    }
    for part in parts_of::<S>(wanted) {
        let at = Part { simd, part };
        let (depth, beyond) = (at.load(depth), at.load(&beyond));
        let talk_in = at.load(&through.talk_in) + foliage_in.loss(depth) + beyond;
        at.load(&found.talk_in).min(talk_in).store(&mut found.talk_in, part);
        let over = at.load(&found.talk_out);
        let talk_out = at.load(&through.talk_out) + foliage_out.loss(depth) + beyond;
        let lower = over.above(talk_out);
        lower.select(talk_out, over).store(&mut found.talk_out, part);
        let (inside, above) = (&through.station_take_off, &found.station_take_off);
        let slope = lower.select(at.load(inside), at.load(above));
        slope.store(&mut found.station_take_off, part);
        let (inside, above) = (&through.receiver_take_off, &found.receiver_take_off);
        let slope = lower.select(at.load(inside), at.load(above));
        slope.store(&mut found.receiver_take_off, part);
    }
}

/// Points of a ray up to `last` at which a path runs below the tops of trees,
/// the uppermost crowns in part.
#[inline(always)]
fn points_in_woods<S: Simd>(
    simd: S,
    ([tops, feet], trees): ([&Fan; 2], &TreeBlocks),
    (ray, masts, number): (usize, usize, usize),
    last: usize,
    path: HorizonPath,
    spacing: f32,
) -> f32 {
    let points = ray * tops.points..(ray + 1) * tops.points;
    let pair = ray * masts + number;
    let [blocks, _] = tops.padded;
    let (Some(high), Some(low), Some(steepest)) = (
        tops.heights.get(points.clone()),
        feet.heights.get(points),
        tops.blocks.get(pair * blocks..(pair + 1) * blocks),
    ) else {
        return 0.0;
    };
    let mut inside = [0f32; LANES];
    let count = last / BLOCK + 1;
    for (group, wooded) in trees.on_ray(ray).iter().take(count.div_ceil(LANES)).enumerate() {
        let within = (1_u32 << (count - group * LANES).min(LANES)) - 1;
        let mut left = wooded & within;
        if left != 0 {
            left &= !above_trees(simd, steepest, path, (group, spacing));
        }
        while left != 0 {
            let first = (group * LANES + left.trailing_zeros() as usize) * BLOCK;
            left &= left - 1;
            for part in 0..parts::<S>() {
                let at = Part { simd, part };
                let point = at.load(&LANE_NUMBERS) + first as u32 as f32;
                let (high, low) = (at.slice(high, first), at.slice(low, first));
                let share = share_in_crowns(high, path.along(point * spacing));
                let share = high.above(low).select(share, share.zero());
                // The station's own point does not count, nor do those too far.
                let share = point.exceeds(0.5).select(share, share.zero());
                let share = point.exceeds(last as u32 as f32 + 0.5).select(share.zero(), share);
                (at.load(&inside) + share).store(&mut inside, part);
            }
        }
    }
    inside.iter().sum()
}

/// Which blocks of a group a path runs above, whatever stands there, as bits.
#[inline(always)]
fn above_trees<S: Simd>(
    simd: S,
    steepest: &[f32],
    path: HorizonPath,
    (group, spacing): (usize, f32),
) -> u32 {
    let mut bits = 0;
    for part in 0..parts::<S>() {
        let at = Part { simd, part };
        let block = at.load(&LANE_NUMBERS) + (group * LANES) as u32 as f32;
        let start = block * (BLOCK as f32 * spacing);
        let end = start + (BLOCK - 1) as f32 * spacing;
        // Nothing here is higher than the steepest slope says; the path is lowest at
        // one of the block's ends.
        let steepest = at.slice(steepest, group * LANES);
        let highest = (steepest * start).max(steepest * end) + path.mast;
        let lowest = path.along(start).min(path.along(end));
        bits |= lowest.above(highest).bits(part);
    }
    bits
}

/// How much of a point's length counts as inside trees with their tops at this
/// height, 0 to 1.
#[inline(always)]
fn share_in_crowns<S: Simd>(top: Register<S>, path: Register<S>) -> Register<S> {
    ((top - path) * PER_CROWNS).at_least(0.0).at_most(1.0)
}
