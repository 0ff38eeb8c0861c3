//! Two hand-helds side by side, each on its channel: what one does to the other
//! while it sends.

use serde::Serialize;

use super::isolation::{Separation, is_stretched, slant};
use super::sharing::{OVERLOAD, TOLERATED, typical_noise_below_carrier, typical_rejection};
use perchline_link::noise_floor;
use perchline_plan::{Environment, Radio};
use perchline_units::{Db, Dbm, Kilohertz, Megahertz, Metres};

/// How far two radios of one person are apart: one worn, one in the hand or on a
/// table (common practice, no source).
pub const AT_ARMS_LENGTH: Metres = Metres::new(1.0);

/// The farthest that two people of one post go from each other (ours).
pub const FARTHEST: Metres = Metres::new(200.0);

/// What the radio that sends does to the one that listens, in the worse of both
/// directions.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct TwoRadios {
    /// How far they are apart.
    pub apart_m: Metres,
    /// Between the two frequencies.
    pub offset: Kilohertz,
    /// By how much the receiver is desensed while the other sends.
    pub desense_db: Db,
    /// Whether its front end is overloaded, so that it is worse than stated.
    pub overloaded: bool,
    /// Whether the antennas are nearer than the isolation formulas reach.
    pub stretched: bool,
    /// How far apart they must be for a desense that is accepted, up to
    /// [`FARTHEST`]; nothing if that is not enough.
    pub needed_m: Option<Metres>,
}

impl TwoRadios {
    /// Whether the desense is more than is accepted.
    #[must_use]
    pub fn matters(&self) -> bool {
        self.desense_db > TOLERATED || self.overloaded
    }
}

/// Two radios [`AT_ARMS_LENGTH`] in `environment`, each on its frequency, bodies
/// left out.
///
/// Isolation as between antennas of a roof ([`slant`]), noise and selectivity as
/// of stations for which the plan states none (see [`super::sharing`]).
#[must_use]
pub fn two_radios(
    radios: [&Radio; 2],
    frequencies: [Megahertz; 2],
    environment: Environment,
) -> TwoRadios {
    let [one, other] = radios;
    let [first, second] = frequencies;
    let worse = |apart: Metres| {
        let there = desense((one, first), (other, second), environment, apart);
        let back = desense((other, second), (one, first), environment, apart);
        (there.0.max(back.0), there.1.max(back.1))
    };
    let (desense_db, level) = worse(AT_ARMS_LENGTH);
    let is_enough = |apart: &Metres| {
        let (desense, level) = worse(*apart);
        desense <= TOLERATED && level <= OVERLOAD
    };
    let separation = Separation { along_m: AT_ARMS_LENGTH, height_m: Metres::new(0.0) };
    TwoRadios {
        apart_m: AT_ARMS_LENGTH,
        offset: offset(first, second),
        desense_db,
        overloaded: level > OVERLOAD,
        stretched: is_stretched(separation, first),
        needed_m: (1..)
            .map(|metres| Metres::new(f64::from(metres)))
            .take_while(|apart| *apart <= FARTHEST)
            .find(is_enough),
    }
}

fn offset(one: Megahertz, other: Megahertz) -> Kilohertz {
    Kilohertz::new((one.value() - other.value()).abs() * 1e3)
}

/// The desense of `to` while `from` sends, and the level at its input.
fn desense(
    from: (&Radio, Megahertz),
    to: (&Radio, Megahertz),
    environment: Environment,
    apart: Metres,
) -> (Db, Dbm) {
    let ((sender, transmit), (receiver, receive)) = (from, to);
    let separation = Separation { along_m: apart, height_m: Metres::new(0.0) };
    let receiver_gain = receiver.antenna_at(receive).gain;
    let gains = (sender.antenna_at(transmit).gain, receiver_gain);
    let level = sender.power - slant(separation, transmit, gains);
    let offset = offset(transmit, receive);
    let noise = level - typical_noise_below_carrier(offset, receiver.bandwidth);
    let on_channel = offset < receiver.bandwidth.channel();
    let blocking = if on_channel { level } else { level - typical_rejection(offset) };
    let wasted = (-receiver_gain.over_dipole()).max(Db::new(0.0));
    let quiet = noise_floor(receiver.sensitivity, receiver.bandwidth, environment, receive, wasted)
        .total_dbm;
    (quiet.power_sum(noise.power_sum(blocking)) - quiet, level)
}

#[cfg(test)]
mod tests {
    use approx::assert_abs_diff_eq;

    use super::*;
    use perchline_plan::{Antenna, Bandwidth, FeedLine, Pattern};
    use perchline_units::Dbi;

    fn hand_held() -> Radio {
        Radio {
            name: "hand-held".to_owned(),
            power: Dbm::from_watts(5.0),
            antenna: Antenna { gain: Dbi::new(-2.85), pattern: Pattern::Dipole },
            feed_line: FeedLine::None,
            filter_loss: Db::new(0.0),
            sensitivity: Dbm::from_microvolts(0.25),
            bandwidth: Bandwidth::Narrow,
            carry: None,
            body_loss: None,
            antenna_height: None,
            bands: Vec::new(),
        }
    }

    /// By hand at 146.55 and 146.58 MHz, 1 m apart: a wavelength is 2.046 m, so the
    /// isolation is 22 + 20 log(1 / 2.046) + 2 x 2.85 = 21.48 dB; 36.99 dBm arrive
    /// at 15.51 dBm. The rejection at 30 kHz is 70 + 14 ln(30 / 25) / ln(1000 / 25)
    /// and 8 more, 78.69 dB, which leaves -63.2 dBm. The carrier's noise in 7.8 kHz
    /// is 115 + 15 ln(30 / 25) / ln(100 / 25) - 38.9 = 78.1 dB lower, -62.6 dBm. Both
    /// together are -59.9 dBm, some 65 dB over a floor of about -125 dBm.
    #[test]
    fn a_neighbour_at_arms_length_silences_the_other() {
        let radio = hand_held();
        let mhz = Megahertz::new;
        let close =
            |one, other| two_radios([&radio, &radio], [mhz(one), mhz(other)], Environment::Rural);
        let near = close(146.55, 146.58);
        assert_abs_diff_eq!(near.offset.value(), 30.0, epsilon = 1e-6);
        assert!(near.overloaded && near.matters() && near.stretched);
        assert_abs_diff_eq!(near.desense_db.value(), 65.0, epsilon = 1.5);
        // On another band much less is heard, and less distance is enough.
        let far = close(146.55, 446.0);
        assert!(far.desense_db.value() < near.desense_db.value() - 20.0, "{far:?}");
        assert!(far.needed_m.unwrap().value() < 100.0, "{far:?}");
        assert_eq!(close(146.58, 146.55), near, "the worse of both directions is told");
    }
}
