//! Two low terminals in a town, ITU-R P.1411 (from memory; what the equations
//! yield is held to the table of corrections printed with them).

use std::f64::consts::SQRT_2;

use statrs::distribution::{ContinuousCDF, Normal};

use super::range::{OutOfRange, within};
use perchline_units::{Db, Megahertz, Metres, Percent};

/// What a town is like, for [`below_rooftops`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Town {
    /// Detached houses and gardens.
    Suburb,
    /// Streets of houses wall to wall.
    Urban,
    /// High-rise centre.
    Dense,
}

impl Town {
    /// The term L_urban: 0, 6.8 or 2.3 dB.
    #[must_use]
    pub const fn term(self) -> Db {
        Db::new(match self {
            Self::Suburb => 0.0,
            Self::Urban => 6.8,
            Self::Dense => 2.3,
        })
    }
}

/// Standard deviation over places of both the form in sight and the form out of
/// sight.
pub const DEVIATION: Db = Db::new(7.0);

/// Frequencies for which the source gives the form.
pub const FREQUENCIES: (Megahertz, Megahertz) = (Megahertz::new(300.0), Megahertz::new(3000.0));

/// How far beyond the corner the form out of sight counts wholly.
const TRANSITION: f64 = 20.0;

/// Basic transmission loss that is not exceeded at `share` of places between two
/// terminals from below roof height to near street level, anywhere in a town
/// (P.1411 section 4.3.1, the steps of its site-general model).
///
/// The source gives it for 300 MHz to 3 GHz and antennas of 1.9 to 3 m; below
/// 300 MHz, down to 30 MHz, it is prolonged by us and **outside the
/// Recommendation**. `distance` is from 1 to 5000 m, `share` above 0 and below
/// 100 %. `term` is [`Town::term`] or a value between.
///
/// # Errors
/// [`OutOfRange`] for the first value out of these ranges.
///
/// ```
/// use perchline_propagation::p1411::{Town, below_rooftops};
/// use perchline_units::{Megahertz, Metres, Percent};
///
/// let (f, half) = (Megahertz::new(446.0), Percent::new(50.0));
/// let loss = below_rooftops(f, Metres::new(900.0), half, Town::Urban.term())?;
/// assert!((130.0..136.0).contains(&loss.value()));
/// # Ok::<(), perchline_propagation::OutOfRange>(())
/// ```
pub fn below_rooftops(
    frequency: Megahertz,
    distance: Metres,
    share: Percent,
    term: Db,
) -> Result<Db, OutOfRange> {
    let f = within("streets: frequency", frequency.value(), 30.0..=3000.0, "MHz")?;
    let d = within("streets: distance", distance.value(), 1.0..=5000.0, "m")?;
    let p = within("streets: share of places", share.value(), 0.1..=99.9, "%")? / 100.0;
    let (in_sight, out_of_sight, corner) = corrections(p);
    let kilometres = (d / 1000.0).log10();
    let seen = 32.45 + 20.0 * f.log10() + 20.0 * kilometres + in_sight;
    // The source has 40 log10(d / 1000) and d in metres.
    let unseen = 9.5 + 45.0 * f.log10() + 40.0 * kilometres + term.value() + out_of_sight;
    let beyond = ((d - corner) / TRANSITION).clamp(0.0, 1.0);
    Ok(Db::new(seen + (unseen - seen) * beyond))
}

