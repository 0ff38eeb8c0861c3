//! The Recommendation as a method, joined to the near models for short paths.

use std::ops::RangeInclusive;

use crate::short_range::{LEAST, Reach};
use crate::{Counted, Edge, Excess, Obstructions, Path, PathLoss, free_space};
use perchline_units::{Db, Megahertz, Metres};

/// P.1812, and below 300 m the near models of
/// [`short_range`](crate::short_range), without a step between.
/// [`terms`](super::terms) is the Recommendation alone.
#[derive(Debug, Clone, Copy)]
pub struct P1812;

impl P1812 {
    /// The basic transmission loss of `reach` less free space.
    fn excess(reach: &Reach, path: &Path<'_>) -> Excess {
        let found = reach.loss(path);
        let free = free_space::loss(path.frequency(), path.slant_distance());
        Excess { loss: found.loss - free, model: found.model }
    }
}

impl PathLoss for P1812 {
    fn name(&self) -> &'static str {
        "p1812"
    }

    fn summary(&self) -> &'static str {
        "diffraction over ground and cover, ducts and scatter, for a share of the time"
    }

    fn source(&self) -> &'static str {
        "ITU-R P.1812, section 4; below 300 m two rays and ITU-R P.526-15, section 4.5.2"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        Megahertz::new(30.0)..=Megahertz::new(6000.0)
    }

    /// From where the near models hold: P.1812 itself is given from 250 m.
    fn valid_distance(&self) -> RangeInclusive<Metres> {
        LEAST..=Metres::new(3_000_000.0)
    }

    fn counted(&self) -> Counted {
        Counted::edges(Obstructions::Horizons).and_smooth_earth().and_climate()
    }

    /// The basic transmission loss less free space. The Recommendation rounds
    /// its constant of free space to 92.4 dB (equation (8)), so that a clear
    /// path comes to 0.048 dB below nothing; for less than half of the time it
    /// may be a few dB below.
    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let reach = Reach::of(path);
        reach.ground().actual(path).note_edge(path, note);
        Self::excess(&reach, path).loss
    }

    fn at_both(&self, path: &Path<'_>, other: Megahertz) -> [Excess; 2] {
        let reach = Reach::of(path);
        let own = Self::excess(&reach, path);
        if other == path.frequency() {
            return [own; 2];
        }
        [own, Self::excess(&reach, &path.with_frequency(other))]
    }
}
