//! Delta-Bullington for two effective earths, and what the share of time
//! makes of them (P.1812 section 4.3).

use super::Anomaly;
use crate::delta_bullington::{self, EffectiveHeights, Shape};
use crate::path::EARTH_RADIUS;
use crate::spherical_earth::SphericalEarth;
use crate::{EffectiveEarth, Path};
use perchline_units::{Db, Metres};

/// The effective earth whose k of 3 is exceeded for the anomalous share of time
/// (section 3.5).
const ANOMALOUS: EffectiveEarth =
    EffectiveEarth::from_radius(Metres::new(3.0 * EARTH_RADIUS.value()));

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
    pub(super) fn of(path: &Path<'_>, shapes: &Shapes, anomaly: &Anomaly) -> Self {
        let median = over(path, &shapes.median);
        let anomalous = over(&path.with_earth(ANOMALOUS), &shapes.anomalous);
        let result = median.result + (anomalous.result - median.result) * anomaly.lean;
        Self { median, anomalous, result }
    }
}

/// The ground over both effective earths, the same at any frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shapes {
    pub(super) median: Shape,
    anomalous: Shape,
}

impl Shapes {
    pub(super) fn of(path: &Path<'_>, fit: (f64, f64)) -> Self {
        let heights = EffectiveHeights::over_fit(path, fit);
        Self {
            median: Shape::of(path, heights),
            anomalous: Shape::of(&path.with_earth(ANOMALOUS), heights),
        }
    }
}

/// The terms with cover on the real ground; the smooth earth has none.
pub(crate) fn over(path: &Path<'_>, shape: &Shape) -> delta_bullington::Terms {
    shape.terms(path, SphericalEarth::of(path))
}
