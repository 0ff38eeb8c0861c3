//! What a method counts of a path: what tells one method from another.

/// Which obstructions of a path a method counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Obstructions {
    /// None.
    None,
    /// The one that obstructs most.
    Worst,
    /// The same, and the worst on either side of it.
    WorstAndSides,
    /// Every ridge on the way.
    EveryRidge,
    /// What both horizons make of all of them together.
    Horizons,
}

/// What a method counts beyond distance. Two methods that differ in one part of
/// it differ on a path by what that part comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Counted {
    /// Which obstructions.
    pub obstructions: Obstructions,
    /// Smooth ground or earth under low antennas.
    pub smooth_earth: bool,
    /// The radio climate: the air's refractivity, ducts, scatter and the share of
    /// the time for which a loss holds.
    pub climate: bool,
}

impl Counted {
    /// Distance and no more.
    pub const DISTANCE: Self = Self::edges(Obstructions::None);

    /// These obstructions and no more.
    #[must_use]
    pub const fn edges(obstructions: Obstructions) -> Self {
        Self { obstructions, smooth_earth: false, climate: false }
    }

    /// The same and smooth ground or earth.
    #[must_use]
    pub const fn and_smooth_earth(self) -> Self {
        Self { smooth_earth: true, ..self }
    }

    /// The same and the radio climate.
    #[must_use]
    pub const fn and_climate(self) -> Self {
        Self { climate: true, ..self }
    }
}
