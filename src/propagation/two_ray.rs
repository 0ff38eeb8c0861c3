//! The direct ray and the one that even ground reflects.

use std::f64::consts::PI;

use super::GroundConstants;
use super::free_space;
use perchline_units::{Db, Megahertz, Metres, Polarization};

/// Two antennas over even ground.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TwoRay {
    /// Frequency.
    pub frequency: Megahertz,
    /// Height of one antenna above the ground, 0 m or more.
    pub transmitter: Metres,
    /// Height of the other.
    pub receiver: Metres,
    /// Electrical properties of the ground.
    pub ground: GroundConstants,
    /// Polarization of both antennas.
    pub polarization: Polarization,
}

impl TwoRay {
    /// Basic transmission loss in dB at this ground distance: the sum of both
    /// rays, with the reflection coefficient of smooth ground for its angle
    /// (ITU-R P.1411 section 4.1, from Fresnel's equations). It swings about
    /// free space near by, with deep notches. Without the surface wave, so too
    /// high within a wavelength of the ground.
    ///
    /// ```
    /// use perchline_propagation::{GroundConstants, two_ray::TwoRay};
    /// use perchline_units::{Megahertz, Metres, Polarization};
    ///
    /// let pair = TwoRay {
    ///     frequency: Megahertz::new(446.0),
    ///     transmitter: Metres::new(30.0),
    ///     receiver: Metres::new(10.0),
    ///     ground: GroundConstants::LAND,
    ///     polarization: Polarization::Horizontal,
    /// };
    /// // Far off, 40 log d - 20 log(h1 h2).
    /// let far = pair.loss(Metres::new(100_000.0)).value();
    /// assert!((far - (200.0 - 20.0 * 300f64.log10())).abs() < 0.1);
    /// ```
    #[must_use]
    pub fn loss(&self, distance: Metres) -> Db {
        let d = distance.value().max(1.0);
        let (h1, h2) = (self.transmitter.value().max(0.0), self.receiver.value().max(0.0));
        let direct = d.hypot(h1 - h2);
        let reflected = d.hypot(h1 + h2);
        let (re, im) = self.reflection((h1 + h2) / reflected, d / reflected);
        // The difference of the two lengths without cancellation.
        let longer = 4.0 * h1 * h2 / (direct + reflected);
        let phase = -2.0 * PI * longer / self.frequency.wavelength().value();
        let (sin, cos) = phase.sin_cos();
        let weight = direct / reflected;
        let sum = (1.0 + weight * (re * cos - im * sin)).hypot(weight * (re * sin + im * cos));
        free_space::loss(self.frequency, Metres::new(direct))
            - Db::new(20.0 * sum.max(1e-5).log10())
    }

    /// The reflection coefficient, real and imaginary, for a ray that meets the
    /// ground at this sine and cosine of its grazing angle.
    fn reflection(&self, sine: f64, cosine: f64) -> (f64, f64) {
        let (er, ei) = self.permittivity();
        // The root of permittivity less the squared cosine, by its parts.
        let (re, im) = root(er - cosine * cosine, ei);
        let (zr, zi) = match self.polarization {
            Polarization::Horizontal => (re, im),
            Polarization::Vertical => over((re, im), (er, ei)),
        };
        over((sine - zr, -zi), (sine + zr, zi))
    }

    /// Complex permittivity of the ground over that of the vacuum.
    fn permittivity(&self) -> (f64, f64) {
        // 60 lambda sigma, with the rounded 18000 of P.526.
        (
            self.ground.relative_permittivity,
            -18_000.0 * self.ground.conductivity / self.frequency.value(),
        )
    }

    /// Distance beyond which the plane-earth law takes over from free space,
    /// 4 pi h1 h2 / lambda, with the heights at which the surface wave counts.
    #[must_use]
    pub fn break_distance(&self) -> Metres {
        let least = self.least_height();
        let [h1, h2] = [self.transmitter, self.receiver].map(|h| h.value().hypot(least));
        Metres::new(4.0 * PI * h1 * h2 / self.frequency.wavelength().value())
    }

