//! What a body takes from a radio that is worn on it.

use perchline_plan::{Carry, Radio};
use perchline_units::{Db, Megahertz, Metres};

/// Median body loss by band: upper band edge in MHz, then the loss in dB at
/// the head, at the shoulder and on the hip. Typical, from memory of published
/// measurements of portable antennas against a dipole; they scatter by 3 dB
/// and more between people, so a plan may state its own.
const BODY_LOSS: [(f64, [f64; 3]); 4] = [
    (88.0, [8.0, 11.0, 15.0]),
    (300.0, [4.0, 7.0, 12.0]),
    (520.0, [3.0, 6.0, 10.0]),
    (f64::INFINITY, [3.0, 7.0, 12.0]),
];

/// Median loss of a radio worn at `carry` on a standing adult, against the
/// same radio in the open.
#[must_use]
pub fn body_loss(carry: Carry, frequency: Megahertz) -> Db {
    let [head, shoulder, hip] = BODY_LOSS
        .iter()
        .find(|(edge, _)| frequency.value() <= *edge)
        .map_or([0.0; 3], |(_, losses)| *losses);
    Db::new(match carry {
        Carry::Head => head,
        Carry::Shoulder => shoulder,
        Carry::Hip => hip,
    })
}

/// Height above the ground of the antenna of a radio worn at `carry`: head
/// 1.6 m, shoulder 1.4 m, hip 1.0 m (common practice, no source).
#[must_use]
pub const fn carry_height(carry: Carry) -> Metres {
    Metres::new(match carry {
        Carry::Head => 1.6,
        Carry::Shoulder => 1.4,
        Carry::Hip => 1.0,
    })
}

/// Body loss of a radio as the plan has it carried; zero for a fixed station.
#[must_use]
pub fn worn_loss(radio: &Radio, carry: Option<Carry>, frequency: Megahertz) -> Db {
    match (radio.body_loss_at(frequency), carry) {
        (_, None) => Db::new(0.0),
        (Some(stated), _) => stated,
        (None, Some(carry)) => body_loss(carry, frequency),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice, no source: the lower a radio is worn, the more it loses.
    #[test]
    fn lower_on_the_body_loses_more_in_every_band() {
        for mhz in [50.0, 147.0, 223.0, 446.0, 868.0] {
            let at = |carry| body_loss(carry, Megahertz::new(mhz));
            assert!(at(Carry::Head) < at(Carry::Shoulder));
            assert!(at(Carry::Shoulder) < at(Carry::Hip));
            assert!(at(Carry::Head) > Db::new(0.0));
        }
    }

    /// A band ends with its upper edge; typical losses from memory, as above.
    #[test]
    fn a_body_takes_what_its_band_says() {
        for (mhz, losses) in [
            (50.0, [8.0, 11.0, 15.0]),
            (88.0, [8.0, 11.0, 15.0]),
            (88.1, [4.0, 7.0, 12.0]),
            (300.0, [4.0, 7.0, 12.0]),
            (446.0, [3.0, 6.0, 10.0]),
            (520.1, [3.0, 7.0, 12.0]),
        ] {
            let found = [Carry::Head, Carry::Shoulder, Carry::Hip]
                .map(|carry| body_loss(carry, Megahertz::new(mhz)).value());
            assert_eq!(found, losses, "{mhz}");
        }
        let heights = [Carry::Head, Carry::Shoulder, Carry::Hip].map(carry_height);
        assert_eq!(heights, [1.6, 1.4, 1.0].map(Metres::new));
    }
}
