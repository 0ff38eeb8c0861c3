//! Noise at a receiver's input: its own, and what the surroundings add.

use serde::Serialize;

use perchline_plan::{Bandwidth, Environment};
use perchline_units::{Db, Dbm, Kilohertz, Megahertz};

use super::quality::sinad_over_noise;

/// What sets the noise at a receiver.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum NoiseSource {
    /// The receiver's own noise.
    Receiver,
    /// Man-made noise around the antenna.
    Environment,
}

/// Noise that transmitters on a receiver's own roof make at its input.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize)]
pub struct RoofNoise {
    /// What counts as always there; nothing if there is none.
    pub always: Option<Dbm>,
    /// What comes on top of it for a small share of the time.
    pub at_times: Option<NoiseAtTimes>,
}

/// Noise that is there for a share of the time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NoiseAtTimes {
    /// The noise while it is there.
    pub level: Dbm,
    /// Share of the time, 0 to 1, for which it is.
    pub share: f64,
}

/// A desense that is there for a share of the time.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DesenseAtTimes {
    /// Share of the time, 0 to 1.
    pub share: f64,
    /// What it then costs on top of the total.
    pub cost_db: Db,
}

/// Noise at a receiver's input, in the receiver's bandwidth.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct NoiseFloor {
    /// The receiver's own noise.
    pub receiver_dbm: Dbm,
    /// Man-made noise that arrives at the receiver.
    pub environment_dbm: Dbm,
    /// What transmitters on the same roof make in the receiver; nothing if the
    /// plan puts none there.
    pub roof_dbm: Option<Dbm>,
    /// All together. Receiver and surroundings alone are never below the worse
    /// of the two, at most 3 dB above it.
    pub total_dbm: Dbm,
    /// The larger of the two.
    pub governed_by: NoiseSource,
    /// What the environment costs against the receiver alone.
    pub environment_cost_db: Db,
    /// What the transmitters on the same roof cost on top: the desense.
    pub roof_cost_db: Db,
    /// What more some of them cost while they transmit, where that is so seldom
    /// that the total leaves it out.
    pub desense_at_times: Option<DesenseAtTimes>,
    /// Whether what is there without the roof was measured, not predicted.
    pub measured: bool,
}

/// Thermal noise at 290 K in a receiver of this bandwidth: no antenna hears less.
#[must_use]
pub fn thermal_noise(bandwidth: Bandwidth) -> Dbm {
    Dbm::new(THERMAL_DENSITY + 10.0 * (noise_bandwidth(bandwidth).value() * 1e3).log10())
}

impl NoiseFloor {
    /// The same where the whole floor was measured at the receiver's input; it is
    /// never below the receiver's own.
    #[must_use]
    pub fn measured(self, level: Option<Dbm>) -> Self {
        let Some(level) = level else { return self };
        let total = level.max(self.receiver_dbm);
        let power = |level: Dbm| 10f64.powf(level.value() / 10.0);
        // What is beyond the receiver's own, at least a thousandth of it.
        let own = power(self.receiver_dbm);
        let environment = Dbm::new(10.0 * (power(total) - own).max(own * 1e-3).log10());
        Self {
            environment_dbm: environment,
            total_dbm: total,
            governed_by: if environment > self.receiver_dbm {
                NoiseSource::Environment
            } else {
                NoiseSource::Receiver
            },
            environment_cost_db: total - self.receiver_dbm,
            measured: true,
            ..self
        }
    }

    /// The same with noise from transmitters on the receiver's own roof.
    #[must_use]
    pub fn with_roof(self, roof: RoofNoise) -> Self {
        let with = |noise: Option<Dbm>, total: Dbm| noise.map_or(total, |n| total.power_sum(n));
        let total = with(roof.always, self.total_dbm);
        let at_times = roof.at_times.map(|noise| DesenseAtTimes {
            share: noise.share,
            cost_db: with(Some(noise.level), total) - total,
        });
        Self {
            roof_dbm: roof.always,
            total_dbm: total,
            roof_cost_db: total - self.total_dbm,
            desense_at_times: at_times,
            ..self
        }
    }
}

/// Frequencies for which ITU-R P.372 gives its man-made noise: 0.3 to 250 MHz.
/// Above, the same line is prolonged and results say so.
pub const NOISE_VALID_TO: Megahertz = Megahertz::new(250.0);

