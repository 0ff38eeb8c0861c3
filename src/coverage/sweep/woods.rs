//! Woods on the path: the better of the loss over them, as over anything that
//! stands there, and the loss through them, where foliage attenuates.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::cell_geometry::{CellGeometry, FOREGROUND_POINTS};
use super::fan::Fan;
use super::geometry::{Batch, BatchLosses, Setup};
use super::obstruction::BLOCK;
use super::registers::{
    LANE_NUMBERS, LANES, Lanes, Part, Register, interpolate, larger, parts, smaller,
};
use super::scratch::SurfaceScratch;
use perchline_propagation::p833::Leaves;

/// The terrain as if no trees stood on it, and what foliage attenuates.
pub(super) struct Woods<'a> {
    pub cleared: Setup<'a>,
    /// At talk-in and talk-out.
    pub foliage: [Foliage; 2],
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
    /// Its height at a distance from the station, metres above datum.
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
        surfaces: &[SurfaceScratch; 2],
        batch: &Batch,
        cells: &CellGeometry,
        found: &mut [BatchLosses],
    ) {
        let mut pair = 0;
        for above_ground in &over.receivers {
            for (number, mast) in over.station.masts.iter().enumerate() {
                let antennas = (number, *mast, *above_ground);
                self.merge_pair(simd, over, surfaces, (batch, cells), (pair, antennas), found);
                pair += 1;
            }
        }
    }

    /// The same for one pair of antennas, number `pair`.
    #[inline(always)]
    pub(super) fn merge_pair<S: Simd>(
        &self,
        simd: S,
        over: &Setup<'_>,
        surfaces: &[SurfaceScratch; 2],
        (batch, cells): (&Batch, &CellGeometry),
        (pair, (number, mast, above_ground)): (usize, (usize, f32, f32)),
        found: &mut [BatchLosses],
    ) {
        let (found, through) = found.split_at_mut(found.len() / 2);
        let (Some(found), Some(through)) = (found.get_mut(pair), through.get(pair)) else {
            return;
        };
        let mut wanted = [false; LANES];
        for l in 0..batch.count {
            wanted[l] =
                through.talk_in[l] < found.talk_in[l] || through.talk_out[l] < found.talk_out[l];
            found.doubt[l] = larger(found.doubt[l], through.doubt[l]);
        }
        if !wanted.contains(&true) {
            return;
        }
        let receiver = cells.receiver_heights(simd, above_ground);
        let (antennas, cells) = ((number, mast, &receiver), (batch, cells));
        let depth = self.depths(simd, over, surfaces, cells, antennas, (through, &wanted));
        self.take_lower(simd, &depth, through, found);
    }

    /// How much of each path runs through woods, metres.
    #[inline(always)]
    fn depths<S: Simd>(
        &self,
        simd: S,
        over: &Setup<'_>,
        [tops, feet]: &[SurfaceScratch; 2],
        (batch, cells): (&Batch, &CellGeometry),
        (number, mast, receiver): (usize, f32, &Lanes),
        (through, wanted): (&BatchLosses, &[bool; LANES]),
    ) -> Lanes {
        let curvature = over.station.curvature as f32;
        let (masts, spacing) = (over.station.masts.len(), over.station.spacing as f32);
        let mut sides = [[0f32; LANES]; 2];
        let mut whole = [-1f32; LANES];
        for l in (0..batch.count).filter(|l| wanted[*l]) {
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
                let fans = [&tops.fan, &feet.fan];
                let points = points_in_woods(simd, fans, (ray, masts, number), last, path, spacing);
                sides[side][l] = points * spacing;
            }
        }
        let mut depth = [0f32; LANES];
        for part in 0..parts::<S>() {
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

    /// Takes the path through the woods where its loss is the lower one.
    #[inline(always)]
    fn take_lower<S: Simd>(
        &self,
        simd: S,
        depth: &Lanes,
        through: &BatchLosses,
        found: &mut BatchLosses,
    ) {
        let [foliage_in, foliage_out] = self.foliage;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let depth = at.load(depth);
            let talk_in = at.load(&through.talk_in) + foliage_in.loss(depth);
            at.load(&found.talk_in).min(talk_in).store(&mut found.talk_in, part);
            let over = at.load(&found.talk_out);
            let talk_out = at.load(&through.talk_out) + foliage_out.loss(depth);
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
}

/// Points of a ray up to `last` at which a path runs below the tops of trees,
/// the uppermost crowns in part.
#[inline(always)]
fn points_in_woods<S: Simd>(
    simd: S,
    [tops, feet]: [&Fan; 2],
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
    for (block, steepest) in steepest.iter().take(last / BLOCK + 1).enumerate() {
        let first = block * BLOCK;
        // Nothing here is higher than the steepest slope says; the path is
        // lowest at one of the block's ends.
        let [start, end] = [first, first + BLOCK - 1].map(|point| point as u32 as f32 * spacing);
        let highest = path.mast + larger(*steepest * start, *steepest * end);
        if highest < smaller(path.at(start), path.at(end)) || !has_trees(high, low, first) {
            continue;
        }
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let point = at.load(&LANE_NUMBERS) + first as u32 as f32;
            let along = point * spacing;
            let rise = along * path.station_slope + path.mast;
            let fall = (-along + path.distance) * path.receiver_slope + path.receiver;
            let (high, low) = (at.slice(high, first), at.slice(low, first));
            let share = share_in_crowns(high, rise.min(fall));
            let share = high.above(low).select(share, share.zero());
            // The station's own point does not count, nor do those too far.
            let share = point.exceeds(0.5).select(share, share.zero());
            let share = point.exceeds(last as u32 as f32 + 0.5).select(share.zero(), share);
            (at.load(&inside) + share).store(&mut inside, part);
        }
    }
    inside.iter().sum()
}

/// Whether trees stand in the block from point `first` on.
#[inline(always)]
fn has_trees(high: &[f32], low: &[f32], first: usize) -> bool {
    let block = first..first + BLOCK;
    match (high.get(block.clone()), low.get(block)) {
        (Some(high), Some(low)) => high != low,
        _ => false,
    }
}

/// How much of a point's length counts as inside trees with their tops at this
/// height, 0 to 1.
#[inline(always)]
fn share_in_crowns<S: Simd>(top: Register<S>, path: Register<S>) -> Register<S> {
    ((top - path) * PER_CROWNS).at_least(0.0).at_most(1.0)
}
