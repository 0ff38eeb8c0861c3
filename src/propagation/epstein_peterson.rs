//! Every hill under a string stretched over the ground, each as an edge
//! between its neighbours.

use std::ops::RangeInclusive;

use super::bullington::{KNIFE_EDGE_DISTANCES, KNIFE_EDGE_FREQUENCIES};
use super::line::{Bulge, Dominant, Line, Point, antenna_line, covered_ground};
use super::{Counted, Edge, Obstructions, Path, PathLoss, knife_edge};
use perchline_units::{Db, Megahertz, Metres};

/// Sum of the losses of the hills that a stretched string touches, each over
/// the line between its neighbours.
///
/// On a fine raster the string touches a rounded hill at many points. Points
/// next to each other on the string belong to one hill as long as the ground
/// between them dips below the string by no more than [`HILL_DIP`] of the first
/// Fresnel radius between the two: a wave that grazes both does not see two
/// edges. Of each hill, the point with the largest parameter nu over the line
/// between the antennas stands for it. A plateau thus counts as one edge.
#[derive(Debug, Clone, Copy)]
pub struct EpsteinPeterson;

/// The dip, in first Fresnel radii, that parts one hill from the next: the
/// clearance that leaves a path free of loss (P.526-15 section 2.1, 0.6). Its
/// use for this purpose is ours.
pub const HILL_DIP: f64 = 0.6;

/// Loss in dB that both edges of a pair exceed before the pair is corrected
/// (P.526-15 section 4.4.1).
const CORRECTED_ABOVE: f64 = 15.0;

impl PathLoss for EpsteinPeterson {
    fn name(&self) -> &'static str {
        "epstein-peterson"
    }

    fn summary(&self) -> &'static str {
        "every hill under a stretched string as an edge between its neighbours"
    }

    fn source(&self) -> &'static str {
        "ITU-R P.526-15, section 4.4.1 for each pair of edges; the grouping of points into hills is ours"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        KNIFE_EDGE_FREQUENCIES
    }

    fn valid_distance(&self) -> RangeInclusive<Metres> {
        KNIFE_EDGE_DISTANCES
    }

    fn counted(&self) -> Counted {
        Counted::edges(Obstructions::EveryRidge)
    }

    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let wavelength = path.frequency().wavelength().value();
        let line = antenna_line(path);
        let bulge = Bulge::of(path);
        let string = stretch(&line, covered_ground(path));
        if string.is_empty() {
            // The line is clear: what reaches into its Fresnel zone still counts.
            return match line.dominant(covered_ground(path), wavelength) {
                Some(near) if near.nu > knife_edge::LEAST_NU => {
                    note(Edge::at(near.point, near.nu, bulge));
                    knife_edge::loss(near.nu)
                }
                _ => Db::new(0.0),
            };
        }

        let hills = hills(&line, &string, covered_ground(path), wavelength);
        let after = hills.iter().skip(1).map(|hill| hill.point).chain([line.end]);
        let mut before = line.start;
        let mut total = 0.0;
        let mut last: Option<(f64, f64)> = None;
        for (hill, next) in hills.iter().zip(after) {
            let nu = Line::new(before, next).nu(hill.point, wavelength);
            let loss = knife_edge::loss(nu).value();
            note(Edge::at(hill.point, nu, bulge));
            total += loss;
            let reach = hill.point.distance - before.distance;
            if let Some((last_loss, a)) = last
                && last_loss > CORRECTED_ABOVE
                && loss > CORRECTED_ABOVE
            {
                let (b, c) = (reach, next.distance - hill.point.distance);
                total += 10.0 * ((a + b) * (b + c) / (b * (a + b + c))).log10();
            }
            last = Some((loss, reach));
            before = hill.point;
        }
        Db::new(total)
    }
}

/// The points, ends excluded, that a string stretched over the ground touches.
fn stretch(line: &Line, ground: impl Iterator<Item = Point>) -> Vec<Point> {
    // Upper convex hull, left to right; points on or below the line between
    // the antennas can not be on it.
    let mut string = vec![line.start];
    for point in ground.filter(|p| line.excess(*p) > 0.0).chain([line.end]) {
        while let [.., before, top] = string.as_slice() {
            if Line::new(*before, point).excess(*top) > 0.0 {
                break;
            }
            string.pop();
        }
        string.push(point);
    }
    string.pop();
    string.drain(..1);
    string
}

/// One point for each hill of the string, that with the largest parameter.
fn hills(
    line: &Line,
    string: &[Point],
    ground: impl Iterator<Item = Point>,
    wavelength: f64,
) -> Vec<Dominant> {
    let mut hills: Vec<Dominant> = Vec::new();
    let mut ground = ground.peekable();
    let mut last: Option<Point> = None;
    for &point in string {
        let here = Dominant { point, nu: line.nu(point, wavelength) };
        let parted = last.is_none_or(|last| {
            let span = Line::new(last, point);
            let mut deepest: f64 = 0.0;
            while let Some(between) = ground.next_if(|p| p.distance < point.distance) {
                if between.distance > last.distance {
                    let radius = span.fresnel_radius(between.distance, wavelength);
                    deepest = deepest.max(-span.excess(between) / radius);
                }
            }
            deepest > HILL_DIP
        });
        match hills.last_mut() {
            Some(hill) if !parted => {
                if here.nu > hill.nu {
                    *hill = here;
                }
            }
            _ => hills.push(here),
        }
        last = Some(point);
    }
    hills
}

#[cfg(test)]
mod tests {
    use super::*;

    const fn point(distance: f64, height: f64) -> Point {
        Point { distance, height }
    }

    fn string(ground: &[Point]) -> Vec<Point> {
        let line = Line::new(point(0.0, 0.0), point(100.0, 0.0));
        stretch(&line, ground.iter().copied())
    }

    /// A string over three posts touches what its straight parts do not pass over;
    /// what just reaches the line between the antennas is in nobody's way.
    #[test]
    fn a_string_touches_what_stands_out_of_its_straight_parts() {
        let [low, high, end] = [point(20.0, 2.0), point(50.0, 10.0), point(80.0, 6.0)];
        assert_eq!(string(&[low, high, end]), [high, end]);
        assert_eq!(string(&[point(20.0, 5.0), high, end]), [point(20.0, 5.0), high, end]);
        assert_eq!(string(&[point(30.0, 0.0), point(60.0, -3.0)]), []);
        // Along a straight part the string lies on its points without a bend.
        assert_eq!(string(&[point(25.0, 5.0), high]), [high]);
    }

    /// Two posts alike, 10 m apart, are one hill at 2 m of wave, and the nearer
    /// stands for it; a deep gap between them makes them two.
    #[test]
    fn of_two_points_alike_the_nearer_stands_for_the_hill() {
        let line = Line::new(point(0.0, 0.0), point(100.0, 0.0));
        let ends = [point(45.0, 10.0), point(55.0, 10.0)];
        let of = |gap: f64| {
            let ground = [ends[0], point(50.0, gap), ends[1]];
            let found = hills(&line, &ends, ground.into_iter(), 2.0);
            found.iter().map(|hill| hill.point).collect::<Vec<_>>()
        };
        // Their Fresnel radius halfway is sqrt(2 * 5 * 5 / 10) = 2.236 m, 0.6 of
        // it 1.342 m.
        assert_eq!(of(8.7), [ends[0]]);
        assert_eq!(of(8.6), ends);
    }
}
