//! Short paths in streets and over roofs, ITU-R P.1411 (from memory
//! throughout; no worked example was at hand).

use super::free_space;
use super::range::{OutOfRange, within};
use perchline_units::{Db, Megahertz, Metres};

/// What a line of sight along a street loses: between the bounds, half of the
/// places on either side of the median.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StreetCanyon {
    /// The lower bound, dB.
    pub least: Db,
    /// The median, dB.
    pub median: Db,
    /// The upper bound, dB.
    pub most: Db,
}

/// Basic transmission loss along a street in sight of each other, at
/// `distance`, between antennas at these heights above the street (P.1411
/// section 4.1.1, UHF: equations (1) to (4)).
///
/// The source gives it for 300 MHz to 3 GHz: of our bands for 70 cm, not for
/// 2 m. `distance` is from 1 to 5000 m, heights above 0 up to 50 m.
///
/// # Errors
/// [`OutOfRange`] for the first value out of these ranges.
///
/// ```
/// use perchline_propagation::p1411::street_canyon;
/// use perchline_units::{Megahertz, Metres};
///
/// let (f, relay, person) = (Megahertz::new(446.0), Metres::new(12.0), Metres::new(1.5));
/// let street = street_canyon(f, Metres::new(200.0), relay, person)?;
/// assert!(street.least < street.median && street.median < street.most);
/// # Ok::<(), perchline_propagation::OutOfRange>(())
/// ```
pub fn street_canyon(
    frequency: Megahertz,
    distance: Metres,
    transmitter: Metres,
    receiver: Metres,
) -> Result<StreetCanyon, OutOfRange> {
    within("street: frequency", frequency.value(), 300.0..=3000.0, "MHz")?;
    let d = within("street: distance", distance.value(), 1.0..=5000.0, "m")?;
    let h1 = within("street: transmitter height", transmitter.value(), 0.1..=50.0, "m")?;
    let h2 = within("street: receiver height", receiver.value(), 0.1..=50.0, "m")?;
    let wavelength = frequency.wavelength().value();
    let at_break =
        (20.0 * (wavelength * wavelength / (8.0 * std::f64::consts::PI * h1 * h2)).log10()).abs();
    let ratio = d * wavelength / (4.0 * h1 * h2);
    let decades = ratio.log10();
    let (low, high) = if ratio <= 1.0 {
        (20.0 * decades, 25.0 * decades)
    } else {
        (40.0 * decades, 40.0 * decades)
    };
    Ok(StreetCanyon {
        least: Db::new(at_break + low),
        median: Db::new(at_break + 6.0 + low),
        most: Db::new(at_break + 20.0 + high),
    })
}

/// What stands between a roof and a person in a street behind houses.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rooftops {
    /// Mean height of the roofs above ground.
    pub roofs: Metres,
    /// Width of the street.
    pub street: Metres,
    /// Distance from house to house along the path.
    pub spacing: Metres,
    /// Angle between the street and the path, 0 to 90 degrees.
    pub angle: perchline_units::Degrees,
}

