//! Paths too short for P.1812, joined to it without a step.

use super::two_ray::TwoRay;
use super::{Path, free_space, p1812};
use crate::units::{Db, Metres};

/// Up to here the near models alone count. The joint lies around the 250 m from
/// which P.1812 is given; how wide it is, is ours.
pub const NEAR: Metres = Metres::new(200.0);
/// From here on P.1812 alone counts.
pub const FAR: Metres = Metres::new(300.0);

/// Which model gave a figure.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Model {
    /// Free space, or the smoothed two-ray law past its break distance.
    TwoRay,
    /// Free space and what stands in the way, by the delta-Bullington method.
    DeltaBullington,
    /// Part one of these, part P.1812.
    Joint {
        /// The share of P.1812, above 0 and below 1.
        p1812: f64,
    },
    /// P.1812.
    P1812,
}

/// A loss, and which model it is from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShortRange {
    /// Basic transmission loss, dB.
    pub loss: Db,
    /// The model.
    pub model: Model,
}

/// Basic transmission loss of a path of any length.
///
/// Up to 200 m it is free space with the larger of two excesses: that of even
/// ground ([`TwoRay::excess`]) and that of ground and cover in the way (the
/// delta-Bullington method, P.526 section 4.5.2, as P.1812 uses it). From 300 m it
/// is P.1812; between, a mean of both that moves with the logarithm of the distance.
/// Nothing here is meant for less than 10 m.
///
/// ```
/// use perchline::propagation::short_range::{Model, loss};
/// use perchline::propagation::{Path, Profile};
/// use perchline::units::{Megahertz, Metres};
///
/// let yard = Profile::new(vec![0.0, 40.0, 80.0], vec![12.0; 3])?;
/// let path = Path::new(&yard, Metres::new(6.0), Metres::new(1.5), Megahertz::new(446.0));
/// assert_eq!(loss(&path).model, Model::TwoRay);
/// # Ok::<(), perchline::profile::ProfileError>(())
/// ```
#[must_use]
pub fn loss(path: &Path<'_>) -> ShortRange {
    let length = path.length();
    if length >= FAR {
        return ShortRange { loss: p1812::terms(path).result, model: Model::P1812 };
    }
    let near = near(path);
    if length <= NEAR {
        return near;
    }
    let share = (length.value() / NEAR.value()).ln() / (FAR.value() / NEAR.value()).ln();
    let far = p1812::terms(path).result;
    ShortRange {
        loss: near.loss * (1.0 - share) + far * share,
        model: Model::Joint { p1812: share },
    }
}

fn near(path: &Path<'_>) -> ShortRange {
    let even = TwoRay {
        frequency: path.frequency(),
        transmitter: path.transmitter_height(),
        receiver: path.receiver_height(),
        ground: path.ground(),
        polarization: path.polarization(),
    }
    .excess(path.length());
    let obstacles = p1812::covered_diffraction(path).result;
    let free = free_space::loss(path.frequency(), path.slant_distance());
    if obstacles > even {
        ShortRange { loss: free + obstacles, model: Model::DeltaBullington }
    } else {
        ShortRange { loss: free + even, model: Model::TwoRay }
    }
}
