//! Diffraction loss over a smooth earth beyond that of Bullington's construction
//! over the same smooth earth, the second half of the delta-Bullington method, in
//! closed form.

use pulp::Simd;

use super::loss::{Wave, bullington, knife_edge};
use super::registers::{DECIBELS, Register};
use perchline_propagation::{EffectiveEarth, GroundConstants};
use perchline_units::{Megahertz, Polarization};

/// A smooth earth and a wave over it (ITU-R P.526-15 section 3): what is the
/// same for all cells.
#[derive(Debug, Clone, Copy)]
pub(super) struct SmoothEarth {
    wave: Wave,
    /// Effective-earth radius, metres.
    radius: f32,
    /// 1 / sqrt(lambda), m^(-1/2).
    inverse_root_wavelength: f32,
    /// The normalized surface admittance K at a radius of 1 km.
    admittance: f32,
    /// X is this times beta, r^(-2/3) and the distance in metres, r in km.
    distance_factor: f32,
    /// Y is this times beta, r^(-1/3) and the height in metres, r in km.
    height_factor: f32,
}

/// A path over the smooth surface.
#[derive(Clone, Copy)]
pub(super) struct SmoothPath<S: Simd> {
    /// Ground distance, metres.
    pub distance: Register<S>,
    /// Steps of the profile.
    pub steps: Register<S>,
    /// Effective antenna heights: above the smooth surface, metres.
    pub station: Register<S>,
    pub receiver: Register<S>,
}

