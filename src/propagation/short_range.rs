//! Paths too short for P.1812, joined to it without a step.

use super::delta_bullington::{EffectiveHeights, Shape};
use super::two_ray::TwoRay;
use super::{Model, Near, Path, free_space, p1812};
use perchline_units::{Db, Metres};

/// Nothing here is meant for less: antennas and people are not points.
pub const LEAST: Metres = Metres::new(10.0);

/// Up to here the near models alone count. The joint lies around the 250 m from
/// which P.1812 is given; how wide it is, is ours.
pub const NEAR: Metres = Metres::new(200.0);
/// From here on P.1812 alone counts.
pub const FAR: Metres = Metres::new(300.0);

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
/// use perchline_propagation::short_range::loss;
/// use perchline_propagation::{Model, Near, Path, Profile};
/// use perchline_units::{Megahertz, Metres};
///
/// let yard = Profile::new(vec![0.0, 40.0, 80.0], vec![12.0; 3])?;
/// let path = Path::new(&yard, Metres::new(6.0), Metres::new(1.5), Megahertz::new(446.0));
/// assert_eq!(loss(&path).model, Model::Near(Near::TwoRay));
/// # Ok::<(), perchline_profile::ProfileError>(())
/// ```
#[must_use]
pub fn loss(path: &Path<'_>) -> ShortRange {
    Reach::of(path).loss(path)
}

/// What the models that count at the length of a path need of its ground, the
/// same at any frequency.
#[derive(Debug, Clone, Copy)]
#[expect(clippy::large_enum_variant, reason = "made for one path, on the stack, never stored")]
pub(super) enum Reach {
    /// The near models alone.
    Near(Shape),
    /// P.1812, which holds what the near models need too.
    Far(p1812::Prepared),
}

impl Reach {
    pub(super) fn of(path: &Path<'_>) -> Self {
        if path.length() <= NEAR {
            Self::Near(Shape::of(path, EffectiveHeights::of(path)))
        } else {
            Self::Far(p1812::Prepared::of(path))
        }
    }

    /// The ground over the median effective earth.
    pub(super) const fn ground(&self) -> &Shape {
        match self {
            Self::Near(ground) => ground,
            Self::Far(prepared) => prepared.median(),
        }
    }

    /// The loss at the frequency of the path.
    pub(super) fn loss(&self, path: &Path<'_>) -> ShortRange {
        let prepared = match self {
            Self::Near(ground) => {
                let (loss, near) = near(path, ground);
                return ShortRange { loss, model: Model::Near(near) };
            }
            Self::Far(prepared) => prepared,
        };
        let far = prepared.terms(path).result;
        let length = path.length();
        if length >= FAR {
            return ShortRange { loss: far, model: Model::Method("p1812") };
        }
        let share = (length.value() / NEAR.value()).ln() / (FAR.value() / NEAR.value()).ln();
        let (loss, near) = near(path, prepared.median());
        ShortRange {
            loss: loss * (1.0 - share) + far * share,
            model: Model::Joint { near, p1812: share },
        }
    }
}

fn near(path: &Path<'_>, ground: &Shape) -> (Db, Near) {
    let even = TwoRay {
        frequency: path.frequency(),
        transmitter: path.transmitter_height(),
        receiver: path.receiver_height(),
        ground: path.ground(),
        polarization: path.polarization(),
    }
    .excess(path.length());
    let obstacles = p1812::covered_diffraction(path, ground).result;
    let free = free_space::loss(path.frequency(), path.slant_distance());
    if obstacles > even {
        (free + obstacles, Near::DeltaBullington)
    } else {
        (free + even, Near::TwoRay)
    }
}
