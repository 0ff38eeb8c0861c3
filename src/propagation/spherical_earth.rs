//! Diffraction over a smooth spherical earth.

use std::f64::consts::PI;

use super::{EffectiveEarth, Ground, Path};
use crate::units::{Db, Megahertz, Metres, Polarization};

/// A smooth earth and the wave over it, ITU-R P.526-15 section 3.
#[derive(Debug, Clone, Copy)]
pub struct SphericalEarth {
    frequency: Megahertz,
    earth: EffectiveEarth,
    ground: Ground,
    polarization: Polarization,
}

impl SphericalEarth {
    /// The earth and the wave of a path.
    #[must_use]
    pub const fn of(path: &Path<'_>) -> Self {
        Self {
            frequency: path.frequency(),
            earth: path.earth(),
            ground: path.ground(),
            polarization: path.polarization(),
        }
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
            return self.first_term(radius, d, h1, h2).max(Db::new(0.0));
        }
        // Within sight: where the line comes nearest to the surface, and how
        // much of the clearance that frees it of loss it has there.
        let m = d * d / (4.0 * radius * (h1 + h2));
        let d1 = d / 2.0 * (1.0 + nearest(m, (h1 - h2) / (h1 + h2)));
        let d2 = d - d1;
        let clear =
            ((h1 - d1 * d1 / (2.0 * radius)) * d2 + (h2 - d2 * d2 / (2.0 * radius)) * d1) / d;
        let required = 0.552 * (d1 * d2 * self.frequency.wavelength().value() / d).sqrt();
        if clear > required {
            return Db::new(0.0);
        }
        // The radius that would put the receiver right at the horizon.
        let marginal = 0.5 * (d / roots).powi(2);
        let at_horizon = self.first_term(marginal, d, h1, h2).max(Db::new(0.0));
        at_horizon * (1.0 - clear / required)
    }

    /// The first term of the residue series in dB (P.526-15 section 3.1.1),
    /// for an effective radius, distance and heights in metres.
    fn first_term(&self, radius: f64, distance: f64, h1: f64, h2: f64) -> Db {
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
        let Ground { relative_permittivity, conductivity } = self.ground;
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

/// Where the line comes nearest to the surface: b of P.526-15 equation (22b).
fn nearest(m: f64, c: f64) -> f64 {
    if m < 1e-10 {
        // The limit over a plane earth, where the full form divides by zero.
        return c;
    }
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
