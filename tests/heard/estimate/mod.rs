//! What is estimated from reports: against other programs, and against logs
//! that were made up from a known truth.

mod calls;
mod limits;
mod made;
mod outliers;
mod outside;
mod truth;
mod worth;
