//! Waves along and around the streets of a town, where both ends of a path are
//! below the roofs or near street level: a way beside the one over the roofs.

use super::two_ray::TwoRay;
use super::{Path, Profile, p1411};
use perchline_profile::Roofs;
use perchline_units::{Db, Megahertz, Metres, Percent};

/// An end is wholly among houses where they stand on this share of the ground
/// around it (ours).
const AMONG: f64 = 0.1;
/// An end is wholly below the roofs where its antenna is a storey below (ours).
const STOREY: f64 = 3.0;
/// An antenna up to here above the ground is near street level wherever it is; from
/// twice that on it is not (ours; P.1411 has its form for 1.9 to 3 m).
const STREET_LEVEL: f64 = 3.0;
/// A gap between houses up to here is a street or a yard of the same town (ours).
const GAP: f64 = 100.0;
/// Mean height of roofs up to which a town is a suburb, and from which it is
/// urban: two storeys and four (ours).
const ROOFS: (f64, f64) = (6.0, 12.0);
/// Lengths for which the form is given.
const LENGTHS: (f64, f64) = (1.0, 5000.0);

/// The way along streets of one path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Streets {
    /// How much of the wave takes it, above 0 and up to 1: 1 where both ends are near
    /// street level, or a storey or more below the roofs around them.
    pub weight: f64,
    /// How much of the path is built up.
    pub built_up: Metres,
    /// Mean height of the roofs on the way, or around both ends, above the ground.
    pub roofs: Metres,
}

impl Streets {
    /// The way along streets of `path`; nothing where no house stands on the way, or
    /// an end is above the roofs around it and not near street level either.
    #[must_use]
    pub fn of(path: &Path<'_>) -> Option<Self> {
        let profile = path.profile();
        let [near, far] = profile.roofs();
        let weight = low(near, path.transmitter_height()) * low(far, path.receiver_height());
        if weight <= 0.0 {
            return None;
        }
        let roofs = roofs_between(profile)?;
        Some(Self { weight, built_up: built_up(profile), roofs })
    }

    /// The way along streets of `path` where nothing is known but the mean height of
    /// the roofs around each end: all of it is built up. Nothing where an end is
    /// above them.
    #[must_use]
    pub fn through(path: &Path<'_>, roofs: [Metres; 2]) -> Option<Self> {
        let [near, far] = roofs.map(|height| Roofs::new(height.value(), AMONG));
        let weight = below(near, path.transmitter_height()) * below(far, path.receiver_height());
        (weight > 0.0).then(|| Self {
            weight,
            built_up: path.length(),
            roofs: (near.height() + far.height()) / 2.0,
        })
    }

    /// What the way takes beyond free space where hills and trees alone, no houses,
    /// take `around` of the same path: what the streets take, and by how much the
    /// ground is worse than the even ground that P.1411 has under its streets.
    #[must_use]
    pub fn excess_around(&self, path: &Path<'_>, around: Db) -> Db {
        let even = TwoRay {
            frequency: path.frequency(),
            transmitter: path.transmitter_height(),
            receiver: path.receiver_height(),
            ground: path.ground(),
            polarization: path.polarization(),
        };
        let hills = (around - even.excess(path.length())).max(Db::new(0.0));
        (self.excess(path.frequency()) + hills).max(around)
    }

    /// What the built-up part of the path takes beyond free space at the median
    /// of places, by ITU-R P.1411 section 4.3.1; 0 dB or more. Up to two storeys a
    /// town counts as a suburb, from four as urban, between in proportion (ours).
    #[must_use]
    pub fn excess(&self, frequency: Megahertz) -> Db {
        let (suburb, urban) = ROOFS;
        let share = ((self.roofs.value() - suburb) / (urban - suburb)).clamp(0.0, 1.0);
        let term = p1411::Town::Urban.term() * share;
        let distance = Metres::new(self.built_up.value().clamp(LENGTHS.0, LENGTHS.1));
        let loss = p1411::below_rooftops(frequency, distance, Percent::new(50.0), term);
        let free = super::free_space::loss(frequency, distance);
        loss.map_or(Db::new(0.0), |loss| (loss - free).max(Db::new(0.0)))
    }

    /// Standard deviation over places of the way at `frequency`: 7 dB in the range
    /// of P.1411; 9 dB below it, where its form is prolonged (ours).
    #[must_use]
    pub fn deviation(frequency: Megahertz) -> Db {
        if Self::is_prolonged(frequency) { Db::new(9.0) } else { p1411::DEVIATION }
    }

