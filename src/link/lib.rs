//! The two power budgets between a station on a roof and a radio on a person.
//!
//! Talk-in is the carried radio heard by the station, talk-out the station
//! heard by the carried radio. Each is a budget of its own and the weaker one
//! governs.

mod antenna;
mod body;
mod budget;
mod chances;
mod comparison;
mod houses;
mod indoors;
mod noise;
mod path;
mod probability;
mod quality;
mod spread;
mod study;
mod terminal;

pub use antenna::gain_towards;
pub use body::{body_loss, carry_height, worn_loss};
pub use budget::{
    Budget, BudgetLine, Direction, LinkBudgets, LinkModel, Margins, Outcome, feed_loss, frequencies,
};
pub use chances::Chances;
pub use comparison::{Cause, Comparison, Difference, MethodLosses, Outside};
pub use indoors::building_remarks;
pub use noise::{
    DesenseAtTimes, NOISE_VALID_TO, NoiseAtTimes, NoiseFloor, NoiseSource, RoofNoise,
    external_noise_figure, noise_bandwidth, noise_floor, thermal_noise,
};
pub use path::{Loss, PathLosses, Propagator};
pub use probability::Spread;
pub use quality::{QualityTarget, required_over_noise, sinad_over_noise};
pub use spread::{MODEL_ERROR, location_spread, location_spread_is_own, model_error};
pub use study::{End, PathStudy, study, study_over};
pub use terminal::{Misfit, Terminal, TerminalError};
