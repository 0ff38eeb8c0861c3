//! Diffraction over a smooth spherical earth.

use std::f64::consts::PI;

use super::{EffectiveEarth, GroundConstants, Path, not_below_zero};
use perchline_units::{Db, Megahertz, Metres, Polarization};

/// A smooth earth and the wave over it, ITU-R P.526-15 section 3.
#[derive(Debug, Clone, Copy)]
pub struct SphericalEarth {
    frequency: Megahertz,
    earth: EffectiveEarth,
    ground: GroundConstants,
    polarization: Polarization,
    sea_share: f64,
}

impl SphericalEarth {
    /// The earth and the wave of a path, with its share of sea.
    #[must_use]
    pub fn of(path: &Path<'_>) -> Self {
        Self {
            frequency: path.frequency(),
            earth: path.earth(),
            ground: path.ground(),
            polarization: path.polarization(),
            sea_share: path.sea_share(),
        }
    }

    /// The same earth with this share of the path over the sea, from 0 to 1;
    /// the rest is over the ground of the path (P.1812 section 4.3.3).
    #[must_use]
    pub const fn with_sea_share(mut self, share: f64) -> Self {
        self.sea_share = share;
        self
    }

    /// Loss in dB beyond free space at this ground distance between antennas
    /// at these heights over the smooth surface, 0 or more (P.526-15 section
    /// 3.2). Heights below the surface are taken as 0 m.
    #[must_use]
    pub fn loss(&self, length: Metres, transmitter: Metres, receiver: Metres) -> Db {
        let radius = self.earth.radius().value();
        let d = length.value();
        let (h1, h2) = (transmitter.value().max(0.0), receiver.value().max(0.0));
        let roots = h1.sqrt() + h2.sqrt();
        if d >= (2.0 * radius).sqrt() * roots {
            return not_below_zero(self.first_term(radius, d, h1, h2));
        }
        // Within sight: where the line comes nearest to the surface, and how
        // much of the clearance that frees it of loss it has there.
        let m = d * d / (4.0 * radius * (h1 + h2));
        let b = nearest(m, (h1 - h2) / (h1 + h2));
        let d1 = (d / 2.0 * (1.0 + b)).clamp(0.0, d);
        let d2 = d - d1;
        let clear =
            ((h1 - d1 * d1 / (2.0 * radius)) * d2 + (h2 - d2 * d2 / (2.0 * radius)) * d1) / d;
        let required = 0.552 * (d1 * d2 * self.frequency.wavelength().value() / d).sqrt();
        // Nothing is required where the line starts on the surface: all of the
        // loss is left there, which is also what the rest tends to.
        let freed = if required > 0.0 { clear / required } else { 0.0 };
        if freed > 1.0 {
            return Db::new(0.0);
        }
        // The radius that would put the receiver right at the horizon.
        let marginal = 0.5 * (d / roots).powi(2);
        let at_horizon = not_below_zero(self.first_term(marginal, d, h1, h2));
        at_horizon * (1.0 - freed)
    }

    /// The first term of the residue series in dB (P.526-15 section 3.1.1),
    /// for an effective radius, distance and heights in metres.
    fn first_term(&self, radius: f64, distance: f64, h1: f64, h2: f64) -> Db {
        let over = |ground| Self { ground, ..*self }.uniform_first_term(radius, distance, h1, h2);
        if self.sea_share > 0.0 {
            over(self.ground) * (1.0 - self.sea_share) + over(GroundConstants::SEA) * self.sea_share
        } else {
            over(self.ground)
        }
    }

    fn uniform_first_term(&self, radius: f64, distance: f64, h1: f64, h2: f64) -> Db {
        let (radius_km, distance_km) = (radius / 1e3, distance / 1e3);
        let f = self.frequency.value();
        let admittance = self.admittance(radius_km);
        let beta = beta(admittance);
        let x = 2.188 * beta * f.cbrt() * radius_km.powf(-2.0 / 3.0) * distance_km;
        let y = 9.575e-3 * beta * f.powf(2.0 / 3.0) / radius_km.cbrt();
        let gain = |h: f64| height_gain(beta * y * h, admittance);
        Db::new(-distance_term(x) - gain(h1) - gain(h2))
    }

