//! A page on this machine on which a plan is changed and its coverage follows.
//!
//! * [`edit`]: changes to the text of a plan.
//! * [`desk`]: its states, undone and kept.
//! * [`mod@file`]: the plan's file, the one that is saved to.
//! * [`recovery`]: what is unsaved, kept beside it, and [`offer`]: found there.
//! * [`work`]: pictures, by the engine of every other verb.
//! * [`server`]: answers browsers on this machine, and nobody else.

pub mod board;
pub mod desk;
pub mod edit;
pub mod file;
pub mod offer;
mod point;
pub mod recovery;
pub mod server;
pub mod view;
pub mod work;
