//! Ranking, choosing and searching of sites; radios among themselves.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod choose;
mod choose_sample;
mod contradictions;
mod direct;
mod direct_graph;
mod masts;
mod order;
mod parts;
mod power_lines;
mod ranking;
mod sample_ranking;
mod spots;
mod trackers;
