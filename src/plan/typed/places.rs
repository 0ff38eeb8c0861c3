//! Posts, areas, routes and sites as typed.

use super::measures::{
    CARRY, CLUTTER, ENVIRONMENT, RANKED, ROOF_HEIGHT, ROOF_LOAD, STREET_WIDTH, decibels, distance,
    length,
};
use super::{Phone, PlaceText, Quantity, ShapeText};
use crate::field::{
    AnyText, AsTyped, Choice, FieldCheck, Flag, Kind, Label, Left, LeftOptional, LocalTime,
    Measure, Name, Number, Of, Optional, Plain, Required, Tied, Usual, Written, left,
    left_optional, of, optional, required, table, usual,
};
use crate::resolve::quoted;
use crate::{Carry, ClutterClass, Environment, Indoors, Roof, SitePower};
use geo::{LineString, Polygon};
use jiff::ZonedDateTime;
use perchline_units::{Db, KilogramsPerSquareMetre, Metres, Position};
use schemars::{Schema, SchemaGenerator, json_schema};

const PLACE: &str = "a position, or a named feature (below)";

table! {
    /// A place where one person with a radio stands.
    #[derive(Debug, Clone)]
    post as Post {
        /// Name on the map.
        name: Required<Name> as String = required(Name),
        /// Where it is.
        at: Left<Of<PlaceText>> => Position = left(of(Written::Place)).allowed(PLACE),
        /// Weight in the ranking.
        weight: Usual<Number<f64>> as f64 = usual(RANKED, 1.0),
        /// Whether a site that misses it is no good.
        must: Usual<Flag> as bool = usual(Flag, false),
        /// Whether net control sits here, which one post at most may say.
        net_control: Usual<Flag> as bool = usual(Flag, false),
        /// Name of a radio of its own, one with `carry` or `antenna_height`.
        radio: LeftOptional<AnyText> => Option<usize>, "Its index in `Plan::radios`." =
            left_optional(AnyText, "the channel's carried radio").names(&["radio"]),
        /// Where a person wears it.
        carry: Optional<Choice<Carry>> as Option<Carry> = optional(CARRY, "as the radio says"),
        /// Says that it is inside a building, and how that is made.
        indoors: Optional<Choice<Indoors>> as Option<Indoors> = optional(INDOORS, "outdoors")
            .note("`\"efficient\"` has metallized glass or foil in the walls"),
        /// Says that it is on the street where a building's footprint holds it.
        street: Usual<Flag> as bool = usual(Flag, false).allowed("not together with `indoors`"),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> as Option<Environment> =
            optional(ENVIRONMENT, "the plan's"),
        /// What stands around it, where neither footprints nor land cover say it.
        surroundings: Optional<Choice<ClutterClass>> as Option<ClutterClass> =
            optional(CLUTTER, "its area's, else the plan's"),
        /// Height of its roofs, with `surroundings`.
        roof_height: Optional<Measure<Metres>> as Option<Metres> =
            optional(ROOF_HEIGHT, "that of the class: 5, 10 or 15 m").such_as(&["12 m"]),
        /// Width of its streets, with `surroundings`.
        street_width: Optional<Measure<Metres>> as Option<Metres> =
            optional(STREET_WIDTH, "27 m").such_as(&["20 m"]),
        /// Loss besides all else, such as that of a crowd around the radio.
        extra_loss: Optional<Measure<Db>> as Option<Db> =
            optional(decibels(0.0, 60.0), "none").such_as(&["6 dB"]),
        /// From when it is there: local date and time.
        extra_loss_from: LeftOptional<LocalTime> => Option<ZonedDateTime> =
            left_optional(LocalTime, "all the time").allowed("during the event"),
        /// Until when.
        extra_loss_to: LeftOptional<LocalTime> => Option<ZonedDateTime> =
            left_optional(LocalTime, "all the time").allowed("during the event"),
    }
}

const INDOORS: Choice<Indoors> = Choice(&[
    (Indoors::Traditional.word(), Indoors::Traditional),
    (Indoors::Efficient.word(), Indoors::Efficient),
]);

