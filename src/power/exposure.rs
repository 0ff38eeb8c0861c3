//! How far people have to stay from an antenna: limits and far-field formulas.
//!
//! Sources: FCC OET Bulletin 65, edition 97-01, section 2 and appendix A
//! (limits), and ICNIRP 2020, tables of whole-body reference levels (both from
//! memory; the check values beside the tests are theirs).
//!
//! The licensee of a station remains responsible for what it radiates. Beside the face
//! a hand-held is in its near field: no distance of these formulas holds there.

use std::f64::consts::PI;

use serde::Serialize;

use perchline_link::{feed_loss, frequencies};
use perchline_plan::{Exposure, ExposureStandard, Plan, Service, Station};
use perchline_units::{Dbm, Megahertz, Metres};

/// Who is there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum People {
    /// People who know of the transmitter and can leave: controlled or
    /// occupational exposure.
    Controlled,
    /// Anybody: uncontrolled exposure, the general public.
    Uncontrolled,
}

/// What the ground or the roof adds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Reflection {
    /// Nothing: S = EIRP / 4 pi R² (OET 65 equation 4).
    None,
    /// A field stronger by 1.6, power density by 2.56: S = 0.64 EIRP / pi R²
    /// (OET 65 equation 7).
    Ground,
}

impl Reflection {
    /// Factor on power density.
    const fn factor(self) -> f64 {
        match self {
            Self::None => 1.0,
            Self::Ground => 2.56,
        }
    }
}

/// The highest allowed power density in W/m², averaged over
/// [`averaging_minutes`]; nothing outside of the frequencies for which power
/// density is limited here, 30 MHz to 6 GHz.
///
/// OET 65 appendix A table 1: controlled 1 mW/cm² from 30 to 300 MHz, f/300 up
/// to 1500, 5 above; uncontrolled 0.2, f/1500, 1. ICNIRP 2020 whole body: controlled
/// 10 W/m² from 30 to 400 MHz, f/40 up to 2000, 50 above; uncontrolled a fifth.
#[must_use]
pub fn limit(standard: ExposureStandard, people: People, frequency: Megahertz) -> Option<f64> {
    let f = frequency.value();
    if !(30.0..=6000.0).contains(&f) {
        return None;
    }
    let controlled = match standard {
        ExposureStandard::Oet65 if f <= 300.0 => 10.0,
        ExposureStandard::Oet65 if f <= 1500.0 => 10.0 * f / 300.0,
        ExposureStandard::Oet65 => 50.0,
        ExposureStandard::Icnirp2020 if f <= 400.0 => 10.0,
        ExposureStandard::Icnirp2020 if f <= 2000.0 => f / 40.0,
        ExposureStandard::Icnirp2020 => 50.0,
    };
    Some(match people {
        People::Controlled => controlled,
        People::Uncontrolled => controlled / 5.0,
    })
}

/// Minutes over which exposure is averaged: OET 65 six for controlled exposure and
/// thirty for uncontrolled; ICNIRP 2020 thirty for both (whole body).
#[must_use]
pub const fn averaging_minutes(standard: ExposureStandard, people: People) -> u32 {
    match (standard, people) {
        (ExposureStandard::Oet65, People::Controlled) => 6,
        (ExposureStandard::Oet65, People::Uncontrolled) | (ExposureStandard::Icnirp2020, _) => 30,
    }
}

/// Power density in W/m² at a distance from an antenna that radiates `eirp`
/// watts over an isotropic one, in its far field.
#[must_use]
pub fn power_density(eirp: f64, distance: Metres, reflection: Reflection) -> f64 {
    reflection.factor() * eirp / (4.0 * PI * distance.value() * distance.value())
}

/// The distance at which power density is down to `limit` W/m².
#[must_use]
pub fn far_field_distance(eirp: f64, limit: f64, reflection: Reflection) -> Metres {
    Metres::new((reflection.factor() * eirp / (4.0 * PI * limit)).sqrt())
}

/// Distances to keep from one antenna.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Distances {
    /// Who is there.
    pub people: People,
    /// The limit, W/m².
    pub limit_w_m2: f64,
    /// Keyed without a pause, no reflection.
    pub keyed_free_m: Metres,
    /// Keyed without a pause, with the ground's reflection.
    pub keyed_reflected_m: Metres,
    /// Averaged over the station's traffic, no reflection.
    pub averaged_free_m: Metres,
    /// Averaged over the station's traffic, with the ground's reflection.
    pub averaged_reflected_m: Metres,
    /// The distance that is drawn: keyed without a pause, so that no busy spell
    /// oversteps it, with the reflection if the plan counts it.
    pub keep_m: Metres,
}

/// Exposure around one station.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct StationExposure {
    /// The station.
    pub station: String,
    /// Whose limits.
    pub standard: ExposureStandard,
    /// Where it transmits.
    pub frequency_mhz: Megahertz,
    /// What its antenna radiates in the main beam over an isotropic one, watts.
    pub eirp_w: f64,
    /// Share of an averaging time for which it is taken as keyed: twice the
    /// plan's, since the busiest half hour is busier than the average (common
    /// practice, no source).
    pub duty: f64,
    /// For controlled (occupational) exposure.
    pub controlled: Distances,
    /// For uncontrolled (general public) exposure.
    pub uncontrolled: Distances,
}

/// Exposure around every station of a plan, in its order; a station outside of
/// 30 to 6000 MHz has none.
#[must_use]
pub fn exposures(plan: &Plan) -> Vec<StationExposure> {
    plan.power.stations.iter().filter_map(|station| exposure(plan, station)).collect()
}

fn exposure(plan: &Plan, station: &Station) -> Option<StationExposure> {
    let channel = plan.channels.get(station.channel)?;
    let (Service::Relay { station: radio, .. } | Service::Packet { station: radio, .. }) =
        channel.service
    else {
        return None;
    };
    let radio = plan.radios.get(radio)?;
    let (_, frequency) = frequencies(&channel.service);
    let radiated: Dbm = radio.power - feed_loss(radio, frequency) - radio.filter_loss
        + radio.antenna_at(frequency).gain.over_isotropic();
    let eirp = radiated.watts();
    let duty = (2.0 * station.traffic.keyed).min(1.0);
    let around = |people| distances(plan.power.exposure, people, frequency, eirp, duty);
    Some(StationExposure {
        station: station.name.clone(),
        standard: plan.power.exposure.standard,
        frequency_mhz: frequency,
        eirp_w: eirp,
        duty,
        controlled: around(People::Controlled)?,
        uncontrolled: around(People::Uncontrolled)?,
    })
}

/// Distances from an antenna; none is less than the reach of its reactive near
/// field, a wavelength over 2 pi, within which the formulas say nothing.
fn distances(
    asked: Exposure,
    people: People,
    frequency: Megahertz,
    eirp: f64,
    duty: f64,
) -> Option<Distances> {
    let limit = limit(asked.standard, people, frequency)?;
    let near = Metres::new(frequency.wavelength().value() / (2.0 * PI));
    let away = |eirp, reflection| far_field_distance(eirp, limit, reflection).max(near);
    let keyed_free = away(eirp, Reflection::None);
    let keyed_reflected = away(eirp, Reflection::Ground);
    Some(Distances {
        people,
        limit_w_m2: limit,
        keyed_free_m: keyed_free,
        keyed_reflected_m: keyed_reflected,
        averaged_free_m: away(eirp * duty, Reflection::None),
        averaged_reflected_m: away(eirp * duty, Reflection::Ground),
        keep_m: if asked.reflection { keyed_reflected } else { keyed_free },
    })
}
