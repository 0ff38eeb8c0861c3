//! ITU-R P.1812: diffraction, ducts and scatter together, for a share of time
//! and of places, over ground with what stands on it.
//!
//! Equation numbers are those that the worked examples of Study Group 3 give
//! beside their values; the equations themselves are from memory, and all
//! values of all examples are tested (`tests/propagation/p1812.rs`).
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
mod method;
mod scatter;
mod time;

pub use combination::Combination;
pub use diffraction::Diffraction;
pub(super) use diffraction::over as covered_diffraction;
pub use geometry::Geometry;
pub use line_of_sight::LineOfSight;
pub use location::location_deviation;
pub use method::P1812;
pub use time::Anomaly;

use super::Path;
use super::delta_bullington::{Shape, best_fit};
use diffraction::Shapes;
use perchline_units::Db;

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

/// All terms of the method for one path.
///
/// ```
/// use perchline_propagation::{Climate, Path, Profile, p1812};
/// use perchline_units::{Megahertz, Metres, Percent};
///
/// let ground = Profile::new(vec![0.0, 4e3, 8e3, 12e3], vec![20.0, 60.0, 150.0, 30.0])?;
/// let path = Path::new(&ground, Metres::new(10.0), Metres::new(1.5), Megahertz::new(146.0));
/// let seldom = path.with_climate(Climate { time: Percent::new(1.0), ..Climate::DEFAULT })?;
/// assert!(p1812::terms(&seldom).result < p1812::terms(&path).result);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn terms(path: &Path<'_>) -> Terms {
    Prepared::of(path).terms(path)
}

/// What the ground and the climate of a path come to, the same at any frequency.
#[derive(Debug, Clone, Copy)]
pub(super) struct Prepared {
    geometry: Geometry,
    anomaly: Anomaly,
    shapes: Shapes,
}

impl Prepared {
    pub(super) fn of(path: &Path<'_>) -> Self {
        let fit = best_fit(path.profile());
        Self {
            geometry: Geometry::of(path, fit),
            anomaly: Anomaly::of(path),
            shapes: Shapes::of(path, fit),
        }
    }

    /// The ground over the median effective earth.
    pub(super) const fn median(&self) -> &Shape {
        &self.shapes.median
    }

    /// All terms at the frequency of the path.
    pub(super) fn terms(&self, path: &Path<'_>) -> Terms {
        let Self { geometry, anomaly, ref shapes } = *self;
        let line_of_sight = LineOfSight::of(path, &geometry, &anomaly);
        let diffraction = Diffraction::of(path, shapes, &anomaly);
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
}