/// Thermal noise density at 290 K, the reference of ITU-R P.372: 10 log(k T0) in dBm/Hz.
const THERMAL_DENSITY: f64 = -173.975;

/// Median external noise figure Fam, dB over k T0 b: the powers of man-made
/// noise, c - d log10(f) with the table of c and d for city, residential, rural
/// and quiet rural (ITU-R P.372, man-made noise), and of galactic noise,
/// 52 - 23 log10(f) (P.372, its curve E; from memory), added as P.372 combines
/// noises of several sources.
#[must_use]
pub fn external_noise_figure(environment: Environment, frequency: Megahertz) -> Db {
    let (c, d) = match environment {
        Environment::City => (76.8, 27.7),
        Environment::Residential => (72.5, 27.7),
        Environment::Rural => (67.2, 27.7),
        Environment::QuietRural => (53.6, 28.6),
    };
    let decades = frequency.value().log10();
    let sources = [c - d * decades, 52.0 - 23.0 * decades];
    Db::new(10.0 * sources.map(|figure| 10f64.powf(figure / 10.0)).iter().sum::<f64>().log10())
}

/// Equivalent noise bandwidth of an FM receiver: 7.8 kHz for 12.5 kHz channels,
/// 12.6 kHz for 25 kHz channels (TIA TSB-88, typical receivers, from memory).
#[must_use]
pub const fn noise_bandwidth(bandwidth: Bandwidth) -> Kilohertz {
    match bandwidth {
        Bandwidth::Narrow => Kilohertz::new(7.8),
        Bandwidth::Wide => Kilohertz::new(12.6),
    }
}