table! {
    /// A staging area.
    #[derive(Debug, Clone)]
    area as Area {
        /// Name on the map.
        name: Required<Name> as String = required(Name),
        /// Its corners in order, or a polygon of a vector file.
        outline: Left<Of<ShapeText>> => Polygon, "In longitude and latitude, valid and not empty." =
            left(of(Written::Shape))
            .allowed("three or more corners, without crossing"),
        /// Weight in the ranking.
        weight: Usual<Number<f64>> as f64 = usual(RANKED, 1.0),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> as Option<Environment> =
            optional(ENVIRONMENT, "the plan's"),
        /// What stands around a radio in it, where neither footprints nor land cover say it.
        surroundings: Optional<Choice<ClutterClass>> as Option<ClutterClass> =
            optional(CLUTTER, "the plan's"),
        /// Height of its roofs, with `surroundings`.
        roof_height: Optional<Measure<Metres>> as Option<Metres> =
            optional(ROOF_HEIGHT, "that of the class: 5, 10 or 15 m").such_as(&["12 m"]),
        /// Width of its streets, with `surroundings`.
        street_width: Optional<Measure<Metres>> as Option<Metres> =
            optional(STREET_WIDTH, "27 m").such_as(&["20 m"]),
    }
}

table! {
    /// A route.
    #[derive(Debug, Clone)]
    route as Route {
        /// Name on the map.
        name: Required<Name> as String = required(Name),
        /// Its points in order, or a line of a vector file.
        line: Left<Of<ShapeText>> => LineString, "In longitude and latitude, two points or more." =
            left(of(Written::Shape)).allowed("two or more points"),
        /// Weight in the ranking.
        weight: Usual<Number<f64>> as f64 = usual(RANKED, 1.0),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> as Option<Environment> =
            optional(ENVIRONMENT, "the plan's"),
    }
}

table! {
    /// A candidate place for a relay or digipeater.
    #[derive(Debug, Clone)]
    site as Site {
        /// Name on the map and after `--site`.
        name: Required<Name> as String = required(Name),
        /// Where it is.
        at: Left<Of<PlaceText>> => Position = left(of(Written::Place)).allowed(PLACE),
        /// Height of the surface that the mast stands on.
        roof: Optional<RoofHeight> => Roof = optional(
            RoofHeight,
            "with `[buildings]` the footprint's building, refused without",
        )
        .such_as(&["14 m above ground", "92 m above sea", "building"])
        .allowed(
            "`\"14 m above ground\"` (0 to 150 m), `\"92 ft above sea\"` (-500 to 9000 m), \
             `\"building\"`",
        ),
        /// Height of the antenna above that surface.
        mast: Required<Tied<Metres>> => Metres = required(MAST)
            .such_as(&["3 m"])
            .allowed("0 to 60 m; `m`, `ft`"),
        /// Whether it may be used at all.
        available: Usual<Flag> as bool = usual(Flag, true),
        /// Whether somebody with a key has to come.
        locked: Usual<Flag> as bool = usual(Flag, false)
            .note("`locked_doors` of `[choose]` counts these"),
        /// From when somebody gets up there: local date and time.
        open_from: LeftOptional<LocalTime> => Option<ZonedDateTime> =
            left_optional(LocalTime, "at any time")
            .such_as(&["2026-12-05T14:00:00"]),
        /// Until when: who is up there has to be down by then.
        open_until: LeftOptional<LocalTime> => Option<ZonedDateTime> =
            left_optional(LocalTime, "at any time")
            .note("after `open_from`")
            .such_as(&["2026-12-05T21:00:00"]),
        /// Who opens it.
        key_holder: Optional<Label> as Option<String> = optional(Label, "not known")
            .such_as(&["Caretaker", "Night manager"]),
        /// Telephone number of whoever opens it.
        phone: Optional<Phone> as Option<String> = optional(Phone, "not known")
            .such_as(&["555-0142"])
            .allowed("as of a contact"),
        /// Height of the rail or parapet at its edge, 0 where there is none.
        guardrail: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(0.0, 20.0), "not known")
            .such_as(&["1.1 m", "0 m"]),
        /// What power there is.
        power: Optional<Choice<SitePower>> as Option<SitePower> =
            optional(SITE_POWERS, "not known"),
        /// Distance over the ground from the mast to the nearest power line.
        power_line: Optional<Measure<Metres>> as Option<Metres> =
            optional(POWER_LINE, "not known")
            .note("where none is near, how far round you looked")
            .such_as(&["15 m", "200 m"]),
        /// What the roof bears.
        roof_load: Optional<Measure<KilogramsPerSquareMetre>> as Option<KilogramsPerSquareMetre> =
            optional(ROOF_LOAD, "not known")
            .such_as(&["75 kg/m2", "20 lb/ft2"]),
        /// How one gets up there.
        access: Optional<AnyText> as Option<String> = optional(AnyText, "none"),
        /// Anything else.
        notes: Optional<AnyText> as Option<String> = optional(AnyText, "none"),
        /// Radio noise here.
        environment: Optional<Choice<Environment>> as Option<Environment> =
            optional(ENVIRONMENT, "the plan's"),
        /// Says that a roof over 150 m or a mast over 60 m is meant as written, up
        /// to 1000 m.
        tall: Usual<Flag> as bool = usual(Flag, false),
    }
}

