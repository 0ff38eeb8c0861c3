//! The point of a ray that comes nearest to blocking a line, or blocks it most.
//!
//! Every point counts, not only the hull's. Steepest slopes of blocks of points
//! bound what a block can hold, so that all but a few are passed over, and
//! what is found is exact.
#![allow(clippy::needless_range_loop, reason = "lanes are walked side by side by number")]

use super::hull::Vertex;

/// Points a block.
pub(super) const BLOCK: usize = 16;

/// Blocks that are looked at together.
pub(super) const BATCH: usize = 8;

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
    pub points: &'a [Vertex],
    /// Steepest slope from the antenna within each block, whole batches of them.
    pub steepest: &'a [f32],
    /// The last point that counts.
    pub end: usize,
    /// Distance between points.
    pub spacing: f32,
    /// 1 / (i spacing).
    pub inverse: &'a [f32],
}

/// The largest obstruction (s_i - S) sqrt(d_i / (d - d_i)) of the points 1 to
/// `end`, if it is above `least`; else `least`. s_i is the slope from the
/// antenna to point i and S the line's. With a factor sqrt(2 d / lambda) it is
/// the parameter nu of P.526.
#[inline(always)]
pub(super) fn dominant(ray: Ray<'_>, line: Line, least: f32) -> f32 {
    let mut best = least;
    let farthest = ray.end as f32 * ray.spacing;
    let used = ray.end / BLOCK / BATCH + 1;
    // From the far end: points near the receiver weigh most, and a good value
    // found early passes over more blocks.
    for (batch, tops) in ray.steepest.chunks_exact(BATCH).take(used).enumerate().rev() {
        let threshold = best * best.abs();
        let mut open = 0u32;
        for l in 0..BATCH {
            let excess = tops[l] - line.slope;
            // What the block's steepest point would come to at the block's
            // most favourable distance.
            let first = (((batch * BATCH + l) * BLOCK) as f32) * ray.spacing;
            let last = first + (BLOCK - 1) as f32 * ray.spacing;
            let first = if first > ray.spacing { first } else { ray.spacing };
            let last = if last < farthest { last } else { farthest };
            let place = if excess < 0.0 { first } else { last };
            let reaches = excess * excess.abs() * place > threshold * (line.distance - place);
            open |= u32::from(reaches) << l;
        }
        while open != 0 {
            let top = 31 - open.leading_zeros();
            open &= !(1 << top);
            best = within_block(ray, line, batch * BATCH + top as usize, best);
        }
    }
    best
}

/// The same over the points of one block.
#[inline(always)]
fn within_block(ray: Ray<'_>, line: Line, block: usize, least: f32) -> f32 {
    let first = (block * BLOCK).max(1);
    let last = (block * BLOCK + BLOCK).min(ray.end + 1);
    let (Some(points), Some(inverse)) = (ray.points.get(first..last), ray.inverse.get(first..last))
    else {
        return least;
    };
    // The largest signed square, to save a root a point.
    let mut most = least * least.abs();
    let mut place = first as f32 * ray.spacing;
    for (vertex, inverse) in points.iter().zip(inverse) {
        let excess = (vertex.height - line.mast) * inverse - line.slope;
        let square = excess * excess.abs() * place;
        let rest = line.distance - place;
        if square > most * rest {
            most = square / rest;
        }
        place += ray.spacing;
    }
    most.abs().sqrt().copysign(most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coverage::sweep::hull::push;

    #[test]
    fn passing_over_blocks_loses_nothing() {
        let spacing = 30.0;
        let inverse: Vec<f32> = (0..=1000).map(|i| 1.0 / (i as f32 * spacing)).collect();
        let mut points = vec![Vertex::first(0, 0.0), Vertex::first(1, -3.0)];
        for i in 2..=1000 {
            let height = 20.0 * (i as f32 * 0.031).sin() + 3.0 * (i as f32 * 0.7).cos() - 23.0;
            push(&mut points, height, spacing, &inverse);
        }
        let mast = 4.0;
        let mut steepest = vec![f32::NEG_INFINITY; 64];
        for i in 1..=1000 {
            let slope = (points[i].height - mast) * inverse[i];
            steepest[i / BLOCK] = steepest[i / BLOCK].max(slope);
        }
        for end in [1, 15, 16, 17, 400, 1000] {
            for rise in [-20.0, 0.0, 5.0, 60.0] {
                let distance = (end as f32 + 3.3) * spacing;
                let line = Line { distance, slope: rise / distance, mast };
                let ray =
                    Ray { points: &points, steepest: &steepest, end, spacing, inverse: &inverse };
                let scan = (1..=end)
                    .map(|i| {
                        let d = i as f32 * spacing;
                        let excess = (points[i].height - mast) / d - line.slope;
                        excess * (d / (distance - d)).sqrt()
                    })
                    .fold(f32::MIN, f32::max);
                let got = dominant(ray, line, -1e3);
                assert!(
                    (got - scan).abs() < 1e-4 * scan.abs().max(0.01),
                    "{end} {rise}: {got} {scan}"
                );
                assert_eq!(dominant(ray, line, 1e3), 1e3);
            }
        }
    }
}
