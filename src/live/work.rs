//! From a plan to pictures: a coarse one at once, the full one after it, then
//! the posts. The engine is the one of every other verb.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

use serde::Serialize;

use perchline_assessment::Assessment;
use perchline_coverage::sweep::cover_coarsely;
use perchline_coverage::{Coverage, cover};
use perchline_report::ReportError;
use perchline_report::layers::{Packing, png};
use perchline_siting::{SiteScore, map_model, score_without_map};

use super::board::Board;

/// Cells of a first picture, about: a few milliseconds' work.
const COARSE_CELLS: usize = 12_000;

/// How far the work has come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Stage {
    /// Nothing yet.
    Begun,
    /// A picture of cells a few times as large.
    Coarse,
    /// The picture itself.
    Full,
    /// Posts, areas and routes too.
    Scored,
}

impl Stage {
    /// The word for it.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Begun => "begun",
            Self::Coarse => "coarse",
            Self::Full => "full",
            Self::Scored => "scored",
        }
    }
}

/// A picture of a coverage.
#[derive(Debug)]
pub struct Picture {
    /// As PNG.
    pub png: Vec<u8>,
    /// How much of the board it spans, in columns and rows from the upper left
    /// corner: all, but for part of a coarse cell.
    pub span: (f64, f64),
    /// What it shows.
    pub coverage: Coverage,
}

/// A hand that rested so long is taken to have come to where it wants to be.
const REST: Duration = Duration::from_millis(120);

/// What a job finds on its way.
#[derive(Debug)]
pub enum Found {
    /// A picture, coarse or full.
    Picture(Stage, Box<Picture>),
    /// What posts, areas and routes come to.
    Score(Box<SiteScore>),
}

/// Everything that one site's coverage is made from.
pub struct Job {
    /// The plan.
    pub opened: Arc<Assessment>,
    /// The ground.
    pub board: Arc<Board>,
    /// Index of the channel in the plan.
    pub channel: usize,
    /// Index of the site in the plan.
    pub site: usize,
    /// Whether a hand holds a mark, which it may move on at once.
    pub held: bool,
    /// Set when the answer is no longer wanted.
    pub stop: Arc<AtomicBool>,
}

/// Why a job came to nothing.
#[derive(Debug, thiserror::Error)]
pub enum JobError {
    /// The plan has no such channel or site.
    #[error("the plan has no such site or channel any more")]
    Gone,
    /// The site does not fit the terrain, or the map cannot be computed.
    #[error("{0}")]
    Path(String),
    /// A picture could not be made.
    #[error(transparent)]
    Picture(#[from] ReportError),
}

impl Job {
    /// Does it, handing over what it finds; ends soon after `stop` is set.
    ///
    /// # Errors
    /// [`JobError`] when the site cannot be mapped.
    pub fn run(&self, mut found: impl FnMut(Found)) -> Result<(), JobError> {
        let Assessment { plan, terrain, propagator, .. } = &*self.opened;
        let channel = plan.channels.get(self.channel).ok_or(JobError::Gone)?;
        let site = plan.sites.get(self.site).ok_or(JobError::Gone)?;
        let path = |e: &dyn std::fmt::Display| JobError::Path(e.to_string());
        let model = map_model(plan, terrain, channel, site).map_err(|e| path(&e))?;
        let grid = &self.board.grid;
        let every = coarse_step(grid.columns() * grid.rows());
        if every > 1 {
            let coverage = cover_coarsely(terrain, grid, every, &model, propagator, &self.stop)
                .map_err(|e| path(&e))?;
            if self.stopped() {
                return Ok(());
            }
            found(Found::Picture(Stage::Coarse, Box::new(self.picture(coverage, every)?)));
            if self.held && !self.rests() {
                return Ok(());
            }
        }
        let coverage =
            cover(terrain, grid, &model, propagator, &|| (), &self.stop).map_err(|e| path(&e))?;
        if self.stopped() {
            return Ok(());
        }
        let share = coverage.working_share();
        found(Found::Picture(Stage::Full, Box::new(self.picture(coverage, 1)?)));
        let inputs = self.opened.rank_inputs(grid, &|| (), &self.stop);
        let score = score_without_map(&inputs, channel, site, Some(share)).map_err(|e| path(&e))?;
        if !self.stopped() {
            found(Found::Score(Box::new(score)));
        }
        Ok(())
    }

    /// Waits until the hand has rested for a moment; whether it did. While it moves, the
    /// full picture would be begun for each place and never be ended, on the cores that
    /// the next first picture and the browser want.
    fn rests(&self) -> bool {
        let begun = Instant::now();
        while begun.elapsed() < REST && !self.stopped() {
            std::thread::sleep(Duration::from_millis(5));
        }
        !self.stopped()
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }

    /// Paints a coverage whose cells are `every` cells of the board wide.
    fn picture(&self, coverage: Coverage, every: usize) -> Result<Picture, ReportError> {
        let span = (coverage.grid.columns() * every, coverage.grid.rows() * every);
        let (width, height) = self.board.size;
        let part = |pixels: u32, cells: usize, of: usize| {
            let whole = f64::from(pixels) * cells as f64 / of.max(1) as f64;
            // No more than `pixels`; a coarse picture is painted coarsely too.
            ((whole / if every > 1 { 2.0 } else { 1.0 }).round().max(1.0)) as u32
        };
        let size = (
            part(width, span.0, self.board.grid.columns()),
            part(height, span.1, self.board.grid.rows()),
        );
        let image = self.board.layers(&self.opened).classes(&coverage, size)?;
        let span = (span.0 as f64, span.1 as f64);
        Ok(Picture { png: png(&image, Packing::Fast)?, span, coverage })
    }
}

/// Cells of the map along the side of one cell of a first picture.
fn coarse_step(cells: usize) -> usize {
    // A few dozen at most: no plan has that many cells.
    ((cells as f64 / COARSE_CELLS as f64).sqrt().ceil() as usize).clamp(1, 64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn first_pictures_have_about_as_many_cells_whatever_the_map() {
        assert_eq!(coarse_step(9_000), 1);
        for cells in [100_000, 270_000, 1_080_000, 13_000_000] {
            let coarse = cells / coarse_step(cells).pow(2);
            assert!((6_000..=COARSE_CELLS).contains(&coarse), "{cells}: {coarse}");
        }
    }
}
