//! Perchline plans the radio side of a public event: where the relay and the
//! packet digipeater go, who can hear and be heard, and with what margin.
//!
//! Data flows one way, and each folder imports only those before it:
//!
//! `units -> confine -> vector -> plan -> profile -> terrain -> propagation -> link -> power -> coverage -> siting -> heard -> pages -> report -> opened -> live -> cli`
//!
//! * [`units`]: decibels, metres, megahertz and positions as types.
//! * [`confine`]: what a file may do while it is read.
//! * [`vector`]: named features out of vector files (OGR).
//! * [`plan`]: the plan file, as typed and as checked.
//! * [`profile`]: ground heights along a path, plain numbers.
//! * [`terrain`]: elevation rasters, the working window, terrain profiles (GDAL, PROJ).
//! * [`propagation`]: path-loss methods, pure functions on a profile.
//! * [`link`]: the two power budgets between a station and a carried radio.
//! * [`power`]: batteries, shared roofs, mixing products, exposure.
//! * [`coverage`]: one site against every cell of a raster.
//! * [`siting`]: all candidate sites against all posts, areas and routes.
//! * [`heard`]: what was heard on the day, set against what was predicted.
//! * [`pages`]: scripts and styles of the pages, bundled and embedded.
//! * [`report`]: maps, plots, tables and files.
//! * [`opened`]: a plan on its terrain, with all there is to know of it.
//! * [`live`]: the page on which a plan is changed and its coverage follows.
//! * [`cli`]: the `perchline` program's verbs.

#![deny(missing_docs)]
#![deny(unsafe_code)]
#![deny(clippy::print_stdout, clippy::undocumented_unsafe_blocks)]
// Nothing here ends a run but an error with words.
#![deny(
    clippy::unwrap_used,
    clippy::expect_used,
    clippy::panic,
    clippy::unreachable,
    clippy::todo,
    clippy::unimplemented,
    clippy::indexing_slicing,
    clippy::string_slice,
    clippy::exit
)]
#![cfg_attr(
    test,
    allow(
        clippy::unwrap_used,
        clippy::expect_used,
        clippy::panic,
        clippy::unreachable,
        clippy::indexing_slicing,
        clippy::string_slice
    )
)]

pub mod cli;
pub mod confine;
pub mod coverage;
pub mod heard;
pub mod link;
pub mod live;
pub mod opened;
pub mod pages;
pub mod plan;
pub mod power;
pub mod profile;
pub mod propagation;
pub mod report;
pub mod siting;
pub mod terrain;
pub mod units;
pub mod vector;
