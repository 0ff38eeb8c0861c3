//! Ground heights along a path: plain numbers, wherever they came from.

use perchline_units::Metres;

/// Ground heights along a geodesic: the first point is under the transmitter,
/// the last under the receiver.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Profile {
    distance: Vec<f64>,
    height: Vec<f64>,
    cover: Vec<f64>,
    woods: Vec<f64>,
    sea: Vec<bool>,
    roofs: [Roofs; 2],
}

/// The roofs around a place.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Roofs {
    height: f64,
    share: f64,
}

impl Roofs {
    /// No houses.
    pub const NONE: Self = Self { height: 0.0, share: 0.0 };

    /// Roofs of this mean height above the ground in metres, 0 or more, over this
    /// share of the ground, 0 to 1.
    #[must_use]
    pub const fn new(height: f64, share: f64) -> Self {
        Self { height: height.max(0.0), share: share.clamp(0.0, 1.0) }
    }

    /// Their mean height above the ground.
    #[must_use]
    pub const fn height(self) -> Metres {
        Metres::new(self.height)
    }

    /// The share of the ground that is under them, 0 to 1.
    #[must_use]
    pub const fn share(self) -> f64 {
        self.share
    }
}

/// A list of points that is not a profile.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ProfileError {
    /// Fewer than two points.
    #[error("a profile needs at least 2 points, this one has {0}")]
    TooShort(usize),
    /// The two columns differ in length.
    #[error("a profile needs as many heights as distances: {distances} against {heights}")]
    Uneven {
        /// Number of distances.
        distances: usize,
        /// Number of heights.
        heights: usize,
    },
    /// A distance that does not grow, does not start at zero, or a value that is not a number.
    #[error(
        "profile point {index}: distance {distance} m, height {height} m: distances start at 0 and grow, and every value is finite"
    )]
    BadPoint {
        /// Index of the point from 0.
        index: usize,
        /// Its distance in metres.
        distance: f64,
        /// Its height in metres.
        height: f64,
    },
    /// The cover has another number of points than the ground.
    #[error(
        "a profile of {points} points needs as many heights of cover, or none: there are {covers}"
    )]
    UnevenCover {
        /// Number of points of the profile.
        points: usize,
        /// Number of heights of cover.
        covers: usize,
    },
    /// A height of cover below zero, or one that is not a number.
    #[error("profile point {index}: cover {cover} m above the ground: it is 0 or more, and finite")]
    BadCover {
        /// Index of the point from 0.
        index: usize,
        /// Its height of cover in metres.
        cover: f64,
    },
    /// Trees that are no part of the cover.
    #[error(
        "profile point {index}: {woods} m of trees in {cover} m of cover: trees are 0 or more, at most all of the cover, and given for every point or none"
    )]
    BadWoods {
        /// Index of the point from 0.
        index: usize,
        /// How much of its cover is trees, in metres.
        woods: f64,
        /// Its height of cover in metres.
        cover: f64,
    },
}

impl Profile {
    /// A profile from distances from the transmitter and ground heights above
    /// sea level, both in metres.
    ///
    /// # Errors
    /// [`ProfileError`] when the columns differ in length, hold fewer than two
    /// points, do not start at 0, do not grow strictly, or are not finite.
    pub fn new(distance: Vec<f64>, height: Vec<f64>) -> Result<Self, ProfileError> {
        let profile = Self { distance, height, ..Self::default() };
        profile.check()?;
        Ok(profile)
    }

    /// The same ground with trees or buildings on it: their representative
    /// height above the ground at each point, in metres, 0 where it is bare.
    /// An empty list means bare ground. What stands at the ends does not count:
    /// the antennas stand on the ground there.
    ///
    /// # Errors
    /// [`ProfileError`] when there are not as many heights as points, or one is
    /// below zero or not finite.
    ///
    /// ```
    /// # use perchline_profile::Profile;
    /// let wood = Profile::new(vec![0.0, 50.0, 100.0], vec![7.0; 3])?.with_cover(vec![0.0, 15.0, 0.0])?;
    /// assert_eq!(wood.cover(), [0.0, 15.0, 0.0]);
    /// # Ok::<(), perchline_profile::ProfileError>(())
    /// ```
    pub fn with_cover(mut self, cover: Vec<f64>) -> Result<Self, ProfileError> {
        self.cover = cover;
        self.woods.clear();
        self.check_cover()?;
        Ok(self)
    }

