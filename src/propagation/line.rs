//! The straight line between two points, over ground that carries the bulge
//! of the effective earth: the geometry that every method shares.
//!
//! Adding the bulge d (D - d) / (2 a) to each ground height turns the curved
//! earth into a plane one in which rays are straight. The height of a raised
//! point over the chord of any two raised points is the same as if the bulge
//! of that part alone had been added, so parts of a path need no bulge of
//! their own. Bare `f64` are metres throughout.

use super::Path;

/// A point of the vertical plane through both antennas, the bulge included.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Point {
    /// From the transmitter.
    pub distance: f64,
    /// Above sea level, plus the bulge.
    pub height: f64,
}

/// What the curvature of the earth adds to a height along a path.
#[derive(Debug, Clone, Copy)]
pub(super) struct Bulge {
    length: f64,
    curvature: f64,
}

impl Bulge {
    pub(super) fn of(path: &Path<'_>) -> Self {
        Self { length: path.length().value(), curvature: 0.5 / path.earth().radius().value() }
    }

    /// The bulge at this distance from the transmitter.
    pub(super) fn at(self, distance: f64) -> f64 {
        distance * (self.length - distance) * self.curvature
    }

    /// How far the tangent at one end dips below the chord, per metre of path:
    /// a slope in the raised plane less this is a slope over the horizontal.
    pub(super) fn end_slope(self) -> f64 {
        self.length * self.curvature
    }
}

/// Distances and ground heights between the ends of a path, without the ends.
pub(super) fn between_ends<'a>(
    path: &Path<'a>,
) -> impl DoubleEndedIterator<Item = (f64, f64)> + ExactSizeIterator + Clone + use<'a> {
    let inner = 1..path.profile().len().saturating_sub(1);
    let distances = path.profile().distances().get(inner.clone()).unwrap_or_default();
    let heights = path.profile().heights().get(inner).unwrap_or_default();
    distances.iter().copied().zip(heights.iter().copied())
}

/// The ground between the ends of a path, raised by the bulge.
pub(super) fn raised_ground<'a>(
    path: &Path<'a>,
) -> impl DoubleEndedIterator<Item = Point> + ExactSizeIterator + Clone + use<'a> {
    let bulge = Bulge::of(path);
    between_ends(path)
        .map(move |(distance, height)| Point { distance, height: height + bulge.at(distance) })
}

/// The same with what stands on the ground: what obstructs the path, trees
/// among it unless the path runs through them. Cover at the ends themselves is
/// left out: the antennas stand on the ground there.
pub(super) fn covered_ground<'a>(
    path: &Path<'a>,
) -> impl DoubleEndedIterator<Item = Point> + ExactSizeIterator + Clone + use<'a> {
    let (houses, trees) = (!path.is_without_houses(), !path.is_through_woods());
    let (cover, woods) = (path.profile().cover(), path.profile().woods());
    raised_ground(path).enumerate().map(move |(inner, point)| {
        let of = |list: &[f64]| list.get(inner + 1).copied().unwrap_or(0.0);
        let stands = match (houses, trees) {
            (true, true) => of(cover),
            (true, false) => of(cover) - of(woods),
            (false, true) => of(woods),
            (false, false) => 0.0,
        };
        Point { height: point.height + stands, ..point }
    })
}

/// The line between the antennas.
pub(super) fn antenna_line(path: &Path<'_>) -> Line {
    Line::new(
        Point { distance: 0.0, height: path.transmitter_altitude().value() },
        Point { distance: path.length().value(), height: path.receiver_altitude().value() },
    )
}

/// A straight line from `start` to a later `end`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Line {
    pub start: Point,
    pub end: Point,
    slope: f64,
}

/// The point that obstructs a line most.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dominant {
    pub point: Point,
    /// The knife-edge parameter, dimensionless.
    pub nu: f64,
}

/// Steepest slopes from the two ends of a line to the ground, upwards as seen
/// from each end.
#[derive(Debug, Clone, Copy)]
pub(super) struct Horizons {
    pub from_start: f64,
    pub from_end: f64,
}

impl Line {
    pub(super) fn new(start: Point, end: Point) -> Self {
        let slope = (end.height - start.height) / (end.distance - start.distance);
        Self { start, end, slope }
    }

