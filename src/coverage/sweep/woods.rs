//! Woods in the way: the better of the way over them, as over anything that
//! stands there, and the way through them, which leaves make dear.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use pulp::Simd;

use super::cells::{Group, Losses, Setting};
use super::clear::BLOCK;
use super::ends::{Ends, NEAR, OWN};
use super::fan::Fan;
use super::lane::{COUNT, LANES, Lane, Part, Row, blend, larger, parts, smaller};
use super::walk::Layer;
use crate::propagation::p833::Leaves;

/// The terrain as if no trees stood on it, and what their leaves take.
pub(super) struct Woods<'a> {
    pub cleared: Setting<'a>,
    /// At talk-in and talk-out.
    pub leaves: [Foliage; 2],
}

/// What leaves do to the wave of one frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Foliage {
    /// The most that they take, dB.
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

    /// The loss in a depth of woods, dB.
    #[inline(always)]
    fn loss<S: Simd>(self, depth: Lane<S>) -> Lane<S> {
        (-(depth * self.decay).exp2() + 1.0) * self.most
    }
}

/// The uppermost crowns count in part ([`crate::propagation::p833::grazed_depth`]):
/// 1 over their height in metres.
const PER_CROWNS: f32 = 0.5;

/// The way from a mast through the woods: up to its horizon, the trees away,
/// and down from the carried antenna's.
#[derive(Clone, Copy)]
struct Bent {
    mast: f32,
    up: f32,
    tip: f32,
    back: f32,
    distance: f32,
}

impl Bent {
    /// Height over the datum, less the drop.
    #[inline(always)]
    fn at(self, distance: f32) -> f32 {
        let rise = self.mast + self.up * distance;
        smaller(rise, self.tip + self.back * (self.distance - distance))
    }
}

impl Woods<'_> {
    /// Makes the first half of `found`, the losses over the woods, the better
    /// of itself and the second half, the losses through them without leaves.
    #[inline(always)]
    pub(super) fn merge<S: Simd>(
        &self,
        simd: S,
        over: &Setting<'_>,
        layers: &[Layer; 2],
        group: &Group,
        ends: &Ends,
        found: &mut [Losses],
    ) {
        let masts = &over.stage.masts;
        let (found, through) = found.split_at_mut(found.len() / 2);
        let mut pairs = found.iter_mut().zip(through);
        for carried in &over.carried {
            let tip = ends.tips(simd, *carried);
            for (number, mast) in masts.iter().enumerate() {
                let Some((found, through)) = pairs.next() else { return };
                let mut wanted = [false; LANES];
                for l in 0..group.count {
                    wanted[l] = through.talk_in[l] < found.talk_in[l]
                        || through.talk_out[l] < found.talk_out[l];
                }
                if !wanted.contains(&true) {
                    continue;
                }
                let lines = (number, *mast, &tip);
                let depth = self.depths(simd, over, layers, (group, ends), lines, through, &wanted);
                self.better(simd, &depth, through, found);
            }
        }
    }

    /// How much of each path runs through woods, metres.
    #[expect(clippy::too_many_arguments, reason = "each is a thing of its own")]
    #[inline(always)]
    fn depths<S: Simd>(
        &self,
        simd: S,
        over: &Setting<'_>,
        [tops, feet]: &[Layer; 2],
        (group, ends): (&Group, &Ends),
        (number, mast, tip): (usize, f32, &Row),
        through: &Losses,
        wanted: &[bool; LANES],
    ) -> Row {
        let curvature = over.stage.curvature as f32;
        let (masts, spacing) = (over.stage.masts.len(), over.stage.spacing as f32);
        let mut sides = [[0f32; LANES]; 2];
        let mut own = [-1f32; LANES];
        for l in (0..group.count).filter(|l| wanted[*l]) {
            let distance = ends.distance[l];
            // The plane of the heights tilts: see what writes the slopes.
            let back = through.back[l] + 2.0 * curvature * distance;
            let bent = Bent { mast, up: through.up[l], tip: tip[l], back, distance };
            if ends.steps[l] <= OWN as f32 {
                own[l] = self.own(over, group, ends, l, bent);
                continue;
            }
            for side in 0..2 {
                let ray = ends.ray[l] as usize + side;
                let end = ends.end[l] as usize;
                let fans = [&tops.fan, &feet.fan];
                let points = beneath(simd, fans, (ray, masts, number), end, bent, spacing);
                sides[side][l] = points * spacing;
            }
        }
        let mut depth = [0f32; LANES];
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let distance = at.row(&ends.distance);
            let (up, tip) = (at.row(&through.up), at.row(tip));
            let back = at.row(&through.back) + distance * (2.0 * curvature);
            let step = distance / at.row(&ends.steps);
            let mut sum = blend(at.row(&sides[0]), at.row(&sides[1]), at.row(&ends.share));
            let nothing = sum.nothing();
            for k in 0..NEAR {
                let along = at.row(&tops.near.distance[k]);
                let bent = (along * up + mast).min((distance - along) * back + tip);
                let (top, foot) = (at.row(&tops.near.height[k]), at.row(&feet.near.height[k]));
                let depth = crowns(top, bent) * step;
                sum = sum + top.above(foot).choose(depth, nothing);
            }
            let own = at.row(&own);
            own.exceeds(-0.5).choose(own, sum).store(&mut depth, part);
        }
        depth
    }

    /// The same for a cell so near that its path is sampled whole.
    #[inline(always)]
    fn own(&self, over: &Setting<'_>, group: &Group, ends: &Ends, l: usize, bent: Bent) -> f32 {
        let (tops, feet) = (&over.ground.surface, &self.cleared.ground.surface);
        let curvature = over.stage.curvature as f32;
        let mut inside = 0.0;
        ends.course(group, l, |distance, (x, y)| {
            let (top, foot) = (tops.at(x, y), feet.at(x, y));
            if top > foot {
                let sunk = top - over.stage.datum - distance * distance * curvature;
                let above = sunk - bent.at(distance);
                inside += smaller(larger(above * PER_CROWNS, 0.0), 1.0);
            }
        });
        inside * ends.distance[l] / ends.steps[l]
    }

    /// Takes the way through the woods where it is the better one.
    #[inline(always)]
    fn better<S: Simd>(&self, simd: S, depth: &Row, through: &Losses, found: &mut Losses) {
        let [leaves_in, leaves_out] = self.leaves;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let depth = at.row(depth);
            let inward = at.row(&through.talk_in) + leaves_in.loss(depth);
            at.row(&found.talk_in).min(inward).store(&mut found.talk_in, part);
            let over = at.row(&found.talk_out);
            let outward = at.row(&through.talk_out) + leaves_out.loss(depth);
            let is_better = over.above(outward);
            is_better.choose(outward, over).store(&mut found.talk_out, part);
            let up = is_better.choose(at.row(&through.up), at.row(&found.up));
            up.store(&mut found.up, part);
            let back = is_better.choose(at.row(&through.back), at.row(&found.back));
            back.store(&mut found.back, part);
        }
    }
}

