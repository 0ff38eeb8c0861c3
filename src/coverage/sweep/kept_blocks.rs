//! Heights along the own paths of a batch's cells, kept while several pairs of antennas
//! look at the same ground.

use pulp::Simd;

use super::raster::HeightRaster;
use super::registers::{LANES, Lanes};

/// Blocks that are kept at a time: what is read again and again of a batch fits in.
const KEPT: usize = 1 << 10;

/// Heights of one raster, block by block of the paths of one batch.
#[derive(Default)]
pub(super) struct KeptBlocks {
    /// Counts the batches.
    batch: u64,
    /// Nothing where a single pair of antennas looks: it sees a block once.
    blocks: Vec<Block>,
}

#[derive(Clone, Copy)]
struct Block {
    /// The batch, the lane and the number of the block on its path.
    whose: (u64, u32),
    heights: Lanes,
}

impl KeptBlocks {
    /// Forgets what was kept; keeps anew where `several` pairs will look.
    pub(super) fn begin(&mut self, several: bool) {
        self.batch += 1;
        let nobody = Block { whose: (0, 0), heights: [0.0; LANES] };
        self.blocks.resize(if several { KEPT } else { 0 }, nobody);
    }

    /// The heights at a block of a lane's path, which lies at `places`.
    #[inline(always)]
    pub(super) fn heights<S: Simd>(
        &mut self,
        simd: S,
        raster: &HeightRaster<'_>,
        (lane, block): (usize, usize),
        places: &(Lanes, Lanes),
    ) -> Lanes {
        let read = || raster.heights(simd, &places.0, &places.1);
        let number = block * LANES + lane;
        let Some(kept) = self.blocks.get_mut(number % KEPT) else { return read() };
        let whose = (self.batch, number as u32);
        if kept.whose != whose {
            *kept = Block { whose, heights: read() };
        }
        kept.heights
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use pulp::Scalar;

    /// What is kept is what the raster has, of more blocks than are kept at a time, in
    /// batch after batch; a single pair keeps nothing.
    #[test]
    fn what_is_kept_is_what_would_be_read() {
        let (columns, rows) = (400usize, 300usize);
        let heights: Vec<f32> = (0..columns * rows).map(|i| ((i * 7919) % 1009) as f32).collect();
        let raster = HeightRaster::new(&heights, columns, rows).unwrap();
        for several in [true, false] {
            let mut kept = KeptBlocks::default();
            for batch in 0..3 {
                kept.begin(several);
                for _ in 0..2 {
                    for block in 0..2 * KEPT / LANES {
                        for lane in 0..LANES {
                            let at = |l: usize| (lane * 11 + batch * 5 + l) as f32 * 0.7;
                            let x = std::array::from_fn(|l| at(l) + block as f32);
                            let y = std::array::from_fn(|l| at(l) * 0.3 + block as f32 * 0.9);
                            let found = kept.heights(Scalar, &raster, (lane, block), &(x, y));
                            assert_eq!(found, raster.heights(Scalar, &x, &y));
                        }
                    }
                }
            }
            assert_eq!(kept.blocks.is_empty(), !several);
        }
    }
}
