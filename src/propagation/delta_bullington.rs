//! Delta-Bullington: Bullington over the real ground, plus what a smooth
//! earth costs beyond Bullington over the same smooth earth.

use std::ops::RangeInclusive;

use super::bullington::{
    Construction, KNIFE_EDGE_DISTANCES, KNIFE_EDGE_FREQUENCIES, at_edge, construct, edge_point,
};
use super::line::{Bulge, Line, Point, antenna_line, between_ends, covered_ground};
use super::spherical_earth::SphericalEarth;
use super::{Counted, Edge, Obstructions, Path, PathLoss, Profile, SweptForm, not_below_zero};
use perchline_units::{Db, Megahertz, Metres};

/// The general terrain method of P.526, the default for planning.
#[derive(Debug, Clone, Copy)]
pub struct DeltaBullington;

/// What the method's result is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Height of the transmitting antenna over the smooth surface, metres.
    pub effective_transmitter: Metres,
    /// Height of the receiving antenna over the smooth surface, metres.
    pub effective_receiver: Metres,
    /// Bullington's construction over the real ground, dB.
    pub bullington_actual: Db,
    /// Bullington's construction over the smooth surface, dB.
    pub bullington_smooth: Db,
    /// Diffraction over the smooth surface as a spherical earth, dB.
    pub spherical_earth: Db,
    /// The method's result, dB beyond free space.
    pub result: Db,
}

impl PathLoss for DeltaBullington {
    fn name(&self) -> &'static str {
        "delta-bullington"
    }

    fn summary(&self) -> &'static str {
        "the general method: Bullington over the ground, corrected for the roundness of the earth"
    }

    fn source(&self) -> &'static str {
        "ITU-R P.526-15, sections 4.5.2 and 4.5.3, with 3.2 and 4.5.1"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        KNIFE_EDGE_FREQUENCIES
    }

    fn valid_distance(&self) -> RangeInclusive<Metres> {
        KNIFE_EDGE_DISTANCES
    }

    fn counted(&self) -> Counted {
        Counted::edges(Obstructions::Horizons).and_smooth_earth()
    }

    fn swept(&self) -> Option<SweptForm> {
        Some(SweptForm::DeltaBullington)
    }

    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let actual = actual_ground(path);
        actual.note_edge(path, note);
        let heights = EffectiveHeights::of(path);
        let spherical = heights.over(path, SphericalEarth::of(path));
        if spherical.value() <= 0.0 {
            // Nothing that the smooth construction could be short of.
            return Db::new(actual.loss);
        }
        let wavelength = path.frequency().wavelength().value();
        let smooth = Db::new(construct(&heights.line(path), smooth_ground(path), wavelength).loss);
        Db::new(actual.loss) + not_below_zero(spherical - smooth)
    }
}

/// All terms of the method for one path.
#[must_use]
pub fn terms(path: &Path<'_>) -> Terms {
    Shape::of(path, EffectiveHeights::of(path)).terms(path, SphericalEarth::of(path))
}

/// What the method needs to know of the ground below a path, the same at any
/// frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shape {
    heights: EffectiveHeights,
    actual_edge: Option<Point>,
    smooth_edge: Option<Point>,
}

impl Shape {
    /// The shape of the ground of a path on its effective earth; the `heights`
    /// are the same on any earth.
    pub(super) fn of(path: &Path<'_>, heights: EffectiveHeights) -> Self {
        Self {
            heights,
            actual_edge: edge_point(&antenna_line(path), covered_ground(path)),
            smooth_edge: edge_point(&heights.line(path), smooth_ground(path)),
        }
    }

    /// All terms at the frequency of the path over this smooth earth.
    pub(super) fn terms(&self, path: &Path<'_>, earth: SphericalEarth) -> Terms {
        let bullington_actual = Db::new(self.actual(path).loss);
        let wavelength = path.frequency().wavelength().value();
        let bullington_smooth =
            Db::new(at_edge(&self.heights.line(path), self.smooth_edge, wavelength).loss);
        let spherical_earth = self.heights.over(path, earth);
        Terms {
            effective_transmitter: Metres::new(self.heights.transmitter),
            effective_receiver: Metres::new(self.heights.receiver),
            bullington_actual,
            bullington_smooth,
            spherical_earth,
            result: bullington_actual + not_below_zero(spherical_earth - bullington_smooth),
        }
    }

