//! The point that obstructs most, taken for a knife edge.

use std::ops::RangeInclusive;

use super::bullington::{KNIFE_EDGE_DISTANCES, KNIFE_EDGE_FREQUENCIES};
use super::line::{Bulge, antenna_line, covered_ground};
use super::{Counted, Edge, Obstructions, Path, PathLoss, SweptForm, knife_edge};
use perchline_units::{Db, Megahertz, Metres};

/// The loss of the dominant point alone.
#[derive(Debug, Clone, Copy)]
pub struct SingleEdge;

impl PathLoss for SingleEdge {
    fn name(&self) -> &'static str {
        "single-edge"
    }

    fn summary(&self) -> &'static str {
        "the point that obstructs most as one knife edge: right for one sharp ridge, low for more"
    }

    fn source(&self) -> &'static str {
        "ITU-R P.526-15, section 4.1, equations (26) and (31)"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        KNIFE_EDGE_FREQUENCIES
    }

    fn valid_distance(&self) -> RangeInclusive<Metres> {
        KNIFE_EDGE_DISTANCES
    }

    fn counted(&self) -> Counted {
        Counted::edges(Obstructions::Worst)
    }

    fn swept(&self) -> Option<SweptForm> {
        Some(SweptForm::SingleEdge)
    }

    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let wavelength = path.frequency().wavelength().value();
        let Some(top) = antenna_line(path).dominant(covered_ground(path), wavelength) else {
            return Db::new(0.0);
        };
        let loss = knife_edge::loss(top.nu);
        if loss > Db::new(0.0) {
            note(Edge::at(top.point, top.nu, Bulge::of(path)));
        }
        loss
    }
}
