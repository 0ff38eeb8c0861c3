//! Maps, plots, tables and files.

mod axis;
mod basemap;
pub mod geojson;
mod labels;
pub mod map;
pub mod palette;
pub mod path_plot;
mod provenance;
mod svg_page;
mod typeface;
mod words;

pub use provenance::{Provenance, ReportError};