    /// The normalized surface admittance K, dimensionless (P.526-15 equations (16), (17)).
    fn admittance(&self, radius_km: f64) -> f64 {
        let f = self.frequency.value();
        let GroundConstants { relative_permittivity, conductivity } = self.ground;
        let loss_term = 18_000.0 * conductivity / f;
        let horizontal = 0.36
            * (radius_km * f).cbrt().recip()
            * (relative_permittivity - 1.0).hypot(loss_term).sqrt().recip();
        match self.polarization {
            Polarization::Horizontal => horizontal,
            Polarization::Vertical => horizontal * relative_permittivity.hypot(loss_term),
        }
    }
}

/// Where the line comes nearest to the surface: b of P.526-15 section 3.2, the
/// root of m b^3 - (m + 1) b + c = 0 between -1 and 1, where m compares the
/// bulge with the heights and c is the heights' difference over their sum.
fn nearest(m: f64, c: f64) -> f64 {
    // On short paths the closed form of P.526 takes the difference of large
    // numbers, and an antenna near the ground would notice.
    if m < 0.2 { nearest_by_newton(m, c) } else { nearest_in_closed_form(m, c) }
}

fn nearest_by_newton(m: f64, c: f64) -> f64 {
    (0..5).fold(c, |b, _| {
        let value = m * b * b * b - (m + 1.0) * b + c;
        b - value / (3.0 * m * b * b - (m + 1.0))
    })
}

fn nearest_in_closed_form(m: f64, c: f64) -> f64 {
    let argument = 1.5 * c * (3.0 * m / (m + 1.0).powi(3)).sqrt();
    2.0 * ((m + 1.0) / (3.0 * m)).sqrt() * (PI / 3.0 + argument.clamp(-1.0, 1.0).acos() / 3.0).cos()
}

/// The parameter beta of P.526-15 equation (18), for the type of ground and
/// polarization. Used always, as P.1812 does, not only where P.526 asks for it.
fn beta(admittance: f64) -> f64 {
    let k2 = admittance * admittance;
    (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2)
}

/// The distance term F(X) in dB.
fn distance_term(x: f64) -> f64 {
    if x >= 1.6 {
        11.0 + 10.0 * x.log10() - 17.6 * x
    } else {
        -20.0 * x.log10() - 5.6488 * x.powf(1.425)
    }
}

