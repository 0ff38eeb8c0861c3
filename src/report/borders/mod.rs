//! The cells of each class of a raster dissolved into polygons with holes, whose
//! borders are simplified.
//!
//! Two classes meet in an *arc*: a chain of sides of cells from one *node* to the
//! next, or a closed one. Nodes are where three or more classes meet, where a
//! border ends at the map's rim, and the map's own corners. Each arc becomes one
//! line that both sides share, so no hole and no overlap can arise between them.
//!
//! A line runs through *gates*: across the middle of each side of a cell, from the
//! centre of the cell on its left almost to the centre of the one on its right. Of
//! the lines that pass an arc's gates in order one with few corners is taken
//! ([`taut`]). From this follows, for any raster:
//!
//! * No line is farther than half a cell from the border that it stands for, and
//!   every cell's centre stays on its own side of it.
//! * Lines never cross or touch but in nodes. The square between four centres
//!   around a corner belongs to the one arc that passes that corner. Where two arcs
//!   pass it each has the half beyond a diagonal; around a node each arc has a
//!   straight spoke to a side of its own. Gates end [`taut::REACH`] from the middle,
//!   so lines stay apart by more than a twentieth of a cell, which coordinates rounded
//!   to a hundredth of a cell leave.
//!
//! Cells of one class that meet in a corner only are apart; but where two classes
//! meet crosswise the worse one is joined through the corner.

mod lattice;
mod rings;
mod taut;
#[cfg(test)]
mod tests;

use geo::{Coord, LineString, MultiPolygon, Polygon};
use ndarray::Array2;
use rayon::prelude::*;

use perchline_link::Outcome;

use lattice::{Arc, Lattice};
use rings::{Area, Side};

/// The borders of a raster's classes, and the areas between them.
#[derive(Debug)]
pub(super) struct Borders {
    points: Vec<(f64, f64)>,
    arcs: Vec<Arc>,
    areas: Vec<Area>,
}

impl Borders {
    /// Those of this raster.
    pub(super) fn of(outcome: &Array2<Outcome>) -> Self {
        let lattice = Lattice::new(outcome);
        let traced = lattice.traced();
        let areas = rings::areas(&lattice, &traced);
        Self { points: traced.points, arcs: traced.arcs, areas }
    }

    /// The corners of all lines: x in columns, y in rows.
    pub(super) fn points(&self) -> &[(f64, f64)] {
        &self.points
    }

    /// The polygons of each class that occurs, best first, with `places` for
    /// [`points`](Self::points): outer rings anticlockwise and holes clockwise where
    /// x is to the right and y is *down*, the other way round if `mirrored`.
    pub(super) fn polygons(
        &self,
        places: &[Coord],
        mirrored: bool,
    ) -> Vec<(Outcome, MultiPolygon)> {
        Outcome::ALL
            .into_iter()
            .filter_map(|outcome| {
                let class = lattice::class(outcome);
                // They are in order of classes.
                let first = self.areas.partition_point(|area| area.class < class);
                let end = self.areas.partition_point(|area| area.class <= class);
                let areas = self.areas.get(first..end).filter(|areas| !areas.is_empty())?;
                let polygons = areas.par_iter().map(|area| self.polygon(area, places, mirrored));
                Some((outcome, MultiPolygon(polygons.collect())))
            })
            .collect()
    }

    fn polygon(&self, area: &Area, places: &[Coord], mirrored: bool) -> Polygon {
        let ring = |sides: &Vec<Side>| self.ring(sides, places, mirrored);
        Polygon::new(ring(&area.outer), area.holes.iter().map(ring).collect())
    }

    fn ring(&self, sides: &[Side], places: &[Coord], mirrored: bool) -> LineString {
        let mut ring: Vec<Coord> = Vec::new();
        for side in sides {
            let arc = self.arcs.get(side.arc());
            let Some(line) = arc.and_then(|arc| places.get(arc.points.clone())) else { continue };
            // Its first place is the last one of the line before.
            let skipped = usize::from(!ring.is_empty());
            if side.is_back() {
                ring.extend(line.iter().rev().skip(skipped));
            } else {
                ring.extend(line.iter().skip(skipped));
            }
        }
        if mirrored {
            ring.reverse();
        }
        LineString(ring)
    }
}
