//! What a set of sites has to keep, as typed.

use super::measures::{FREQUENCY, length};
use crate::SpareRelay;
use crate::field::{
    AnyText, Flag, Left, LeftOptional, List, Measure, Of, Optional, Required, Usual, Whole, count,
    inner, left, left_optional, list, optional, required, table, usual, whole,
};
use perchline_units::{Megahertz, Metres};

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
            .names(&["channel"])
            .note("`--channel` overrides it")
            .allowed("name of a relay channel"),
        /// The relay channels of the second relay and of those after it, one each; each
        /// relay is then predicted on the channel that it gets.
        channels: LeftOptional<List<String>> => [Option<usize>; 3],
            "Their indices in `Plan::channels`." =
            left_optional(list(Some(ChooseInputs::FURTHER)), "all relays are predicted on `channel`")
            .names(&["channel"])
            .note("names of relay channels, each with a pair of its own; with `linked = true` a `link` too")
            .such_as(&["Relay 2"]),
        /// Whether the relays are linked over the air.
        linked: Usual<Flag> as bool = usual(Flag, false),
        /// The radios that link the relays from roof to roof, where these are radios of
        /// their own.
        link: LeftOptional<Of<link::Text>> => Option<RelayLink> =
            left_optional(inner::<link::Text>(), "the relays' own, on their own frequencies")
            .note("together with `linked = true`"),
        /// Name of the post or site at which a spare relay lies ready, switched off.
        spare: LeftOptional<AnyText> => Option<SpareRelay> = left_optional(AnyText, "no spare")
            .names(&["post", "site"])
            .such_as(&["Net Control"]),
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

table! {
    /// The radios that link relays from roof to roof.
    #[derive(Debug, Clone, Copy, PartialEq)]
    link as RelayLink {
        /// Name of the radio, one without `carry`.
        radio: Left<AnyText> => usize, "Its index in `Plan::radios`." = left(AnyText).names(&["radio"]),
        /// The one frequency, in any band.
        frequency: Required<Measure<Megahertz>> as Megahertz =
            required(FREQUENCY).such_as(&["441.0075 MHz"]),
        /// How far its antenna stands from the relay's, along the roof.
        along: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(0.0, 200.0), "not known, and then nobody can say what the link and the relay do to each other")
            .such_as(&["4 m"]),
        /// How far its antenna stands above the relay's.
        above: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(0.0, 30.0), "0 m where `along` is stated")
            .such_as(&["3 m"]),
    }
}

impl ChooseInputs {
    /// The most relays that are chosen sites for.
    pub const MOST_RELAYS: usize = 4;
    /// Of these all but the first.
    pub(crate) const FURTHER: usize = Self::MOST_RELAYS - 1;
}
