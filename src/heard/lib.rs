//! What was heard on the day, set against what was predicted, and a better
//! model for the next plan.

pub mod compare;
pub mod estimate;
pub mod learn;
pub mod log;
pub mod packs;
pub mod rehearsal;
pub mod routes;
pub mod summary;
pub mod walk;
