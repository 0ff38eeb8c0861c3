//! ITU-R P.1812: diffraction, ducts and scatter together, for a share of time
//! and of places, over ground with what stands on it.
//!
//! Equation numbers are those that the worked examples of Study Group 3 give
//! beside their values; the equations themselves are from memory, and all
//! values of all examples are tested (`tests/propagation_p1812.rs`).
//!
//! The median effective radius is that of the path's effective earth. Bare
//! `f64` inside are in the units of the Recommendation: km, GHz, mrad, dB;
//! heights in metres.

mod combination;
mod diffraction;
mod ducting;
mod geometry;
mod line_of_sight;
mod location;
mod scatter;
mod time;

use std::ops::RangeInclusive;

pub use combination::Combination;
pub use diffraction::Diffraction;
pub(super) use diffraction::over as covered_diffraction;
pub use geometry::Geometry;
pub use line_of_sight::LineOfSight;
pub use location::location_deviation;
pub use time::Anomaly;

use super::line::{antenna_line, covered_ground};
use super::{Edge, Path, PathLoss, free_space};
use crate::units::{Db, Megahertz, Metres};

/// The Recommendation as a method.
#[derive(Debug, Clone, Copy)]
pub struct P1812;

/// All that the result is made of.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Terms {
    /// Horizons, angles and heights.
    pub geometry: Geometry,
    /// How common anomalous propagation is.
    pub anomaly: Anomaly,
    /// Free space, and what a clear line would lose.
    pub line_of_sight: LineOfSight,
    /// Diffraction for median and anomalous refraction, and for the share of time.
    pub diffraction: Diffraction,
    /// Loss by ducts and reflecting layers, Lba of equation (46), dB.
    pub ducting: Db,
    /// Loss by scatter in the troposphere, Lbs of equation (44), dB.
    pub scatter: Db,
    /// How all of these come together.
    pub combination: Combination,
    /// What the share of places adds to the median, dB.
    pub location: Db,
    /// The basic transmission loss, Lb of equation (69), dB.
    pub result: Db,
}

impl Terms {
    /// The basic transmission loss to a receiver inside a building, whose
    /// entry loss (such as [`p2109`](super::p2109) gives) comes on top in
    /// decibels; never less than that of a clear line outside.
    #[must_use]
    pub fn indoors(&self, entry: Db) -> Db {
        let inside = self.combination.result + self.location + entry;
        self.line_of_sight.loss.max(inside)
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
        "ITU-R P.1812, section 4"
    }

    fn valid_frequency(&self) -> RangeInclusive<Megahertz> {
        Megahertz::new(30.0)..=Megahertz::new(6000.0)
    }

    fn valid_distance(&self) -> RangeInclusive<Metres> {
        Metres::new(250.0)..=Metres::new(3_000_000.0)
    }

    /// The basic transmission loss less free space. The Recommendation rounds
    /// its constant of free space to 92.4 dB (equation (8)), so that a clear
    /// path comes to 0.048 dB below nothing; for less than half of the time it
    /// may be a few dB below.
    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db {
        let wavelength = path.frequency().wavelength().value();
        super::bullington::construct(&antenna_line(path), covered_ground(path), wavelength)
            .note_edge(path, note);
        terms(path).result - free_space::loss(path.frequency(), path.slant_distance())
    }
}

/// All terms of the method for one path.
///
/// ```
/// use perchline::propagation::{Climate, Path, Profile, p1812};
/// use perchline::units::{Megahertz, Metres, Percent};
///
/// let ground = Profile::new(vec![0.0, 4e3, 8e3, 12e3], vec![20.0, 60.0, 150.0, 30.0])?;
/// let path = Path::new(&ground, Metres::new(10.0), Metres::new(1.5), Megahertz::new(146.0));
/// let seldom = path.with_climate(Climate { time: Percent::new(1.0), ..Climate::DEFAULT })?;
/// assert!(p1812::terms(&seldom).result < p1812::terms(&path).result);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn terms(path: &Path<'_>) -> Terms {
    let geometry = Geometry::of(path);
    let anomaly = Anomaly::of(path);
    let line_of_sight = LineOfSight::of(path, &geometry, &anomaly);
    let diffraction = Diffraction::of(path, &anomaly);
    let ducting = ducting::loss(path, &geometry, &anomaly);
    let scatter = scatter::loss(path, &geometry);
    let combination = Combination::of(
        path,
        geometry.path_angle.value(),
        &anomaly,
        &line_of_sight,
        &diffraction,
        (ducting, scatter),
    );
    let location = location::allowance(path.climate());
    let result = line_of_sight.loss.max(combination.result + location);
    Terms {
        geometry,
        anomaly,
        line_of_sight,
        diffraction,
        ducting,
        scatter,
        combination,
        location,
        result,
    }
}
