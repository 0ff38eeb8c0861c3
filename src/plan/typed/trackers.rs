//! Packet trackers as typed.

use super::measures::{CARRY, seconds};
use crate::Carry;
use crate::field::{
    AnyText, Choice, Flag, Form, Label, Left, LeftOptional, Measure, Optional, Required, Usual,
    Whole, left, left_optional, optional, required, table, usual, whole,
};
use perchline_units::Seconds;

table! {
    /// Packet trackers of one kind that move along one route.
    tracker either [["pace"], ["speed"]] {
        /// Name in the reports.
        name: Left<Label> = left(Label).such_as(&["Last runner"]),
        /// Name of the route that it follows, from its first point on.
        route: Left<AnyText> = left(AnyText),
        /// Name of the packet channel.
        channel: LeftOptional<AnyText> = left_optional(AnyText, "the plan's only one"),
        /// Name of its radio.
        radio: LeftOptional<AnyText> = left_optional(AnyText, "the channel's carried radio"),
        /// Where a person wears it.
        carry: Optional<Choice<Carry>> = optional(CARRY, "as the radio says"),
        /// Whether it rides on a vehicle, its antenna in the open.
        vehicle: Usual<Flag> = usual(Flag, false),
        /// Time from one beacon to the next.
        every: Required<Measure<Seconds>> =
            required(seconds(&[("s", |v| v), ("min", |v| v * 60.0)], 5.0, 3600.0))
                .such_as(&["2 min", "30 s"]),
        /// Pace along the route.
        pace: LeftOptional<Form> = left_optional(PACE, "").shown("none with `speed`")
            .such_as(&["6:30 min/km", "9 min/mi"])
            .allowed("such as `\"6:30 min/km\"`, `\"9 min/mi\"`; 0.36 to 180 km/h"),
        /// Speed along the route.
        speed: LeftOptional<Form> =
            left_optional(Form::Units(&["km/h", "m/s", "mph"]), "").shown("none with `pace`")
                .such_as(&["15 km/h"])
                .allowed("0.36 to 180 km/h; `km/h`, `m/s`, `mph`"),
        /// How many there are.
        count: Usual<Whole<u32>> = usual(whole(1, 1000), 1),
        /// Time on the air of one beacon, key-up included, or its bytes at 1200
        /// bits a second.
        packet: LeftOptional<Form> =
            left_optional(Form::Units(&["s", "ms", "bytes"]), "0.9 s, remarked")
                .such_as(&["0.9 s", "70 bytes"])
                .allowed("0.05 to 10 s, 1 to 400 bytes; `s`, `ms`, `bytes`"),
    }
}

/// Minutes, or minutes and seconds, for a kilometre or a mile.
const PACE: Form = Form::Pattern(r"^\s*([0-9]+:[0-5][0-9]|[0-9]+\.?[0-9]*)\s*min/(km|mi)\s*$");
