//! Maps, path plots and feature files, drawn from a made-up town. The pictures
//! are kept under target/looks/ for people to look at.
#![allow(clippy::unwrap_used, missing_docs)]

mod features;
mod map;
mod path_plot;
mod town;
