//! Scatter in the troposphere (P.1812 section 4.4).

use super::Geometry;
use crate::Path;
use perchline_units::Db;

/// Lbs of equations (44) and (45).
pub(super) fn loss(path: &Path<'_>, geometry: &Geometry) -> Db {
    let climate = path.climate();
    let frequency = path.frequency().value() / 1e3;
    let by_frequency = 25.0 * frequency.log10() - 2.5 * (0.5 * frequency).log10().powi(2);
    let p = climate.time.value();
    let by_time = if p < 50.0 {
        -10.125 * (50.0 / p).log10().powf(0.7)
    } else {
        10.125 * (p / 50.0).log10().powf(0.7)
    };
    Db::new(
        190.1
            + by_frequency
            + 20.0 * path.length().kilometres().log10()
            + 0.573 * geometry.path_angle.value()
            - 0.15 * climate.surface_refractivity
            + by_time,
    )
}
