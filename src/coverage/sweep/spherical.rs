//! What a smooth earth costs beyond Bullington over the same smooth earth, the
//! second half of the delta-Bullington method, in closed form.

use pulp::Simd;

use super::lane::{DECIBELS, Lane};
use super::loss::{Wave, corrected, knife_edge};
use crate::propagation::{EffectiveEarth, Ground};
use crate::units::{Megahertz, Polarization};

/// A smooth earth and a wave over it (ITU-R P.526-15 section 3): what stays the
/// same for all cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sphere {
    wave: Wave,
    /// Radius of the effective earth, metres.
    radius: f32,
    /// 1 / sqrt(lambda).
    root_length: f32,
    /// The normalized admittance at a radius of 1 km.
    admittance: f32,
    /// X is this times beta, r^(-2/3) and the distance in metres, r in km.
    distance_factor: f32,
    /// Y is this times beta and r^(-1/3).
    height_factor: f32,
}

/// A path over the smooth surface.
#[derive(Clone, Copy)]
pub(super) struct Path<S: Simd> {
    pub distance: Lane<S>,
    /// Steps of the profile.
    pub steps: Lane<S>,
    /// Heights of the antennas over the surface.
    pub station: Lane<S>,
    pub carried: Lane<S>,
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
            root_length: (wavelength.sqrt().recip()) as f32,
            admittance: admittance as f32,
            distance_factor: (2.188e-3 * f.cbrt()) as f32,
            height_factor: (9.575e-3 * f.powf(2.0 / 3.0)) as f32,
        }
    }

    /// The first term of the residue series (P.526-15 section 3.1.1), dB;
    /// `root` is the radius in km to the power of -1/3.
    #[inline(always)]
    fn first_term<S: Simd>(&self, root: Lane<S>, d: Lane<S>, h1: Lane<S>, h2: Lane<S>) -> Lane<S> {
        let admittance = root * self.admittance;
        let k2 = admittance * admittance;
        let beta = ((k2 * 0.67 + 1.6) * k2 + 1.0) / ((k2 * 1.53 + 4.5) * k2 + 1.0);
        let scaled = beta * root;
        let x = scaled * root * d * self.distance_factor;
        let y = scaled * beta * self.height_factor;
        let least = admittance.decibels() + 2.0;
        let gains = height_gain(y * h1).max(least) + height_gain(y * h2).max(least);
        -distance_term(x) - gains
    }
}

/// Losses in dB of diffraction over the sphere beyond those of Bullington's
/// construction over it, 0 or more, at two frequencies over the same earth.
/// What is geometry they share.
#[inline(always)]
pub(super) fn beyond_bullington<S: Simd>(spheres: &[Sphere; 2], path: Path<S>) -> [Lane<S>; 2] {
    let Path { distance: d, station, carried, .. } = path;
    let radius = spheres[0].radius;
    let (h1, h2) = (station.at_least(0.0), carried.at_least(0.0));
    let roots = h1.sqrt() + h2.sqrt();
    // The square of d over the distance at which the antennas lose sight of
    // each other.
    let square = d * d;
    let share = square / (roots * roots * (2.0 * radius));
    let beyond = share.exceeds(1.0);
    // Within sight: where the line comes nearest to the surface.
    let both = h1 + h2;
    let b = nearest(square / (both * (4.0 * radius)), (h1 - h2) / both);
    let d1 = d * 0.5 * (b + 1.0);
    let d2 = d - d1;
    let bulge = 0.5 / radius;
    let clear = ((h1 - d1 * d1 * bulge) * d2 + (h2 - d2 * d2 * bulge) * d1) / d;
    let required = (d1 * d2 / d).sqrt() * 0.552;
    // Nothing is required where the line starts on the surface: all of the
    // loss is left there.
    let freed = required.exceeds(0.0).choose(clear / required, required);
    let none = d.nothing();
    let [a, b] = spheres;
    // The share of the loss at the horizon that is left, of a path within sight.
    let whole = none + 1.0;
    let left_a = beyond.choose(whole, whole - freed * a.root_length).at_least(0.0);
    let left_b = beyond.choose(whole, whole - freed * b.root_length).at_least(0.0);
    if left_a.max(left_b).largest() <= 0.0 {
        return [none, none];
    }
    // Within sight the radius is the one that would put the receiver right at
    // the horizon.
    let root = ((share.at_most(1.0) * (radius * 1e-3)).log2() * (-1.0 / 3.0)).exp2();
    let term_a = a.first_term(root, d, h1, h2).at_least(0.0) * left_a;
    let term_b = b.first_term(root, d, h1, h2).at_least(0.0) * left_b;
    if term_a.max(term_b).largest() <= 0.0 {
        return [none, none];
    }
    let smooth = path.over_smooth(radius, d1, d2);
    let beyond_a = (term_a - a.wave.bullington(smooth, path)).at_least(0.0);
    let beyond_b = (term_b - b.wave.bullington(smooth, path)).at_least(0.0);
    [term_a.exceeds(0.0).choose(beyond_a, none), term_b.exceeds(0.0).choose(beyond_b, none)]
}

impl Wave {
    /// Bullington's construction over the smooth surface, dB, from what
    /// [`Path::over_smooth`] found.
    #[inline(always)]
    fn bullington<S: Simd>(&self, smooth: Lane<S>, path: Path<S>) -> Lane<S> {
        let loss = corrected(knife_edge(smooth * self.twice_per_length.sqrt()), path.distance);
        path.steps.exceeds(1.5).choose(loss, loss.nothing())
    }
}

