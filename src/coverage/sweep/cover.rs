//! Coverage: margins, probabilities and outcomes out of the losses of a sweep.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::geometry::BatchLosses;
use super::layer_store::{CodeLayer, NumberLayer};
use super::margins::{Boundaries, Margins};
use super::task::{AntennaPair, CellSpan, KnownLanes, LossSink, Options, Task};
use crate::Coverage;
use perchline_link::{Chances, LinkModel, Outcome, Propagator};
use perchline_terrain::{Grid, PlaceError, Terrain};

/// Coverage by the sweep; `None` where only the plain engine can do it.
///
/// # Errors
/// [`PlaceError`] as for [`crate::cover`].
pub(crate) fn cover(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Option<Coverage>, PlaceError> {
    cover_with(terrain, grid, model, propagator, (&Options::default(), true), row_done, stop)
}

/// The same with other options; without `exact`, undecided cells are left as the
/// rays tell them.
pub(super) fn cover_with(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    (options, exact): (&Options, bool),
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Option<Coverage>, PlaceError> {
    let (station, carried) = (model.station(), model.carried());
    let layers = CoverageLayers::new(model, grid.rows() * grid.columns(), exact);
    let task = Task {
        terrain,
        grid,
        at: station.at,
        masts: &[station.antenna],
        receivers: &[carried.antenna],
        frequencies: model.frequencies(),
        propagator,
        options,
        row_done,
        stop,
    };
    if !task.run(&layers)? {
        return Ok(None);
    }
    Ok(Some(layers.into_coverage(grid, model)))
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
}

/// The code of an outcome.
#[inline(always)]
fn code(outcome: Outcome) -> u8 {
    OUTCOMES.iter().position(|o| *o == outcome).unwrap_or(0) as u8
}

impl LossSink for CoverageLayers {
    fn take(&self, _: AntennaPair, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
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

    fn undecided(&self, _: AntennaPair, known: &KnownLanes, losses: &mut BatchLosses) -> u32 {
        let Some(boundaries) = &self.boundaries else { return 0 };
        let margins = self.margins.leave(losses);
        boundaries.undecided(&margins, known, losses)
    }

    fn weighs_doubts(&self) -> bool {
        self.boundaries.is_some()
    }
}