    /// Slope from start to end, upwards positive.
    pub(super) fn slope(&self) -> f64 {
        self.slope
    }

    pub(super) fn length(&self) -> f64 {
        self.end.distance - self.start.distance
    }

    pub(super) fn height_at(&self, distance: f64) -> f64 {
        self.start.height + self.slope * (distance - self.start.distance)
    }

    /// Height of a point over the line, negative below it.
    pub(super) fn excess(&self, point: Point) -> f64 {
        point.height - self.height_at(point.distance)
    }

    /// d1 d2 / d, the square of the first Fresnel radius over the wavelength.
    fn spread(&self, distance: f64) -> f64 {
        (distance - self.start.distance) * (self.end.distance - distance) / self.length()
    }

    /// Radius of the first Fresnel zone around the line (P.526 section 2.1).
    pub(super) fn fresnel_radius(&self, distance: f64, wavelength: f64) -> f64 {
        (wavelength * self.spread(distance)).sqrt()
    }

    /// The knife-edge parameter of a point between the ends: its height over
    /// the line times sqrt(2 d / (lambda d1 d2)) (P.526 section 4.1).
    pub(super) fn nu(&self, point: Point, wavelength: f64) -> f64 {
        self.excess(point) * (2.0 / (wavelength * self.spread(point.distance))).sqrt()
    }

    /// The point with the largest parameter; `None` without points.
    pub(super) fn dominant(
        &self,
        ground: impl Iterator<Item = Point>,
        wavelength: f64,
    ) -> Option<Dominant> {
        let point = self.worst(ground)?;
        Some(Dominant { point, nu: self.nu(point, wavelength) })
    }

    /// The point with the largest parameter, which is the same at any
    /// wavelength; `None` without points.
    pub(super) fn worst(&self, ground: impl Iterator<Item = Point>) -> Option<Point> {
        // Ranked by the signed square of the parameter, less what is the same
        // for all points, to save a root a point.
        let mut best: Option<(f64, Point)> = None;
        for point in ground {
            let excess = self.excess(point);
            let (d1, d2) =
                (point.distance - self.start.distance, self.end.distance - point.distance);
            let rank = excess * excess.abs() / (d1 * d2);
            if best.is_none_or(|(leader, _)| rank > leader) {
                best = Some((rank, point));
            }
        }
        best.map(|(_, point)| point)
    }

