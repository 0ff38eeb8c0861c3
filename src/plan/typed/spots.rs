//! Mast heights and the search for spots as typed.

use super::measures::{ENVIRONMENT, distance, length};
use super::{FILE, ShapeText};
use crate::field::{
    AnyText, Choice, Flag, LeftOptional, Measure, Of, Optional, Usual, Whole, Written, count,
    left_optional, of, optional, table, usual,
};
use crate::{Environment, Roads};
use geo::Polygon;
use perchline_units::Metres;

table! {
    /// Which mast heights `masts` tries.
    #[derive(Debug, Clone, Copy, PartialEq)]
    masts as MastInputs: Default {
        /// Greatest height of an antenna over the roof that is tried.
        highest: Usual<Measure<Metres>> as Metres = usual(length(1.0, 60.0), 15.0)
            .source("about what a portable mast reaches: common practice, no source")
            .such_as(&["15 m"]),
        /// Whether the station's feed line, a cable whose length the plan states
        /// for the site's own mast, is longer on a longer mast.
        feed_line_grows: Usual<Flag> as bool = usual(Flag, false),
    }
}

table! {
    /// Where `search` looks for spots that nobody listed.
    #[derive(Debug, Clone, PartialEq)]
    search as SearchInputs: Default {
        /// Outline of the ground to search: its corners in order, or a polygon of
        /// a vector file.
        inside: LeftOptional<Of<ShapeText>> => Option<Polygon>, "In longitude and latitude." =
            left_optional(of(Written::Shape), "the whole map")
            .allowed("three or more corners, without crossing"),
        /// Height of the antenna over the ground or roof that it stands on.
        mast: Usual<Measure<Metres>> as Metres = usual(length(0.5, 60.0), 6.0)
            .source("common practice, no source")
            .such_as(&["6 m"]),
        /// Vector file of roads: every line in it counts as one.
        roads: LeftOptional<AnyText> => Option<Roads> =
            left_optional(AnyText, "distances to roads are left out")
            .allowed(FILE),
        /// Least distance between two spots of the list.
        keep_apart: Usual<Measure<Metres>> as Metres = usual(distance(10.0, 20_000.0), 300.0)
            .such_as(&["300 m"]),
        /// Radio noise at every spot.
        environment: Optional<Choice<Environment>> as Option<Environment> =
            optional(ENVIRONMENT, "the plan's"),
        /// Points that stand for each area and each route in the search, at most.
        samples: Usual<Whole<usize>> as usize = usual(count(1, 100), 8),
    }
}
