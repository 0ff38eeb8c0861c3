//! One site against every cell of a raster.

pub mod plain;
mod quarters;
pub mod sweep;

use std::sync::atomic::AtomicBool;

use ndarray::Array2;

use perchline_link::{LinkModel, Outcome, Propagator};
use perchline_propagation::p833::Leaves;
use perchline_propagation::streets;
use perchline_terrain::{Grid, PlaceError, Terrain};
use perchline_units::{Db, Dbm, Megahertz, Polarization};

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
    /// Level at the carried radio's receiver at which talk-out's margin is zero.
    pub talk_out_wanted: Dbm,
    /// Probability that both ways work in the same spot, 0 to 1.
    pub probability: Array2<f32>,
    /// Whether the straight line clears the ground.
    pub line_of_sight: Array2<bool>,
    /// Share of spots that was wanted, 0 to 1: where clear begins.
    pub reliability: f64,
    /// What each cell comes to.
    pub outcome: Array2<Outcome>,
    /// Cells that are unknown because terrain is missing on the way.
    pub unknown_cells: usize,
}

/// Computes the coverage of the station of `model` on every cell of `grid`,
/// the carried radio at each cell's centre: by the sweep where the method has a
/// swept form, the map runs along the terrain's cells, the station's antenna is
/// above street level and the roofs around it, and no sea counts; by the plain
/// engine otherwise.
/// Cells whose class the rays of the sweep leave open are looked at on their own
/// paths: outcomes are those of the plain engine, but for about one cell in a
/// thousand on the ground that docs/sweep.md tells of.
///
/// The result does not depend on the number of threads. `row_done` is called
/// as many times as there are rows; setting `stop` ends the run early with
/// whatever is done, the rest unknown.
///
/// # Errors
/// [`PlaceError`] when the station is off the terrain or the grid can't be
/// projected. Gaps on the way to a cell are no error: the cell is unknown.
pub fn cover(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Coverage, PlaceError> {
    if may_be_swept(terrain, model, propagator)?
        && let Some(swept) = sweep::cover(terrain, grid, &[model], propagator, row_done, stop)?
        && let Some(coverage) = swept.into_iter().next()
    {
        return quarters::among_houses(coverage, terrain, model, propagator);
    }
    plain::cover(terrain, grid, model, propagator, row_done, stop)
}

/// The same for several channels, one coverage a model: those whose antennas are at the
/// same places and heights share one pass over the terrain, which takes little more
/// than one of them. Each is what [`cover`] makes of it alone; `row_done` is called as
/// many times as there are rows for each.
///
/// # Errors
/// [`PlaceError`] as for [`cover`].
pub fn cover_all(
    terrain: &Terrain,
    grid: &Grid,
    models: &[LinkModel],
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Vec<Coverage>, PlaceError> {
    let ends = |model: &LinkModel| {
        let (station, carried) = (model.station(), model.carried());
        // A wave that foliage is not known to attenuate has no way through woods.
        let (talk_in, talk_out) = model.frequencies();
        let leaves = Leaves::at(talk_in).and(Leaves::at(talk_out)).is_ok();
        (station.at, station.antenna, carried.antenna, leaves)
    };
    let mut found: Vec<Option<Coverage>> = models.iter().map(|_| None).collect();
    for model in models {
        // Those that are not there yet, with their places.
        let left = models.iter().zip(&mut found).filter(|(_, found)| found.is_none());
        let mut sharing = Vec::new();
        let mut places = Vec::new();
        for (other, place) in left.filter(|(other, _)| ends(other) == ends(model)) {
            if may_be_swept(terrain, other, propagator)? {
                sharing.push(other);
                places.push(place);
            }
        }
        let rows_done = || sharing.iter().for_each(|_| row_done());
        let swept = sweep::cover(terrain, grid, &sharing, propagator, &rows_done, stop)?;
        for ((coverage, model), place) in swept.into_iter().flatten().zip(&sharing).zip(places) {
            *place = Some(quarters::among_houses(coverage, terrain, model, propagator)?);
        }
    }
    let plain = |model| plain::cover(terrain, grid, model, propagator, row_done, stop);
    let all = found.into_iter().zip(models);
    all.map(|(swept, model)| swept.map_or_else(|| plain(model), Ok)).collect()
}

/// Whether the sweep counts all that there is on the paths of a link. It knows no way
/// along streets, and it is one only for a low station.
fn may_be_swept(
    terrain: &Terrain,
    model: &LinkModel,
    propagator: &Propagator,
) -> Result<bool, PlaceError> {
    let station = model.station();
    Ok(!(model.station_is_below_roofs()
        || sea_counts(terrain, model, propagator)
        || (terrain.has_houses()
            && streets::is_low(terrain.tracer(station.at)?.roofs(), station.antenna))))
}

/// Whether the map of a link holds more than the sweep by itself counts: houses that the
/// plan states, or the sea.
#[must_use]
pub fn sweep_falls_short(terrain: &Terrain, model: &LinkModel, propagator: &Propagator) -> bool {
    model.station_is_below_roofs()
        || model.rows().is_some()
        || model.has_quarters()
        || sea_counts(terrain, model, propagator)
}

/// Whether there is sea on the terrain and its constants change a loss, which the sweep
/// does not count: with vertical polarization up to 300 MHz (ITU-R P.526 section 3.1.1).
fn sea_counts(terrain: &Terrain, model: &LinkModel, propagator: &Propagator) -> bool {
    let (input, output) = model.frequencies();
    propagator.polarization == Polarization::Vertical
        && input.min(output) < Megahertz::new(300.0)
        && terrain.has_sea()
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

    /// Median level of the station at the carried radio's receiver, dBm, NaN
    /// where it is unknown.
    #[must_use]
    pub fn talk_out_signals(&self) -> Array2<f32> {
        let wanted = self.talk_out_wanted.value() as f32;
        self.talk_out_margin.mapv(|margin| margin + wanted)
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
