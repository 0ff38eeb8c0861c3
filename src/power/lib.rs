//! Staying on the air: batteries, shared roofs, intermodulation products, exposure.
//!
//! Functions of the plan alone: no terrain, no files.

mod battery;
mod budget;
pub mod chemistry;
pub mod discharge;
mod error;
pub mod exposure;
mod fleet;
pub mod isolation;
pub mod kit;
mod load;
pub mod mast;
pub mod place;
pub mod products;
pub mod sharing;
mod site_air;
pub mod two_radios;
mod weather;

pub use battery::{Battery, pack_weight};
pub use budget::{
    CHANGE_AT, Case, Feed, HourlyState, ONLY_JUST, RESERVE, Run, STANDARD_CAPACITIES, StandardPack,
    StationBudget, each_station_budget, station_budget, station_budgets,
};
pub use error::PowerError;
pub use fleet::{CrewNeeds, HEAVY, LoadingLine, Recharge, crew_needs, needs_of_each_crew};
pub use load::Load;
pub use site_air::without_temperature;
pub use weather::{Weather, after, elapsed, gaps};