impl SmoothEarth {
    pub(super) fn new(
        frequency: Megahertz,
        earth: EffectiveEarth,
        ground: GroundConstants,
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
            inverse_root_wavelength: (wavelength.sqrt().recip()) as f32,
            admittance: admittance as f32,
            distance_factor: (2.188e-3 * f.cbrt()) as f32,
            height_factor: (9.575e-3 * f.powf(2.0 / 3.0)) as f32,
        }
    }

    /// The first term of the residue series (P.526-15 section 3.1.1), dB;
    /// `root` is the radius in km to the power of -1/3.
    #[inline(always)]
    fn first_term<S: Simd>(
        &self,
        root: Register<S>,
        d: Register<S>,
        h1: Register<S>,
        h2: Register<S>,
    ) -> Register<S> {
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

/// Diffraction losses in dB over the smooth earth beyond those of Bullington's
/// construction over it, 0 or more, at two frequencies over the same earth. The
/// geometry they share.
#[inline(always)]
pub(super) fn beyond_bullington<S: Simd>(
    earths: &[SmoothEarth; 2],
    path: SmoothPath<S>,
) -> [Register<S>; 2] {
    let SmoothPath { distance: d, station, receiver, .. } = path;
    let radius = earths[0].radius;
    let (h1, h2) = (station.at_least(0.0), receiver.at_least(0.0));
    let roots = h1.sqrt() + h2.sqrt();
    // The square of d over the distance at which the antennas lose sight of
    // each other.
    let square = d * d;
    let share = square / (roots * roots * (2.0 * radius));
    let beyond = share.exceeds(1.0);
    // Within sight: where the line comes nearest to the surface.
    let both = h1 + h2;
    let b = closest_approach(square / (both * (4.0 * radius)), (h1 - h2) / both);
    let d1 = d * 0.5 * (b + 1.0);
    let d2 = d - d1;
    let bulge = 0.5 / radius;
    let clear = ((h1 - d1 * d1 * bulge) * d2 + (h2 - d2 * d2 * bulge) * d1) / d;
    let required = (d1 * d2 / d).sqrt() * 0.552;
    // Nothing is required where the line starts on the surface: all of the
    // loss is left there.
    let freed = required.exceeds(0.0).select(clear / required, required);
    let none = d.zero();
    let [a, b] = earths;
    // The share of the loss at the horizon that is left, of a path within sight.
    let whole = none + 1.0;
    let left_a = beyond.select(whole, whole - freed * a.inverse_root_wavelength).at_least(0.0);
    let left_b = beyond.select(whole, whole - freed * b.inverse_root_wavelength).at_least(0.0);
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
    let obstruction = path.obstruction(radius, d1, d2);
    let beyond_a = (term_a - a.wave.over_smooth_earth(obstruction, path)).at_least(0.0);
    let beyond_b = (term_b - b.wave.over_smooth_earth(obstruction, path)).at_least(0.0);
    [term_a.exceeds(0.0).select(beyond_a, none), term_b.exceeds(0.0).select(beyond_b, none)]
}

impl Wave {
    /// Loss of Bullington's construction over the smooth surface, dB, by its
    /// [`SmoothPath::obstruction`]. A path of one step has no point between.
    #[inline(always)]
    fn over_smooth_earth<S: Simd>(
        &self,
        obstruction: Register<S>,
        path: SmoothPath<S>,
    ) -> Register<S> {
        let nu = obstruction * self.two_over_wavelength.sqrt();
        let loss = bullington(knife_edge(nu), path.distance);
        path.steps.exceeds(1.5).select(loss, loss.zero())
    }
}

impl<S: Simd> SmoothPath<S> {
    /// nu over sqrt(2 / lambda) of Bullington's construction over the smooth
    /// surface, with profile points where the path has them; the line comes
    /// nearest to the surface at `d1` and `d2` metres from the ends.
    #[inline(always)]
    fn obstruction(self, radius: f32, d1: Register<S>, d2: Register<S>) -> Register<S> {
        let SmoothPath { distance: d, steps, station, receiver } = self;
        let slope = (receiver - station) / d;
        let from_station = self.horizon_slope(radius, station);
        let from_receiver = self.horizon_slope(radius, receiver);
        let over = (from_station - slope).at_least(0.0) * (from_receiver + slope).at_least(0.0);
        let blocked = (d * over).sqrt();
        // Clear: the point of the least ratio of clearance to Fresnel radius,
        // first between the points of the profile, with t = sqrt(d1 / d2).
        let arch = d * d * (0.5 / radius);
        let t = self.newton_step(arch, (d1 / d2).sqrt());
        let t = self.newton_step(arch, t);
        let square = t * t;
        let point = steps * square / (square + 1.0);
        let before = point.ceil() - 1.0;
        let least =
            self.clearance_ratio(arch, before).min(self.clearance_ratio(arch, before + 1.0));
        slope.above(from_station).select(-least / d.sqrt(), blocked)
    }

    /// The steepest slope from an antenna at this height in metres over one end
    /// to the points of the smooth surface.
    #[inline(always)]
    fn horizon_slope(self, radius: f32, h: Register<S>) -> Register<S> {
        let bulge = 0.5 / radius;
        let step = self.distance / self.steps;
        let point = ((h.at_least(0.0) * (1.0 / bulge)).sqrt() / step).at_most(4_194_304.0);
        let away = point.nearest().at_least(1.0).min(self.steps - 1.0) * step;
        (self.distance - away) * bulge - h / away
    }

    /// One step of Newton's method towards the least clearance ratio, in log t.
    #[inline(always)]
    fn newton_step(self, arch: Register<S>, t: Register<S>) -> Register<S> {
        let inverse = Register::splat(t.simd(), 1.0) / t;
        let (sum, difference) = (t + inverse, t - inverse);
        let square = sum * sum;
        let weight = arch / (square * sum);
        let (receiver, station) = (self.receiver * t, self.station * inverse);
        let first = receiver - station + weight * difference * sum;
        let second = receiver + station + weight * (-square + 8.0);
        let change = (first / second.at_least(1e-6)).at_least(-1.0).at_most(1.0);
        t * (-change + 2.0) / (change + 2.0)
    }

    /// Clearance over the smooth surface at a point of the profile, over
    /// sqrt(d1 d2) / d, metres; `arch` is the earth's bulge as d^2 / (2 a).
    #[inline(always)]
    fn clearance_ratio(self, arch: Register<S>, point: Register<S>) -> Register<S> {
        let x = point.at_least(1.0).min(self.steps - 1.0) / self.steps;
        let rest = -x + 1.0;
        let under = x * rest;
        (self.station * rest + self.receiver * x - arch * under) / under.sqrt()
    }
}

/// Where the line comes closest to the smooth surface, from -1 at one end to 1
/// at the other: the root of m b^3 - (m + 1) b + c = 0 between them (P.526-15
/// section 3.2), for m up to 1.
#[inline(always)]
fn closest_approach<S: Simd>(m: Register<S>, c: Register<S>) -> Register<S> {
    // From this start Newton's method converges from one side.
    let mut b = c / (m + 1.0);
    for _ in 0..3 {
        b = cubic_newton_step(m, c, b);
    }
    b.at_least(-1.0).at_most(1.0)
}

/// One step of Newton's method towards the root of m b^3 - (m + 1) b + c.
#[inline(always)]
fn cubic_newton_step<S: Simd>(m: Register<S>, c: Register<S>, b: Register<S>) -> Register<S> {
    let more = m + 1.0;
    let cube = m * b * b;
    let value = (cube - more) * b + c;
    b + value / (more - cube * 3.0).at_least(1e-3)
}

/// The distance term F(X) of P.526-15 section 3.1.1, dB.
#[inline(always)]
fn distance_term<S: Simd>(x: Register<S>) -> Register<S> {
    let log = x.log2();
    let far = log * (0.5 * DECIBELS) - x * 17.6 + 11.0;
    let near = -(log * DECIBELS) - (log * 1.425).exp2() * 5.6488;
    x.exceeds(1.6).select(far, near)
}

/// The height gain G(Y) of P.526-15 section 3.1.1, dB.
#[inline(always)]
fn height_gain<S: Simd>(b: Register<S>) -> Register<S> {
    let high = b.exceeds(2.0);
    let argument = high.select(b - 1.1, b * b * b * 0.1 + b);
    let log = argument.log2();
    let above = argument.sqrt() * 17.6 - log * (0.25 * DECIBELS) - 8.0;
    high.select(above, log * DECIBELS)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sweep::registers::LANES;
    use perchline_propagation::delta_bullington::terms;
    use perchline_propagation::{Path, Profile};
    use perchline_units::Metres;

    /// Over ground that is flat in itself the effective heights are the
    /// antennas' own, and the method's two terms can be compared.
    #[test]
    fn agrees_with_the_plain_method_over_flat_ground() {
        let mut worst = (0.0f32, String::new());
        for frequency in [30.0, 147.0, 446.0, 1300.0].map(Megahertz::new) {
            for polarization in [Polarization::Vertical, Polarization::Horizontal] {
                let earth = EffectiveEarth::default();
                let ground = GroundConstants::LAND;
                let smooth = SmoothEarth::new(frequency, earth, ground, polarization);
                for steps in [2u32, 3, 5, 9, 20, 33, 100, 333, 1000, 1900] {
                    let spacing = 29.7;
                    let distance: Vec<f64> = (0..=steps).map(|i| f64::from(i) * spacing).collect();
                    let profile = Profile::new(distance, vec![0.0; steps as usize + 1]).unwrap();
                    for station in [0.5, 3.0, 20.0, 60.0, 400.0] {
                        for receiver in [0.5, 1.5, 11.0, 150.0] {
                            let path = Path::new(
                                &profile,
                                Metres::new(station),
                                Metres::new(receiver),
                                frequency,
                            )
                            .with_polarization(polarization);
                            let terms = terms(&path);
                            let exact = (terms.result - terms.bullington_actual).value() as f32;
                            let number = |x: f64| Register::splat(pulp::Scalar, x as f32);
                            let [got, _] = beyond_bullington(
                                &[smooth; 2],
                                SmoothPath {
                                    distance: number(f64::from(steps) * spacing),
                                    steps: number(f64::from(steps)),
                                    station: number(station),
                                    receiver: number(receiver),
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
                                        "{frequency} {steps} steps {station} {receiver}: {got} {exact}"
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