    /// The height below which an antenna gains nothing by going lower, since
    /// the surface wave carries it: lambda / (2 pi |z|), where z is the surface
    /// impedance (K. Bullington, 1947, from memory).
    fn least_height(&self) -> f64 {
        let (er, ei) = self.permittivity();
        let (re, im) = root(er - 1.0, ei);
        let impedance = match self.polarization {
            Polarization::Horizontal => re.hypot(im),
            Polarization::Vertical => re.hypot(im) / er.hypot(ei),
        };
        self.frequency.wavelength().value() / (2.0 * PI * impedance)
    }

    /// What even ground takes beyond free space in dB, the swings left out:
    /// nothing up to the break distance, 20 dB a decade beyond.
    #[must_use]
    pub fn excess(&self, distance: Metres) -> Db {
        let ratio = distance.value() / self.break_distance().value();
        Db::new(20.0 * ratio.max(1.0).log10())
    }
}

/// The square root with a positive real part of a complex number whose
/// imaginary part is not above zero.
fn root(re: f64, im: f64) -> (f64, f64) {
    let size = re.hypot(im);
    (((size + re) / 2.0).max(0.0).sqrt(), -((size - re) / 2.0).max(0.0).sqrt())
}

/// The quotient of two complex numbers.
fn over((a, b): (f64, f64), (c, d): (f64, f64)) -> (f64, f64) {
    let square = c * c + d * d;
    ((a * c + b * d) / square, (b * c - a * d) / square)
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    fn pair(frequency: f64, polarization: Polarization) -> TwoRay {
        TwoRay {
            frequency: Megahertz::new(frequency),
            transmitter: Metres::new(10.0),
            receiver: Metres::new(1.5),
            ground: GroundConstants::LAND,
            polarization,
        }
    }

    #[test]
    fn reflection_follows_fresnel_at_its_two_ends() {
        // Grazing: -1 for both. Upright: (1 - n) / (1 + n), and its negative for
        // the upright field, n = sqrt(22) = 4.690 without conduction.
        let normal = (1.0 - 22f64.sqrt()) / (1.0 + 22f64.sqrt());
        for (polarization, sign) in
            [(Polarization::Horizontal, 1.0), (Polarization::Vertical, -1.0)]
        {
            let over = pair(30_000.0, polarization);
            assert_abs_diff_eq!(over.reflection(0.0, 1.0).0, -1.0, epsilon = 1e-12);
            assert_abs_diff_eq!(over.reflection(1.0, 0.0).0, sign * normal, epsilon = 1e-3);
        }
        // At Brewster's angle, tangent 1 / n, the upright field is not reflected.
        let brewster = (1.0 / 22f64.sqrt()).atan();
        let (re, im) =
            pair(30_000.0, Polarization::Vertical).reflection(brewster.sin(), brewster.cos());
        assert!(re.hypot(im) < 1e-3, "{re} {im}");
    }

    #[test]
    fn near_by_the_sum_swings_between_its_bounds() {
        // Antennas of 30 m and 10 m: the fields add to at most twice, less than
        // 6.03 dB above free space, and cancel in places.
        let over = TwoRay {
            transmitter: Metres::new(30.0),
            receiver: Metres::new(10.0),
            ..pair(446.0, Polarization::Horizontal)
        };
        let (mut best, mut worst): (f64, f64) = (f64::INFINITY, 0.0);
        for d in 100..2000 {
            let d = Metres::new(f64::from(d));
            let direct = Metres::new(d.value().hypot(20.0));
            let beyond = (over.loss(d) - free_space::loss(over.frequency, direct)).value();
            best = best.min(beyond);
            worst = worst.max(beyond);
        }
        assert!((-6.03..-5.5).contains(&best), "{best}");
        assert!(worst > 15.0, "{worst}");
    }

    #[test]
    fn the_smoothed_form_joins_free_space_to_the_plane_earth_law() {
        // High antennas, for which the surface wave is nothing: 40 log d - 20 log(h1 h2).
        let over = TwoRay {
            transmitter: Metres::new(60.0),
            receiver: Metres::new(40.0),
            ..pair(446.0, Polarization::Horizontal)
        };
        let far = Metres::new(500_000.0);
        let whole = (free_space::loss(over.frequency, far) + over.excess(far)).value();
        let plane = 40.0 * 5e5f64.log10() - 20.0 * 2400f64.log10();
        assert_abs_diff_eq!(whole, plane, epsilon = 0.01);
        assert_eq!(over.excess(over.break_distance()), Db::new(0.0));
    }

    fn at(
        frequency: f64,
        (h1, h2): (f64, f64),
        ground: GroundConstants,
        polarization: Polarization,
    ) -> TwoRay {
        TwoRay {
            transmitter: Metres::new(h1),
            receiver: Metres::new(h2),
            ground,
            ..pair(frequency, polarization)
        }
    }

    /// Worked out with complex numbers in another language: lambda / 4 pi times
    /// |exp(-j k r1) / r1 + R exp(-j k r2) / r2|, R by Fresnel's equations for
    /// the permittivity er - j 18000 sigma / f.
    #[test]
    fn the_sum_of_both_rays_is_that_of_complex_numbers() {
        let (high, low) = ((30.0, 10.0), (12.0, 1.5));
        let (upright, level) = (Polarization::Vertical, Polarization::Horizontal);
        for (pair, distance, by_complex) in [
            (at(446.0, high, GroundConstants::LAND, level), 150.0, 69.1014),
            (at(446.0, high, GroundConstants::LAND, upright), 150.0, 68.6037),
            (at(146.0, low, GroundConstants::LAND, upright), 40.0, 49.7486),
            (at(146.0, low, GroundConstants::LAND, level), 400.0, 79.0593),
            (at(146.0, low, GroundConstants::SEA, upright), 40.0, 57.0028),
            (at(30.0, (8.0, 2.0), GroundConstants::SEA, upright), 25.0, 25.4368),
            (at(30.0, (8.0, 2.0), GroundConstants::LAND, level), 25.0, 33.2451),
        ] {
            let found = pair.loss(Metres::new(distance)).value();
            assert_abs_diff_eq!(found, by_complex, epsilon = 1e-3);
        }
        // Antennas have no less than no height, nor paths less than 1 m.
        let low = at(446.0, (3.0, 0.0), GroundConstants::LAND, level);
        let sunk = at(446.0, (3.0, -2.0), GroundConstants::LAND, level);
        assert_eq!(sunk.loss(Metres::new(9.0)), low.loss(Metres::new(9.0)));
        assert_eq!(low.loss(Metres::new(0.1)), low.loss(Metres::new(1.0)));
    }

    /// 4 pi h1 h2 / lambda with both heights joined, as squares, to lambda /
    /// (2 pi |z|): 0.0713 m level and 1.569 m upright over land at 146 MHz, 8.149 m
    /// upright over the sea; worked out with complex numbers in another language.
    #[test]
    fn the_break_lies_where_the_surface_wave_lets_it() {
        let (upright, level) = (Polarization::Vertical, Polarization::Horizontal);
        for (frequency, ground, polarization, by_complex) in [
            (146.0, GroundConstants::LAND, level, 91.9040),
            (146.0, GroundConstants::LAND, upright, 134.4676),
            (30.0, GroundConstants::LAND, upright, 123.3606),
            (146.0, GroundConstants::SEA, upright, 654.1063),
        ] {
            let over = at(frequency, (10.0, 1.5), ground, polarization);
            let found = over.break_distance();
            assert_abs_diff_eq!(found.value(), by_complex, epsilon = 1e-3);
            // A decade on, 20 dB; before it nothing.
            assert_abs_diff_eq!(over.excess(found * 10.0).value(), 20.0, epsilon = 1e-9);
            assert_eq!(over.excess(found * 0.5), Db::new(0.0));
        }
    }
}
