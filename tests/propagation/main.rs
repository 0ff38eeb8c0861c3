//! Path-loss methods against published examples and other programs.

#![allow(clippy::unwrap_used, clippy::panic)]

mod knife_edge;
mod methods;
mod p1812;
mod p1812_coast;
mod p1812_examples;
mod p526;
mod pycraf;
mod short_range;
mod streets;
