//! What a smooth earth costs beyond Bullington over the same smooth earth, the
//! second half of the delta-Bullington method, in closed form.

use super::loss::{Wave, corrected, knife_edge};
use super::math::{ceil, exp2, larger, log2};
use crate::propagation::{EffectiveEarth, Ground};
use crate::units::{Megahertz, Polarization};

/// A smooth earth and a wave over it (ITU-R P.526-15 section 3): what stays the
/// same for all cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sphere {
    wave: Wave,
    /// Radius of the effective earth, metres.
    radius: f32,
    /// Half the wavelength in metres.
    half_length: f32,
    /// The normalized admittance at a radius of 1 km.
    admittance: f32,
    /// X is this times beta, r^(-2/3) and the distance in metres, r in km.
    distance_factor: f32,
    /// Y is this times beta and r^(-1/3).
    height_factor: f32,
}

/// A path over the smooth surface.
#[derive(Debug, Clone, Copy)]
pub(super) struct Path {
    pub distance: f32,
    /// Steps of the profile.
    pub steps: f32,
    /// Heights of the antennas over the surface.
    pub station: f32,
    pub carried: f32,
}

impl Sphere {
    pub(super) fn new(
        frequency: Megahertz,
        earth: EffectiveEarth,
        ground: Ground,
        polarization: Polarization,
    ) -> Self {
        let f = frequency.value();
        let loss_term = 18_000.0 * ground.conductivity / f;
        let level = 0.36
            * f.cbrt().recip()
            * (ground.relative_permittivity - 1.0).hypot(loss_term).sqrt().recip();
        let admittance = match polarization {
            Polarization::Horizontal => level,
            Polarization::Vertical => level * ground.relative_permittivity.hypot(loss_term),
        };
        let wavelength = frequency.wavelength().value();
        Self {
            wave: Wave::new(wavelength),
            radius: earth.radius().value() as f32,
            half_length: (0.5 * wavelength) as f32,
            admittance: admittance as f32,
            distance_factor: (2.188e-3 * f.cbrt()) as f32,
            height_factor: (9.575e-3 * f.powf(2.0 / 3.0)) as f32,
        }
    }

    /// Loss in dB of diffraction over the sphere beyond that of Bullington's
    /// construction over it, 0 or more.
    #[inline(always)]
    pub(super) fn beyond_bullington(&self, path: Path) -> f32 {
        let Path { distance: d, station, carried, .. } = path;
        let (h1, h2) = (larger(station, 0.0), larger(carried, 0.0));
        let radius = self.radius;
        let roots = h1.sqrt() + h2.sqrt();
        // d over the distance at which the antennas lose sight of each other.
        let share = d * d / (2.0 * radius * roots * roots);
        let seen = share < 1.0;
        // Within sight: where the line comes nearest to the surface.
        let m = d * d / (4.0 * radius * (h1 + h2));
        let b = nearest(m, (h1 - h2) / (h1 + h2));
        let d1 = 0.5 * d * (1.0 + b);
        let d2 = d - d1;
        let bulge = 0.5 / radius;
        let clear = ((h1 - d1 * d1 * bulge) * d2 + (h2 - d2 * d2 * bulge) * d1) / d;
        let required = 0.552 * (2.0 * self.half_length * d1 * d2 / d).sqrt();
        let freed = if required > 0.0 { clear / required } else { 0.0 };
        // The radius that would put the receiver right at the horizon.
        let marginal = radius * share;
        let term = self.first_term(if seen { marginal } else { radius }, d, h1, h2);
        let term = larger(term, 0.0);
        let rest = 1.0 - freed;
        let sphere = if seen { term * larger(rest, 0.0) } else { term };
        let smooth = self.bullington(path, d1, d2);
        if sphere > smooth { sphere - smooth } else { 0.0 }
    }

    /// The first term of the residue series (P.526-15 section 3.1.1), dB.
    #[inline(always)]
    fn first_term(&self, radius: f32, d: f32, h1: f32, h2: f32) -> f32 {
        let third = log2(radius * 1e-3) * (1.0 / 3.0);
        let root = exp2(-third);
        let admittance = self.admittance * root;
        let k2 = admittance * admittance;
        let beta = (1.0 + 1.6 * k2 + 0.67 * k2 * k2) / (1.0 + 4.5 * k2 + 1.53 * k2 * k2);
        let x = self.distance_factor * beta * root * root * d;
        let y = self.height_factor * beta * root;
        let least = 2.0 + DECIBELS * log2(admittance);
        let gain = |h: f32| larger(height_gain(beta * y * h), least);
        -distance_term(x) - gain(h1) - gain(h2)
    }

