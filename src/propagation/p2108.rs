//! Loss among buildings at a low terminal, ITU-R P.2108: the height-gain model of
//! section 3.1, from 30 MHz to 3 GHz, and the statistics of section 3.2.
//!
//! The Recommendation gives the latter from 500 MHz up, so that they say nothing of
//! 2 m and 70 cm hand-helds; they are here as a measure for higher bands.

use statrs::distribution::{ContinuousCDF, Normal};

use std::ops::RangeInclusive;

use super::knife_edge;
use super::range::{OutOfRange, within};
use perchline_units::{Db, Megahertz, Metres, Percent};

/// Loss in dB that clutter around one terminal adds and that is not exceeded
/// at this share of places in town or suburb (P.2108-1 section 3.2.2,
/// equations (3) to (6), from memory). It does not grow beyond 2 km.
///
/// `frequency` is from 500 MHz to 67 GHz; `distance`, the length of the path,
/// 250 m or more; `share` is above 0 and below 100 %. The terminal has to be
/// well below the roofs. The path model must not count clutter at that end.
///
/// # Errors
/// [`OutOfRange`] for the first value out of these ranges.
///
/// ```
/// use perchline_propagation::p2108::clutter_loss;
/// use perchline_units::{Megahertz, Metres, Percent};
///
/// let loss = clutter_loss(Megahertz::new(1290.0), Metres::new(1000.0), Percent::new(50.0))?;
/// assert!((20.0..30.0).contains(&loss.value()));
/// assert!(clutter_loss(Megahertz::new(446.0), Metres::new(1000.0), Percent::new(50.0)).is_err());
/// # Ok::<(), perchline_propagation::OutOfRange>(())
/// ```
pub fn clutter_loss(
    frequency: Megahertz,
    distance: Metres,
    share: Percent,
) -> Result<Db, OutOfRange> {
    let f = within("clutter loss: frequency", frequency.value(), 500.0..=67_000.0, "MHz")?;
    let d = within("clutter loss: distance", distance.value(), 250.0..=f64::INFINITY, "m")?;
    let share = within("clutter loss: share of places", share.value(), 1e-4..=100.0 - 1e-4, "%")?;
    let log_f = (f / 1e3).log10();
    let log_d = (d / 1e3).min(2.0).log10();
    let long = -2.0 * (10f64.powf(-5.0 * log_f - 12.5) + 10f64.powf(-16.5)).log10();
    let short = 32.98 + 23.9 * log_d + 3.0 * log_f;
    let (long_weight, short_weight) = (10f64.powf(-0.2 * long), 10f64.powf(-0.2 * short));
    let both = long_weight + short_weight;
    // Standard deviations of the two terms: 4 dB and 6 dB.
    let deviation = ((16.0 * long_weight + 36.0 * short_weight) / both).sqrt();
    let deviate = Normal::standard().inverse_cdf(share / 100.0);
    Ok(Db::new(-5.0 * both.log10() + deviation * deviate))
}

/// Frequencies in MHz for which [`height_gain`] is given.
pub const HEIGHT_GAIN_FREQUENCIES: RangeInclusive<f64> = 30.0..=3000.0;

/// Standard deviation over places of [`height_gain`], which states none: the 4 dB of
/// the long term of section 3.2.2 (from memory).
pub const HEIGHT_GAIN_DEVIATION: Db = Db::new(4.0);

