//! A clear line, with focusing and multipath (P.1812 section 4.2).

use super::{Anomaly, Geometry};
use crate::Path;
use perchline_units::Db;

/// Free space, and what a clear line would lose.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LineOfSight {
    /// Free-space loss over the straight distance, Lbfs of equation (8), whose
    /// constant is rounded to 92.4 dB.
    pub free_space: Db,
    /// Loss of a clear line for the share of time, Lb0p of equation (10).
    pub loss: Db,
    /// The same for the share of time with anomalous refraction, Lb0b of equation (11).
    pub anomalous: Db,
}

impl LineOfSight {
    pub(super) fn of(path: &Path<'_>, geometry: &Geometry, anomaly: &Anomaly) -> Self {
        // As everywhere, distances below 1 m are taken as 1 m.
        let slant = path.slant_distance().value().max(1.0) / 1e3;
        let gigahertz = path.frequency().value() / 1e3;
        let free_space = 92.4 + 20.0 * (gigahertz * slant).log10();
        let horizons =
            geometry.transmitter_horizon.kilometres() + geometry.receiver_horizon.kilometres();
        let reach = 2.6 * (1.0 - (-0.1 * horizons).exp());
        let enhanced = |p: f64| Db::new(free_space + reach * (p / 50.0).log10());
        Self {
            free_space: Db::new(free_space),
            loss: enhanced(anomaly.asked),
            anomalous: enhanced(anomaly.time.value()),
        }
    }
}
