//! The sweep turned round: from one carried radio to a station at every cell.

use std::sync::atomic::AtomicBool;

use ndarray::Array2;

use super::canvas::Numbers;
use super::cells::Losses;
use super::cover::lossless;
use super::exact;
use super::gains::Gains;
use super::task::{AntennaPair, CellSpan, KnownLanes, LossSink, Options, Task};
use crate::link::{Chances, LinkModel, Propagator};
use crate::terrain::{Grid, PlaceError, Terrain};

/// Probability, 0 to 1, that both ways work in the same spot between the carried
/// radio of `model`, where it stands, and a station like that of `model` on each
/// cell of `grid`, its antenna as high above the ground of the cell as the
/// model's is above its own; NaN where terrain is missing on the way.
///
/// Loss is the same both ways, so one sweep from the carried radio serves every
/// cell that a station may stand on. Methods and grids without a swept form are
/// computed by a profile for every cell. A run that was stopped leaves NaN.
///
/// # Errors
/// [`PlaceError`] when the carried radio is off the terrain or the grid can't
/// be projected.
pub fn reach(
    terrain: &Terrain,
    grid: &Grid,
    model: &LinkModel,
    propagator: &Propagator,
    options: &Options,
    stop: &AtomicBool,
) -> Result<Array2<f32>, PlaceError> {
    let (station, carried) = (model.station(), model.carried());
    let cells = grid.rows() * grid.columns();
    let canvas = Canvas {
        base: lossless(model),
        chances: model.chances(),
        station: Gains::of(&station.radio.antenna),
        carried: Gains::of(&carried.radio.antenna),
        probability: Numbers::new(cells),
    };
    let task = Task {
        terrain,
        grid,
        at: carried.at,
        masts: &[carried.antenna],
        carried: &[station.antenna],
        frequencies: model.frequencies(),
        propagator,
        options,
        row_done: &|| (),
        stop,
    };
    if !task.run(&canvas)? {
        exact::every_cell(&task, &canvas)?;
    }
    let shape = (grid.rows(), grid.columns());
    Ok(canvas.probability.into_array(shape))
}

struct Canvas {
    base: [f32; 2],
    chances: Chances,
    station: Gains,
    carried: Gains,
    probability: Numbers,
}

impl LossSink for Canvas {
    fn take(&self, _: AntennaPair, span: CellSpan, known: &KnownLanes, losses: &Losses) {
        let [base_in, base_out] = self.base;
        let slopes = losses.up.iter().zip(&losses.back);
        let lanes = known.iter().zip(losses.talk_in).zip(losses.talk_out).zip(slopes);
        for (cell, (((known, inward), outward), (up, back))) in span.cells().zip(lanes) {
            if !known {
                self.probability.set(cell, f32::NAN);
                continue;
            }
            // The path begins at the carried radio here.
            let gain = self.carried.towards(*up) + self.station.towards(*back);
            let (talk_in, talk_out) = (base_in + gain - inward, base_out + gain - outward);
            self.probability.set(cell, self.chances.of(talk_in, talk_out).0);
        }
    }
}
