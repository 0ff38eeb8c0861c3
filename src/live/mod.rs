//! A page on this machine on which a plan is changed and its coverage follows.
//!
//! * [`edit`]: changes to the text of a plan.
//! * [`desk`]: its states, undone and kept, and the file underneath.
//! * [`work`]: pictures, by the engine of every other verb.
//! * [`server`]: answers browsers on this machine, and nobody else.

pub mod board;
pub mod desk;
pub mod edit;
mod file;
mod point;
pub mod server;
pub mod view;
pub mod work;
