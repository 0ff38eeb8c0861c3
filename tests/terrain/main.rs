//! Terrain: rasters, tiles, profiles, what stands on the ground.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

#[path = "../../sample-terrain/landscape.rs"]
mod landscape;

mod folders;
mod formats;
mod geodesics;
mod map_tiles;
mod profiles;
mod real_elevation;
mod sample_terrain;
mod sample_town;
mod surface_model;
mod surroundings;
