//! The two power budgets between a station on a roof and a radio on a person.
//!
//! Talk-in is the carried radio heard by the station, talk-out the station
//! heard by the carried radio. Each is a budget of its own and the weaker one
//! governs.

mod budget;
mod noise;
mod study;

pub use budget::{Assessment, Budget, BudgetLine, Direction, LinkBudgets, Outcome};
pub use noise::{NoiseFloor, NoiseSource};
pub use study::{End, PathStudy};