/// Points of a ray up to `end` at which a path runs below the tops of trees.
#[inline(always)]
fn beneath<S: Simd>(
    simd: S,
    [tops, feet]: [&Fan; 2],
    (ray, masts, number): (usize, usize, usize),
    end: usize,
    bent: Bent,
    spacing: f32,
) -> f32 {
    let chain = ray * tops.points..(ray + 1) * tops.points;
    let pair = ray * masts + number;
    let [blocks, _] = tops.padded;
    let (Some(high), Some(low), Some(steepest)) = (
        tops.lows.get(chain.clone()),
        feet.lows.get(chain),
        tops.blocks.get(pair * blocks..(pair + 1) * blocks),
    ) else {
        return 0.0;
    };
    let mut inside = [0f32; LANES];
    for (block, steepest) in steepest.iter().take(end / BLOCK + 1).enumerate() {
        let first = block * BLOCK;
        // Nothing here is higher than the steepest slope says; the path is
        // lowest at one of the block's ends.
        let [near, far] = [first, first + BLOCK - 1].map(|point| point as u32 as f32 * spacing);
        let highest = bent.mast + larger(*steepest * near, *steepest * far);
        if highest < smaller(bent.at(near), bent.at(far)) || !wooded(high, low, first) {
            continue;
        }
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let point = at.row(&COUNT) + first as u32 as f32;
            let along = point * spacing;
            let rise = along * bent.up + bent.mast;
            let fall = (-along + bent.distance) * bent.back + bent.tip;
            let (high, low) = (at.slice(high, first), at.slice(low, first));
            let share = crowns(high, rise.min(fall));
            let share = high.above(low).choose(share, share.nothing());
            // The antenna's own point does not count, nor do those too far.
            let share = point.exceeds(0.5).choose(share, share.nothing());
            let share = point.exceeds(end as u32 as f32 + 0.5).choose(share.nothing(), share);
            (at.row(&inside) + share).store(&mut inside, part);
        }
    }
    inside.iter().sum()
}

/// Whether a block has trees at all.
#[inline(always)]
fn wooded(high: &[f32], low: &[f32], first: usize) -> bool {
    let block = first..first + BLOCK;
    match (high.get(block.clone()), low.get(block)) {
        (Some(high), Some(low)) => high != low,
        _ => false,
    }
}

/// How much of a point's length lies below the tops of trees.
#[inline(always)]
fn crowns<S: Simd>(top: Lane<S>, path: Lane<S>) -> Lane<S> {
    ((top - path) * PER_CROWNS).at_least(0.0).at_most(1.0)
}
