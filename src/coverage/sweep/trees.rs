//! Where along the rays of a wedge trees stand: what is looked through for woods on a
//! path.

use super::fan::Fan;
use super::obstruction::BLOCK;
use super::registers::LANES;

/// The blocks of the rays on which trees stand, as far as the rays were followed.
#[derive(Debug, Default)]
pub(super) struct TreeBlocks {
    /// A bit a block, ray by ray, as many at a time as there are lanes.
    bits: Vec<u32>,
    /// Groups of blocks a ray.
    groups: usize,
    rays: usize,
    /// Blocks of every ray that were looked through.
    noted: usize,
}

impl TreeBlocks {
    /// Begins with the rays of a wedge.
    pub(super) fn begin(&mut self, tops: &Fan, rays: usize) {
        self.groups = (tops.points / BLOCK).div_ceil(LANES);
        (self.rays, self.noted) = (rays, 0);
        self.bits.clear();
        self.bits.resize(self.groups * rays, 0);
    }

    /// Looks through the blocks that were sampled since: trees stand where the surface
    /// with them is another one than that without.
    pub(super) fn note(&mut self, tops: &Fan, feet: &Fan) {
        let blocks = tops.filled().min(feet.filled()) / BLOCK;
        for ray in 0..self.rays {
            for block in self.noted..blocks {
                let at = ray * tops.points + block * BLOCK;
                let points = at..at + BLOCK;
                if tops.heights.get(points.clone()) != feet.heights.get(points)
                    && let Some(bits) = self.bits.get_mut(ray * self.groups + block / LANES)
                {
                    *bits |= 1 << (block % LANES);
                }
            }
        }
        self.noted = self.noted.max(blocks);
    }

    /// The blocks with trees on a ray, a bit each, as many at a time as there are lanes.
    #[inline(always)]
    pub(super) fn on_ray(&self, ray: usize) -> &[u32] {
        self.bits.get(ray * self.groups..(ray + 1) * self.groups).unwrap_or_default()
    }
}
