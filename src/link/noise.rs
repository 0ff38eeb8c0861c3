//! Noise at a receiver's input.

use serde::Serialize;

use crate::units::{Db, Dbm};

/// What sets the noise at a receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoiseSource {
    /// The receiver's own noise.
    Receiver,
    /// Man-made noise around the antenna.
    Environment,
}

/// Noise at a receiver's input, in the receiver's bandwidth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NoiseFloor {
    /// The receiver's own noise.
    pub receiver_dbm: Dbm,
    /// Man-made noise that arrives at the receiver.
    pub environment_dbm: Dbm,
    /// Both together.
    pub total_dbm: Dbm,
    /// The larger of the two.
    pub governed_by: NoiseSource,
    /// What the environment costs against the receiver alone.
    pub environment_cost_db: Db,
}
