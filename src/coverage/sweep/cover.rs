//! Losses into margins and outcomes.

use std::sync::atomic::AtomicBool;

use rayon::prelude::*;

use super::canvas::{Codes, Numbers};
use super::cells::Losses;
use super::gains::Gains;
use super::lane::{LANES, Row};
use super::task::{AntennaPair, CellSpan, KnownLanes, LossSink, Options, Task};
use crate::coverage::Coverage;
use crate::link::{Chances, LinkModel, Loss, Outcome, PathLosses, Propagator};
use crate::propagation::Model;
use crate::propagation::clearance::TakeOff;
use crate::terrain::{Grid, PlaceError, Terrain};
use crate::units::{Db, Degrees};

/// Coverage by the sweep; `None` where only the plain engine can do it.
///
/// # Errors
/// [`PlaceError`] as for [`crate::coverage::cover`].
pub(in crate::coverage) fn cover(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Option<Coverage>, PlaceError> {
    cover_with(terrain, grid, model, propagator, &Options::default(), row_done, stop)
}

/// The same with other options.
pub(super) fn cover_with(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    options: &Options,
    row_done: &(dyn Fn() + Sync),
    stop: &AtomicBool,
) -> Result<Option<Coverage>, PlaceError> {
    let (station, carried) = (model.station(), model.carried());
    let shape = (grid.rows(), grid.columns());
    let sheet = Sheet::new(model, shape.0 * shape.1);
    let task = Task {
        terrain,
        grid,
        at: station.at,
        masts: &[station.antenna],
        carried: &[carried.antenna],
        frequencies: model.frequencies(),
        propagator,
        options,
        row_done,
        stop,
    };
    if !task.run(&sheet)? {
        return Ok(None);
    }
    Ok(Some(sheet.into_coverage(grid, shape)))
}

/// The layers of a coverage in the making.
struct Sheet<'a> {
    model: &'a LinkModel,
    chances: Chances,
    /// Margins over a path without loss towards the horizons.
    base: [f32; 2],
    gains: [Gains; 2],
    talk_in_margin: Numbers,
    talk_out_margin: Numbers,
    probability: Numbers,
    line_of_sight: Codes,
    outcome: Codes,
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

impl<'a> Sheet<'a> {
    fn new(model: &'a LinkModel, cells: usize) -> Self {
        Self {
            model,
            chances: model.chances(),
            base: lossless(model),
            gains: [
                Gains::of(&model.station().radio.antenna),
                Gains::of(&model.carried().radio.antenna),
            ],
            talk_in_margin: Numbers::new(cells),
            talk_out_margin: Numbers::new(cells),
            probability: Numbers::new(cells),
            line_of_sight: Codes::new(cells),
            outcome: Codes::new(cells),
        }
    }

    fn into_coverage(self, grid: &Grid, shape: (usize, usize)) -> Coverage {
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
            talk_out_wanted: self.model.talk_out_wanted(),
            reliability: self.model.reliability(),
            probability: self.probability.into_array(shape),
            line_of_sight: self.line_of_sight.into_array(shape, |code| code != 0),
            outcome,
            unknown_cells,
        }
    }
}

/// Margins of talk-in and talk-out over a path without loss towards the horizons, dB.
pub(super) fn lossless(model: &LinkModel) -> [f32; 2] {
    let zero = Loss {
        free_space: Db::new(0.0),
        diffraction: Db::new(0.0),
        leaves: Db::new(0.0),
        model: Model::Method("free-space"),
    };
    let level = Degrees::new(0.0);
    let base = model.assess(&PathLosses {
        talk_in: zero,
        talk_out: zero,
        take_off: TakeOff { at_transmitter: level, at_receiver: level },
        woods: None,
    });
    [base.talk_in_margin.value() as f32, base.talk_out_margin.value() as f32]
}

/// The code of an outcome.
#[inline(always)]
fn code(outcome: Outcome) -> u8 {
    OUTCOMES.iter().position(|o| *o == outcome).unwrap_or(0) as u8
}

impl LossSink for Sheet<'_> {
    fn take(&self, _: AntennaPair, span: CellSpan, known: &KnownLanes, losses: &Losses) {
        let [station, carried] = &self.gains;
        let mut gain: Row = [0.0; LANES];
        for (gain, (up, back)) in gain.iter_mut().zip(losses.up.iter().zip(&losses.back)) {
            *gain = station.towards(*up) + carried.towards(*back);
        }
        let [margin_in, margin_out] = self.base;
        let lanes = losses.talk_in.iter().zip(losses.talk_out).zip(gain).zip(losses.sight);
        let lanes = known.iter().zip(lanes);
        for (cell, (known, (((inward, outward), gain), sight))) in span.cells().zip(lanes) {
            if !known {
                self.talk_in_margin.set(cell, f32::NAN);
                self.talk_out_margin.set(cell, f32::NAN);
                self.probability.set(cell, f32::NAN);
                continue;
            }
            let talk_in = margin_in + gain - inward;
            let talk_out = margin_out + gain - outward;
            self.talk_in_margin.set(cell, talk_in);
            self.talk_out_margin.set(cell, talk_out);
            let (probability, outcome) = self.chances.of(talk_in, talk_out);
            self.probability.set(cell, probability);
            self.line_of_sight.set(cell, u8::from(sight));
            self.outcome.set(cell, code(outcome));
        }
    }
}
