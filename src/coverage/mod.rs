//! One site against every cell of a raster.

mod plain;

pub use plain::cover;

use ndarray::Array2;

use crate::link::Outcome;
use crate::terrain::Grid;
use crate::units::Db;

/// Coverage of one site on one channel, a value for each cell of `grid`.
///
/// Row 0 is the top row of the grid. A cell whose path crosses a gap in the
/// terrain holds NaN in the float layers and [`Outcome::Unknown`].
#[derive(Debug, Clone)]
pub struct Coverage {
    /// Where the cells are.
    pub grid: Grid,
    /// Margin of talk-in in dB.
    pub talk_in_margin: Array2<f32>,
    /// Margin of talk-out in dB.
    pub talk_out_margin: Array2<f32>,
    /// Median level of the station at the carried radio's receiver, dBm.
    pub talk_out_signal: Array2<f32>,
    /// Whether the straight line clears the ground.
    pub line_of_sight: Array2<bool>,
    /// What each cell comes to.
    pub outcome: Array2<Outcome>,
    /// Cells that are unknown because terrain is missing on the way.
    pub unknown_cells: usize,
}

impl Coverage {
    /// The governing (lower) margin of a cell; `None` where it is unknown.
    #[must_use]
    pub fn governing_margin(&self, row: usize, column: usize) -> Option<Db> {
        let lower =
            self.talk_in_margin.get((row, column))?.min(*self.talk_out_margin.get((row, column))?);
        (!lower.is_nan()).then(|| Db::new(f64::from(lower)))
    }

    /// The governing margin of every cell in dB, NaN where it is unknown.
    #[must_use]
    pub fn governing_margins(&self) -> Array2<f32> {
        let mut lower = self.talk_in_margin.clone();
        lower.zip_mut_with(&self.talk_out_margin, |a, b| {
            *a = if a.is_nan() || b.is_nan() { f32::NAN } else { a.min(*b) };
        });
        lower
    }

    /// Share of all cells, 0 to 1, that come to this outcome.
    #[must_use]
    pub fn share(&self, wanted: Outcome) -> f64 {
        let cells = self.outcome.len().max(1);
        self.outcome.iter().filter(|o| **o == wanted).count() as f64 / cells as f64
    }

    /// Share of the known cells, 0 to 1, in which the wanted share of spots
    /// works both ways; zero where nothing is known.
    #[must_use]
    pub fn working_share(&self) -> f64 {
        let known = self.outcome.len() - self.unknown_cells;
        let working = self.outcome.iter().filter(|o| o.works()).count();
        working as f64 / known.max(1) as f64
    }
}
