//! Loss into buildings, ITU-R P.2109.

use statrs::distribution::{ContinuousCDF, Normal};

use super::range::{OutOfRange, within};
use perchline_units::{Db, Degrees, Megahertz, Percent};

/// How a building is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Building {
    /// Without metallized glass or foil in the walls, modern or old.
    Traditional,
    /// With metallized glass and foil-backed panels.
    ThermallyEfficient,
}

/// Coefficients of P.2109-1 table 1, from memory, under their letters there.
struct Coefficients {
    median: [f64; 3],
    spread: [f64; 2],
    second_median: [f64; 2],
    second_spread: [f64; 2],
}

impl Building {
    const fn coefficients(self) -> Coefficients {
        match self {
            Self::Traditional => Coefficients {
                median: [12.64, 3.72, 0.96],
                spread: [9.6, 2.0],
                second_median: [9.1, -3.0],
                second_spread: [4.5, -2.0],
            },
            Self::ThermallyEfficient => Coefficients {
                median: [28.19, -3.00, 8.48],
                spread: [13.5, 3.8],
                second_median: [27.8, -2.9],
                second_spread: [9.4, -2.1],
            },
        }
    }
}

/// Loss in dB that is not exceeded in this share of buildings, in places
/// spread evenly through them (P.2109-1 section 3, equations (1) to (10)).
///
/// `frequency` is from 80 MHz to 100 GHz; `elevation` is that of the path at
/// the building, -90 to 90 degrees from the horizontal; `share` is above 0 and
/// below 100 %.
///
/// # Errors
/// [`OutOfRange`] for the first value out of these ranges.
///
/// ```
/// use perchline_propagation::p2109::{Building, entry_loss};
/// use perchline_units::{Degrees, Megahertz, Percent};
///
/// let median = |building| {
///     entry_loss(building, Megahertz::new(446.0), Degrees::new(0.0), Percent::new(50.0))
/// };
/// let old = median(Building::Traditional)?;
/// assert!((old.value() - 13.95).abs() < 0.01);
/// assert!(median(Building::ThermallyEfficient)? > old);
/// # Ok::<(), perchline_propagation::OutOfRange>(())
/// ```
pub fn entry_loss(
    building: Building,
    frequency: Megahertz,
    elevation: Degrees,
    share: Percent,
) -> Result<Db, OutOfRange> {
    let f = within("entry loss: frequency", frequency.value(), 80.0..=1e5, "MHz")?;
    let elevation = within("entry loss: elevation", elevation.value(), -90.0..=90.0, "degrees")?;
    let share = within("entry loss: share of buildings", share.value(), 1e-4..=100.0 - 1e-4, "%")?;
    let log_f = (f / 1e3).log10();
    let Coefficients { median, spread, second_median, second_spread } = building.coefficients();
    let [r, s, t] = median;
    let line = |[level, slope]: [f64; 2]| level + slope * log_f;

    let horizontal = r + s * log_f + t * log_f * log_f;
    let by_elevation = 0.212 * elevation.abs();
    let deviate = Normal::standard().inverse_cdf(share / 100.0);
    let a = deviate * line(spread) + horizontal + by_elevation;
    let b = deviate * line(second_spread) + line(second_median);
    let c = -3.0;
    let sum: f64 = [a, b, c].iter().map(|term| 10f64.powf(0.1 * term)).sum();
    Ok(Db::new(10.0 * sum.log10()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_recommendation_does_not_give_is_refused() {
        let loss = |frequency: f64, elevation: f64, share: f64| {
            entry_loss(
                Building::Traditional,
                Megahertz::new(frequency),
                Degrees::new(elevation),
                Percent::new(share),
            )
        };
        let said = loss(50.0, 0.0, 50.0).unwrap_err().to_string();
        assert_eq!(said, "entry loss: frequency: 50 MHz; allowed are 80 to 100000 MHz");
        assert!(loss(146.0, 91.0, 50.0).is_err());
        assert!(loss(146.0, 0.0, 0.0).is_err() && loss(146.0, 0.0, 100.0).is_err());
        assert!(loss(146.0, 0.0, f64::NAN).is_err());
    }
}
