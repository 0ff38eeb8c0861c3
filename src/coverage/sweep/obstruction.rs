//! The dominant obstruction of a line over a ray: the point that blocks it most,
//! or comes nearest to blocking it.
//!
//! Every point counts, not only the hull's. Steepest slopes of blocks of
//! points, and of superblocks of blocks, bound what they can hold, so that all
//! but a few are passed over, and what is found is exact.

use pulp::Simd;

use super::registers::{LANE_NUMBERS, LANES, Lanes, Part, Register, parts};

/// Points a block, and blocks a superblock.
pub(super) const BLOCK: usize = LANES;

/// No block.
pub(super) const NO_HINT: u32 = u32::MAX >> 8;

/// The line from the station antenna to one receiver, in the effective-earth
/// plane.
#[derive(Clone, Copy)]
pub(super) struct SightLine {
    /// Ground distance, metres.
    pub distance: f32,
    /// Slope from the station antenna to the receiver antenna.
    pub slope: f32,
    /// Height of the station antenna, metres above datum.
    pub mast: f32,
}

/// The points of one ray that lie before the receiver, in the effective-earth
/// plane.
#[derive(Clone, Copy)]
pub(super) struct RayPoints<'a> {
    /// Heights of the points, metres above datum; whole blocks of them.
    pub heights: &'a [f32],
    /// Steepest slope from the station antenna within each block; whole
    /// superblocks of them.
    pub blocks: &'a [f32],
    /// The same within each superblock.
    pub superblocks: &'a [f32],
    /// The last point that counts.
    pub last: usize,
    /// Distance between points, metres.
    pub spacing: f32,
    /// 1 / (i spacing), 1/m; whole blocks of them.
    pub inverse: &'a [f32],
}

/// The largest obstruction (s_i - S) sqrt(d_i / (d - d_i)) of the points 1 to
/// `ray.last`, if it is above `least`; else `least`. s_i is the slope from the
/// station antenna to point i and S the line's. With a factor sqrt(2 d / lambda)
/// it is the parameter nu of P.526.
///
/// `hint` is the block that decided over a similar line, if there was one, and
/// becomes the one that does over this: it changes nothing but the pace.
#[inline(always)]
pub(super) fn dominant_obstruction<S: Simd>(
    simd: S,
    ray: RayPoints<'_>,
    line: SightLine,
    least: f32,
    hint: &mut u32,
) -> f32 {
    // Signed squares throughout, to save roots.
    let mut most = least * least.abs();
    if *hint as usize * BLOCK <= ray.last {
        most = ray.within_block(simd, line, *hint as usize, most);
    }
    // From the far end: points near the receiver weigh most, and a good value
    // found early passes over more blocks.
    for group in (0..=ray.last / (BLOCK * BLOCK * BLOCK)).rev() {
        let Some(slopes) = lanes(ray.superblocks, group) else { continue };
        let mut left = ray.candidates(simd, slopes, group * BLOCK, BLOCK * BLOCK, line, most);
        while let Some(superblock) = take_last(&mut left) {
            let superblock = group * BLOCK + superblock;
            let Some(slopes) = lanes(ray.blocks, superblock) else { continue };
            let mut left = ray.candidates(simd, slopes, superblock * BLOCK, BLOCK, line, most);
            while let Some(block) = take_last(&mut left) {
                let block = superblock * BLOCK + block;
                let found = ray.within_block(simd, line, block, most);
                if found > most {
                    (most, *hint) = (found, block as u32);
                }
            }
        }
    }
    most.abs().sqrt().copysign(most)
}

/// Lanes number `number` of a table of whole lanes.
#[inline(always)]
fn lanes(all: &[f32], number: usize) -> Option<&Lanes> {
    all.get(number * LANES..)?.first_chunk()
}

/// Takes the highest bit out of many.
#[inline(always)]
fn take_last(bits: &mut u32) -> Option<usize> {
    let last = bits.checked_ilog2()?;
    *bits ^= 1 << last;
    Some(last as usize)
}