/// The height gain G in dB, never below 2 + 20 log K.
fn height_gain(b: f64, admittance: f64) -> f64 {
    let gain = if b > 2.0 {
        17.6 * (b - 1.1).sqrt() - 5.0 * (b - 1.1).log10() - 8.0
    } else {
        20.0 * (b + 0.1 * b * b * b).log10()
    };
    gain.max(2.0 + 20.0 * admittance.log10())
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    #[test]
    fn both_forms_of_the_nearest_point_agree() {
        for m in [1e-3, 0.01, 0.1, 0.2] {
            for c in [-1.0, -0.7, -0.2, 0.0, 0.4, 0.95, 1.0] {
                let (newton, closed) = (nearest_by_newton(m, c), nearest_in_closed_form(m, c));
                assert_abs_diff_eq!(newton, closed, epsilon = 1e-12);
            }
        }
        // Over a plane the line from a height to a mirrored one crosses in
        // proportion to the heights.
        assert_abs_diff_eq!(nearest(0.0, 0.3), 0.3, epsilon = 1e-15);
    }

    #[test]
    fn the_distance_term_and_the_height_gain_meet_where_they_change_over() {
        // P.526-15 gives both pieces of each with rounded constants.
        assert_abs_diff_eq!(distance_term(1.6), distance_term(1.6 - 1e-9), epsilon = 0.05);
        assert_abs_diff_eq!(height_gain(2.0, 1e-9), height_gain(2.0 + 1e-9, 1e-9), epsilon = 0.1);
    }

    #[test]
    fn the_height_gain_stops_falling_at_the_ground() {
        let admittance: f64 = 0.01;
        assert_eq!(height_gain(0.0, admittance), 2.0 + 20.0 * admittance.log10());
    }

    fn over(frequency: f64, ground: GroundConstants, polarization: Polarization) -> SphericalEarth {
        let frequency = Megahertz::new(frequency);
        SphericalEarth {
            frequency,
            earth: EffectiveEarth::default(),
            ground,
            polarization,
            sea_share: 0.0,
        }
    }

    #[test]
    fn the_admittance_over_the_sea_comes_to_its_short_form() {
        // P.526-15 section 3.1.1.2, from memory: K^2 is about 6.89 sigma /
        // (k^(2/3) f^(5/3)) where conduction rules.
        let radius_km = EffectiveEarth::default().radius().kilometres();
        for frequency in [30.0, 50.0, 146.0] {
            let sea = over(frequency, GroundConstants::SEA, Polarization::Vertical);
            let short = 6.89 * 5.0 / ((4.0f64 / 3.0).powf(2.0 / 3.0) * frequency.powf(5.0 / 3.0));
            let ratio = sea.admittance(radius_km).powi(2) / short;
            assert_abs_diff_eq!(ratio, 1.0, epsilon = 0.03);
        }
    }

    #[test]
    fn the_admittance_over_land_comes_to_a_hand_calculation() {
        // 100 MHz: 0.36 (8494.67 * 100)^(-1/3) (21^2 + 0.54^2)^(-1/4) = 8.292e-4,
        // times (22^2 + 0.54^2)^(1/2) for vertical polarization.
        let radius_km = EffectiveEarth::default().radius().kilometres();
        let level =
            over(100.0, GroundConstants::LAND, Polarization::Horizontal).admittance(radius_km);
        let upright =
            over(100.0, GroundConstants::LAND, Polarization::Vertical).admittance(radius_km);
        assert_abs_diff_eq!(level, 8.292e-4, epsilon = 2e-7);
        assert_abs_diff_eq!(upright, 8.292e-4 * 22.0066, epsilon = 1e-5);
    }

    #[test]
    fn beta_is_about_one_where_p526_lets_it_be_one() {
        // P.526-15 section 3.1.1.2: horizontal polarization at all frequencies,
        // vertical over land above 20 MHz and over the sea above 300 MHz.
        let radius_km = EffectiveEarth::default().radius().kilometres();
        for earth in [
            over(30.0, GroundConstants::LAND, Polarization::Horizontal),
            over(146.0, GroundConstants::LAND, Polarization::Vertical),
            over(446.0, GroundConstants::SEA, Polarization::Vertical),
        ] {
            assert_abs_diff_eq!(beta(earth.admittance(radius_km)), 1.0, epsilon = 0.02);
        }
    }

    /// P.526-15 equation (18) by hand, where every term of it shows: 3.27 / 7.03
    /// at K = 1, 1.441875 / 2.220625 at K = 0.5.
    #[test]
    fn beta_comes_to_a_hand_calculation() {
        assert_abs_diff_eq!(beta(1.0), 0.465_149, epsilon = 1e-6);
        assert_abs_diff_eq!(beta(0.5), 0.649_311, epsilon = 1e-6);
    }

    /// P.526-15 section 3.1.1 by hand: both pieces of F(X), 11 + 10 log 2 - 35.2
    /// and -5.6488; both of G, 17.6 sqrt(8.9) - 5 log 8.9 - 8 and 20 log 1.1.
    #[test]
    fn the_distance_term_and_the_height_gain_come_to_hand_calculations() {
        assert_abs_diff_eq!(distance_term(2.0), -21.1897, epsilon = 1e-4);
        assert_abs_diff_eq!(distance_term(1.0), -5.6488, epsilon = 1e-9);
        assert_abs_diff_eq!(distance_term(0.1), 20.0 - 5.6488 * 0.037_584, epsilon = 1e-4);
        assert_abs_diff_eq!(height_gain(10.0, 1e-9), 39.7592, epsilon = 1e-3);
        assert_abs_diff_eq!(height_gain(1.0, 1e-9), 0.8279, epsilon = 1e-4);
        // Up to B = 2 the second piece counts: 20 log 2.8.
        assert_abs_diff_eq!(height_gain(2.0, 1e-9), 8.9432, epsilon = 1e-4);
        assert_abs_diff_eq!(height_gain(0.1, 1e-9), 20.0 * 0.1001f64.log10(), epsilon = 1e-9);
    }

    /// Beyond the horizon decibels over land and sea are weighted by their
    /// shares (P.1812 section 4.3.3).
    #[test]
    fn a_path_partly_over_the_sea_loses_in_between() {
        let land = over(146.0, GroundConstants::LAND, Polarization::Vertical);
        let loss = |earth: SphericalEarth| {
            earth.loss(Metres::new(50_000.0), Metres::new(10.0), Metres::new(2.0)).value()
        };
        let dry = loss(land);
        let wet = loss(over(146.0, GroundConstants::SEA, Polarization::Vertical));
        assert!(wet < dry - 1.0, "{wet} {dry}");
        assert_abs_diff_eq!(loss(land.with_sea_share(1.0)), wet, epsilon = 1e-9);
        let partly = loss(land.with_sea_share(0.25));
        assert_abs_diff_eq!(partly, 0.75 * dry + 0.25 * wet, epsilon = 1e-9);
    }
}