    /// The same cover, part of which is trees: at each point so many metres of
    /// it, from the top, at most all of it. Trees let some of a wave through,
    /// the rest of the cover none. An empty list means no trees.
    ///
    /// # Errors
    /// [`ProfileError::BadWoods`] when there are not as many numbers as
    /// heights of cover, or one is not from 0 to its cover.
    ///
    /// ```
    /// # use perchline_profile::Profile;
    /// let house_and_wood = Profile::new(vec![0.0, 40.0, 80.0, 120.0], vec![7.0; 4])?
    ///     .with_cover(vec![0.0, 9.0, 15.0, 0.0])?
    ///     .with_woods(vec![0.0, 0.0, 15.0, 0.0])?;
    /// assert!(house_and_wood.has_woods());
    /// # Ok::<(), perchline_profile::ProfileError>(())
    /// ```
    pub fn with_woods(mut self, woods: Vec<f64>) -> Result<Self, ProfileError> {
        self.woods = woods;
        self.check_woods()?;
        Ok(self)
    }

    /// The same with what is known of the roofs around the first and the last point.
    #[must_use]
    pub const fn with_roofs(mut self, roofs: [Roofs; 2]) -> Self {
        self.roofs = roofs;
        self
    }

    /// Tells what stands around the first and the last point anew.
    pub const fn refill_roofs(&mut self, roofs: [Roofs; 2]) {
        self.roofs = roofs;
    }

    /// The roofs around the first and the last point; none where nothing is known.
    #[must_use]
    pub const fn roofs(&self) -> [Roofs; 2] {
        self.roofs
    }

    /// The same with what of it is sea, point by point; a list of another length, such
    /// as an empty one, means none.
    #[must_use]
    pub fn with_sea(mut self, sea: Vec<bool>) -> Self {
        self.sea = sea;
        self
    }

    /// Tells anew which points are sea; one for each point, or none.
    pub fn refill_sea(&mut self, sea: impl Iterator<Item = bool>) {
        self.sea.clear();
        self.sea.extend(sea);
    }

    /// Which points are sea, one for each; empty where none is.
    #[must_use]
    pub fn sea(&self) -> &[bool] {
        if self.sea.len() == self.len() { &self.sea } else { &[] }
    }

