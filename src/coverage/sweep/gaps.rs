//! Where heights are missing, seen with the width of what lies between two rays.

/// For every cell of the raster whether heights are missing near it.
pub(super) struct GapMap {
    marks: Vec<u8>,
}

/// Mark of a cell with a missing height within reach: what the rays tell is in doubt.
const SOME: u8 = 1;
/// Mark of a cell where all of them are missing: no path between the rays is known.
const ALL: u8 = 2;

/// Where a ray meets gaps in the terrain.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct GapOnRay {
    /// Index of the first point with a missing height near it: from there on
    /// cells are in doubt.
    pub doubtful_from: u32,
    /// Index of the first point with nothing but missing heights around it: no
    /// path beyond it is known.
    pub unknown_from: u32,
}

impl GapOnRay {
    /// That of a ray without gaps.
    pub(super) const NONE: Self = Self { doubtful_from: u32::MAX, unknown_from: u32::MAX };
}

impl GapMap {
    /// Marks every cell that has a missing height within `reach` cells of the
    /// four centres around a place in it. `None` where no height is missing.
    pub(super) fn find(heights: &[f32], columns: usize, rows: usize, reach: usize) -> Option<Self> {
        if !heights.iter().any(|h| h.is_nan()) {
            return None;
        }
        let mut across = vec![0u8; heights.len()];
        for (out, row) in across.chunks_exact_mut(columns).zip(heights.chunks_exact(columns)) {
            for (index, mark) in out.iter_mut().enumerate() {
                let from = index.saturating_sub(reach);
                let window = row.get(from..(index + reach + 2).min(columns)).unwrap_or_default();
                let missing = window.iter().filter(|h| h.is_nan()).count();
                *mark = if missing == 0 { 0 } else { SOME }
                    | if missing == window.len() { ALL } else { 0 };
            }
        }
        let mut marks = vec![0u8; heights.len()];
        for (row, out) in marks.chunks_exact_mut(columns).enumerate() {
            let from = row.saturating_sub(reach);
            let to = (row + reach + 2).min(rows);
            out.fill(ALL);
            for line in across.chunks_exact(columns).take(to).skip(from) {
                for (mark, line) in out.iter_mut().zip(line) {
                    *mark = ((*mark | line) & SOME) | (*mark & line & ALL);
                }
            }
        }
        Some(Self { marks })
    }

    /// Records in `gap` what point number `point` of a ray, in this cell, meets.
    pub(super) fn record(&self, cell: u32, point: u32, gap: &mut GapOnRay) {
        let mark = self.marks.get(cell as usize).copied().unwrap_or(0);
        if mark & SOME != 0 {
            gap.doubtful_from = gap.doubtful_from.min(point);
        }
        if mark & ALL != 0 {
            gap.unknown_from = gap.unknown_from.min(point);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_small_gap_leaves_doubt_and_a_wide_one_certainty() {
        let mut heights = vec![1.0f32; 20 * 12];
        heights[5 * 20 + 3] = f32::NAN;
        for row in 0..12 {
            for column in 12..20 {
                heights[row * 20 + column] = f32::NAN;
            }
        }
        let gaps = GapMap::find(&heights, 20, 12, 1).unwrap();
        let at = |column: u32, row: u32| {
            let mut gap = GapOnRay::NONE;
            gaps.record(row * 20 + column, 0, &mut gap);
            (gap.doubtful_from == 0, gap.unknown_from == 0)
        };
        assert_eq!(at(3, 5), (true, false));
        assert_eq!(at(1, 5), (true, false), "two to the right is within reach of the footprint");
        assert_eq!(at(4, 4), (true, false));
        assert_eq!(at(5, 5), (false, false));
        assert_eq!(at(3, 2), (false, false));
        assert_eq!(at(10, 8), (true, false));
        assert_eq!(at(13, 8), (true, true));
        assert!(GapMap::find(&[1.0; 12], 4, 3, 1).is_none());
    }
}
