//! The budgets of a link, both ways.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod both_ways;
mod comparison;
mod houses;
mod method_comparison;
mod model;
mod short_range_in_use;
mod terminals;
mod two_way_budget;
mod woods;