    /// Steepest slopes from either end; `None` without points.
    pub(super) fn horizons(&self, ground: impl Iterator<Item = Point>) -> Option<Horizons> {
        let mut horizons = Horizons { from_start: f64::NEG_INFINITY, from_end: f64::NEG_INFINITY };
        for point in ground {
            let up = (point.height - self.start.height) / (point.distance - self.start.distance);
            let back = (point.height - self.end.height) / (self.end.distance - point.distance);
            horizons.from_start = horizons.from_start.max(up);
            horizons.from_end = horizons.from_end.max(back);
        }
        (horizons.from_start > f64::NEG_INFINITY).then_some(horizons)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use approx::assert_abs_diff_eq;

    const fn point(distance: f64, height: f64) -> Point {
        Point { distance, height }
    }

    /// By hand, for a line that begins elsewhere than at the transmitter: up by
    /// 20 m over 400 m; in its middle d1 d2 / d is 100 m.
    #[test]
    fn a_part_of_a_path_has_the_geometry_of_its_own_ends() {
        let line = Line::new(point(100.0, 10.0), point(500.0, 30.0));
        assert_abs_diff_eq!(line.slope(), 0.05, epsilon = 1e-15);
        assert_eq!(line.length(), 400.0);
        assert_abs_diff_eq!(line.height_at(300.0), 20.0, epsilon = 1e-12);
        assert_abs_diff_eq!(line.excess(point(200.0, 10.0)), -5.0, epsilon = 1e-12);
        assert_abs_diff_eq!(line.fresnel_radius(300.0, 4.0), 20.0, epsilon = 1e-12);
        // 5 m over the line, times sqrt(2 / (4 * 100)).
        let nu = line.nu(point(300.0, 25.0), 4.0);
        assert_abs_diff_eq!(nu, 5.0 * 0.005f64.sqrt(), epsilon = 1e-12);

        let ground = [point(200.0, 40.0), point(400.0, 35.0)];
        let horizons = line.horizons(ground.into_iter()).unwrap();
        assert_abs_diff_eq!(horizons.from_start, 30.0 / 100.0, epsilon = 1e-12);
        assert_abs_diff_eq!(horizons.from_end, 5.0 / 100.0, epsilon = 1e-12);
        assert!(line.horizons(std::iter::empty()).is_none());
    }

    /// The parameter grows with the height over the line and towards the ends:
    /// by hand, height over sqrt(d1 d2).
    #[test]
    fn the_worst_point_has_the_largest_parameter_and_the_first_of_two_alike() {
        let line = Line::new(point(100.0, 0.0), point(500.0, 0.0));
        let worst = |ground: &[Point]| line.worst(ground.iter().copied()).unwrap();
        let (near_end, middle) = (point(140.0, 4.0), point(300.0, 6.0));
        // 4 / sqrt(40 * 360) against 6 / sqrt(200 * 200).
        assert_eq!(worst(&[near_end, middle]), near_end);
        assert_eq!(worst(&[near_end, point(300.0, 7.0)]), point(300.0, 7.0));
        // Below the line the one that lies least deep for its place.
        assert_eq!(worst(&[point(140.0, -4.0), point(300.0, -6.0)]), point(300.0, -6.0));
        let (one, other) = (point(200.0, 5.0), point(400.0, 5.0));
        assert_eq!((worst(&[one, other]), worst(&[other, one])), (one, other));
        let found = line.dominant([near_end, middle].into_iter(), 1.0).unwrap();
        assert_eq!((found.point, found.nu), (near_end, line.nu(near_end, 1.0)));
        assert!(line.dominant(std::iter::empty(), 1.0).is_none());
    }

    /// Over 100 km the chord of the median earth lies 100^2 / 8a = 147.1 m deep
    /// at its middle and dips by 50 km / a at its ends.
    #[test]
    fn the_bulge_is_that_of_a_circle() {
        let bulge = Bulge { length: 1e5, curvature: 0.5 / (6.371e6 * 4.0 / 3.0) };
        assert_abs_diff_eq!(bulge.at(5e4), 147.15, epsilon = 0.01);
        assert_abs_diff_eq!(bulge.at(1e4), bulge.at(9e4), epsilon = 1e-9);
        assert_eq!((bulge.at(0.0), bulge.at(1e5)), (0.0, 0.0));
        assert_abs_diff_eq!(bulge.end_slope(), 5.886e-3, epsilon = 1e-6);
    }

    /// Houses and trees stand in the way, trees only until the wave runs through
    /// them; what stands at the ends never does.
    #[test]
    fn trees_obstruct_unless_the_path_runs_through_them() {
        use crate::{EffectiveEarth, Profile};
        use perchline_units::{Megahertz, Metres};
        let ground = Profile::new(vec![0.0, 100.0, 200.0, 300.0], vec![3.0, 4.0, 5.0, 6.0])
            .and_then(|ground| ground.with_cover(vec![9.0, 12.0, 8.0, 9.0]))
            .and_then(|ground| ground.with_woods(vec![9.0, 12.0, 0.0, 9.0]))
            .unwrap();
        let mast = Metres::new(2.0);
        let over = Path::new(&ground, mast, mast, Megahertz::new(146.0))
            .with_earth(EffectiveEarth::from_radius(Metres::new(f64::INFINITY)));
        assert!(!over.is_through_woods() && over.through_woods().is_through_woods());
        let heights = |path: &Path<'_>| covered_ground(path).map(|p| p.height).collect::<Vec<_>>();
        assert_eq!(heights(&over), [16.0, 13.0]);
        assert_eq!(heights(&over.through_woods()), [4.0, 13.0]);
        assert_eq!(raised_ground(&over).map(|p| p.height).collect::<Vec<_>>(), [4.0, 5.0]);
        let line = antenna_line(&over);
        assert_eq!((line.start, line.end), (point(0.0, 5.0), point(300.0, 8.0)));
    }
}
