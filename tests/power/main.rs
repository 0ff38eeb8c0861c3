//! Energy, shared roofs, intermodulation products.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod aloha;
mod carried;
mod energy;
mod roof;
mod verbs;
