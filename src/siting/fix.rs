//! What would make a failing post work.

use serde::Serialize;

use crate::units::{Db, Metres};

/// Ways to make a failing post work from a site.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Remedy {
    /// What the governing direction lacks.
    pub missing_db: Db,
    /// Extra mast that closes the gap, if any height up to [`Remedy::HIGHEST_MAST`] does.
    pub extra_mast_m: Option<Metres>,
    /// Sites from which the post works as it is, best first.
    pub other_sites: Vec<String>,
}

impl Remedy {
    /// The greatest extra mast that is tried.
    pub const HIGHEST_MAST: Metres = Metres::new(15.0);
}
