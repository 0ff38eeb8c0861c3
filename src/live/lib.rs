//! A page on this machine on which a plan is changed and its coverage follows.
//!
//! * [`edit`]: changes to the text of a plan; [`set`]: those of any declared field,
//!   and [`values`]: how each is typed.
//! * [`forms`]: what forms of it are made from; [`check`]: what there is to know of it.
//! * [`desk`]: its states, undone and kept.
//! * [`mod@file`]: the plan's file, the one that is saved to.
//! * [`recovery`]: what is unsaved, kept beside it, and [`offer`]: found there.
//! * [`work`]: pictures, by the engine of every other verb.
//! * [`opening`]: the site that is shown first, [`together`]: several at once.
//! * [`server`]: answers browsers on this machine, and nobody else.

pub mod board;
pub mod check;
pub mod desk;
pub mod edit;
pub mod file;
pub mod forms;
mod lists;
pub mod offer;
pub mod opening;
mod point;
pub mod recovery;
pub mod server;
pub mod set;
pub mod together;
pub mod values;
pub mod view;
pub mod work;
