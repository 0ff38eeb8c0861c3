//! The upper hull of the points of a ray, for every beginning of the ray at once.
//!
//! The hull of the first i points always ends in point i. Each point remembers
//! its predecessor on that hull, so that one pass over the ray leaves the hulls
//! of all its beginnings behind as chains that share their tails. The steepest
//! line from an antenna down to a beginning of the ray is found by walking its
//! chain back from the end.

/// A point of a ray and the edge that leads to it from its predecessor on the hull.
#[derive(Debug, Clone, Copy)]
pub(super) struct HullPoint {
    /// Height of the edge at distance zero, metres; infinite for the first point.
    intercept: f32,
    /// Slope of the edge.
    slope: f32,
    /// Height of the point, metres, in the plane of the chain.
    pub height: f32,
    /// Index of the predecessor; of itself for the first point.
    before: u32,
}

impl HullPoint {
    /// A chain's first point, from which no walk goes on.
    pub(super) const fn first(index: u32, height: f32) -> Self {
        Self { intercept: f32::INFINITY, slope: 0.0, height, before: index }
    }

    /// Whether the edge, extended to this distance, passes below a height.
    #[inline(always)]
    fn below(&self, distance: f32, height: f32) -> bool {
        self.intercept + self.slope * distance < height
    }
}

/// Adds point `index` with this height to `chain`, whose earlier points are
/// there; point i lies at i times `spacing` metres, and `inverse` holds 1 over
/// that. Point 0, right under the antenna, is no part of the hull.
#[inline(always)]
pub(super) fn append(
    chain: &mut [HullPoint],
    index: usize,
    height: f32,
    spacing: f32,
    inverse: &[f32],
) {
    let mut point = HullPoint::first(index as u32, height);
    if index > 1 {
        let distance = index as u32 as f32 * spacing;
        let mut before = index - 1;
        let Some(mut last) = chain.get(before) else { return };
        while last.below(distance, height) {
            before = last.before as usize;
            match chain.get(before) {
                Some(next) => last = next,
                None => break,
            }
        }
        let steps = inverse.get(index - before).copied().unwrap_or(0.0);
        let slope = (height - last.height) * steps;
        let intercept = height - slope * distance;
        point = HullPoint { intercept, slope, height, before: before as u32 };
    }
    if let Some(slot) = chain.get_mut(index) {
        *slot = point;
    }
}

/// The point of the chain that ends in `end` to which the line down from
/// `height` at `distance` is steepest: its index and height.
#[inline(always)]
pub(super) fn tangent(chain: &[HullPoint], end: usize, distance: f32, height: f32) -> (usize, f32) {
    let mut at = end;
    let Some(mut point) = chain.get(at) else { return (0, f32::NEG_INFINITY) };
    while point.below(distance, height) {
        at = point.before as usize;
        match chain.get(at) {
            Some(next) => point = next,
            None => break,
        }
    }
    (at, point.height)
}

/// The point of the chain that ends in `end` that stands highest over a line of
/// this slope: its index and height.
#[inline(always)]
pub(super) fn highest_over(chain: &[HullPoint], end: usize, slope: f32) -> (usize, f32) {
    let mut at = end;
    let Some(mut point) = chain.get(at) else { return (0, f32::NEG_INFINITY) };
    while point.slope < slope && point.intercept < f32::INFINITY {
        at = point.before as usize;
        match chain.get(at) {
            Some(next) => point = next,
            None => break,
        }
    }
    (at, point.height)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Heights without a pattern.
    fn scattered(count: usize) -> Vec<f32> {
        let mut state = 12_345u32;
        (0..count)
            .map(|_| {
                state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
                (state >> 16) as f32 / 655.36
            })
            .collect()
    }

    #[test]
    fn walks_find_what_a_scan_of_all_points_finds() {
        let heights = scattered(300);
        let inverse: Vec<f32> = (0..=300).map(|i| 1.0 / (i as f32 * 10.0)).collect();
        let mut chain = vec![HullPoint::first(0, -1e30); 301];
        for (index, height) in heights.iter().enumerate() {
            append(&mut chain, index + 1, *height, 10.0, &inverse);
        }
        for end in [1, 2, 3, 50, 171, 300] {
            for (away, height) in [(3.0, 40.0), (35.0, 0.0), (400.0, 120.0), (5.0, 99.0)] {
                let distance = end as f32 * 10.0 + away;
                let slope = |i: usize, h: f32| (h - height) / (distance - i as f32 * 10.0);
                let scan = (1..=end).map(|i| slope(i, heights[i - 1])).fold(f32::MIN, f32::max);
                let (at, top) = tangent(&chain, end, distance, height);
                assert!((slope(at, top) - scan).abs() < 1e-5, "{end} {away}");
            }
            for slope in [-1.0, -0.01, 0.0, 0.02, 0.5] {
                let over = |i: usize, h: f32| h - slope * i as f32 * 10.0;
                let scan = (1..=end).map(|i| over(i, heights[i - 1])).fold(f32::MIN, f32::max);
                let (at, top) = highest_over(&chain, end, slope);
                assert!((over(at, top) - scan).abs() < 1e-3, "{end} {slope}");
            }
        }
    }
}
