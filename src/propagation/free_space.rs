//! Free-space loss, ITU-R P.525.

use std::f64::consts::PI;
use std::ops::RangeInclusive;

use super::{Counted, Edge, Path, PathLoss, SweptForm};
use perchline_units::{Db, Megahertz, Metres};

/// Nothing but distance.
#[derive(Debug, Clone, Copy)]
pub struct FreeSpace;

impl PathLoss for FreeSpace {
    fn name(&self) -> &'static str {
        "free-space"
    }

    fn summary(&self) -> &'static str {
        "loss by distance alone, the ground ignored: a lower bound, not a plan"
    }

    fn source(&self) -> &'static str {
        "ITU-R P.525-4, section 2.2, equation (4)"
    }

    /// P.525 names no limit. Above 10 GHz the loss in the air's gases can no
    /// longer be left out (ITU-R P.676); below 30 MHz the ground wave rules.
    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        Megahertz::new(30.0)..=Megahertz::new(10_000.0)
    }

    /// P.525 names no limit; the lower one keeps to the far field of small antennas.
    fn valid_distance(&self) -> RangeInclusive<Metres> {
        Metres::new(1.0)..=Metres::new(1e6)
    }

    fn counted(&self) -> Counted {
        Counted::DISTANCE
    }

    fn swept(&self) -> Option<SweptForm> {
        Some(SweptForm::FreeSpace)
    }

    fn diffraction(&self, _path: &Path<'_>, _note: &mut dyn FnMut(Edge)) -> Db {
        Db::new(0.0)
    }
}

/// Free-space basic transmission loss 20 log(4 pi d / lambda) in dB (ITU-R
/// P.525-4 equation (4)); distances below 1 m are taken as 1 m.
///
/// ```
/// # use perchline_propagation::free_space::loss;
/// # use perchline_units::{Megahertz, Metres};
/// let decibels = loss(Megahertz::new(100.0), Metres::new(10_000.0)).value();
/// assert!((decibels - 92.45).abs() < 0.01);
/// ```
#[must_use]
pub fn loss(frequency: Megahertz, distance: Metres) -> Db {
    let wavelengths = distance.value().max(1.0) / frequency.wavelength().value();
    Db::new(20.0 * (4.0 * PI * wavelengths).log10())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn agrees_with_the_practical_form_of_p525() {
        // P.525-4 equation (5): 32.4 + 20 log f(MHz) + 20 log d(km); the constant
        // to two decimals is 32.45.
        for (frequency, kilometres) in [(30.0, 0.1), (146.0, 5.0), (446.0, 12.5), (3000.0, 96.2)] {
            let got = loss(Megahertz::new(frequency), Metres::new(kilometres * 1e3)).value();
            let by_hand = 32.45 + 20.0 * f64::log10(frequency) + 20.0 * f64::log10(kilometres);
            assert_abs_diff_eq!(got, by_hand, epsilon = 0.005);
        }
    }

    #[test]
    fn never_falls_below_its_value_at_one_metre() {
        let near = loss(Megahertz::new(446.0), Metres::new(0.01));
        assert_eq!(near, loss(Megahertz::new(446.0), Metres::new(1.0)));
    }
}
