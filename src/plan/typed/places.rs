//! Posts, areas, routes and sites as typed.

use super::measures::{CARRY, ENVIRONMENT, RANKED};
use super::{PlaceText, ShapeText};
use crate::field::{
    AnyText, Choice, Flag, Form, Label, Left, LeftOptional, Number, Of, Optional, Usual, left,
    left_optional, of, optional, table, usual,
};
use crate::{Carry, Environment, Indoors};

const PLACE: &str = "a position, or a named feature (below)";

table! {
    /// A place where one person with a radio stands.
    post {
        /// Name on the map.
        name: Left<Label> = left(Label),
        /// Where it is.
        at: Left<Of<PlaceText>> = left(of()).allowed(PLACE),
        /// Weight in the ranking.
        weight: Usual<Number<f64>> = usual(RANKED, 1.0),
        /// Whether a site that misses it is no good.
        must: Usual<Flag> = usual(Flag, false),
        /// Whether net control sits here, which one post at most may say.
        net_control: Usual<Flag> = usual(Flag, false),
        /// Name of a radio of its own, one with `carry` or `antenna_height`.
        radio: LeftOptional<AnyText> = left_optional(AnyText, "the channel's carried radio"),
        /// Where a person wears it.
        carry: Optional<Choice<Carry>> = optional(CARRY, "as the radio says"),
        /// Says that it is inside a building, and how that is made.
        indoors: Optional<Choice<Indoors>> = optional(INDOORS, "outdoors")
            .note("`\"efficient\"` has metallized glass or foil in the walls"),
        /// Says that it is on the street where a building's footprint holds it.
        street: Usual<Flag> = usual(Flag, false).allowed("not together with `indoors`"),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> = optional(ENVIRONMENT, "the plan's"),
    }
}

const INDOORS: Choice<Indoors> = Choice(&[
    (Indoors::Traditional.word(), Indoors::Traditional),
    (Indoors::Efficient.word(), Indoors::Efficient),
]);

table! {
    /// A staging area.
    area {
        /// Name on the map.
        name: Left<Label> = left(Label),
        /// Its corners in order, or a polygon of a vector file.
        outline: Left<Of<ShapeText>> = left(of())
            .allowed("three or more corners, without crossing"),
        /// Weight in the ranking.
        weight: Usual<Number<f64>> = usual(RANKED, 1.0),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> = optional(ENVIRONMENT, "the plan's"),
    }
}

table! {
    /// A route.
    route {
        /// Name on the map.
        name: Left<Label> = left(Label),
        /// Its points in order, or a line of a vector file.
        line: Left<Of<ShapeText>> = left(of()).allowed("two or more points"),
        /// Weight in the ranking.
        weight: Usual<Number<f64>> = usual(RANKED, 1.0),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> = optional(ENVIRONMENT, "the plan's"),
    }
}

table! {
    /// A candidate place for a relay or digipeater.
    site {
        /// Name on the map and after `--site`.
        name: Left<Label> = left(Label),
        /// Where it is.
        at: Left<Of<PlaceText>> = left(of()).allowed(PLACE),
        /// Height of the surface that the mast stands on.
        roof: LeftOptional<Form> = left_optional(
            ROOF,
            "with `[buildings]` the footprint's building, refused without",
        )
        .such_as(&["14 m above ground", "92 m above sea", "building"])
        .allowed(
            "`\"14 m above ground\"` (0 to 150 m), `\"92 ft above sea\"` (-500 to 9000 m), \
             `\"building\"`",
        ),
        /// Height of the antenna above that surface.
        mast: Left<Form> = left(Form::Units(&["m", "ft"]))
            .such_as(&["3 m"])
            .allowed("0 to 60 m; `m`, `ft`"),
        /// Whether it may be used at all.
        available: Usual<Flag> = usual(Flag, true),
        /// Whether somebody with a key has to come.
        locked: Usual<Flag> = usual(Flag, false)
            .note("`locked_doors` of `[choose]` counts these"),
        /// How one gets up there.
        access: Optional<AnyText> = optional(AnyText, "none"),
        /// Anything else.
        notes: Optional<AnyText> = optional(AnyText, "none"),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> = optional(ENVIRONMENT, "the plan's"),
        /// Says that a roof over 150 m or a mast over 60 m is meant as written, up
        /// to 1000 m.
        tall: Usual<Flag> = usual(Flag, false),
    }
}

/// A height above something, or the word for the building below.
const ROOF: Form = Form::Pattern(
    r"^\s*([-+]?[0-9.]+([eE][-+]?[0-9]+)?\s*(m|ft)\s+above\s+(ground|sea|sea level)|building)\s*$",
);