/// For this share of places, above 0 and below 1: what is added in sight and out
/// of sight, dB, and the distance up to which places are in sight, metres.
fn corrections(p: f64) -> (f64, f64, f64) {
    let deviation = DEVIATION.value();
    // The mean of a Rayleigh variable, sqrt(2 ln 2), and its scale.
    let median = SQRT_2 * std::f64::consts::LN_2.sqrt();
    let in_sight = 1.5624 * deviation * ((-2.0 * (1.0 - p).ln()).sqrt() - median);
    let out_of_sight = deviation * Normal::standard().inverse_cdf(p);
    let corner =
        if p < 0.45 { 212.0 * p.log10().powi(2) - 64.0 * p.log10() } else { 79.2 - 70.0 * p };
    (in_sight, out_of_sight, corner)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn loss(f: f64, d: f64, p: f64, town: Town) -> f64 {
        let (f, d) = (Megahertz::new(f), Metres::new(d));
        below_rooftops(f, d, Percent::new(p), town.term()).unwrap().value()
    }

    /// P.1411's table of corrections for 1, 10, 50, 90 and 99 % of places (from
    /// memory): in sight, out of sight, distance of the corner.
    #[test]
    fn corrections_are_those_of_the_recommendations_table() {
        for (p, in_sight, out_of_sight, corner) in [
            (0.01, -11.3, -16.3, 976.0),
            (0.10, -7.9, -9.0, 276.0),
            (0.50, 0.0, 0.0, 44.0),
            (0.90, 10.6, 9.0, 16.0),
            (0.99, 20.3, 16.3, 10.0),
        ] {
            let (seen, unseen, turn) = corrections(p);
            assert_abs_diff_eq!(seen, in_sight, epsilon = 0.051);
            assert_abs_diff_eq!(unseen, out_of_sight, epsilon = 0.051);
            assert_abs_diff_eq!(turn, corner, epsilon = 0.51);
        }
    }

    /// By hand, out of sight at half of the places, 1 GHz and 1 km: 9.5 + 135 + 6.8. At
    /// 500 m 1 of 100 places is in sight still: 86.43 - 11.3.
    #[test]
    fn losses_come_to_a_hand_calculation() {
        assert_abs_diff_eq!(loss(1000.0, 1000.0, 50.0, Town::Urban), 151.3, epsilon = 1e-9);
        assert_abs_diff_eq!(loss(1000.0, 500.0, 1.0, Town::Urban), 75.1, epsilon = 0.05);
        // 9.5 + 45 x 2.16435 - 1.83030 + 6.8.
        assert_abs_diff_eq!(loss(146.0, 900.0, 50.0, Town::Urban), 111.866, epsilon = 1e-3);
        assert_abs_diff_eq!(loss(446.0, 100.0, 50.0, Town::Suburb), 88.72, epsilon = 0.01);
        // In sight at 30 m: free space.
        assert_abs_diff_eq!(loss(446.0, 30.0, 50.0, Town::Dense), 54.98, epsilon = 0.01);
    }

    #[test]
    fn it_grows_with_distance_and_with_the_share_of_places() {
        for f in [30.0, 146.0, 446.0, 3000.0] {
            for p in [1.0, 20.0, 44.9, 45.0, 50.0, 95.0] {
                let at = |d: f64| loss(f, d, p, Town::Urban);
                let near = (1..=5000).map(|d| at(f64::from(d)));
                // No step: a metre adds 20 log 2 at the most, or a twentieth of the corner's rise.
                assert!(near.clone().zip(near.skip(1)).all(|(a, b)| b - a < 6.1), "{f} {p}");
            }
        }
        let shares = (1..1000).map(|p| loss(446.0, 400.0, f64::from(p) / 10.0, Town::Urban));
        assert!(shares.clone().zip(shares.skip(1)).all(|(a, b)| b >= a - 1e-9));
    }

    #[test]
    fn what_is_out_of_range_is_refused() {
        for (f, d, p) in [
            (29.0, 100.0, 50.0),
            (3001.0, 100.0, 50.0),
            (446.0, 0.5, 50.0),
            (446.0, 5001.0, 50.0),
            (446.0, 100.0, 0.0),
            (446.0, 100.0, 100.0),
        ] {
            let (f, d, p) = (Megahertz::new(f), Metres::new(d), Percent::new(p));
            assert!(below_rooftops(f, d, p, Town::Urban.term()).is_err(), "{f} {d}");
        }
    }
}
