//! What must hold whatever the numbers are: more power never hears less, a path
//! is as long from its other end, the world may be moved and turned, a plan may
//! be written in another order and in other units.
//!
//! Where a relation is true of some methods only, its test says of which, and
//! why not of the others.

mod budget;
mod paths;
mod plans;
mod world;

use proptest::test_runner::{Config, RngSeed};

/// So many cases, the same on every run.
fn cases(cases: u32) -> Config {
    Config { cases, rng_seed: RngSeed::Fixed(1812), failure_persistence: None, ..Config::default() }
}