impl RayPoints<'_> {
    /// Which of the parts of the ray from number `first` on, each `width` points
    /// long, may hold a point above `most`, as bits, one a lane; `most` is a
    /// signed square.
    #[inline(always)]
    fn candidates<S: Simd>(
        &self,
        simd: S,
        steepest: &Lanes,
        first: usize,
        width: usize,
        line: SightLine,
        most: f32,
    ) -> u32 {
        let length = width as f32 * self.spacing;
        let farthest = self.last as f32 * self.spacing;
        let mut candidates = 0;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let excess = at.load(steepest) - line.slope;
            let start = at.load(&LANE_NUMBERS) * length + first as f32 * length;
            let last = (start + (length - self.spacing)).at_most(farthest);
            // What the steepest point would come to at the most favourable
            // distance of its part.
            let place = excess.exceeds(0.0).select(last, start.at_least(self.spacing));
            let room = excess * excess.abs() * place - (-place + line.distance) * most;
            candidates |= room.exceeds(0.0).bits(part);
        }
        candidates
    }

    /// The largest of `most` and the signed squares within one block.
    #[inline(always)]
    fn within_block<S: Simd>(&self, simd: S, line: SightLine, block: usize, most: f32) -> f32 {
        let (Some(heights), Some(inverse)) =
            (lanes(self.heights, block), lanes(self.inverse, block))
        else {
            return most;
        };
        let start = (block * BLOCK) as f32 * self.spacing;
        let farthest = (self.last as f32 + 0.5) * self.spacing;
        let none = Register::splat(simd, f32::NEG_INFINITY);
        let mut best = Register::splat(simd, most);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let place = at.load(&LANE_NUMBERS) * self.spacing + start;
            let excess = (at.load(heights) - line.mast) * at.load(inverse) - line.slope;
            let square = excess * excess.abs() * place / (-place + line.distance);
            let square = place.exceeds(0.0).select(square, none);
            best = place.exceeds(farthest).select(none, square).max(best);
        }
        best.largest()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::{Arch, WithSimd};

    struct Call<'a>(RayPoints<'a>, SightLine, f32);

    impl WithSimd for Call<'_> {
        type Output = f32;
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) -> f32 {
            let mut hint = NO_HINT;
            let first = dominant_obstruction(simd, self.0, self.1, self.2, &mut hint);
            let again = dominant_obstruction(simd, self.0, self.1, self.2, &mut hint);
            assert_eq!(again, first);
            first
        }
    }

    #[test]
    fn passing_over_blocks_loses_nothing() {
        let (spacing, mast, points) = (30.0, 4.0, 1008);
        let inverse: Vec<f32> = (0..points).map(|i| 1.0 / (i as f32 * spacing)).collect();
        let heights: Vec<f32> = (0..points)
            .map(|i| 20.0 * (i as f32 * 0.031).sin() + 3.0 * (i as f32 * 0.7).cos() - 23.0)
            .collect();
        let mut blocks = vec![f32::NEG_INFINITY; 64];
        let mut superblocks = vec![f32::NEG_INFINITY; 16];
        for i in 1..points {
            let slope = (heights[i] - mast) * inverse[i];
            blocks[i / BLOCK] = blocks[i / BLOCK].max(slope);
            let superblock = &mut superblocks[i / BLOCK / BLOCK];
            *superblock = superblock.max(slope);
        }
        for end in [1, 15, 16, 17, 400, 1000] {
            for rise in [-20.0, 0.0, 5.0, 60.0] {
                let distance = (end as f32 + 3.3) * spacing;
                let line = SightLine { distance, slope: rise / distance, mast };
                let (heights, inverse) = (heights.as_slice(), inverse.as_slice());
                let (blocks, superblocks) = (blocks.as_slice(), superblocks.as_slice());
                let ray = RayPoints { heights, blocks, superblocks, last: end, spacing, inverse };
                let scan = (1..=end)
                    .map(|i| {
                        let d = i as f32 * spacing;
                        let excess = (heights[i] - mast) / d - line.slope;
                        excess * (d / (distance - d)).sqrt()
                    })
                    .fold(f32::MIN, f32::max);
                let got = Arch::new().dispatch(Call(ray, line, -1e3));
                assert!(
                    (got - scan).abs() < 1e-4 * scan.abs().max(0.01),
                    "{end} {rise}: {got} {scan}"
                );
                assert_eq!(Arch::new().dispatch(Call(ray, line, 1e3)), 1e3);
            }
        }
    }
}
