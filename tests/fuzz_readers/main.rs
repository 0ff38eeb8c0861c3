//! Whatever a file, a text or a request from outside holds, reading it ends in
//! something sound or in a refusal with words: never in a panic, and never in
//! time or memory that its size does not explain.
//!
//! Cases are made from good seeds by mutation and afresh from a grammar, each
//! from its number alone:
//!
//! * `PERCHLINE_FUZZ_CASES`: cases for each reader;
//! * `PERCHLINE_FUZZ_SEED`: another seed, other cases;
//! * `PERCHLINE_FUZZ_ONLY`: the number of one case, which is then printed.
//!
//! What was found once is kept in `found/`, a folder a reader, and read by every
//! run before anything else.

#[path = "../support/mod.rs"]
mod support;

mod calibration;
mod classes;
mod harness;
mod http;
mod large;
mod log;
mod memory;
mod mutate;
mod plan;
mod position;
mod quantity;
mod random;
mod tiles;
mod vector;

#[global_allocator]
static COUNTING: memory::Counting = memory::Counting;

#[test]
fn plans() {
    harness::run(&mut plan::reader());
}

#[test]
fn logs_of_the_day() {
    harness::run(&mut log::reader());
}

#[test]
fn positions() {
    harness::run(&mut position::reader());
}

#[test]
fn vector_files() {
    harness::run(&mut vector::reader());
}

#[test]
fn calibrations() {
    harness::run(&mut calibration::reader());
}

#[test]
fn class_mappings() {
    harness::run(&mut classes::reader());
}

#[test]
fn requests() {
    harness::run(&mut http::reader());
}

#[test]
fn quantities() {
    harness::run(&mut quantity::reader());
}

#[test]
fn map_tiles() {
    harness::run(&mut tiles::reader());
}
