//! Maps, plots, tables and files.

mod axis;
mod basemap;
pub mod comparison;
mod error;
pub mod geojson;
mod labels;
pub mod map;
pub mod outbox;
pub mod palette;
pub mod path_plot;
mod provenance;
mod svg_page;
pub mod tables;
mod typeface;
pub mod words;

pub use error::ReportError;
pub use provenance::Provenance;
