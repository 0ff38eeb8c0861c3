//! Perchline plans the radio side of a public event: where the relay and the
//! packet digipeater go, who can hear and be heard, and with what margin.
//!
//! Open a plan, rank its sites, read a margin, write a map:
//!
//! ```
//! use std::path::Path;
//! use std::sync::atomic::AtomicBool;
//!
//! use perchline::assessment::{self, Assessment};
//! use perchline::report::map::{MapContent, draw};
//! use perchline::siting::{Keep, rank};
//! use perchline::units::Metres;
//!
//! # fn main() -> Result<(), Box<dyn std::error::Error>> {
//! let mut plan = assessment::read(Path::new("sample-terrain/ferry-lights.toml"))?;
//! plan.map.cell = Some(Metres::new(400.0));
//! let assessment = Assessment::new(plan, &[])?;
//!
//! let grid = assessment.map_grid()?;
//! let never = AtomicBool::new(false);
//! let inputs = assessment.rank_inputs(&grid, &|| (), &never);
//! let relay = assessment.plan.channels.first().ok_or("no channel")?;
//! let (ranking, maps) = rank(&inputs, relay, Keep::Best)?;
//! let (best, map) = ranking.sites.first().zip(maps.first()).ok_or("no site")?;
//!
//! let control = best.posts.iter().find(|post| post.post == "Net Control").ok_or("no post")?;
//! let margin = control.governing_margin_db.ok_or("terrain is missing on the way")?;
//! assert!(margin.value() > 15.0, "{} has {margin:.1}", best.site);
//!
//! let relief = assessment.terrain.hillshade()?;
//! let content = MapContent::of(&assessment, &relief, &relay.name, best, map);
//! let folder = tempfile::tempdir()?;
//! std::fs::write(folder.path().join("relay.png"), draw(&content)?)?;
//! # Ok(())
//! # }
//! ```
//!
//! Data flows one way. Each part is a crate and leans only on those before it:
//!
//! `units -> confine -> vector -> plan -> profile -> terrain -> start -> propagation -> link -> power -> coverage -> siting -> heard -> assessment -> pages -> report -> live -> cli`
//!
//! * [`units`]: decibels, metres, megahertz and positions as types.
//! * [`confine`]: what a file may do while it is read.
//! * [`vector`]: named features out of vector files (OGR).
//! * [`plan`]: the plan file, as typed and as checked.
//! * [`profile`]: ground heights along a path, plain numbers.
//! * [`terrain`]: elevation rasters, the working window, terrain profiles (GDAL, PROJ).
//! * [`start`]: the text of a first plan, out of a place, a route and an elevation file.
//! * [`propagation`]: path-loss methods, pure functions on a profile.
//! * [`link`]: the two power budgets between a station and a carried radio.
//! * [`power`]: batteries, shared roofs, intermodulation products, exposure.
//! * [`coverage`]: one site against every cell of a raster.
//! * [`siting`]: all candidate sites against all posts, areas and routes.
//! * [`heard`]: what was heard on the day, set against what was predicted.
//! * [`assessment`]: a plan on its terrain, and what it comes to, each computed once.
//! * [`pages`]: scripts and styles of the pages, bundled and embedded.
//! * [`report`]: maps, plots, tables and files.
//! * [`live`]: the page on which a plan is changed and its coverage follows.
//! * [`cli`]: the `perchline` program's verbs.

#![deny(missing_docs)]
#![deny(unsafe_code)]

pub use perchline_assessment as assessment;
pub use perchline_cli as cli;
pub use perchline_confine as confine;
pub use perchline_coverage as coverage;
pub use perchline_heard as heard;
pub use perchline_link as link;
pub use perchline_live as live;
pub use perchline_pages as pages;
pub use perchline_plan as plan;
pub use perchline_power as power;
pub use perchline_profile as profile;
pub use perchline_propagation as propagation;
pub use perchline_report as report;
pub use perchline_siting as siting;
pub use perchline_start as start;
pub use perchline_terrain as terrain;
pub use perchline_units as units;
pub use perchline_vector as vector;
