//! The live page and its server.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod browser;
mod clients;
mod entries;
mod forms;
mod hours;
mod newcomer;
mod page;
mod recovery;
mod sites;
