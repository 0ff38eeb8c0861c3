//! Maps, plots, the briefing and the files of the main job.

#![allow(clippy::unwrap_used, clippy::panic)]

#[path = "../support/mod.rs"]
mod support;

mod brief;
mod browser;
mod cautions;
mod contradictions;
mod docs_figures;
mod drawings;
mod headings;
mod main_job;
mod outputs;
mod paper;
mod pictures;
mod ready;
mod screens;
mod statements;
mod told_once;
