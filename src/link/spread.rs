//! Which spread a plan asks for.

use super::indoors::entry_deviation;
use super::probability::Spread;

use perchline_plan::{Indoors, Prediction};
use perchline_propagation::{PathLoss, p1812};
use perchline_units::{Db, Megahertz, Metres};

/// Standard deviation over locations where the plan states none (TIA TSB-88
/// practice, from memory). ITU-R P.1546 has 4 to 4.7 dB for our bands and P.2108 4
/// to 6 dB (from memory).
const TSB_88: Db = Db::new(5.6);

/// Standard deviation of what a method gets wrong, where the plan states none: with
/// the spread over locations 7.5 dB in all. Hand-helds among buildings were
/// measured to spread by 7 to 8.7 dB around the best line through each receiver's
/// readings (`tests/heard/handheld.rs`).
pub const MODEL_ERROR: Db = Db::new(5.0);

/// Sides of a square of ground for which P.1812 gives its deviation.
const SQUARES: (Metres, Metres) = (Metres::new(50.0), Metres::new(1000.0));

/// Standard deviation over locations of `prediction` on the frequencies of
/// talk-in and talk-out, over terrain in cells of the side `cell`.
///
/// What the plan states; else, for P.1812, that Recommendation's own for a
/// square of the terrain's cell (of 50 m if that is smaller, of 1000 m if
/// larger) and an antenna among what stands on the ground; else 5.6 dB.
#[must_use]
pub fn location_spread(
    prediction: &Prediction,
    (input, output): (Megahertz, Megahertz),
    cell: Metres,
) -> Db {
    match prediction.variability {
        Some(stated) => stated,
        None if location_spread_is_own(prediction) => {
            let square = cell.max(SQUARES.0).min(SQUARES.1);
            let ground = Metres::new(0.0);
            p1812::location_deviation(input.max(output), square, ground, ground)
        }
        None => TSB_88,
    }
}

/// Standard deviation of what the method of `prediction` gets wrong: common to all
/// spots of a place, where the spread over locations is not.
///
/// What the plan states; else [`MODEL_ERROR`], or as much more as makes the whole
/// spread that of the other methods: what a method that states the spread within a
/// smaller square leaves out of it does not go away.
#[must_use]
pub fn model_error(
    prediction: &Prediction,
    frequencies: (Megahertz, Megahertz),
    cell: Metres,
) -> Db {
    if let Some(stated) = prediction.model_error {
        return stated;
    }
    let locations = location_spread(prediction, frequencies, cell);
    if prediction.variability.is_some() || !location_spread_is_own(prediction) {
        return MODEL_ERROR;
    }
    let whole = TSB_88.value().hypot(MODEL_ERROR.value());
    let rest = whole.powi(2) - locations.value().powi(2);
    MODEL_ERROR.max(Db::new(rest.max(0.0).sqrt()))
}

/// Whether the method of `prediction` has a spread over locations of its own,
/// which is taken where the plan states none.
#[must_use]
pub fn location_spread_is_own(prediction: &Prediction) -> bool {
    prediction.method == p1812::P1812.name()
}

/// Spread over locations, over the buildings that ends are in, and the model's
/// error, together.
pub(super) fn spread(
    prediction: &Prediction,
    (input, output): (Megahertz, Megahertz),
    cell: Metres,
    indoors: [Option<Indoors>; 2],
) -> Spread {
    let locations = location_spread(prediction, (input, output), cell);
    let buildings = indoors.into_iter().flatten();
    let deviation = buildings.fold(locations.value(), |sum, building| {
        sum.hypot(entry_deviation(building, input.max(output)).value())
    });
    let error = model_error(prediction, (input, output), cell);
    Spread::over(Db::new(deviation), error, (input, output))
}
