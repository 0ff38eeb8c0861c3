//! What a set of sites has to keep, as typed.

use super::measures::length;
use crate::field::{
    AnyText, Flag, LeftOptional, Measure, Optional, Usual, Whole, count, left_optional, optional,
    table, usual, whole,
};
use perchline_units::Metres;

table! {
    /// How many relays there are and what their sites have to keep together.
    #[derive(Debug, Clone, Copy, PartialEq)]
    choose as ChooseInputs: Default {
        /// Relays at hand, so sites to choose at most.
        relays: Usual<Whole<usize>> as usize = usual(count(1, ChooseInputs::MOST_RELAYS as u32), 2)
            .note("`--relays` overrides it"),
        /// The relay channel that is predicted.
        channel: LeftOptional<AnyText> => Option<usize>, "Its index in `Plan::channels`." =
            left_optional(AnyText, "the plan's first")
            .note("`--channel` overrides it")
            .allowed("name of a relay channel"),
        /// Whether the relays pass words on to each other over the air.
        linked: Usual<Flag> as bool = usual(Flag, false),
        /// Sites with `locked = true` at most.
        locked_doors: Optional<Whole<u32>> as Option<u32> = optional(whole(0, 100), "any number"),
        /// Length of mast at hand for all sites together.
        total_mast: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(0.0, 4000.0), "any length")
            .such_as(&["9 m"]),
        /// Whether the whole map counts as an area of weight 1.
        whole_area: Usual<Flag> as bool = usual(Flag, false).note("so does `--whole-area`"),
        /// Whether relays that serve a post about as well share the posts out evenly;
        /// else each post has the one that serves it best.
        balance: Usual<Flag> as bool = usual(Flag, false),
        /// Whether a site for the packet digipeater is chosen as well.
        digipeater: Usual<Flag> as bool = usual(Flag, true),
    }
}

impl ChooseInputs {
    /// The most relays that are chosen sites for.
    pub const MOST_RELAYS: usize = 4;
}