const SITE_POWERS: Choice<SitePower> = Choice(&[
    (SitePower::Mains.word(), SitePower::Mains),
    (SitePower::Nothing.word(), SitePower::Nothing),
]);

const POWER_LINE: Measure<Metres> = distance(0.0, 10_000.0)
    .for_none("where no line is near, write how far round you looked, such as \"200 m\"");

/// How high a mast may be depends on `tall`.
const MAST: Tied<Metres> = Tied(
    length(0.0, f64::MAX)
        .refused(|typed, _, _, _| format!("{typed} is negative; a mast is 0 or above")),
);

/// A height above something, or the word for the building below.
#[derive(Debug, Clone, Copy)]
pub(crate) struct RoofHeight;

/// What was typed as a roof. How high above ground it may be depends on `tall`.
#[derive(Debug, Clone)]
pub(crate) enum RoofText {
    AboveGround(AsTyped<Metres>),
    AboveSea(Metres),
    OfBuilding,
}

impl RoofHeight {
    const ABOVE_GROUND: Measure<Metres> = length(0.0, f64::MAX)
        .refused(|typed, _, _, _| format!("{typed} is below the ground; a roof is at 0 or above"));

    /// From the shore of the Dead Sea to the top of the highest mountain.
    const ABOVE_SEA: Measure<Metres> = length(-500.0, 9000.0);
}

impl Kind for RoofHeight {
    type Typed = Quantity;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "pattern": concat!(
                r"^\s*([-+]?[0-9.]+([eE][-+]?[0-9]+)?\s*(m|ft)\s+above\s+",
                r"(ground|sea|sea level)|building)\s*$",
            ),
        })
    }
}

impl Plain for RoofHeight {
    type Value = RoofText;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Quantity) -> Option<RoofText> {
        const EXAMPLES: &str = "\"14 m above ground\" or \"92 m above sea\"";
        let Quantity::Text(text) = &typed else {
            check.problem(format!(
                "{} is a bare number; write the unit and what it is above, such as {EXAMPLES}",
                typed.quoted()
            ));
            return None;
        };
        let words = text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
        if words == "building" {
            return Some(RoofText::OfBuilding);
        }
        let Some((height, above)) = words.split_once(" above ") else {
            check.problem(format!(
                "{} does not say what the height is above; write such as {EXAMPLES}",
                typed.quoted()
            ));
            return None;
        };
        let height = Quantity::Text(height.to_owned());
        match above {
            "ground" | "the ground" => {
                let (value, unit) = Self::ABOVE_GROUND.read_as(check, &height, &typed)?;
                Some(RoofText::AboveGround(AsTyped { value, quoted: typed.quoted(), unit }))
            }
            "sea" | "sea level" | "the sea" => {
                let (value, _) = Self::ABOVE_SEA.read_as(check, &height, &typed)?;
                Some(RoofText::AboveSea(value))
            }
            _ => {
                check.problem(format!(
                    "a height is above ground or above sea, not above {}; write such as {EXAMPLES}",
                    quoted(above)
                ));
                None
            }
        }
    }
}