    /// Stretches of the profile of one kind, in order: from and to in metres from its
    /// start, and whether they are sea. A coast lies halfway between two points.
    pub fn stretches(&self) -> impl Iterator<Item = (f64, f64, bool)> + '_ {
        let sea = self.sea();
        let length = self.length().value();
        let kind = move |index: usize| sea.get(index).copied().unwrap_or(false);
        let coast = move |index: usize| {
            let at = |i: usize| self.distance.get(i).copied().unwrap_or(length);
            if index == 0 { 0.0 } else { f64::midpoint(at(index - 1), at(index)) }
        };
        let starts = (0..self.len()).filter(move |i| *i == 0 || kind(*i) != kind(*i - 1));
        let ends = starts.clone().skip(1).map(coast).chain([length]);
        starts.zip(ends).map(move |(start, end)| (coast(start), end, kind(start)))
    }

    /// The share of the path that lies over the sea, 0 to 1.
    #[must_use]
    pub fn sea_share(&self) -> f64 {
        if self.sea().is_empty() {
            return 0.0;
        }
        let over = self.stretches().filter(|(.., sea)| *sea).map(|(from, to, _)| to - from);
        (over.sum::<f64>() / self.length().value()).clamp(0.0, 1.0)
    }

    fn check_woods(&self) -> Result<(), ProfileError> {
        if self.woods.is_empty() {
            return Ok(());
        }
        let points = self.woods.len().max(self.cover.len());
        let pairs = (0..points).map(|index| {
            let of = |list: &[f64]| list.get(index).copied().unwrap_or(f64::NAN);
            (index, of(&self.woods), of(&self.cover))
        });
        let bad = |&(_, woods, cover): &(usize, f64, f64)| !(woods >= 0.0 && woods <= cover);
        match pairs.clone().find(bad) {
            Some((index, woods, cover)) => Err(ProfileError::BadWoods { index, woods, cover }),
            None => Ok(()),
        }
    }

    fn check_cover(&self) -> Result<(), ProfileError> {
        if !self.cover.is_empty() && self.cover.len() != self.len() {
            return Err(ProfileError::UnevenCover { points: self.len(), covers: self.cover.len() });
        }
        let bad = |&height: &f64| !(height >= 0.0 && height.is_finite());
        match self.cover.iter().copied().enumerate().find(|(_, height)| bad(height)) {
            Some((index, cover)) => Err(ProfileError::BadCover { index, cover }),
            None => Ok(()),
        }
    }

    fn check(&self) -> Result<(), ProfileError> {
        if self.distance.len() != self.height.len() {
            return Err(ProfileError::Uneven {
                distances: self.distance.len(),
                heights: self.height.len(),
            });
        }
        if self.distance.len() < 2 {
            return Err(ProfileError::TooShort(self.distance.len()));
        }
        let mut last = f64::NEG_INFINITY;
        for (index, (&distance, &height)) in self.distance.iter().zip(&self.height).enumerate() {
            let starts = index > 0 || distance == 0.0;
            if !(starts && distance > last && distance.is_finite() && height.is_finite()) {
                return Err(ProfileError::BadPoint { index, distance, height });
            }
            last = distance;
        }
        Ok(())
    }

    /// Empties all columns and lets `fill` write distances and heights anew, so
    /// that one allocation serves many paths; the ground is then bare.
    ///
    /// # Errors
    /// [`ProfileError`] as for [`Profile::new`]; the profile is then empty of meaning.
    pub fn refill(
        &mut self,
        fill: impl FnOnce(&mut Vec<f64>, &mut Vec<f64>),
    ) -> Result<(), ProfileError> {
        self.distance.clear();
        self.height.clear();
        self.cover.clear();
        self.woods.clear();
        self.sea.clear();
        self.roofs = [Roofs::NONE; 2];
        fill(&mut self.distance, &mut self.height);
        self.check()
    }

    /// Lets `fill` write the cover of the points anew and how much of it is
    /// trees, each as many numbers as there are points, or none.
    ///
    /// # Errors
    /// [`ProfileError`] as for [`Profile::with_cover`] and
    /// [`Profile::with_woods`]; the profile is then empty of meaning.
    pub fn refill_cover(
        &mut self,
        fill: impl FnOnce(&mut Vec<f64>, &mut Vec<f64>),
    ) -> Result<(), ProfileError> {
        self.cover.clear();
        self.woods.clear();
        fill(&mut self.cover, &mut self.woods);
        self.check_cover()?;
        self.check_woods()
    }

    /// Distances from the transmitter in metres.
    #[must_use]
    pub fn distances(&self) -> &[f64] {
        &self.distance
    }

    /// Ground heights above sea level in metres.
    #[must_use]
    pub fn heights(&self) -> &[f64] {
        &self.height
    }

    /// Heights of cover above the ground in metres, one a point; empty where
    /// the ground is bare.
    #[must_use]
    pub fn cover(&self) -> &[f64] {
        &self.cover
    }

    /// How much of the cover is trees, in metres, one a point; empty where none is.
    #[must_use]
    pub fn woods(&self) -> &[f64] {
        &self.woods
    }

    /// Whether there are trees anywhere.
    #[must_use]
    pub fn has_woods(&self) -> bool {
        self.woods.iter().any(|woods| *woods > 0.0)
    }

    /// Number of points, both ends included.
    #[must_use]
    pub fn len(&self) -> usize {
        self.distance.len()
    }

    /// Whether there are no points (only of a default value).
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.distance.is_empty()
    }

    /// The length of the path along the ground.
    #[must_use]
    pub fn length(&self) -> Metres {
        Metres::new(self.distance.last().copied().unwrap_or_default())
    }

    /// The same ground seen from the other end.
    #[must_use]
    pub fn reversed(&self) -> Self {
        let length = self.length().value();
        Self {
            distance: self.distance.iter().rev().map(|d| length - d).collect(),
            height: self.height.iter().rev().copied().collect(),
            cover: self.cover.iter().rev().copied().collect(),
            woods: self.woods.iter().rev().copied().collect(),
            sea: self.sea.iter().rev().copied().collect(),
            roofs: [self.roofs[1], self.roofs[0]],
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_that_are_no_profile_are_refused_and_say_where() {
        let new = |d: &[f64], h: &[f64]| Profile::new(d.to_vec(), h.to_vec());
        assert_eq!(new(&[0.0], &[1.0]), Err(ProfileError::TooShort(1)));
        assert_eq!(
            new(&[0.0, 1.0], &[1.0]),
            Err(ProfileError::Uneven { distances: 2, heights: 1 })
        );
        for (d, bad) in [([1.0, 2.0, 3.0], 0), ([0.0, 0.0, 3.0], 1), ([0.0, 2.0, 1.0], 2)] {
            let found = new(&d, &[0.0; 3]);
            assert!(
                matches!(found, Err(ProfileError::BadPoint { index, .. }) if index == bad),
                "{d:?}: {found:?}"
            );
        }
        for odd in [f64::NAN, f64::INFINITY] {
            assert!(new(&[0.0, odd], &[0.0, 0.0]).is_err());
            assert!(new(&[0.0, 1.0], &[0.0, odd]).is_err());
        }
    }

    #[test]
    fn refilling_checks_like_making() {
        let mut profile = Profile::new(vec![0.0, 10.0], vec![1.0, 2.0]).unwrap();
        let filled = profile.refill(|d, h| {
            d.extend([0.0, 5.0, 9.0]);
            h.extend([3.0, 4.0, 5.0]);
        });
        assert_eq!(filled, Ok(()));
        assert_eq!(profile, Profile::new(vec![0.0, 5.0, 9.0], vec![3.0, 4.0, 5.0]).unwrap());
        assert!(profile.refill(|d, _| d.push(0.0)).is_err());
    }

    #[test]
    fn cover_belongs_to_its_points() {
        let ground = Profile::new(vec![0.0, 3.0, 10.0], vec![1.0, 7.0, 2.0]).unwrap();
        let uneven = ground.clone().with_cover(vec![5.0]);
        assert_eq!(uneven, Err(ProfileError::UnevenCover { points: 3, covers: 1 }));
        let sunk = ground.clone().with_cover(vec![0.0, 5.0, -1.0]);
        assert_eq!(sunk, Err(ProfileError::BadCover { index: 2, cover: -1.0 }));
        assert!(ground.clone().with_cover(vec![0.0, f64::NAN, 0.0]).is_err());

        let mut wood = ground.with_cover(vec![0.0, 12.0, 4.0]).unwrap();
        assert_eq!(wood.reversed().cover(), [4.0, 12.0, 0.0]);
        wood.refill(|d, h| {
            d.extend([0.0, 1.0]);
            h.extend([0.0, 0.0]);
        })
        .unwrap();
        assert!(wood.cover().is_empty());
    }

    #[test]
    fn the_sea_is_a_share_of_the_path() {
        let ground = Profile::new(vec![0.0, 10.0, 20.0, 40.0, 60.0], vec![0.0; 5]).unwrap();
        assert_eq!(ground.sea_share(), 0.0);
        let coast = ground.clone().with_sea(vec![false, true, true, false, true]);
        let stretches: Vec<_> = coast.stretches().collect();
        assert_eq!(
            stretches,
            [(0.0, 5.0, false), (5.0, 30.0, true), (30.0, 50.0, false), (50.0, 60.0, true)]
        );
        assert!((coast.sea_share() - 35.0 / 60.0).abs() < 1e-12);
        assert!((coast.reversed().sea_share() - 35.0 / 60.0).abs() < 1e-12);
        assert_eq!(ground.clone().with_sea(vec![true; 5]).sea_share(), 1.0);
        assert_eq!(ground.with_sea(vec![true; 4]).sea_share(), 0.0);
    }

    #[test]
    fn trees_are_a_part_of_the_cover() {
        let ground = Profile::new(vec![0.0, 3.0, 10.0], vec![1.0, 7.0, 2.0]).unwrap();
        let covered = ground.clone().with_cover(vec![0.0, 12.0, 4.0]).unwrap();
        let mixed = covered.clone().with_woods(vec![0.0, 12.0, 1.0]).unwrap();
        assert_eq!(mixed.reversed().woods(), [1.0, 12.0, 0.0]);
        assert!(mixed.has_woods() && !covered.has_woods());
        for bad in [vec![0.0, 13.0, 0.0], vec![0.0, 1.0], vec![0.0, -1.0, 0.0]] {
            let found = covered.clone().with_woods(bad);
            assert!(matches!(found, Err(ProfileError::BadWoods { .. })), "{found:?}");
        }
        assert!(ground.with_woods(vec![0.0, 1.0, 0.0]).is_err());
    }

    #[test]
    fn a_profile_reversed_twice_is_itself() {
        let there = Profile::new(vec![0.0, 3.0, 10.0], vec![1.0, 7.0, 2.0]).unwrap();
        let back = there.reversed();
        assert_eq!(back, Profile::new(vec![0.0, 7.0, 10.0], vec![2.0, 7.0, 1.0]).unwrap());
        assert_eq!(back.reversed(), there);
    }
}
