//! Delta-Bullington for two effective earths, and what the share of time
//! makes of them (P.1812 section 4.3).

use super::Anomaly;
use crate::propagation::bullington::construct;
use crate::propagation::delta_bullington::{self, terms_beyond};
use crate::propagation::line::{antenna_line, covered_ground};
use crate::propagation::spherical_earth::SphericalEarth;
use crate::propagation::{EffectiveEarth, Path};
use crate::units::Db;

/// The k-factor that is exceeded for the anomalous share of time (section 3.5).
const ANOMALOUS_K: f64 = 3.0;

/// Diffraction losses beyond free space.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Diffraction {
    /// For the median effective earth; its result is Ld50 of equation (39).
    pub median: delta_bullington::Terms,
    /// For the effective radius that is exceeded for the anomalous share of
    /// time; its result is Ldb of equation (39).
    pub anomalous: delta_bullington::Terms,
    /// For the share of time, Ldp of equation (41).
    pub result: Db,
}

impl Diffraction {
    pub(super) fn of(path: &Path<'_>, anomaly: &Anomaly) -> Self {
        let median = over(path);
        let anomalous = over(&path.with_earth(EffectiveEarth::from_k_factor(ANOMALOUS_K)));
        let result = median.result + (anomalous.result - median.result) * anomaly.lean;
        Self { median, anomalous, result }
    }
}

/// The terms with cover on the real ground; the smooth earth has none.
pub(in crate::propagation) fn over(path: &Path<'_>) -> delta_bullington::Terms {
    let wavelength = path.frequency().wavelength().value();
    let actual = construct(&antenna_line(path), covered_ground(path), wavelength).loss;
    let earth = SphericalEarth::of(path).with_sea_share(path.climate().sea_share);
    terms_beyond(path, Db::new(actual), earth)
}
