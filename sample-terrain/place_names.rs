//! Names of the sample's ground, made up.

use super::landscape::{BROOK, RIVER};

/// Where a name is, in kilometres east and north of the land's south-west corner.
pub enum Where {
    /// A point.
    At((f64, f64)),
    /// A line.
    Along(&'static [(f64, f64)]),
    /// A polygon.
    Within(&'static [(f64, f64)]),
}

/// Name, what has it, and where that is.
pub const PLACE_NAMES: [(&str, &str, Where); 15] = [
    ("Ostler's Ferry", "town", Where::At((5.15, 4.3))),
    ("Upper Staithe", "village", Where::At((3.35, 6.5))),
    ("Weir End", "village", Where::At((7.75, 1.6))),
    ("Tanner's Side", "quarter", Where::At((4.55, 4.75))),
    ("Ropewalk", "quarter", Where::At((5.75, 3.1))),
    (
        "The Long Holm",
        "meadow",
        Where::Within(&[(6.1, 5.6), (6.75, 5.1), (7.3, 5.5), (6.9, 6.2), (6.3, 6.2)]),
    ),
    ("River Lode", "river", Where::Along(RIVER)),
    ("Cooper's Brook", "stream", Where::Along(BROOK)),
    ("Quay Road", "street", Where::Along(super::roads::ROADS[0].1)),
    ("Mill Road", "street", Where::Along(super::roads::ROADS[1].1)),
    ("East Bridge Lane", "street", Where::Along(super::roads::ROADS[2].1)),
    ("Forest Track", "track", Where::Along(super::roads::ROADS[3].1)),
    ("Cairn Hill", "hill", Where::At((9.6, 6.6))),
    ("Harrow Edge", "hill", Where::At((1.9, 3.4))),
    ("Lowther Wood", "wood", Where::At((9.5, 2.9))),
];
