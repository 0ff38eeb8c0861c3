//! Maps, plots, tables and files.

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

mod axis;
mod basemap;
mod borders;
pub mod brief;
pub mod card;
pub mod channel_sheet;
pub mod choose_tables;
mod choose_words;
pub mod comparison;
pub mod cosite_tables;
pub mod debrief;
pub mod direct_tables;
pub mod documents;
mod entry_lines;
mod error;
pub mod geojson;
pub mod group_tables;
mod labels;
pub mod layers;
pub mod map;
pub mod mast_plot;
pub mod mast_tables;
pub mod outbox;
pub mod outputs;
pub mod palette;
pub mod part_file;
pub mod path_plot;
pub mod place_words;
pub mod power_tables;
mod print_size;
pub mod ready;
pub mod rehearsal;
pub mod roof_plan;
mod sector_tables;
mod sheet_layout;
pub mod signature;
pub mod spot_tables;
mod svg_page;
pub mod tables;
mod text_lines;
pub mod tracker_tables;
mod typeface;
pub mod words;

pub use error::ReportError;
pub use perchline_assessment::{Provenance, digest, digest_of_parts, fixed_time};
