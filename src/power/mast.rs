//! Wind on a mast, and the ballast that it asks for: an estimate.

use serde::{Deserialize, Serialize};

use perchline_plan::{Channel, Plan, Site, Stands, Station};
use perchline_units::{Kilograms, Metres, MetresPerSecond};

/// Gust where the forecast states none (common practice, no source: the wind
/// in which a portable mast comes down anyway).
const DEFAULT_GUST: MetresPerSecond = MetresPerSecond::new(20.0);

/// Air density at 0 °C, kg/m³ (international standard atmosphere at that temperature).
const AIR_DENSITY: f64 = 1.29;

/// Force coefficient of a round pole (from memory of handbooks; 1.2 below the
/// drag crisis).
const FORCE_COEFFICIENT: f64 = 1.2;

/// Area of a pole of 50 mm with a thin antenna on it, m² for each metre of
/// mast, and for the antenna (common practice, no source).
const AREA_A_METRE: f64 = 0.05;
const ANTENNA_AREA: f64 = 0.05;

/// The side of a mast's square foot (common practice, no source).
pub const FOOT_SIDE: Metres = Metres::new(1.2);

/// Distance from the pole to the edge over which its foot would tip, metres.
const FOOT: f64 = 0.5 * FOOT_SIDE.value();

/// What is asked for over what is worked out (common practice, no source).
const SAFETY: f64 = 1.5;

/// What is kept from a power line beyond the mast's length: 10 ft, what people who
/// are not trained for lines keep from those of up to 50 kV (29 CFR 1910.333(c)(3),
/// from memory).
const FROM_A_LINE: Metres = Metres::new(3.05);

/// Half of the antenna, which stands above its own middle (common practice, no source:
/// a collinear for 2 m of some 3 m).
const HALF_ANTENNA: Metres = Metres::new(1.5);

/// How far an antenna whose middle is this high over its roof has to stand from any
/// power line: farther than the mast and half the antenna reach when they fall, with
/// 3.05 m (10 ft) kept from the line (29 CFR 1910.333(c)(3), from memory), and farther
/// than one and a half times the height (common practice, no source).
#[must_use]
pub fn clear_of_lines(antenna: Metres) -> Metres {
    (antenna * 1.5).max(antenna + HALF_ANTENNA + FROM_A_LINE)
}

/// Whether the power line that the plan states for a site forbids an antenna at this
/// height over its roof. A line of which the plan says nothing is not known, and
/// forbids nothing here.
#[must_use]
pub fn line_forbids(site: &Site, antenna: Metres) -> bool {
    site.power_line.is_some_and(|away| away <= clear_of_lines(antenna))
}

/// Steps in which a lower mast is looked for.
const LOWER_BY: Metres = Metres::new(0.5);

/// A planned mast that may fall into the power line which the plan states for its site.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct RefusedMast {
    /// Height of the antenna over the roof, as planned.
    pub planned_m: Metres,
    /// How far the line is.
    pub power_line_m: Metres,
    /// It has to be farther than this.
    pub clear_of_lines_m: Metres,
    /// The highest lower mast, in steps of half a metre, that the line does not forbid;
    /// 0 for the antenna on the roof itself, nothing where it forbids that too.
    pub allowed_m: Option<Metres>,
}

/// Whether a power line forbids the antenna of `channel` at its planned height on a
/// site, and which lower mast it does not.
#[must_use]
pub fn refused_mast(plan: &Plan, channel: &Channel, site: &Site) -> Option<RefusedMast> {
    let power_line_m = site.power_line?;
    let station = plan.power.stations.iter().find(|s| plan.is_channel(s.channel, channel));
    let planned_m = wind_load_on(plan, station, site).height_m;
    line_forbids(site, planned_m).then(|| {
        let steps = (planned_m.value() / LOWER_BY.value()).ceil().clamp(0.0, 1000.0) as u32;
        let lower = (0..steps).rev().map(|step| LOWER_BY * f64::from(step));
        RefusedMast {
            planned_m,
            power_line_m,
            clear_of_lines_m: clear_of_lines(planned_m),
            allowed_m: lower.into_iter().find(|mast| !line_forbids(site, *mast)),
        }
    })
}

/// Whether a station of `channel` may stand on a site as the plan has it: the site may
/// be used, and no stated power line is in reach of the mast.
#[must_use]
pub fn may_stand(plan: &Plan, channel: &Channel, site: &Site) -> bool {
    site.available && refused_mast(plan, channel, site).is_none()
}

/// Acceleration of gravity, m/s² (standard value).
pub(super) const GRAVITY: f64 = 9.806_65;

