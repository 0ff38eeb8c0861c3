//! Logs of the day and what is learnt from them.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod debrief;
mod estimate;
mod handheld;
mod log;
