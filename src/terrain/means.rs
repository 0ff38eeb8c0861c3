//! Heights of cells that are larger than the file's: means of those inside.

use ndarray::{Array2, ArrayView2};

/// Sums of heights by larger cell.
pub(super) struct Means {
    /// Cells of the file along a side of a larger one.
    factor: usize,
    /// The file's cell that is the first of the first larger one.
    origin: (isize, isize),
    sums: Array2<f64>,
    counts: Array2<u32>,
    /// How many cells each had when the present file was begun.
    before: Array2<u32>,
}

impl Means {
    /// Sums over nothing: `rows` by `columns` larger cells.
    pub fn new(factor: usize, origin: (isize, isize), (rows, columns): (usize, usize)) -> Self {
        let counts = Array2::zeros((rows, columns));
        let sums = Array2::zeros((rows, columns));
        Self { factor, origin, sums, before: counts.clone(), counts }
    }

    /// Turns to another file: it adds only to cells that lack some.
    pub fn next_file(&mut self) {
        self.before.assign(&self.counts);
    }

    /// Adds heights whose first lies at this cell, (column, row), of the file.
    pub fn add(&mut self, first: (isize, isize), heights: &ArrayView2<'_, f32>) {
        let whole = self.whole();
        for (row, line) in heights.outer_iter().enumerate() {
            let Some(down) = self.larger(first.1 - self.origin.1 + row as isize) else { continue };
            for (column, height) in line.iter().enumerate().filter(|(_, height)| !height.is_nan()) {
                let across = self.larger(first.0 - self.origin.0 + column as isize);
                let place = across.map(|across| (down, across));
                if place.and_then(|place| self.before.get(place)).is_some_and(|had| *had < whole)
                    && let Some(place) = place
                    && let (Some(sum), Some(count)) =
                        (self.sums.get_mut(place), self.counts.get_mut(place))
                {
                    *sum += f64::from(*height);
                    *count += 1;
                }
            }
        }
    }

    /// Adds heights of larger cells, the first at (row, column) of them, to
    /// those that lack some.
    pub fn add_larger(&mut self, (top, left): (usize, usize), heights: &ArrayView2<'_, f32>) {
        let whole = self.whole();
        for ((row, column), height) in heights.indexed_iter().filter(|(_, height)| !height.is_nan())
        {
            let place = (top + row, left + column);
            if let (Some(sum), Some(count)) = (self.sums.get_mut(place), self.counts.get_mut(place))
            {
                let lacking = whole.saturating_sub(*count);
                *sum += f64::from(*height) * f64::from(lacking);
                *count += lacking;
            }
        }
    }

    /// The means; NaN where fewer than half of a larger cell's have a height.
    pub fn heights(self) -> Array2<f32> {
        let whole = self.whole();
        let mut heights = Array2::from_elem(self.sums.dim(), f32::NAN);
        ndarray::Zip::from(&mut heights).and(&self.sums).and(&self.counts).for_each(
            |height, sum, count| {
                if *count > 0 && 2 * *count >= whole {
                    *height = (sum / f64::from(*count)) as f32;
                }
            },
        );
        heights
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
        assert_eq!(found[(0, 1)], (4.0 + 4.0 + 9.0 + 9.0 + 6.0 + 6.0) / 6.0);
    }

    #[test]
    fn cells_before_the_origin_and_past_the_end_are_nothing() {
        let mut means = Means::new(3, (0, 0), (1, 1));
        means.add((-2, -2), &Array2::from_elem((9, 9), 5.0f32).view());
        assert_eq!(means.heights(), array![[5.0]]);
    }
}
