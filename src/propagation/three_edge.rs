//! The main edge, and one more on either side of it.

use std::ops::RangeInclusive;

use super::bullington::{KNIFE_EDGE_DISTANCES, KNIFE_EDGE_FREQUENCIES};
use super::line::{Bulge, Dominant, Line, antenna_line, covered_ground};
use super::{Counted, Edge, Obstructions, Path, PathLoss, knife_edge};
use perchline_units::{Db, Megahertz, Metres};

/// The dominant edge of the path, then the dominant edge of each part that it
/// divides the path into.
#[derive(Debug, Clone, Copy)]
pub struct ThreeEdge;

impl PathLoss for ThreeEdge {
    fn name(&self) -> &'static str {
        "three-edge"
    }

    fn summary(&self) -> &'static str {
        "the main edge and one more on either side, corrected by distance"
    }

    fn source(&self) -> &'static str {
        "cascaded knife edges, ITU-R P.526-12 section 4.4.2 (from memory)"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        KNIFE_EDGE_FREQUENCIES
    }

    fn valid_distance(&self) -> RangeInclusive<Metres> {
        KNIFE_EDGE_DISTANCES
    }

    fn counted(&self) -> Counted {
        Counted::edges(Obstructions::WorstAndSides)
    }

    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let wavelength = path.frequency().wavelength().value();
        let line = antenna_line(path);
        let Some(main) = counted(line.dominant(covered_ground(path), wavelength)) else {
            return Db::new(0.0);
        };
        let at = main.point.distance;
        let before = counted(
            Line::new(line.start, main.point)
                .dominant(covered_ground(path).take_while(|p| p.distance < at), wavelength),
        );
        // From the far end, so that the walk stops at the main edge.
        let after = counted(
            Line::new(main.point, line.end)
                .dominant(covered_ground(path).rev().take_while(|p| p.distance > at), wavelength),
        );
        let bulge = Bulge::of(path);
        for edge in [before, Some(main), after].into_iter().flatten() {
            note(Edge::at(edge.point, edge.nu, bulge));
        }

        let side = |edge: Option<Dominant>| edge.map_or(0.0, |e| knife_edge::loss(e.nu).value());
        let main_loss = knife_edge::loss(main.nu).value();
        let share = 1.0 - (-main_loss / 6.0).exp();
        let correction = 10.0 + 0.04 * path.length().kilometres();
        Db::new(main_loss + share * (side(before) + side(after) + correction))
    }
}

/// An edge that costs something.
fn counted(edge: Option<Dominant>) -> Option<Dominant> {
    edge.filter(|edge| edge.nu > knife_edge::LEAST_NU)
}
