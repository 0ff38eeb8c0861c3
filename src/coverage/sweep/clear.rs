//! The point of a ray that comes nearest to blocking a line, or blocks it most.
//!
//! Every point counts, not only the hull's. Steepest slopes of blocks of
//! points, and of blocks of blocks, bound what they can hold, so that all but a
//! few are passed over, and what is found is exact.

use pulp::Simd;

use super::lane::{COUNT, LANES, Lane, Part, Row, parts};

/// Points a block, and blocks a batch.
pub(super) const BLOCK: usize = LANES;

/// No block.
pub(super) const NO_HINT: u32 = u32::MAX >> 8;

/// One line over one ray.
#[derive(Clone, Copy)]
pub(super) struct Line {
    /// Length in metres.
    pub distance: f32,
    /// Slope from the antenna to the receiver.
    pub slope: f32,
    /// Height of the antenna.
    pub mast: f32,
}

/// The points of one ray that lie before the receiver.
#[derive(Clone, Copy)]
pub(super) struct Ray<'a> {
    /// Heights of the points, whole blocks of them.
    pub heights: &'a [f32],
    /// Steepest slope from the antenna within each block, whole batches of them.
    pub blocks: &'a [f32],
    /// The same within each batch of blocks.
    pub batches: &'a [f32],
    /// The last point that counts.
    pub end: usize,
    /// Distance between points.
    pub spacing: f32,
    /// 1 / (i spacing), whole blocks of them.
    pub inverse: &'a [f32],
}

/// The largest obstruction (s_i - S) sqrt(d_i / (d - d_i)) of the points 1 to
/// `end`, if it is above `least`; else `least`. s_i is the slope from the
/// antenna to point i and S the line's. With a factor sqrt(2 d / lambda) it is
/// the parameter nu of P.526.
///
/// `hint` is the block that decided over a similar line, if there was one, and
/// becomes the one that does over this: it changes nothing but the pace.
#[inline(always)]
pub(super) fn dominant<S: Simd>(
    simd: S,
    ray: Ray<'_>,
    line: Line,
    least: f32,
    hint: &mut u32,
) -> f32 {
    // Signed squares throughout, to save roots.
    let mut most = least * least.abs();
    if *hint as usize * BLOCK <= ray.end {
        most = ray.within_block(simd, line, *hint as usize, most);
    }
    // From the far end: points near the receiver weigh most, and a good value
    // found early passes over more blocks.
    for group in (0..=ray.end / (BLOCK * BLOCK * BLOCK)).rev() {
        let Some(batches) = row(ray.batches, group) else { continue };
        let mut open = ray.open(simd, batches, group * BLOCK, BLOCK * BLOCK, line, most);
        while let Some(batch) = take_last(&mut open) {
            let batch = group * BLOCK + batch;
            let Some(blocks) = row(ray.blocks, batch) else { continue };
            let mut open = ray.open(simd, blocks, batch * BLOCK, BLOCK, line, most);
            while let Some(block) = take_last(&mut open) {
                let block = batch * BLOCK + block;
                let found = ray.within_block(simd, line, block, most);
                if found > most {
                    (most, *hint) = (found, block as u32);
                }
            }
        }
    }
    most.abs().sqrt().copysign(most)
}

/// The whole row of this number out of many.
#[inline(always)]
fn row(all: &[f32], number: usize) -> Option<&Row> {
    all.get(number * LANES..)?.first_chunk()
}

/// Takes the highest bit out of many.
#[inline(always)]
fn take_last(bits: &mut u32) -> Option<usize> {
    let last = bits.checked_ilog2()?;
    *bits ^= 1 << last;
    Some(last as usize)
}

impl Ray<'_> {
    /// Which of a row of parts of the ray, each `width` points long, may hold a
    /// point above `most`, as bits.
    #[inline(always)]
    fn open<S: Simd>(
        &self,
        simd: S,
        steepest: &Row,
        first: usize,
        width: usize,
        line: Line,
        most: f32,
    ) -> u32 {
        let length = width as f32 * self.spacing;
        let farthest = self.end as f32 * self.spacing;
        let mut open = 0;
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let excess = at.row(steepest) - line.slope;
            let start = at.row(&COUNT) * length + first as f32 * length;
            let last = (start + (length - self.spacing)).at_most(farthest);
            // What the steepest point would come to at the most favourable
            // distance of its part.
            let place = excess.exceeds(0.0).choose(last, start.at_least(self.spacing));
            let room = excess * excess.abs() * place - (-place + line.distance) * most;
            open |= room.exceeds(0.0).bits(part);
        }
        open
    }

    /// The largest of `most` and the signed squares within one block.
    #[inline(always)]
    fn within_block<S: Simd>(&self, simd: S, line: Line, block: usize, most: f32) -> f32 {
        let (Some(heights), Some(inverse)) = (row(self.heights, block), row(self.inverse, block))
        else {
            return most;
        };
        let start = (block * BLOCK) as f32 * self.spacing;
        let farthest = (self.end as f32 + 0.5) * self.spacing;
        let none = Lane::splat(simd, f32::NEG_INFINITY);
        let mut best = Lane::splat(simd, most);
        for part in 0..parts::<S>() {
            let at = Part { simd, part };
            let place = at.row(&COUNT) * self.spacing + start;
            let excess = (at.row(heights) - line.mast) * at.row(inverse) - line.slope;
            let square = excess * excess.abs() * place / (-place + line.distance);
            let square = place.exceeds(0.0).choose(square, none);
            best = place.exceeds(farthest).choose(none, square).max(best);
        }
        best.largest()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::{Arch, WithSimd};

    struct Call<'a>(Ray<'a>, Line, f32);

    impl WithSimd for Call<'_> {
        type Output = f32;
        #[inline(always)]
        fn with_simd<S: Simd>(self, simd: S) -> f32 {
            let mut hint = NO_HINT;
            let first = dominant(simd, self.0, self.1, self.2, &mut hint);
            assert_eq!(dominant(simd, self.0, self.1, self.2, &mut hint), first);
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
        let mut batches = vec![f32::NEG_INFINITY; 16];
        for i in 1..points {
            let slope = (heights[i] - mast) * inverse[i];
            blocks[i / BLOCK] = blocks[i / BLOCK].max(slope);
            batches[i / BLOCK / BLOCK] = batches[i / BLOCK / BLOCK].max(slope);
        }
        for end in [1, 15, 16, 17, 400, 1000] {
            for rise in [-20.0, 0.0, 5.0, 60.0] {
                let distance = (end as f32 + 3.3) * spacing;
                let line = Line { distance, slope: rise / distance, mast };
                let (heights, inverse) = (heights.as_slice(), inverse.as_slice());
                let (blocks, batches) = (blocks.as_slice(), batches.as_slice());
                let ray = Ray { heights, blocks, batches, end, spacing, inverse };
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
