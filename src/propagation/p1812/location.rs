//! How losses differ among the places around a receiver (P.1812 section 4.7).

use super::time::normal;
use crate::{Climate, Locations};
use perchline_units::{Db, Megahertz, Metres};

/// What the share of places adds to the median: Lloc = -I(pL / 100) sigmaL.
pub(super) fn allowance(climate: &Climate) -> Db {
    match climate.locations {
        Locations::Share { percent, deviation } if !climate.receiver_at_sea => {
            deviation * -normal(percent.value() / 100.0)
        }
        Locations::Share { .. } | Locations::Median => Db::new(0.0),
    }
}

/// Standard deviation in dB of the median losses of places within a square of
/// the side `width`, outdoors, for a receiver at `height` above ground among
/// cover of the height `cover`.
///
/// (0.024 f + 0.52) width^0.28 with f in GHz up to the height of the cover,
/// falling to nothing at 10 m above it (P.1812 section 4.7, from memory). For
/// 30 to 6000 MHz and widths of 50 to 1000 m; outside, the same formula.
///
/// ```
/// # use perchline_propagation::p1812::location_deviation;
/// # use perchline_units::{Megahertz, Metres};
/// let among_houses = location_deviation(
///     Megahertz::new(446.0), Metres::new(500.0), Metres::new(1.5), Metres::new(10.0));
/// assert!((among_houses.value() - 3.02).abs() < 0.01);
/// ```
#[must_use]
pub fn location_deviation(
    frequency: Megahertz,
    width: Metres,
    height: Metres,
    cover: Metres,
) -> Db {
    let among = (0.024e-3 * frequency.value() + 0.52) * width.value().max(0.0).powf(0.28);
    let share = (1.0 - (height - cover).value() / 10.0).clamp(0.0, 1.0);
    Db::new(among * share)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use perchline_units::Percent;

    #[test]
    fn more_places_ask_for_more_loss_by_the_normal_quantile() {
        let with = |percent: f64, receiver_at_sea| {
            let locations =
                Locations::Share { percent: Percent::new(percent), deviation: Db::new(5.5) };
            allowance(&Climate { locations, receiver_at_sea, ..Climate::DEFAULT }).value()
        };
        // Standard normal table: 90 % lie below 1.2816.
        assert_abs_diff_eq!(with(90.0, false), 5.5 * 1.2816, epsilon = 0.003);
        assert_abs_diff_eq!(with(10.0, false), -5.5 * 1.2816, epsilon = 0.003);
        assert_abs_diff_eq!(with(50.0, false), 0.0, epsilon = 1e-6);
        assert_eq!(with(90.0, true), 0.0);
        assert_eq!(allowance(&Climate::DEFAULT), Db::new(0.0));
    }

    #[test]
    fn the_deviation_fades_above_the_cover() {
        let at = |height: f64| {
            let (f, width) = (Megahertz::new(1000.0), Metres::new(100.0));
            location_deviation(f, width, Metres::new(height), Metres::new(20.0)).value()
        };
        // 0.544 times 100^0.28 = 3.631.
        assert_abs_diff_eq!(at(1.5), 1.975, epsilon = 1e-3);
        assert_abs_diff_eq!(at(25.0), 0.9876, epsilon = 1e-3);
        assert_eq!((at(20.0), at(30.0), at(80.0)), (at(0.0), 0.0, 0.0));
    }
}
