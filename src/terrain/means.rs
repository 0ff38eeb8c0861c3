//! Heights of cells that are larger than the file's: means of those inside.

use ndarray::{Array2, ArrayView2};

use super::overlap::Overlap;

/// Means of heights by larger cell.
pub(super) struct Means {
    /// Cells of the file along a side of a larger one.
    factor: usize,
    /// The file's cell that is the first of the first larger one.
    origin: (isize, isize),
    /// Means over the files before the present one, and over how many cells.
    means: Array2<f32>,
    counts: Array2<u32>,
    /// The same of the present file, as sums.
    sums: Array2<f64>,
    present: Array2<u32>,
}

impl Means {
    /// Means over nothing: `rows` by `columns` larger cells.
    pub fn new(factor: usize, origin: (isize, isize), (rows, columns): (usize, usize)) -> Self {
        let shape = (rows, columns);
        Self {
            factor,
            origin,
            means: Array2::zeros(shape),
            counts: Array2::zeros(shape),
            sums: Array2::zeros(shape),
            present: Array2::zeros(shape),
        }
    }

    /// Adds heights whose first lies at this cell, (column, row), of the file.
    pub fn add(&mut self, first: (isize, isize), heights: &ArrayView2<'_, f32>) {
        for (row, line) in heights.outer_iter().enumerate() {
            let Some(down) = self.larger(first.1 - self.origin.1 + row as isize) else { continue };
            for (column, height) in line.iter().enumerate().filter(|(_, height)| !height.is_nan()) {
                let across = self.larger(first.0 - self.origin.0 + column as isize);
                if let Some(place) = across.map(|across| (down, across))
                    && let (Some(sum), Some(count)) =
                        (self.sums.get_mut(place), self.present.get_mut(place))
                {
                    *sum += f64::from(*height);
                    *count += 1;
                }
            }
        }
    }

    /// Ends the present file: where larger cells lacked some before it, its mean
    /// stands for as many of those as it has. Compares the two where both have
    /// all of a larger cell.
    pub fn next_file(&mut self) -> Overlap {
        let whole = self.whole();
        let mut overlap = Overlap::default();
        ndarray::Zip::from(&mut self.means)
            .and(&mut self.counts)
            .and(&mut self.sums)
            .and(&mut self.present)
            .for_each(|mean, count, sum, present| {
                if *count == whole && *present == whole {
                    overlap.add(f64::from(*mean), *sum / f64::from(whole));
                }
                let taken = (*present).min(whole.saturating_sub(*count));
                if taken > 0 {
                    let new = *sum / f64::from(*present);
                    let old = f64::from(*mean);
                    let share = f64::from(taken) / f64::from(*count + taken);
                    *mean = (old + (new - old) * share) as f32;
                    *count += taken;
                }
                (*sum, *present) = (0.0, 0);
            });
        overlap
    }

    /// Adds heights of larger cells, the first at (row, column) of them, as a
    /// file of its own.
    pub fn add_larger(
        &mut self,
        (top, left): (usize, usize),
        heights: &ArrayView2<'_, f32>,
    ) -> Overlap {
        let whole = self.whole();
        for ((row, column), height) in heights.indexed_iter().filter(|(_, height)| !height.is_nan())
        {
            let place = (top + row, left + column);
            if let (Some(sum), Some(count)) =
                (self.sums.get_mut(place), self.present.get_mut(place))
            {
                *sum = f64::from(*height) * f64::from(whole);
                *count = whole;
            }
        }
        self.next_file()
    }

    /// The means; NaN where fewer than half of a larger cell's have a height.
    pub fn heights(mut self) -> Array2<f32> {
        self.next_file();
        let whole = self.whole();
        ndarray::Zip::from(&mut self.means).and(&self.counts).for_each(|mean, count| {
            if *count == 0 || 2 * *count < whole {
                *mean = f32::NAN;
            }
        });
        self.means
    }

    /// How many of the file's cells a larger one has.
    fn whole(&self) -> u32 {
        u32::try_from(self.factor * self.factor).unwrap_or(u32::MAX / 2)
    }

    /// The larger cell of the cell so many from the origin.
    fn larger(&self, cells: isize) -> Option<usize> {
        usize::try_from(cells).ok().map(|cells| cells / self.factor.max(1))
    }
}

#[cfg(test)]
mod tests {
    use ndarray::array;

    use super::*;

    #[test]
    fn a_larger_cell_has_the_mean_of_its_own() {
        let mut means = Means::new(2, (10, 20), (2, 2));
        let heights = array![[1.0, 3.0, 5.0], [5.0, 7.0, f32::NAN], [2.0, f32::NAN, 8.0]];
        means.add((10, 20), &heights.view());
        let found = means.heights();
        assert_eq!(found[(0, 0)], 4.0);
        assert!(found[(0, 1)].is_nan(), "one of four is too few");
        assert!(found[(1, 0)].is_nan());
        assert!(found[(1, 1)].is_nan());
    }

    #[test]
    fn the_first_file_wins_and_the_next_fills_what_it_lacks() {
        let mut means = Means::new(2, (0, 0), (1, 2));
        means.add((0, 0), &array![[1.0, 1.0, 4.0], [1.0, 1.0, 4.0]].view());
        means.next_file();
        means.add((0, 0), &array![[9.0, 9.0, 9.0, 6.0], [9.0, 9.0, 9.0, 6.0]].view());
        let found = means.heights();
        assert_eq!(found[(0, 0)], 1.0, "the first has all of it");
        assert_eq!(
            found[(0, 1)],
            (4.0 + 4.0 + 7.5 + 7.5) / 4.0,
            "the rest from the next one's mean"
        );
    }

    #[test]
    fn cells_before_the_origin_and_past_the_end_are_nothing() {
        let mut means = Means::new(3, (0, 0), (1, 1));
        means.add((-2, -2), &Array2::from_elem((9, 9), 5.0f32).view());
        assert_eq!(means.heights(), array![[5.0]]);
    }
}
