//! What surrounds a pack: the forecast, a place indoors, the sun.

use jiff::ZonedDateTime;
use solar_positioning::time::JulianDate;
use solar_positioning::{Location, SolarPositions};

use perchline_plan::{Plan, Solar};
use perchline_units::{Celsius, Hours, Position, Watts};

use super::discharge::Surroundings;
use super::error::PowerError;
use super::weather::{Weather, after};

/// The air around a pack from a moment on.
#[derive(Debug, Clone)]
pub(super) struct SiteAir {
    from: ZonedDateTime,
    weather: Option<Weather>,
    kept_at: Option<Celsius>,
    offset: f64,
    panel: Option<Panel>,
}

/// A panel that lies flat under this sky.
#[derive(Debug, Clone, Copy)]
struct Panel {
    solar: Solar,
    at: Position,
    sky: f64,
}

/// Whether nothing says how warm a pack is.
const fn is_without(plan: &Plan, kept_at: Option<Celsius>) -> bool {
    plan.power.forecast.is_none() && kept_at.is_none()
}

/// Why stations and crews of a plan have no budget: nothing says how warm their packs
/// are. All of them, in the plan's order.
#[must_use]
pub fn without_temperature(plan: &Plan) -> Vec<PowerError> {
    let stations = plan.power.stations.iter();
    let stations = stations.map(|s| ("station", &s.name, s.supply.kept_at));
    let crews = plan.power.crews.iter().map(|crew| ("crew", &crew.name, crew.kept_at));
    let lacking = stations.chain(crews).filter(|(_, _, kept_at)| is_without(plan, *kept_at));
    lacking.map(|(kind, name, _)| PowerError::NoTemperature { kind, name: name.clone() }).collect()
}

impl SiteAir {
    /// The air of the plan's forecast, or of `kept_at`.
    ///
    /// # Errors
    /// [`PowerError::NoTemperature`] when there is neither.
    pub(super) fn new(
        plan: &Plan,
        from: &ZonedDateTime,
        kept_at: Option<Celsius>,
        (kind, name): (&'static str, &str),
    ) -> Result<Self, PowerError> {
        if is_without(plan, kept_at) {
            return Err(PowerError::NoTemperature { kind, name: name.to_owned() });
        }
        let weather = plan.power.forecast.as_ref().map(Weather::of);
        Ok(Self { from: from.clone(), weather, kept_at, offset: 0.0, panel: None })
    }

    /// The same with a panel at a place.
    pub(super) fn with_panel(mut self, plan: &Plan, solar: Solar, at: Position) -> Self {
        let sky = plan.power.forecast.as_ref().map_or(0.0, |f| f.sky);
        self.panel = Some(Panel { solar, at, sky });
        self
    }

    /// The same, warmer by so many degrees.
    pub(super) fn warmer(mut self, degrees: f64) -> Self {
        self.offset += degrees;
        self
    }

    /// The same with the sunshine times `factor`.
    pub(super) fn sunnier(mut self, factor: f64) -> Self {
        if let Some(panel) = &mut self.panel {
            panel.sky *= factor;
        }
        self
    }

    /// The same from a later moment on.
    pub(super) fn later(&self, time: Hours) -> Self {
        Self { from: after(&self.from, time), ..self.clone() }
    }

    /// Coldest and warmest over a time.
    pub(super) fn range(&self, time: Hours) -> (Celsius, Celsius) {
        let quarters = (time.value() * 4.0).ceil().max(0.0) as u32;
        let hours = (0..=quarters).map(|i| Hours::new((f64::from(i) / 4.0).min(time.value())));
        hours.map(|h| self.temperature(h)).fold(
            (Celsius::new(f64::INFINITY), Celsius::new(f64::NEG_INFINITY)),
            |(low, high), t| (low.min(t), high.max(t)),
        )
    }
}

impl Surroundings for SiteAir {
    fn temperature(&self, time: Hours) -> Celsius {
        let air = self
            .kept_at
            .or_else(|| self.weather.as_ref().map(|weather| weather.at(&after(&self.from, time))));
        // One of the two is there by construction.
        Celsius::new(air.map_or(f64::NAN, Celsius::value) + self.offset)
    }

    fn solar(&self, time: Hours) -> Watts {
        let Some(panel) = self.panel else { return Watts::new(0.0) };
        let sunshine = clear_sky(&after(&self.from, time), panel.at) * panel.sky;
        panel.solar.rating * (sunshine / FULL_SUN * panel.solar.efficiency)
    }
}

/// Sunshine at which panels are rated, W/m² (standard test conditions, IEC 60904-3).
const FULL_SUN: f64 = 1000.0;

/// Sunshine on level ground under a clear sky in W/m²: 1098 cos z exp(-0.057 / cos z)
/// with z the sun's distance from the zenith (B. Haurwitz, Journal of
/// Meteorology 2 (1945), in the form in common use; from memory).
fn clear_sky(moment: &ZonedDateTime, at: Position) -> f64 {
    let days = moment.timestamp().as_second() as f64 / 86_400.0;
    // The unix epoch is Julian date 2440587.5; the sun moves too little in the
    // minute and a bit between UTC and dynamical time to matter here.
    let cosine: f64 = JulianDate::new(days + 2_440_587.5, 70.0)
        .and_then(|julian| {
            let place =
                Location { latitude: at.latitude().value(), longitude: at.longitude().value() };
            SolarPositions::grena3().at_from_julian(julian, place, 0.0, None)
        })
        .map_or(0.0, |sun| sun.elevation_angle().to_radians().sin());
    if cosine <= 0.0 { 0.0 } else { 1098.0 * cosine * (-0.057 / cosine).exp() }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use perchline_units::Degrees;

    fn sunshine(moment: &str, latitude: f64, longitude: f64) -> f64 {
        let at = Position::new(Degrees::new(latitude), Degrees::new(longitude)).unwrap();
        clear_sky(&moment.parse().unwrap(), at)
    }

    /// By geometry: at the equinox the sun stands overhead on the equator at
    /// noon, where the formula gives 1098 exp(-0.057) = 1037 W/m²; at the winter
    /// solstice it stands 90 - 47 - 23.44 = 19.56 degrees high at 47 degrees
    /// north, cos z = 0.3348: 310 W/m². At night there is none.
    #[test]
    fn sunshine_follows_the_sun() {
        assert_abs_diff_eq!(sunshine("2026-03-20T12:07:00[UTC]", 0.0, 0.0), 1037.1, epsilon = 0.5);
        assert_abs_diff_eq!(sunshine("2026-12-21T11:58:00[UTC]", 47.0, 0.0), 310.0, epsilon = 2.0);
        // The same moment of the day two hours of sun farther west.
        assert_abs_diff_eq!(
            sunshine("2026-12-21T11:58:00-02:00[Etc/GMT+2]", 47.0, -30.0),
            sunshine("2026-12-21T11:58:00[UTC]", 47.0, 0.0),
            epsilon = 1.0
        );
        assert_abs_diff_eq!(sunshine("2026-12-21T23:58:00[UTC]", 47.0, 0.0), 0.0);
    }
}
