//! Maps, plots, tables and files.

pub mod outbox;
pub mod provenance;
pub mod tables;
pub mod words;
