//! Maps, plots, tables and files.
