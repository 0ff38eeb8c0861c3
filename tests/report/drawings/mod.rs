//! Maps, path plots and feature files, drawn from a made-up town. The pictures
//! are kept under target/looks/ for people to look at.
mod features;
mod map;
mod path_plot;
mod town;
