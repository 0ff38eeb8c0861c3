//! Plans: what is read, what is refused and how it is told.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod bad_input;
mod fields;
mod positions;
mod program;
mod schema;
mod start;
mod text;
mod vector_files;
