//! The plan file: what a person types, and what it means once checked.

mod feed_line;
mod model;

pub use feed_line::{CABLES, Cable};
pub use model::*;
