//! What stands around a post.

/// How the building around an indoor post is made (ITU-R P.2109).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Indoors {
    /// Without metallized glass or foil in the walls.
    Traditional,
    /// With metallized glass and foil-backed panels.
    Efficient,
}

impl Indoors {
    /// The word for it in a plan.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Traditional => "traditional",
            Self::Efficient => "efficient",
        }
    }
}