    /// Bullington's construction over the smooth surface, dB, with profile
    /// points where the path has them.
    #[inline(always)]
    fn bullington(&self, path: Path, d1: f32, d2: f32) -> f32 {
        let Path { distance: d, steps, station, carried } = path;
        let bulge = 0.5 / self.radius;
        let step = d / steps;
        let last = steps - 1.0;
        let slope = (carried - station) / d;
        let horizon = |h: f32| {
            let point = nearest_whole((larger(h, 0.0) / bulge).sqrt() / step);
            let away = within(point, 1.0, last) * step;
            (d - away) * bulge - h / away
        };
        let (up, back) = (horizon(station), horizon(carried));
        let over = larger(up - slope, 0.0) * larger(back + slope, 0.0);
        let blocked = (d * over * self.wave.twice_per_length).sqrt();
        // Clear: the point of the least ratio of clearance to Fresnel radius,
        // first between the points of the profile, with t = sqrt(d1 / d2).
        let arch = d * d * bulge;
        let mut t = (d1 / d2).sqrt();
        for _ in 0..3 {
            let inverse = 1.0 / t;
            let (sum, difference) = (t + inverse, t - inverse);
            let first = carried * t - station * inverse + arch * difference / (sum * sum);
            let second =
                carried * t + station * inverse + arch * (8.0 - sum * sum) / (sum * sum * sum);
            let change = within(first / larger(second, 1e-6), -1.0, 1.0);
            t *= (2.0 - change) / (2.0 + change);
        }
        let square = t * t;
        let point = steps * square / (1.0 + square);
        let ratio = |point: f32| {
            let x = within(point, 1.0, last) / steps;
            let under = x * (1.0 - x);
            (station * (1.0 - x) + carried * x - arch * under) / under.sqrt()
        };
        let before = ceil(point) - 1.0;
        let (a, b) = (ratio(before), ratio(before + 1.0));
        let least = if a < b { a } else { b };
        let clear = -least * (self.wave.twice_per_length / d).sqrt();
        let nu = if up >= slope { blocked } else { clear };
        let loss = corrected(knife_edge(nu), d);
        if steps > 1.5 { loss } else { 0.0 }
    }
}

/// 20 log10(2).
const DECIBELS: f32 = 6.020_6;

/// A number brought between two limits, the lower one first.
#[inline(always)]
fn within(x: f32, low: f32, high: f32) -> f32 {
    let x = larger(x, low);
    if x < high { x } else { high }
}

/// The whole number next to one from 0 to 2^22.
#[inline(always)]
fn nearest_whole(x: f32) -> f32 {
    const WHOLE: f32 = 8_388_608.0;
    let x = if x < 4_194_304.0 { x } else { 4_194_304.0 };
    (x + WHOLE) - WHOLE
}

/// The root of m b^3 - (m + 1) b + c = 0 between -1 and 1 (P.526-15 section
/// 3.2), for m up to 1.
#[inline(always)]
fn nearest(m: f32, c: f32) -> f32 {
    // From here Newton's steps only ever come closer.
    let mut b = c / (m + 1.0);
    for _ in 0..6 {
        let value = m * b * b * b - (m + 1.0) * b + c;
        let fall = (m + 1.0) - 3.0 * m * b * b;
        b += value / larger(fall, 1e-3);
    }
    within(b, -1.0, 1.0)
}

/// The distance term F(X) in dB.
#[inline(always)]
fn distance_term(x: f32) -> f32 {
    let log = log2(x);
    let far = 11.0 + 0.5 * DECIBELS * log - 17.6 * x;
    let near = -DECIBELS * log - 5.6488 * exp2(1.425 * log);
    if x >= 1.6 { far } else { near }
}

/// The height gain G in dB.
#[inline(always)]
fn height_gain(b: f32) -> f32 {
    let high = b > 2.0;
    let argument = if high { b - 1.1 } else { b + 0.1 * b * b * b };
    let log = log2(argument);
    let above = 17.6 * argument.sqrt() - 0.25 * DECIBELS * log - 8.0;
    if high { above } else { DECIBELS * log }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::propagation::delta_bullington::terms;
    use crate::propagation::{Path as LongPath, Profile};
    use crate::units::Metres;

    /// Over ground that is flat in itself the effective heights are the
    /// antennas' own, and the method's two terms can be compared.
    #[test]
    fn agrees_with_the_plain_method_over_flat_ground() {
        let mut worst = (0.0f32, String::new());
        for frequency in [30.0, 147.0, 446.0, 1300.0].map(Megahertz::new) {
            for polarization in [Polarization::Vertical, Polarization::Horizontal] {
                let sphere =
                    Sphere::new(frequency, EffectiveEarth::default(), Ground::LAND, polarization);
                for steps in [2u32, 3, 5, 9, 20, 33, 100, 333, 1000, 1900] {
                    let spacing = 29.7;
                    let distance: Vec<f64> = (0..=steps).map(|i| f64::from(i) * spacing).collect();
                    let profile = Profile::new(distance, vec![0.0; steps as usize + 1]).unwrap();
                    for station in [0.5, 3.0, 20.0, 60.0, 400.0] {
                        for carried in [0.5, 1.5, 11.0, 150.0] {
                            let path = LongPath::new(
                                &profile,
                                Metres::new(station),
                                Metres::new(carried),
                                frequency,
                            )
                            .with_polarization(polarization);
                            let terms = terms(&path);
                            let exact = (terms.result - terms.bullington_actual).value() as f32;
                            let got = sphere.beyond_bullington(Path {
                                distance: steps as f32 * spacing as f32,
                                steps: steps as f32,
                                station: station as f32,
                                carried: carried as f32,
                            });
                            let off = (got - exact).abs();
                            if off > worst.0 {
                                worst = (
                                    off,
                                    format!(
                                        "{frequency} {steps} steps {station} {carried}: {got} {exact}"
                                    ),
                                );
                            }
                        }
                    }
                }
            }
        }
        assert!(worst.0 < 0.01, "{worst:?}");
    }
}