impl<S: Simd> Path<S> {
    /// nu over sqrt(2 / lambda) of Bullington's construction over the smooth
    /// surface, with profile points where the path has them; the line comes
    /// nearest to the surface at `d1` and `d2` from the ends.
    #[inline(always)]
    fn over_smooth(self, radius: f32, d1: Lane<S>, d2: Lane<S>) -> Lane<S> {
        let Path { distance: d, steps, station, carried } = self;
        let slope = (carried - station) / d;
        let (up, back) = (self.horizon(radius, station), self.horizon(radius, carried));
        let over = (up - slope).at_least(0.0) * (back + slope).at_least(0.0);
        let blocked = (d * over).sqrt();
        // Clear: the point of the least ratio of clearance to Fresnel radius,
        // first between the points of the profile, with t = sqrt(d1 / d2).
        let arch = d * d * (0.5 / radius);
        let t = self.closer(arch, (d1 / d2).sqrt());
        let t = self.closer(arch, t);
        let square = t * t;
        let point = steps * square / (square + 1.0);
        let before = point.ceil() - 1.0;
        let least = self.ratio(arch, before).min(self.ratio(arch, before + 1.0));
        slope.above(up).choose(-least / d.sqrt(), blocked)
    }

    /// The steepest slope from an antenna at this height over one end to the
    /// points of the smooth surface.
    #[inline(always)]
    fn horizon(self, radius: f32, h: Lane<S>) -> Lane<S> {
        let bulge = 0.5 / radius;
        let step = self.distance / self.steps;
        let point = ((h.at_least(0.0) * (1.0 / bulge)).sqrt() / step).at_most(4_194_304.0);
        let away = point.nearest().at_least(1.0).min(self.steps - 1.0) * step;
        (self.distance - away) * bulge - h / away
    }

    /// A step of Newton's towards the least [`Path::ratio`], in log t.
    #[inline(always)]
    fn closer(self, arch: Lane<S>, t: Lane<S>) -> Lane<S> {
        let inverse = Lane::splat(t.simd(), 1.0) / t;
        let (sum, difference) = (t + inverse, t - inverse);
        let square = sum * sum;
        let weight = arch / (square * sum);
        let (far, near) = (self.carried * t, self.station * inverse);
        let first = far - near + weight * difference * sum;
        let second = far + near + weight * (-square + 8.0);
        let change = (first / second.at_least(1e-6)).at_least(-1.0).at_most(1.0);
        t * (-change + 2.0) / (change + 2.0)
    }

    /// Clearance of the smooth surface at a point of the profile over
    /// sqrt(d1 d2) / d; the arch is the bulge of the earth, as d^2 / (2 a).
    #[inline(always)]
    fn ratio(self, arch: Lane<S>, point: Lane<S>) -> Lane<S> {
        let x = point.at_least(1.0).min(self.steps - 1.0) / self.steps;
        let rest = -x + 1.0;
        let under = x * rest;
        (self.station * rest + self.carried * x - arch * under) / under.sqrt()
    }
}

/// The root of m b^3 - (m + 1) b + c = 0 between -1 and 1 (P.526-15 section
/// 3.2), for m up to 1.
#[inline(always)]
fn nearest<S: Simd>(m: Lane<S>, c: Lane<S>) -> Lane<S> {
    // From this start on Newton's steps only ever come closer.
    let b = c / (m + 1.0);
    let b = closer(m, c, closer(m, c, closer(m, c, b)));
    b.at_least(-1.0).at_most(1.0)
}

#[inline(always)]
fn closer<S: Simd>(m: Lane<S>, c: Lane<S>, b: Lane<S>) -> Lane<S> {
    let more = m + 1.0;
    let cube = m * b * b;
    let value = (cube - more) * b + c;
    b + value / (more - cube * 3.0).at_least(1e-3)
}

/// The distance term F(X) in dB.
#[inline(always)]
fn distance_term<S: Simd>(x: Lane<S>) -> Lane<S> {
    let log = x.log2();
    let far = log * (0.5 * DECIBELS) - x * 17.6 + 11.0;
    let near = -(log * DECIBELS) - (log * 1.425).exp2() * 5.6488;
    x.exceeds(1.6).choose(far, near)
}

/// The height gain G in dB.
#[inline(always)]
fn height_gain<S: Simd>(b: Lane<S>) -> Lane<S> {
    let high = b.exceeds(2.0);
    let argument = high.choose(b - 1.1, b * b * b * 0.1 + b);
    let log = argument.log2();
    let above = argument.sqrt() * 17.6 - log * (0.25 * DECIBELS) - 8.0;
    high.choose(above, log * DECIBELS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::coverage::sweep::lane::LANES;
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
                            let number = |x: f64| Lane::splat(pulp::Scalar, x as f32);
                            let [got, _] = beyond_bullington(
                                &[sphere; 2],
                                Path {
                                    distance: number(f64::from(steps) * spacing),
                                    steps: number(f64::from(steps)),
                                    station: number(station),
                                    carried: number(carried),
                                },
                            );
                            let mut row = [0f32; LANES];
                            got.store(&mut row, 0);
                            let got = row[0];
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
