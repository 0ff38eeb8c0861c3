//! Coverage: margins, probabilities and outcomes out of the losses of a sweep.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::geometry::BatchLosses;
use super::layer_store::{CodeLayer, NumberLayer};
use super::margins::{Boundaries, Margins};
use super::task::{CellSpan, Combination, KnownLanes, LossSink, Options, Task};
use crate::Coverage;
use perchline_link::{Chances, LinkModel, Outcome, Propagator};
use perchline_terrain::{Grid, PlaceError, Terrain};

/// Coverages by the sweep, one a model; `None` where only the plain engine can do it.
/// The models have their antennas at the same places and heights: they share one pass
/// over the terrain, and each comes to what it would alone.
///
/// # Errors
/// [`PlaceError`] as for [`crate::cover`].
pub(crate) fn cover(
    terrain: &Terrain,
    grid: &Grid,
    models: &[&LinkModel],
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Option<Vec<Coverage>>, PlaceError> {
    cover_with(terrain, grid, models, propagator, (&Options::default(), true), row_done, stop)
}

/// The same with other options; without `exact`, undecided cells are left as the
/// rays tell them.
pub(super) fn cover_with(
    terrain: &Terrain,
    grid: &Grid,
    models: &[&LinkModel],
    propagator: &Propagator,
    (options, exact): (&Options, bool),
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Option<Vec<Coverage>>, PlaceError> {
    let Some(first) = models.first() else { return Ok(Some(Vec::new())) };
    let (station, carried) = (first.station(), first.carried());
    let cells = grid.rows() * grid.columns();
    let layers = models.iter().map(|model| CoverageLayers::new(model, cells, exact)).collect();
    let layers = ByChannel { layers, exact };
    let channels: Vec<_> = models.iter().map(|model| model.frequencies()).collect();
    let task = Task {
        terrain,
        grid,
        at: station.at,
        masts: &[station.antenna],
        receivers: &[carried.antenna],
        channels: &channels,
        propagator,
        options,
        row_done,
        stop,
    };
    if !task.run(&layers)? {
        return Ok(None);
    }
    let coverages = layers.layers.into_iter().zip(models);
    Ok(Some(coverages.map(|(layers, model)| layers.into_coverage(grid, model)).collect()))
}

/// The coverages of all channels in the making.
struct ByChannel {
    layers: Vec<CoverageLayers>,
    exact: bool,
}

impl LossSink for ByChannel {
    fn take(&self, which: Combination, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
        if let Some(layers) = self.layers.get(which.channel) {
            layers.take(span, known, losses);
        }
    }

    fn undecided(&self, which: Combination, known: &KnownLanes, losses: &mut BatchLosses) -> u32 {
        self.layers.get(which.channel).map_or(0, |layers| layers.undecided(known, losses))
    }

    fn weighs_doubts(&self) -> bool {
        self.exact
    }
}

/// The layers of a coverage in the making.
struct CoverageLayers {
    /// Where undecided cells are looked at on their own paths: where outcomes
    /// change.
    boundaries: Option<Boundaries>,
    margins: Margins,
    chances: Chances,
    talk_in_margin: NumberLayer,
    talk_out_margin: NumberLayer,
    probability: NumberLayer,
    line_of_sight: CodeLayer,
    outcome: CodeLayer,
}

/// Outcomes by code; unknown is what an untouched cell holds.
const OUTCOMES: [Outcome; 6] = [
    Outcome::Unknown,
    Outcome::NoContact,
    Outcome::OneWay,
    Outcome::Patchy,
    Outcome::Clear,
    Outcome::Strong,
];

impl CoverageLayers {
    fn new(model: &LinkModel, cells: usize, exact: bool) -> Self {
        Self {
            boundaries: exact.then(|| Boundaries::new(&model.chances())),
            margins: Margins::from_station(model),
            chances: model.chances(),
            talk_in_margin: NumberLayer::new(cells),
            talk_out_margin: NumberLayer::new(cells),
            probability: NumberLayer::new(cells),
            line_of_sight: CodeLayer::new(cells),
            outcome: CodeLayer::new(cells),
        }
    }

    fn into_coverage(self, grid: &Grid, model: &LinkModel) -> Coverage {
        let shape = (grid.rows(), grid.columns());
        let outcome = self.outcome.into_array(shape, |code| {
            OUTCOMES.get(code as usize).copied().unwrap_or(Outcome::Unknown)
        });
        let unknown_cells = outcome
            .as_slice()
            .unwrap_or_default()
            .par_chunks(1 << 16)
            .map(|part| part.iter().filter(|o| **o == Outcome::Unknown).count())
            .sum();
        Coverage {
            grid: grid.clone(),
            talk_in_margin: self.talk_in_margin.into_array(shape),
            talk_out_margin: self.talk_out_margin.into_array(shape),
            talk_out_wanted: model.talk_out_wanted(),
            reliability: model.reliability(),
            probability: self.probability.into_array(shape),
            line_of_sight: self.line_of_sight.into_array(shape, |code| code != 0),
            outcome,
            unknown_cells,
        }
    }

    fn take(&self, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
        let [talk_in, talk_out] = self.margins.left_or_of(losses);
        let lanes = known.iter().zip(talk_in.iter().zip(talk_out)).zip(losses.line_of_sight);
        for (cell, ((known, (talk_in, talk_out)), clear)) in span.cells().zip(lanes) {
            if !known {
                self.talk_in_margin.set(cell, f32::NAN);
                self.talk_out_margin.set(cell, f32::NAN);
                self.probability.set(cell, f32::NAN);
                continue;
            }
            self.talk_in_margin.set(cell, *talk_in);
            self.talk_out_margin.set(cell, talk_out);
            let (probability, outcome) = self.chances.of(*talk_in, talk_out);
            self.probability.set(cell, probability);
            self.line_of_sight.set(cell, u8::from(clear));
            self.outcome.set(cell, code(outcome));
        }
    }

    fn undecided(&self, known: &KnownLanes, losses: &mut BatchLosses) -> u32 {
        let Some(boundaries) = &self.boundaries else { return 0 };
        let margins = self.margins.leave(losses);
        boundaries.undecided(&margins, known, losses)
    }
}

/// The code of an outcome.
#[inline(always)]
fn code(outcome: Outcome) -> u8 {
    OUTCOMES.iter().position(|o| *o == outcome).unwrap_or(0) as u8
}