/// The noise at a receiver whose antenna stands in `environment`.
///
/// The receiver's own noise is its 12 dB SINAD sensitivity less the carrier
/// over noise of that point. External noise arrives through the same losses as
/// the signal (`antenna_circuit_loss`: feed line, filters, and what an antenna
/// wastes against a dipole; ITU-R P.372 section 2, factor lc). Body loss does
/// not lessen it: a body shades one direction, noise comes from all.
#[must_use]
pub fn noise_floor(
    sensitivity: Dbm,
    bandwidth: Bandwidth,
    environment: Environment,
    frequency: Megahertz,
    antenna_circuit_loss: Db,
) -> NoiseFloor {
    let receiver = sensitivity - sinad_over_noise(bandwidth);
    let hertz = noise_bandwidth(bandwidth).value() * 1e3;
    let environment = Dbm::new(THERMAL_DENSITY + 10.0 * hertz.log10())
        + external_noise_figure(environment, frequency)
        - antenna_circuit_loss;
    let total = receiver.power_sum(environment);
    NoiseFloor {
        receiver_dbm: receiver,
        environment_dbm: environment,
        roof_dbm: None,
        total_dbm: total,
        governed_by: if environment > receiver {
            NoiseSource::Environment
        } else {
            NoiseSource::Receiver
        },
        environment_cost_db: total - receiver,
        roof_cost_db: Db::new(0.0),
        desense_at_times: None,
        measured: false,
    }
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;

    /// Source: ITU-R P.372, table of c and d (from memory), added by hand to
    /// 52 - 23 log f. At 1 MHz, city 76.8 and the sky 52: 10 log(10^7.68 +
    /// 10^5.2) = 76.814. Residential at 10 MHz, 44.8 and 29: 44.913. Rural at
    /// 100 MHz, 11.8 and 6: 12.814. Quiet rural at 10 MHz, 25 and 29: 30.455.
    /// City at 146 MHz, 16.850 and 2.220: 16.995.
    #[test]
    fn powers_of_man_made_and_galactic_noise_add() {
        let figure = |e, mhz| external_noise_figure(e, Megahertz::new(mhz)).value();
        for (environment, mhz, by_hand) in [
            (Environment::City, 1.0, 76.814),
            (Environment::Residential, 10.0, 44.913),
            (Environment::Rural, 100.0, 12.814),
            (Environment::QuietRural, 10.0, 30.455),
            (Environment::City, 146.0, 16.995),
        ] {
            assert_abs_diff_eq!(figure(environment, mhz), by_hand, epsilon = 2e-3);
        }
    }

    /// Source: ITU-R P.372, median man-made noise over the whole of its plotted
    /// range, 0.3 to 250 MHz: points of the straight lines, worked out by hand
    /// from c and d (from memory) and rounded to half a decibel, and the sky's
    /// power added.
    #[test]
    fn noise_figures_lie_on_the_plotted_lines_and_the_sky_s_above() {
        let figure = |e, mhz| external_noise_figure(e, Megahertz::new(mhz)).value();
        for (environment, plotted) in [
            (Environment::City, [(0.3, 91.5), (10.0, 49.0), (100.0, 21.5), (250.0, 10.5)]),
            (Environment::Residential, [(0.3, 87.0), (10.0, 45.0), (100.0, 17.0), (250.0, 6.0)]),
            (Environment::Rural, [(0.3, 81.5), (10.0, 39.5), (100.0, 12.0), (250.0, 1.0)]),
        ] {
            for (mhz, man_made) in plotted {
                let sky = 52.0 - 23.0 * f64::log10(mhz);
                let sum = Dbm::new(man_made).power_sum(Dbm::new(sky)).value();
                assert_abs_diff_eq!(figure(environment, mhz), sum, epsilon = 0.5);
                assert!(figure(environment, mhz) > sky);
            }
        }
        // Quiet rural at 0.3 MHz, 68.555 and the sky's 64.026.
        assert_abs_diff_eq!(figure(Environment::QuietRural, 0.3), 69.867, epsilon = 2e-3);
    }

    #[test]
    fn the_sum_is_between_the_worse_and_3_db_above_it() {
        for mhz in [30.0, 147.0, 446.0, 900.0] {
            for environment in [Environment::City, Environment::QuietRural] {
                let floor = noise_floor(
                    Dbm::from_microvolts(0.25),
                    Bandwidth::Narrow,
                    environment,
                    Megahertz::new(mhz),
                    Db::new(2.0),
                );
                let worse = floor.receiver_dbm.max(floor.environment_dbm);
                assert!(floor.total_dbm >= worse);
                assert!((floor.total_dbm - worse).value() <= 3.0103);
            }
        }
    }

    /// A receiver in the country, with nothing on its roof.
    fn quiet() -> NoiseFloor {
        noise_floor(
            Dbm::from_microvolts(0.25),
            Bandwidth::Narrow,
            Environment::Rural,
            Megahertz::new(147.0),
            Db::new(2.0),
        )
    }

    /// By definition: noise as strong as the floor doubles it, 3.01 dB.
    #[test]
    fn transmitters_on_the_roof_add_their_noise() {
        let quiet = quiet();
        let always = |level| RoofNoise { always: Some(level), at_times: None };
        assert_eq!(quiet.with_roof(RoofNoise::default()), quiet);
        let doubled = quiet.with_roof(always(quiet.total_dbm));
        assert_abs_diff_eq!(doubled.roof_cost_db.value(), 3.0103, epsilon = 1e-4);
        assert_abs_diff_eq!((doubled.total_dbm - quiet.total_dbm).value(), 3.0103, epsilon = 1e-4);
        assert_eq!(doubled.environment_cost_db, quiet.environment_cost_db);
    }

    /// By hand: noise nine times as strong as the floor makes ten of it, 10 dB,
    /// and on a floor that is doubled 5.5 of one: 10 log 5.5 = 7.404 dB.
    #[test]
    fn noise_at_times_leaves_the_floor_and_states_its_cost() {
        let quiet = quiet();
        let level = quiet.total_dbm + Db::new(10.0 * 9f64.log10());
        let at_times = Some(NoiseAtTimes { level, share: 0.02 });
        let found = quiet.with_roof(RoofNoise { always: None, at_times });
        assert_eq!((found.total_dbm, found.roof_cost_db), (quiet.total_dbm, Db::new(0.0)));
        let desense = found.desense_at_times.unwrap();
        assert_eq!(desense.share, 0.02);
        assert_abs_diff_eq!(desense.cost_db.value(), 10.0, epsilon = 1e-9);
        let both = quiet.with_roof(RoofNoise { always: Some(quiet.total_dbm), at_times });
        assert_abs_diff_eq!(both.roof_cost_db.value(), 3.0103, epsilon = 1e-4);
        let desense = both.desense_at_times.unwrap().cost_db;
        assert_abs_diff_eq!(desense.value(), 7.4036, epsilon = 1e-4);
    }

    /// Common practice, no source: in a city at 2 m the environment, not the
    /// receiver, sets the noise.
    #[test]
    fn city_noise_governs_at_two_metres() {
        let floor = noise_floor(
            Dbm::from_microvolts(0.25),
            Bandwidth::Wide,
            Environment::City,
            Megahertz::new(147.0),
            Db::new(0.0),
        );
        assert_eq!(floor.governed_by, NoiseSource::Environment);
        assert!(floor.environment_cost_db > Db::new(6.0));
    }

    /// By hand: 10 log(7800) = 38.92 dB over -173.975 dBm/Hz, P.372's 11.8 dB
    /// for rural at 100 MHz and the sky's 6 dB, together 12.814 dB, less 2 dB of line; the receiver's own noise is its
    /// sensitivity less 7 dB.
    #[test]
    fn the_floor_is_the_sum_of_its_two_parts() {
        let floor = |microvolts: f64| {
            noise_floor(
                Dbm::from_microvolts(microvolts),
                Bandwidth::Narrow,
                Environment::Rural,
                Megahertz::new(100.0),
                Db::new(2.0),
            )
        };
        let found = floor(0.25);
        let outside = -173.975 + 38.921 + 12.814 - 2.0;
        assert_abs_diff_eq!(found.environment_dbm.value(), outside, epsilon = 2e-3);
        // 0.25 uV over 50 ohms are -119.03 dBm.
        assert_abs_diff_eq!(found.receiver_dbm.value(), -126.03, epsilon = 0.01);
        let sum = 10.0 * (10f64.powf(-12.603) + 10f64.powf(outside / 10.0)).log10();
        assert_abs_diff_eq!(found.total_dbm.value(), sum, epsilon = 0.01);
        let cost = found.total_dbm - found.receiver_dbm;
        assert_abs_diff_eq!(found.environment_cost_db.value(), cost.value(), epsilon = 1e-12);
        assert_eq!((found.roof_cost_db, found.roof_dbm), (Db::new(0.0), None));
        assert_eq!(found.governed_by, NoiseSource::Environment);
        assert_eq!(floor(0.35).governed_by, NoiseSource::Receiver);
        let roof = Some(Dbm::new(-118.0));
        let with_roof = found.with_roof(RoofNoise { always: roof, at_times: None });
        assert_eq!((with_roof.roof_dbm, with_roof.desense_at_times), (roof, None));
    }

    /// By hand: a floor of -115 dBm on a receiver of -126.03 dBm: the surroundings
    /// make 10 log(10^-11.5 - 10^-12.603) = -115.357 dBm and cost 11.03 dB. One
    /// below the receiver's own changes nothing but the surroundings.
    #[test]
    fn a_measured_floor_stands_in_for_the_table_s() {
        let predicted = noise_floor(
            Dbm::from_microvolts(0.25),
            Bandwidth::Narrow,
            Environment::Rural,
            Megahertz::new(147.0),
            Db::new(0.0),
        );
        assert_eq!(predicted.measured(None), predicted);
        let floor = predicted.measured(Some(Dbm::new(-115.0)));
        assert_eq!((floor.total_dbm, floor.measured), (Dbm::new(-115.0), true));
        assert_abs_diff_eq!(floor.environment_dbm.value(), -115.357, epsilon = 2e-3);
        assert_abs_diff_eq!(floor.environment_cost_db.value(), 11.03, epsilon = 0.01);
        assert_eq!(floor.governed_by, NoiseSource::Environment);
        let low = predicted.measured(Some(Dbm::new(-130.0)));
        assert_eq!((low.total_dbm, low.governed_by), (low.receiver_dbm, NoiseSource::Receiver));
        // 7.8 kHz: -173.975 + 38.92 dB.
        assert_abs_diff_eq!(thermal_noise(Bandwidth::Narrow).value(), -135.05, epsilon = 0.01);
    }

    #[test]
    fn a_wider_channel_lets_more_noise_in() {
        let [narrow, wide] = [Bandwidth::Narrow, Bandwidth::Wide].map(noise_bandwidth);
        assert_eq!((narrow, wide), (Kilohertz::new(7.8), Kilohertz::new(12.6)));
    }
}