/// Wind on one station's mast.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct WindLoad {
    /// The station.
    pub station: String,
    /// Height of the antenna's middle above the roof.
    pub height_m: Metres,
    /// The gust reckoned with.
    pub gust_m_s: MetresPerSecond,
    /// Whether the forecast stated it.
    pub gust_is_forecast: bool,
    /// Area turned to the wind, m².
    pub area_m2: f64,
    /// Force in newtons, taken to act at the antenna.
    pub force_n: f64,
    /// Ballast on a square foot of [`FOOT_SIDE`].
    pub ballast_kg: Kilograms,
    /// Keep farther than this from any overhead line, in all directions: the mast may
    /// fall any way ([`clear_of_lines`]).
    pub clear_of_lines_m: Metres,
}

/// Force of a gust on an area, in newtons: half the air's density times speed
/// squared times area times the force coefficient.
#[must_use]
pub fn wind_force(gust: MetresPerSecond, area_m2: f64) -> f64 {
    0.5 * AIR_DENSITY * gust.value() * gust.value() * area_m2 * FORCE_COEFFICIENT
}

/// Ballast that keeps a mast of this height upright under `force` newtons at
/// its top.
#[must_use]
pub fn ballast(force: f64, height: Metres) -> Kilograms {
    Kilograms::new(SAFETY * force * height.value() / (FOOT * GRAVITY))
}

/// Height of a station's antenna above its roof: its own, that of its site's
/// mast, or the highest mast of any site where the site is open.
#[must_use]
pub fn antenna_height(plan: &Plan, station: &Station) -> Metres {
    let highest = || plan.sites.iter().map(|s| s.mast).fold(Metres::new(0.0), Metres::max);
    let site = match station.stands {
        Stands::On(site) => Some(site),
        Stands::Beside(other) => plan.power.stations.get(other).and_then(|s| match s.stands {
            Stands::On(site) => Some(site),
            _ => None,
        }),
        Stands::Anywhere => None,
    };
    station
        .roof
        .antenna
        .or_else(|| site.and_then(|s| plan.sites.get(s)).map(|s| s.mast))
        .unwrap_or_else(highest)
}

/// Wind on the mast of every station of a plan, in its order.
#[must_use]
pub fn wind_loads(plan: &Plan) -> Vec<WindLoad> {
    let of = |station| load_at(plan, Some(station), antenna_height(plan, station));
    plan.power.stations.iter().map(of).collect()
}

/// Wind on the mast of a station if it stands on this site, wherever the plan puts
/// it; on the site's mast where the plan has no station.
#[must_use]
pub fn wind_load_on(plan: &Plan, station: Option<&Station>, site: &Site) -> WindLoad {
    let own = station.and_then(|station| station.roof.antenna);
    load_at(plan, station, own.unwrap_or(site.mast))
}

fn load_at(plan: &Plan, station: Option<&Station>, height: Metres) -> WindLoad {
    let forecast = plan.power.forecast.as_ref().and_then(|f| f.gust);
    let gust = forecast.unwrap_or(DEFAULT_GUST);
    let area = station
        .and_then(|station| station.roof.wind_area_m2)
        .unwrap_or(AREA_A_METRE * height.value() + ANTENNA_AREA);
    let force = wind_force(gust, area);
    WindLoad {
        station: station.map_or_else(String::new, |station| station.name.clone()),
        height_m: height,
        gust_m_s: gust,
        gust_is_forecast: forecast.is_some(),
        area_m2: area,
        force_n: force,
        ballast_kg: ballast(force, height),
        clear_of_lines_m: clear_of_lines(height),
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_relative_eq;

    use super::*;

    /// By hand: 20 m/s on 0.25 m² is 0.5 x 1.29 x 400 x 0.25 x 1.2 = 77.4 N; 3 m
    /// up that is 232.2 Nm, 348.3 with the safety, over 0.6 m 580.5 N or 59.2 kg.
    #[test]
    fn force_and_ballast_by_hand() {
        let force = wind_force(MetresPerSecond::new(20.0), 0.25);
        assert_relative_eq!(force, 77.4, max_relative = 1e-9);
        let kilograms = ballast(force, Metres::new(3.0)).value();
        assert_relative_eq!(kilograms, 59.2, max_relative = 1e-3);
    }

    /// By hand: 3 m fall 3 + 1.5 m far, and 3.05 m more are kept: 7.55 m; at 10 m half
    /// of the height again is more: 15 m.
    #[test]
    fn a_fallen_mast_stays_clear_of_lines() {
        assert_relative_eq!(clear_of_lines(Metres::new(3.0)).value(), 7.55, epsilon = 1e-9);
        assert_relative_eq!(clear_of_lines(Metres::new(10.0)).value(), 15.0, epsilon = 1e-9);
        assert_relative_eq!(clear_of_lines(Metres::new(0.0)).value(), 4.55, epsilon = 1e-9);
    }
}
