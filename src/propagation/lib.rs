//! Path-loss methods: pure functions on a terrain profile, no I/O.
//!
//! A method is one file that implements [`PathLoss`], and one line in
//! [`METHODS`]. Heights of terrain are above sea level, heights of antennas
//! above the ground at their end of the path.
//!
//! Section and equation numbers of ITU-R P.525-4 and P.526-15 are from memory;
//! what the equations yield is tested against published examples wherever
//! there are any (`docs/methods.md` says which method rests on what).

//!
//! ```
//! use perchline_propagation::{Path, PathLoss, Profile, default_method};
//! use perchline_units::{Megahertz, Metres};
//!
//! // A ridge of 60 m, 2 km from a mast of 20 m and 3 km from a person. Ground
//! // runs straight between points, so a thin ridge needs close ones.
//! let distance: Vec<f64> = (0..=100).map(|i| f64::from(i) * 50.0).collect();
//! let height = distance.iter().map(|&d| if d == 2000.0 { 60.0 } else { 5.0 }).collect();
//! let ground = Profile::new(distance, height)?;
//! let path = Path::new(&ground, Metres::new(20.0), Metres::new(1.5), Megahertz::new(146.0));
//! let mut edges = Vec::new();
//! let beyond_free_space = default_method().diffraction(&path, &mut |edge| edges.push(edge));
//! assert_eq!(edges[0].distance, Metres::new(2000.0));
//! assert!((20.0..30.0).contains(&beyond_free_space.value()));
//! # Ok::<(), perchline_propagation::ProfileError>(())
//! ```

pub mod bullington;
pub mod clearance;
mod climate;
mod counted;
pub mod delta_bullington;
pub mod epstein_peterson;
pub mod free_space;
pub mod knife_edge;
mod line;
mod model;
mod obstacle_gain;
pub mod p1411;
pub mod p1812;
pub mod p2108;
pub mod p2109;
pub mod p833;
mod path;
mod range;
pub mod rows;
pub mod short_range;
pub mod single_edge;
pub mod spherical_earth;
pub mod streets;
pub mod three_edge;
pub mod two_ray;

use std::ops::RangeInclusive;

pub use climate::{Climate, Locations};
pub use counted::{Counted, Obstructions};
pub use model::{Excess, Model, Near};
pub use obstacle_gain::obstacle_gain;
pub use path::{EffectiveEarth, GroundConstants, Path};
pub use perchline_profile::{Profile, ProfileError, Roofs};
pub use range::OutOfRange;

use perchline_units::{Db, Megahertz, Metres};

/// One obstruction that a method counted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// Distance from the transmitter.
    pub distance: Metres,
    /// Height of the edge above sea level.
    pub height: Metres,
    /// The knife-edge parameter nu of ITU-R P.526, dimensionless.
    pub nu: f64,
    /// What this edge alone adds to the loss.
    pub loss: Db,
}

impl Edge {
    /// The edge at a point of the plane that holds the bulge of the earth.
    fn at(point: line::Point, nu: f64, bulge: line::Bulge) -> Self {
        Self {
            distance: Metres::new(point.distance),
            height: Metres::new(point.height - bulge.at(point.distance)),
            nu,
            loss: knife_edge::loss(nu),
        }
    }
}

/// What a method needs to know of a path where a whole raster is swept: the
/// sweep computes it for every cell at little cost (see `perchline_coverage`).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SweptForm {
    /// Distance alone.
    FreeSpace,
    /// The parameter nu of the point that obstructs most.
    SingleEdge,
    /// The steepest slopes from both ends, or nu of the worst point if clear.
    Bullington,
    /// The same, and the straight line that fits the ground best.
    DeltaBullington,
}

/// A negative loss taken for none. Unlike [`Db::max`] it lets a value that is
/// not a number through, to be seen rather than taken for none.
fn not_below_zero(loss: Db) -> Db {
    if loss.value() < 0.0 { Db::new(0.0) } else { loss }
}

/// A way to estimate the loss of a path from its profile.
pub trait PathLoss: Sync {
    /// The name typed in a plan or after `--method`.
    fn name(&self) -> &'static str;

    /// One line for people: what the method does.
    fn summary(&self) -> &'static str;

    /// The publication that defines it, with section and equation.
    fn source(&self) -> &'static str;

    /// The frequencies for which its source gives it.
    fn valid_frequency(&self) -> RangeInclusive<Megahertz>;

    /// The path lengths for which its source gives it.
    fn valid_distance(&self) -> RangeInclusive<Metres>;

    /// What it counts of a path beyond distance.
    fn counted(&self) -> Counted;

    /// The form in which a whole raster can be swept with it; `None` where
    /// every path has to be worked out by itself.
    fn swept(&self) -> Option<SweptForm> {
        None
    }

    /// The loss beyond free space. Each edge that the method counts is handed
    /// to `note`, transmitter side first.
    fn diffraction(&self, path: &Path<'_>, note: &mut dyn FnMut(Edge)) -> Db;

    /// The loss beyond free space at the path's frequency and at `other`, each
    /// with the model that gave it: what both share is worked out once.
    fn at_both(&self, path: &Path<'_>, other: Megahertz) -> [Excess; 2] {
        let at = |path: &Path<'_>| Excess {
            loss: self.diffraction(path, &mut |_| {}),
            model: Model::Method(self.name()),
        };
        let own = at(path);
        let other = if other == path.frequency() { own } else { at(&path.with_frequency(other)) };
        [own, other]
    }

    /// The basic transmission loss between isotropic antennas.
    fn loss(&self, path: &Path<'_>) -> Db {
        free_space::loss(path.frequency(), path.slant_distance())
            + self.diffraction(path, &mut |_| {})
    }
}

/// Every method, in the order in which they are listed to people.
pub static METHODS: &[&dyn PathLoss] = &[
    &delta_bullington::DeltaBullington,
    &bullington::Bullington,
    &three_edge::ThreeEdge,
    &epstein_peterson::EpsteinPeterson,
    &single_edge::SingleEdge,
    &free_space::FreeSpace,
    &p1812::P1812,
];

/// The method with this name.
#[must_use]
pub fn method(name: &str) -> Option<&'static dyn PathLoss> {
    METHODS.iter().copied().find(|m| m.name() == name)
}

/// The first method that counts this and no more.
#[must_use]
pub fn method_that_counts(counted: Counted) -> Option<&'static dyn PathLoss> {
    METHODS.iter().copied().find(|m| m.counted() == counted)
}

/// The method that a plan gets when it names none.
#[must_use]
pub fn default_method() -> &'static dyn PathLoss {
    &delta_bullington::DeltaBullington
}
