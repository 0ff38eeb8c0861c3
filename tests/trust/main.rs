//! What holds whatever comes: hostile files, full disks, killed runs, odd machines, any number of threads.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod architecture;
mod bundles;
mod determinism;
mod full_disk;
mod hostile_files;
mod hostile_rasters;
mod installed;
mod killed;
mod lacking;
mod linked;
mod machines;
mod many_rows;
mod memory;
mod old_terms;
mod two_runs;
