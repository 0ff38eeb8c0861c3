//! The sweep against the exact engine, and what has to hold of any map.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod cells;
mod classes;
mod differential;
mod metamorphic;
mod sweep;
mod sweep_cover;
