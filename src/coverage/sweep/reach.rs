//! The sweep turned round: from one carried radio to a station at every cell.

use std::sync::atomic::AtomicBool;

use ndarray::Array2;

use super::exact;
use super::geometry::BatchLosses;
use super::layer_store::NumberLayer;
use super::margins::Margins;
use super::task::{CellSpan, Combination, KnownLanes, LossSink, Options, Task};
use perchline_link::{Chances, LinkModel, Propagator};
use perchline_terrain::{Grid, PlaceError, Terrain};

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
    let layer = ProbabilityLayer {
        // The sweep's origin is the carried radio here.
        margins: Margins::from_carried(model),
        chances: model.chances(),
        probability: NumberLayer::new(cells),
    };
    let task = Task {
        terrain,
        grid,
        at: carried.at,
        masts: &[carried.antenna],
        receivers: &[station.antenna],
        channels: &[model.frequencies()],
        propagator,
        options,
        row_done: &|| (),
        stop,
    };
    if !task.run(&layer)? {
        exact::every_cell(&task, &layer)?;
    }
    let shape = (grid.rows(), grid.columns());
    Ok(layer.probability.into_array(shape))
}

/// A layer of probabilities in the making.
struct ProbabilityLayer {
    margins: Margins,
    chances: Chances,
    probability: NumberLayer,
}

impl LossSink for ProbabilityLayer {
    fn take(&self, _: Combination, span: CellSpan, known: &KnownLanes, losses: &BatchLosses) {
        let [talk_in, talk_out] = self.margins.of(losses);
        let lanes = known.iter().zip(talk_in.iter().zip(talk_out));
        for (cell, (known, (talk_in, talk_out))) in span.cells().zip(lanes) {
            let probability = if *known { self.chances.of(*talk_in, talk_out).0 } else { f32::NAN };
            self.probability.set(cell, probability);
        }
    }
}