/// Median loss in dB that houses around one terminal add where its antenna is below
/// their roofs, 0 dB where it is not (P.2108-1 section 3.1, equation (2a), from
/// memory; P.1812-4 section 4.7 has the same): A = J(nu) - 6.03, with
/// nu = 0.342 sqrt(f) sqrt(h theta) of the frequency f in GHz, the height h of roofs
/// over the antenna in metres and the angle theta = atan(h / w) in degrees across a
/// street of width w.
///
/// Heights are above the ground, the width above 0 m. Outside
/// [`HEIGHT_GAIN_FREQUENCIES`] the form is prolonged. The path model must not count
/// houses at that end.
///
/// ```
/// use perchline_propagation::p2108::height_gain;
/// use perchline_units::{Megahertz, Metres};
///
/// let behind = |antenna| {
///     height_gain(Megahertz::new(146.0), Metres::new(15.0), Metres::new(antenna), Metres::new(27.0))
/// };
/// assert!((14.0..16.0).contains(&behind(1.5).value()));
/// assert_eq!(behind(15.0).value(), 0.0);
/// ```
#[must_use]
pub fn height_gain(frequency: Megahertz, roofs: Metres, antenna: Metres, street: Metres) -> Db {
    let over = (roofs - antenna).value();
    if over <= 0.0 {
        return Db::new(0.0);
    }
    let theta = (over / street.value()).atan().to_degrees();
    let nu = 0.342 * (frequency.value() / 1e3 * over * theta).sqrt();
    (knife_edge::loss(nu) - knife_edge::loss(0.0)).max(Db::new(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    /// By hand, 146 MHz, an antenna at 1.5 m in a street of 27 m under roofs of 15 m:
    /// theta = atan(13.5 / 27) = 26.565 degrees, nu = 0.342 sqrt(0.146 x 13.5 x 26.565)
    /// = 2.4747, J = 6.9 + 20 log(2.5763 + 2.3747) = 20.79 dB, less 6.03.
    #[test]
    fn the_loss_in_a_street_comes_to_a_hand_calculation() {
        let loss = |frequency, roofs, antenna, street| {
            let [roofs, antenna, street] = [roofs, antenna, street].map(Metres::new);
            height_gain(Megahertz::new(frequency), roofs, antenna, street).value()
        };
        for (frequency, roofs, street, by_hand) in [
            (146.0, 15.0, 27.0, 14.762),
            (146.0, 10.0, 27.0, 11.209),
            (146.0, 5.0, 27.0, 5.541),
            (446.0, 15.0, 27.0, 19.524),
            (446.0, 10.0, 27.0, 15.749),
            (146.0, 12.0, 20.0, 13.894),
        ] {
            assert_abs_diff_eq!(loss(frequency, roofs, 1.5, street), by_hand, epsilon = 2e-3);
        }
        // Nothing jumps where the antenna comes over the roofs.
        assert_eq!(loss(446.0, 15.0, 15.0, 27.0), 0.0);
        assert_eq!(loss(446.0, 15.0, 90.0, 27.0), 0.0);
        assert!(loss(446.0, 15.0, 14.99, 27.0) < 0.1);
        let by_height: Vec<f64> =
            (0..150).map(|i| loss(446.0, 15.0, 0.1 * f64::from(i), 27.0)).collect();
        assert!(by_height.windows(2).all(|w| w[0] >= w[1]), "{by_height:?}");
    }

    /// Equations (3) to (6) worked out by hand: at 1 GHz and 1 km Ll = 25.00 and
    /// Ls = 32.98 dB, together 24.95 dB with a deviation of 4.06 dB.
    #[test]
    fn clutter_comes_to_a_hand_calculation() {
        for (frequency, distance, share, by_hand) in [
            (1000.0, 1000.0, 50.0, 24.9456),
            (1000.0, 1000.0, 90.0, 30.1504),
            (2000.0, 500.0, 50.0, 25.7442),
            (2000.0, 500.0, 10.0, 18.8491),
            (600.0, 250.0, 90.0, 25.1851),
            (600.0, 5000.0, 50.0, 22.7805),
            (30_000.0, 5000.0, 95.0, 39.5882),
        ] {
            let found = loss(frequency, distance, share).unwrap().value();
            assert_abs_diff_eq!(found, by_hand, epsilon = 1e-3);
        }
        // It does not grow beyond 2 km.
        assert_eq!(loss(1000.0, 2000.0, 50.0), loss(1000.0, 9000.0, 50.0));
    }

    #[test]
    fn what_the_recommendation_does_not_give_is_refused() {
        for (frequency, distance, share) in [
            (499.0, 1000.0, 50.0),
            (67_001.0, 1000.0, 50.0),
            (1000.0, 249.0, 50.0),
            (1000.0, 1000.0, 0.0),
            (1000.0, 1000.0, 100.0),
        ] {
            assert!(loss(frequency, distance, share).is_err(), "{frequency} {distance} {share}");
        }
    }

    fn loss(frequency: f64, distance: f64, share: f64) -> Result<Db, OutOfRange> {
        clutter_loss(Megahertz::new(frequency), Metres::new(distance), Percent::new(share))
    }
}
