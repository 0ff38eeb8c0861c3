//! Names of the ground, which a map has for orientation.

use std::path::PathBuf;

use geo::Geometry;

/// The names that a plan's file has.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundNames {
    /// The file that they are from.
    pub file: PathBuf,
    /// One or more.
    pub names: Vec<GroundName>,
}

/// A name of something on the ground.
#[derive(Debug, Clone, PartialEq)]
pub struct GroundName {
    /// As the file has it.
    pub name: String,
    /// What bears it.
    pub kind: GroundKind,
    /// Where that is, longitude and latitude.
    pub geometry: Geometry,
}

/// What bears a name; those that help most first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum GroundKind {
    /// A town or a village.
    Settlement,
    /// A river, a lake, the sea.
    Water,
    /// A part of a town.
    Quarter,
    /// Anything else: a street, a hill, a wood.
    Other,
}

/// Words of a file that mean a kind, letter case aside.
const WORDS: [(GroundKind, &[&str]); 3] = [
    (GroundKind::Settlement, &["city", "town", "village", "hamlet"]),
    (
        GroundKind::Water,
        &[
            "water",
            "waterway",
            "river",
            "stream",
            "brook",
            "creek",
            "canal",
            "ditch",
            "lake",
            "pond",
            "reservoir",
            "harbour",
            "harbor",
            "bay",
            "lagoon",
            "strait",
            "sea",
            "ocean",
        ],
    ),
    (
        GroundKind::Quarter,
        &["quarter", "suburb", "neighbourhood", "neighborhood", "district", "borough"],
    ),
];

impl GroundKind {
    /// What a file's word means.
    #[must_use]
    pub fn of(word: &str) -> Self {
        let word = word.trim();
        let found = WORDS
            .iter()
            .find(|(_, words)| words.iter().any(|known| known.eq_ignore_ascii_case(word)));
        found.map_or(Self::Other, |(kind, _)| *kind)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_of_files_mean_a_kind() {
        assert_eq!(GroundKind::of("Town"), GroundKind::Settlement);
        assert_eq!(GroundKind::of(" stream "), GroundKind::Water);
        assert_eq!(GroundKind::of("suburb"), GroundKind::Quarter);
        assert_eq!(GroundKind::of("residential"), GroundKind::Other);
        assert_eq!(GroundKind::of(""), GroundKind::Other);
    }
}