    /// Whether `frequency` is outside the range of P.1411.
    #[must_use]
    pub fn is_prolonged(frequency: Megahertz) -> bool {
        !(p1411::FREQUENCIES.0..=p1411::FREQUENCIES.1).contains(&frequency)
    }
}

/// What two ways together take, where one takes `least` alone and the other
/// `other`, both beyond free space. Powers add, but never to more than `none` leaves,
/// the loss were there no houses, nor to more than free space, unless the first way
/// alone does. What the second brings back counts by `weight`, 0 to 1, in decibels,
/// so that nothing jumps where it begins to count.
///
/// ```
/// use perchline_propagation::streets::together;
/// use perchline_units::Db;
///
/// let (over, along, none) = (Db::new(30.0), Db::new(30.0), Db::new(10.0));
/// assert!((together(over, along, none, 1.0).value() - 26.99).abs() < 0.01);
/// assert_eq!(together(over, along, none, 0.0), over);
/// ```
#[must_use]
pub fn together(least: Db, other: Db, none: Db, weight: f64) -> Db {
    let sum = Db::new(-10.0 * (power(least) + power(other)).log10());
    least + (sum.max(none).max(Db::new(0.0)).min(least) - least) * weight
}

/// How much of the power of both ways together, 0 to 1, comes along `other`.
#[must_use]
pub fn share(least: Db, other: Db, weight: f64) -> f64 {
    weight * power(other) / (power(least) + power(other))
}

/// The power that a loss leaves, as a ratio.
fn power(loss: Db) -> f64 {
    10f64.powf(-loss.value() / 10.0)
}

/// Whether waves along streets may count for an antenna at this height above its
/// ground: it is below the roofs around it, or near street level.
#[must_use]
pub fn is_low(roofs: Roofs, antenna: Metres) -> bool {
    low(roofs, antenna) > 0.0
}

/// How low an antenna is for waves along streets, 0 to 1.
fn low(roofs: Roofs, antenna: Metres) -> f64 {
    let street = ((2.0 * STREET_LEVEL - antenna.value()) / STREET_LEVEL).clamp(0.0, 1.0);
    below(roofs, antenna).max(street)
}

/// Mean height above the ground of the houses on a path, by length; nothing where none
/// stands there.
fn roofs_between(profile: &Profile) -> Option<Metres> {
    let (length, volume) = houses(profile).fold((0.0, 0.0), |(length, volume), house| {
        let own = house.to - house.from;
        (length + own, volume + own * house.height)
    });
    (length > 0.0).then(|| Metres::new(volume / length))
}

/// How far an antenna is below the roofs around it: 0 above them, or where there
/// are none, 1 wholly.
fn below(roofs: Roofs, antenna: Metres) -> f64 {
    let under = ((roofs.height() - antenna).value() / STOREY).clamp(0.0, 1.0);
    under * (roofs.share() / AMONG).min(1.0)
}

/// How much of a path is built up: houses, and gaps between them that are streets
/// or yards; of a longer gap no more than that.
fn built_up(profile: &Profile) -> Metres {
    let length = profile.length().value();
    let (mut sum, mut open_since) = (0.0, 0.0);
    for House { from, to, .. } in houses(profile) {
        sum += (from - open_since).clamp(0.0, GAP) + (to - from);
        open_since = to;
    }
    sum += (length - open_since).clamp(0.0, GAP);
    Metres::new(sum.min(length))
}

/// A house on a path: from and to in metres from the first end, its height above the
/// ground.
struct House {
    from: f64,
    to: f64,
    height: f64,
}

/// Houses between the ends of a profile, point by point.
fn houses(profile: &Profile) -> impl Iterator<Item = House> + '_ {
    let (distances, woods) = (profile.distances(), profile.woods());
    profile.cover().iter().enumerate().skip(1).filter_map(move |(index, cover)| {
        let height = cover - woods.get(index).copied().unwrap_or(0.0);
        if height <= 0.0 {
            return None;
        }
        let (before, at, after) =
            (*distances.get(index - 1)?, *distances.get(index)?, *distances.get(index + 1)?);
        Some(House { from: f64::midpoint(before, at), to: f64::midpoint(at, after), height })
    })
}
