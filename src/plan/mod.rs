//! The plan file: what a person types, and what it means once checked.

mod feed_line;
mod model;
mod unit_system;

pub use feed_line::{CABLES, Cable};
pub use model::*;
pub use unit_system::UnitSystem;