/// Basic transmission loss from an antenna above the roofs to one in a street
/// behind many rows of houses: free space, from the last roof down into the
/// street, and over the roofs before (P.1411 section 4.2.1, equations (8) to
/// (17), for medium-sized towns and suburbs, which is the form of Walfisch and
/// Ikegami).
///
/// The source gives it for 800 MHz to 5 GHz and this part of it up to 2 GHz:
/// **not for our bands**. From 140 to 800 MHz it is prolonged by us, as a
/// figure to compare with. `distance` is from 20 to 5000 m, `transmitter` from
/// the roofs to 50 m, `receiver` from 1 to 3 m.
///
/// # Errors
/// [`OutOfRange`] for the first value out of these ranges.
pub fn over_rooftops(
    frequency: Megahertz,
    distance: Metres,
    transmitter: Metres,
    receiver: Metres,
    town: Rooftops,
) -> Result<Db, OutOfRange> {
    let f = within("rooftops: frequency", frequency.value(), 140.0..=2000.0, "MHz")?;
    let d = within("rooftops: distance", distance.value(), 20.0..=5000.0, "m")?;
    let roofs = within("rooftops: height of roofs", town.roofs.value(), 4.0..=50.0, "m")?;
    let h1 = within("rooftops: transmitter height", transmitter.value(), roofs..=50.0, "m")?;
    let h2 = within("rooftops: receiver height", receiver.value(), 1.0..=3.0, "m")?;
    let street = within("rooftops: width of street", town.street.value(), 5.0..=100.0, "m")?;
    let spacing = within("rooftops: spacing of houses", town.spacing.value(), 10.0..=200.0, "m")?;
    let angle = within("rooftops: angle of street", town.angle.value(), 0.0..=90.0, "degrees")?;

    let by_angle = if angle < 35.0 {
        -10.0 + 0.354 * angle
    } else if angle < 55.0 {
        2.5 + 0.075 * (angle - 35.0)
    } else {
        4.0 - 0.114 * (angle - 55.0)
    };
    let into_street =
        -8.2 - 10.0 * street.log10() + 10.0 * f.log10() + 20.0 * (roofs - h2).log10() + by_angle;
    let over_roofs = -18.0 * (1.0 + h1 - roofs).log10()
        + 54.0
        + 18.0 * (d / 1e3).log10()
        + (-4.0 + 0.7 * (f / 925.0 - 1.0)) * f.log10()
        - 9.0 * spacing.log10();
    let beyond = (into_street + over_roofs).max(0.0);
    Ok(free_space::loss(frequency, distance) + Db::new(beyond))
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;
    use perchline_units::Degrees;

    fn street(distance: f64) -> StreetCanyon {
        let (relay, person) = (Metres::new(10.0), Metres::new(1.5));
        street_canyon(Megahertz::new(446.0), Metres::new(distance), relay, person).unwrap()
    }

    #[test]
    fn before_the_break_a_street_is_free_space_or_6_db_better() {
        // At the break free space is 20 log(16 pi h1 h2 / lambda^2), twice the
        // field of Lbp: two rays that add.
        let free = free_space::loss(Megahertz::new(446.0), Metres::new(50.0));
        assert_abs_diff_eq!((street(50.0).least - free).value(), -6.02, epsilon = 0.01);
        assert_abs_diff_eq!((street(50.0).median - free).value(), 0.0, epsilon = 0.03);
    }

    #[test]
    fn the_bounds_of_a_street_are_steady_at_the_break() {
        // 4 h1 h2 / lambda = 89.26 m.
        for (before, after) in [(89.25, 89.27)] {
            let (one, other) = (street(before), street(after));
            for (a, b) in
                [(one.least, other.least), (one.median, other.median), (one.most, other.most)]
            {
                assert_abs_diff_eq!(a.value(), b.value(), epsilon = 0.02);
            }
        }
        // Beyond, each doubling of the distance costs 12.04 dB.
        assert_abs_diff_eq!(
            (street(400.0).most - street(200.0).most).value(),
            12.04,
            epsilon = 0.01
        );
        let two_metres = Megahertz::new(146.0);
        let (relay, person) = (Metres::new(10.0), Metres::new(1.5));
        assert!(street_canyon(two_metres, Metres::new(100.0), relay, person).is_err());
    }

    #[test]
    fn over_roofs_comes_to_a_hand_calculation() {
        // 900 MHz, 1 km, 30 m over roofs of 15 m, street 25 m, houses 50 m apart,
        // square to the street, 1.5 m: free space 91.53; into the street
        // -8.2 - 13.979 + 29.542 + 22.607 + 0.01 = 29.98; over the roofs
        // -21.674 + 54 + 0 - 11.873 - 15.291 = 5.16.
        let town = Rooftops {
            roofs: Metres::new(15.0),
            street: Metres::new(25.0),
            spacing: Metres::new(50.0),
            angle: Degrees::new(90.0),
        };
        let loss = |distance: f64, transmitter: f64| {
            let (f, d) = (Megahertz::new(900.0), Metres::new(distance));
            over_rooftops(f, d, Metres::new(transmitter), Metres::new(1.5), town)
        };
        assert_abs_diff_eq!(loss(1000.0, 30.0).unwrap().value(), 126.67, epsilon = 0.05);
        let said = loss(1000.0, 10.0).unwrap_err().to_string();
        assert_eq!(said, "rooftops: transmitter height: 10 m; allowed are 15 to 50 m");
    }

    /// By hand at 446 MHz between 10 m and 1.5 m: lambda = 0.6722 m, the break
    /// at 4 h1 h2 / lambda = 89.26 m, Lbp = |20 log(lambda^2 / (8 pi h1 h2))| =
    /// 58.43 dB; before it 20 and 25 dB a decade, beyond it 40 dB.
    #[test]
    fn a_street_comes_to_a_hand_calculation_on_both_sides_of_its_break() {
        for (distance, bounds) in [
            (20.0, [45.4345, 51.4345, 62.1863]),
            (50.0, [53.3933, 59.3933, 72.1348]),
            (300.0, [79.4854, 85.4854, 99.4854]),
        ] {
            let StreetCanyon { least, median, most } = street(distance);
            for (found, by_hand) in [least, median, most].into_iter().zip(bounds) {
                assert_abs_diff_eq!(found.value(), by_hand, epsilon = 1e-3);
            }
        }
    }

    /// Equations (8) to (17) by hand at 446 MHz: 300 m from 20 m over roofs of
    /// 10 m down to 1.5 m, street 15 m, houses 30 m apart: free space 74.98 dB,
    /// over the roofs 0.99 dB, into the street 25.12 dB and what the angle adds.
    #[test]
    fn over_roofs_each_angle_and_band_comes_to_a_hand_calculation() {
        let over = |f: f64, d: f64, [roofs, h1, street, spacing, angle]: [f64; 5]| {
            let town = Rooftops {
                roofs: Metres::new(roofs),
                street: Metres::new(street),
                spacing: Metres::new(spacing),
                angle: Degrees::new(angle),
            };
            let (f, d) = (Megahertz::new(f), Metres::new(d));
            over_rooftops(f, d, Metres::new(h1), Metres::new(1.5), town).unwrap().value()
        };
        for (angle, by_hand) in [
            (0.0, 91.089),
            (20.0, 98.169),
            // Where the second piece begins: 2.5, not the 2.39 of the first.
            (35.0, 103.589),
            (45.0, 104.339),
            (55.0, 105.089),
            (90.0, 101.099),
        ] {
            let found = over(446.0, 300.0, [10.0, 20.0, 15.0, 30.0, angle]);
            assert_abs_diff_eq!(found, by_hand, epsilon = 2e-3);
        }
        let far = over(1800.0, 2000.0, [10.0, 20.0, 15.0, 30.0, 45.0]);
        assert_abs_diff_eq!(far, 154.518, epsilon = 2e-3);
        // High above low houses near by: both terms below nothing, free space is left.
        let high = over(446.0, 20.0, [4.0, 50.0, 100.0, 200.0, 0.0]);
        assert_abs_diff_eq!(high, 51.455, epsilon = 2e-3);
    }
}
