//! Bullington's construction: one virtual edge where the two horizons meet.

use std::ops::RangeInclusive;

use super::line::{Bulge, Dominant, Line, Point, antenna_line, covered_ground};
use super::{Counted, Edge, Obstructions, Path, PathLoss, SweptForm, knife_edge};
use perchline_units::{Db, Megahertz, Metres};

/// P.526-15 section 4 asks for obstacles that are large against the wave,
/// "mainly VHF and shorter waves (f > 30 MHz)", and names no upper limit; the
/// upper one is that of P.1812, which builds on the same construction.
pub(super) const KNIFE_EDGE_FREQUENCIES: RangeInclusive<Megahertz> =
    Megahertz::new(30.0)..=Megahertz::new(6000.0);

/// P.526 names no limit. The lower one keeps the edge some waves away from the
/// antennas; past the upper one scatter in the troposphere, which no method
/// here treats, carries more than diffraction does. Common practice, no source.
pub(super) const KNIFE_EDGE_DISTANCES: RangeInclusive<Metres> =
    Metres::new(10.0)..=Metres::new(200_000.0);

/// Loss of the edge where the horizons of both ends meet, plus a correction by
/// distance.
#[derive(Debug, Clone, Copy)]
pub struct Bullington;

impl PathLoss for Bullington {
    fn name(&self) -> &'static str {
        "bullington"
    }

    fn summary(&self) -> &'static str {
        "one virtual edge where the two horizons meet, corrected by distance"
    }

    fn source(&self) -> &'static str {
        "ITU-R P.526-15, section 4.5.1"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        KNIFE_EDGE_FREQUENCIES
    }

    fn valid_distance(&self) -> RangeInclusive<Metres> {
        KNIFE_EDGE_DISTANCES
    }

    fn counted(&self) -> Counted {
        Counted::edges(Obstructions::Horizons)
    }

    fn swept(&self) -> Option<SweptForm> {
        Some(SweptForm::Bullington)
    }

    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let wavelength = path.frequency().wavelength().value();
        let found = construct(&antenna_line(path), covered_ground(path), wavelength);
        found.note_edge(path, note);
        Db::new(found.loss)
    }
}

/// What the construction comes to.
#[derive(Debug, Clone, Copy)]
pub(super) struct Construction {
    /// The virtual edge, or the dominant point of a clear path.
    edge: Option<Dominant>,
    /// Loss in dB, corrected.
    pub loss: f64,
}

impl Construction {
    /// Hands the edge to `note` if it costs anything.
    pub(super) fn note_edge(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) {
        if let Some(edge) = self.edge.filter(|edge| edge.nu > knife_edge::LEAST_NU) {
            note(Edge::at(edge.point, edge.nu, Bulge::of(path)));
        }
    }
}

/// The construction over raised ground below a line.
pub(super) fn construct(
    line: &Line,
    ground: impl Iterator<Item = Point> + Clone,
    wavelength: f64,
) -> Construction {
    at_edge(line, edge_point(line, ground), wavelength)
}

/// Where the construction puts its edge, the same at any wavelength.
pub(super) fn edge_point(
    line: &Line,
    ground: impl Iterator<Item = Point> + Clone,
) -> Option<Point> {
    line.horizons(ground.clone()).and_then(|horizons| {
        if horizons.from_start < line.slope() {
            return line.worst(ground);
        }
        let slopes = horizons.from_start + horizons.from_end;
        let from_start =
            (line.end.height - line.start.height + horizons.from_end * line.length()) / slopes;
        let point = Point {
            distance: line.start.distance + from_start,
            height: line.start.height + horizons.from_start * from_start,
        };
        let within = point.distance > line.start.distance && point.distance < line.end.distance;
        // Where the ground just grazes the line, both horizons lie along it, and
        // where they meet is left to rounding.
        if within { Some(point) } else { line.worst(ground) }
    })
}

/// The construction with its edge at this point.
pub(super) fn at_edge(line: &Line, point: Option<Point>, wavelength: f64) -> Construction {
    let edge = point.map(|point| Dominant { point, nu: line.nu(point, wavelength) });
    let knife = edge.map_or(0.0, |edge| knife_edge::loss(edge.nu).value());
    let kilometres = line.length() / 1e3;
    let loss = knife + (1.0 - (-knife / 6.0).exp()) * (10.0 + 0.02 * kilometres);
    Construction { edge, loss }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Ground along the line itself, where both horizons are the line up to
    /// rounding: wherever they seem to meet, the edge stands between the ends.
    #[test]
    fn the_edge_of_grazing_ground_stands_between_the_ends() {
        for step in 1..400 {
            let rise = f64::from(step) * 0.37;
            let line = Line::new(
                Point { distance: 0.0, height: 3.1 },
                Point { distance: 1000.0 + rise, height: 3.1 + rise },
            );
            let ground = (1..30).map(|i| {
                let distance = f64::from(i) * 33.0;
                Point { distance, height: line.height_at(distance) }
            });
            let edge = edge_point(&line, ground).unwrap();
            let within = edge.distance > 0.0 && edge.distance < line.end.distance;
            assert!(within, "{edge:?} of {line:?}");
        }
    }

    /// By hand: horizons of 0.1 from 1 km before the end of a level line of 4 km
    /// and of 0.2 from the other end meet where 0.1 x = 0.2 (4000 - x).
    #[test]
    fn horizons_meet_in_proportion_to_their_slopes() {
        let line = Line::new(
            Point { distance: 0.0, height: 0.0 },
            Point { distance: 4000.0, height: 0.0 },
        );
        let ground =
            [Point { distance: 1000.0, height: 100.0 }, Point { distance: 3000.0, height: 200.0 }];
        let edge = edge_point(&line, ground.into_iter()).unwrap();
        assert!((edge.distance - 4000.0 * 0.2 / 0.3).abs() < 1e-9, "{edge:?}");
        assert!((edge.height - 0.1 * edge.distance).abs() < 1e-9, "{edge:?}");
        assert_eq!(edge_point(&line, std::iter::empty()), None);
        // Nothing in the way: the point that comes nearest.
        let below = ground.map(|p| Point { height: -p.height, ..p });
        assert_eq!(edge_point(&line, below.into_iter()), Some(below[0]));
    }
}
