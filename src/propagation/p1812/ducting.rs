//! Ducts near the ground and reflecting layers (P.1812 section 4.5).

use super::{Anomaly, Geometry};
use crate::Path;
use perchline_units::{Db, Metres};

/// Lba of equation (46).
pub(super) fn loss(path: &Path<'_>, geometry: &Geometry, anomaly: &Anomaly) -> Db {
    let along = along_duct(path, geometry, anomaly);
    Db::new(into_duct(path, geometry) + along)
}

/// Af of equation (47): what it costs to couple both antennas to the duct.
fn into_duct(path: &Path<'_>, geometry: &Geometry) -> f64 {
    let f = path.frequency().value() / 1e3;
    let (dlt, dlr) =
        (geometry.transmitter_horizon.kilometres(), geometry.receiver_horizon.kilometres());
    let low_frequency = if f < 0.5 { 45.375 + (92.5 * f - 137.0) * f } else { 0.0 };
    // Site shielding, equation (48).
    let shielding = |elevation: f64, horizon: f64| {
        let above = elevation - 0.1 * horizon;
        if above > 0.0 {
            20.0 * (1.0 + 0.361 * above * (f * horizon).sqrt()).log10() + 0.264 * above * f.cbrt()
        } else {
            0.0
        }
    };
    // Ducts over the sea near either end, equation (49).
    let climate = path.climate();
    let over_sea = |coast: Metres, horizon: f64, altitude: Metres| {
        let coast = coast.kilometres();
        if climate.sea_share >= 0.75 && coast <= horizon && coast <= 5.0 {
            -3.0 * (-0.25 * coast * coast).exp() * (1.0 + (0.07 * (50.0 - altitude.value())).tanh())
        } else {
            0.0
        }
    };
    102.45
        + 20.0 * f.log10()
        + 20.0 * (dlt + dlr).log10()
        + low_frequency
        + shielding(geometry.transmitter_elevation.value(), dlt)
        + shielding(geometry.receiver_elevation.value(), dlr)
        + over_sea(climate.transmitter_to_coast, dlt, geometry.transmitter_altitude)
        + over_sea(climate.receiver_to_coast, dlr, geometry.receiver_altitude)
}

/// Ad(p) of equation (50): what is lost along the duct for the share of time.
fn along_duct(path: &Path<'_>, geometry: &Geometry, anomaly: &Anomaly) -> f64 {
    let f = path.frequency().value() / 1e3;
    let d = path.length().kilometres();
    let radius = path.earth().radius().kilometres();
    let (dlt, dlr) =
        (geometry.transmitter_horizon.kilometres(), geometry.receiver_horizon.kilometres());

    // Equations (51) and (52).
    let per_milliradian = 5e-5 * radius * f.cbrt();
    let angle = 1e3 * d / radius
        + geometry.transmitter_elevation.value().min(0.1 * dlt)
        + geometry.receiver_elevation.value().min(0.1 * dlr);

    // Equations (55): long paths, and high antennas.
    let alpha = (-0.6 - 3.5e-9 * d.powf(3.1) * anomaly.inland).max(-3.4);
    let roots = geometry.ducting_transmitter.value().max(0.0).sqrt()
        + geometry.ducting_receiver.value().max(0.0).sqrt();
    let mu2 = (500.0 / radius * (d / roots).powi(2)).powf(alpha).min(1.0);
    // Equation (56): rough ground.
    let roughness = geometry.roughness.value();
    let mu3 = if roughness <= 10.0 {
        1.0
    } else {
        let between = (d - dlt - dlr).min(40.0);
        (-4.6e-5 * (roughness - 10.0) * (43.0 + 6.0 * between)).exp()
    };
    // Equations (53) and (54). The floor keeps the logarithm of a vanishing
    // share finite; at 1e-30 % there is no duct.
    let beta = (anomaly.time.value() * mu2 * mu3).max(1e-30);
    let log_beta = beta.log10();
    let gamma = 1.076 / (2.0058 - log_beta).powf(1.012)
        * (-(9.51 - 4.8 * log_beta + 0.198 * log_beta * log_beta) * 1e-6 * d.powf(1.13)).exp();
    let ratio = anomaly.asked / beta;
    let by_time = -12.0 + (1.2 + 3.7e-3 * d) * ratio.log10() + 12.0 * ratio.powf(gamma);
    per_milliradian * angle + by_time
}