    /// The construction over the real ground at the frequency of the path.
    pub(super) fn actual(&self, path: &Path<'_>) -> Construction {
        at_edge(&antenna_line(path), self.actual_edge, path.frequency().wavelength().value())
    }
}

/// Heights of the antennas over the smooth surface in metres.
#[derive(Debug, Clone, Copy)]
pub(super) struct EffectiveHeights {
    transmitter: f64,
    receiver: f64,
}

fn actual_ground(path: &Path<'_>) -> Construction {
    let wavelength = path.frequency().wavelength().value();
    construct(&antenna_line(path), covered_ground(path), wavelength)
}

/// The ground at zero, at the same distances as the real one (P.526-15 section 4.5.2).
fn smooth_ground<'a>(path: &Path<'a>) -> impl Iterator<Item = Point> + Clone + use<'a> {
    let bulge = Bulge::of(path);
    between_ends(path).map(move |(distance, _)| Point { distance, height: bulge.at(distance) })
}

impl EffectiveHeights {
    /// Antenna heights over the straight line that fits the ground best, lowered
    /// where ground stands in the way and never above the ground at the ends
    /// (P.526-15 section 4.5.3).
    pub(super) fn of(path: &Path<'_>) -> Self {
        Self::over_fit(path, best_fit(path.profile()))
    }

    /// The same where the [`best_fit`] of the ground is known.
    pub(super) fn over_fit(path: &Path<'_>, (mut start, mut end): (f64, f64)) -> Self {
        let length = path.length().value();
        let profile = path.profile();
        let ground_start = profile.heights().first().copied().unwrap_or_default();
        let ground_end = profile.heights().last().copied().unwrap_or_default();

        // Here the line is held against the bare ground, without the bulge.
        let line = antenna_line(path);
        let (mut highest, mut steep_start, mut steep_end) =
            (f64::NEG_INFINITY, f64::NEG_INFINITY, f64::NEG_INFINITY);
        for (distance, height) in between_ends(path) {
            let excess = line.excess(Point { distance, height });
            highest = highest.max(excess);
            steep_start = steep_start.max(excess / distance);
            steep_end = steep_end.max(excess / (length - distance));
        }
        if highest > 0.0 {
            let both = steep_start + steep_end;
            start -= highest * steep_start / both;
            end -= highest * steep_end / both;
        }
        let rise = ground_end - ground_start;
        Self {
            transmitter: path.transmitter_height().value() - start.min(0.0),
            receiver: path.receiver_height().value() + rise - end.min(rise),
        }
    }

    /// The line between antennas at these heights over the smooth surface.
    fn line(self, path: &Path<'_>) -> Line {
        Line::new(
            Point { distance: 0.0, height: self.transmitter },
            Point { distance: path.length().value(), height: self.receiver },
        )
    }

    /// The loss over a spherical earth with the antennas at these heights.
    fn over(self, path: &Path<'_>, earth: SphericalEarth) -> Db {
        earth.loss(path.length(), Metres::new(self.transmitter), Metres::new(self.receiver))
    }
}

/// The straight line that fits the ground best, as its heights over the first
/// ground point at both ends, in metres (P.526-15 section 4.5.3). Over sea
/// level, high country would cost digits that an antenna near the ground needs.
pub(super) fn best_fit(profile: &Profile) -> (f64, f64) {
    let length = profile.length().value();
    let ground_start = profile.heights().first().copied().unwrap_or_default();
    let (mut v1, mut v2) = (0.0, 0.0);
    let (mut d0, mut h0) = (0.0, 0.0);
    for (&d, &height) in profile.distances().iter().zip(profile.heights()).skip(1) {
        let h = height - ground_start;
        v1 += (d - d0) * (h + h0);
        v2 += (d - d0) * (h * (2.0 * d + d0) + h0 * (d + 2.0 * d0));
        (d0, h0) = (d, h);
    }
    let square = length * length;
    ((2.0 * v1 * length - v2) / square, (v2 - v1 * length) / square)
}
