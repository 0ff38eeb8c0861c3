//! Files that overlap, and how far their heights are apart there.

use std::path::Path;

use super::tile::remark;
use perchline_plan::Remark;

/// Files whose heights differ by this much on average, metres, do not belong
/// together: common practice, no source. Elevation models of one place differ
/// by a few metres on open ground, by more where one holds houses and woods.
const APART: f64 = 5.0;

/// Fewer cells than this say nothing.
const FEWEST_CELLS: u64 = 30;

/// Differences of a file's heights from those of the files before it.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Overlap {
    cells: u64,
    /// Sum of the differences, and the largest without sign, metres.
    sum: f64,
    largest: f64,
}

impl Overlap {
    /// Counts a cell that both have, heights in metres.
    pub fn add(&mut self, before: f64, own: f64) {
        let difference = own - before;
        if difference.is_finite() {
            self.cells += 1;
            self.sum += difference;
            self.largest = self.largest.max(difference.abs());
        }
    }

    /// Counts all cells of another part.
    pub fn join(&mut self, other: Self) {
        self.cells += other.cells;
        self.sum += other.sum;
        self.largest = self.largest.max(other.largest);
    }

    /// What is told of `file`, if it does not fit those before it.
    pub fn told(&self, file: &Path) -> Option<Remark> {
        let mean = self.sum / self.cells.max(1) as f64;
        if self.cells < FEWEST_CELLS || mean.abs() < APART {
            return None;
        }
        let side = if mean > 0.0 { "above" } else { "below" };
        Some(remark(
            file,
            format!(
                "its heights lie {:.1} m {side} those of the files before it on average where they overlap ({} cells, at most {:.1} m): heights jump where one file ends. Look whether one is in feet, over another vertical datum, or holds roofs and trees",
                mean.abs(),
                self.cells,
                self.largest
            ),
        ))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(differences: impl IntoIterator<Item = f64>) -> Option<String> {
        let mut overlap = Overlap::default();
        for difference in differences {
            overlap.add(100.0, 100.0 + difference);
        }
        overlap.told("b.tif".as_ref()).map(|remark| remark.text)
    }

    #[test]
    fn what_lies_apart_is_told_and_rough_ground_is_not() {
        let text = told([-9.0, -11.0].repeat(20)).unwrap();
        assert!(text.contains("10.0 m below"), "{text}");
        assert!(text.contains("40 cells, at most 11.0 m"), "{text}");
        assert!(told([12.0; 30]).unwrap().contains("12.0 m above"));
        // Steep ground seen on two grids: large differences to either side.
        assert_eq!(told([-20.0, 20.0].repeat(100)), None);
        assert_eq!(told([12.0; 29]), None);
        assert_eq!(told([f64::NAN; 50]), None);
        assert_eq!(told([]), None);
    }

    #[test]
    fn parts_add_up() {
        let (mut whole, mut part) = (Overlap::default(), Overlap::default());
        for _ in 0..20 {
            whole.add(0.0, 6.0);
            part.add(0.0, 8.0);
        }
        whole.join(part);
        let text = whole.told("b.tif".as_ref()).unwrap().text;
        assert!(text.contains("7.0 m above") && text.contains("40 cells"), "{text}");
    }
}
