//! Packet trackers as typed.

use super::Quantity;
use super::measures::{CARRY, seconds};
use crate::field::{
    AnyText, Choice, FieldCheck, Flag, Kind, Left, LeftOptional, Measure, Name, Optional, Plain,
    Required, Units, Usual, Whole, left, left_optional, measure, optional, required, table, usual,
    whole,
};
use crate::{Carry, Mount};
use perchline_units::{METRES_PER_MILE, MetresPerSecond, Seconds};
use schemars::{Schema, SchemaGenerator, json_schema};

table! {
    /// Packet trackers of one kind that move along one route.
    #[derive(Debug, Clone, PartialEq)]
    tracker as Tracker either [["pace"], ["speed"]] {
        /// Name in the reports.
        name: Required<Name> as String = required(Name).such_as(&["Last runner"]),
        /// Name of the route that it follows, from its first point on.
        route: Left<AnyText> => usize, "Its index in `Plan::routes`." =
            left(AnyText).names(&["route"]),
        /// Name of the packet channel.
        channel: LeftOptional<AnyText> => usize, "Its index in `Plan::channels`." =
            left_optional(AnyText, "the plan's only one").names(&["channel"]),
        /// Name of its radio.
        radio: LeftOptional<AnyText> => usize, "Its index in `Plan::radios`." =
            left_optional(AnyText, "the channel's carried radio").names(&["radio"]),
        /// Where a person wears it.
        carry: Optional<Choice<Carry>> = optional(CARRY, "as the radio says"),
        /// Whether it rides on a vehicle, its antenna in the open.
        mount = "vehicle": Usual<Flag> => Mount, "Else the person who wears it." =
            usual(Flag, false),
        /// Time from one beacon to the next.
        every: Required<Measure<Seconds>> as Seconds =
            required(seconds(&[("s", |v| v), ("min", |v| v * 60.0)], 5.0, 3600.0))
                .such_as(&["2 min", "30 s"]),
        /// Pace along the route.
        pace: Optional<Pace> = optional(Pace, "").shown("none with `speed`")
            .such_as(&["6:30 min/km", "9 min/mi"])
            .allowed("such as `\"6:30 min/km\"`, `\"9 min/mi\"`; 0.36 to 180 km/h"),
        /// Speed along the route.
        speed: Optional<Measure<MetresPerSecond>> => MetresPerSecond = optional(SPEED, "")
            .shown("none with `pace`")
            .such_as(&["15 km/h"]),
        /// How many there are.
        count: Usual<Whole<u32>> as u32 = usual(whole(1, 1000), 1),
        /// Time on the air of one beacon, key-up included, or its bytes at 1200
        /// bits a second.
        packet: Optional<Measure<Seconds>> => Seconds, "Key-up included." =
            optional(PACKET, "0.9 s, remarked")
            .such_as(&["0.9 s", "70 bytes"]),
    }
}

/// From a stroll that stops often to a vehicle on a closed road.
const SPEED: Measure<MetresPerSecond> =
    speed(&[("km/h", |v| v), ("m/s", |v| v * 3.6), ("mph", |v| v * (METRES_PER_MILE / 1000.0))]);

/// A speed in units of which the values are km/h.
const fn speed(units: Units) -> Measure<MetresPerSecond> {
    measure(units, 0.36, 180.0, |v| MetresPerSecond::new(v / 3.6)).in_unit("km/h").refused(
        |typed, speed, least, most| {
            format!("{typed} is {speed:.1} km/h; {least} to {most} km/h is allowed")
        },
    )
}

/// Minutes, or minutes and seconds, for a kilometre or a mile.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Pace;

impl Pace {
    const MINUTES: Measure<MetresPerSecond> =
        speed(&[("min/km", |v| 60.0 / v), ("min/mi", |v| METRES_PER_MILE / 1000.0 * 60.0 / v)]);

    /// A pace typed as `6:30 min/km` with its minutes in one number.
    fn with_minutes(typed: &Quantity) -> Quantity {
        let Quantity::Text(text) = typed else { return typed.clone() };
        let minutes = text.split_once(':').and_then(|(minutes, rest)| {
            let at = rest.find(|c: char| !c.is_ascii_digit()).unwrap_or(rest.len());
            let (seconds, unit) = rest.split_at(at);
            let (minutes, seconds) =
                (minutes.trim().parse::<u32>().ok()?, seconds.parse::<u32>().ok()?);
            (at == 2 && seconds < 60)
                .then(|| format!("{} {unit}", f64::from(minutes) + f64::from(seconds) / 60.0))
        });
        minutes.map_or_else(|| typed.clone(), Quantity::Text)
    }
}

impl Kind for Pace {
    type Typed = Quantity;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        json_schema!({
            "type": "string",
            "pattern": r"^\s*([0-9]+:[0-5][0-9]|[0-9]+\.?[0-9]*)\s*min/(km|mi)\s*$",
        })
    }
}

impl Plain for Pace {
    type Value = MetresPerSecond;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: Quantity) -> Option<MetresPerSecond> {
        let minutes = Self::with_minutes(&typed);
        Self::MINUTES.read_as(check, &minutes, &typed).map(|(speed, _)| speed)
    }
}

/// Bits a second on the air of the 1200 baud packet of FM radios.
const BITS_A_SECOND: f64 = 1200.0;

/// Seconds from keying up to the first byte (common practice, no source).
const KEY_UP: f64 = 0.3;

/// Time on the air of a beacon.
const PACKET: Measure<Seconds> = seconds(
    &[
        ("s", |v| v),
        ("ms", |v| v / 1e3),
        // Other lengths have no time.
        ("bytes", |v| match v {
            1.0..=400.0 => v * 8.0 / BITS_A_SECOND + KEY_UP,
            _ => f64::NAN,
        }),
    ],
    0.05,
    10.0,
)
.also("1 to 400 bytes")
.refused(|typed, _, least, most| {
    format!("{typed} is out of range; {least} to {most} s or 1 to 400 bytes is allowed")
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn minutes_and_seconds_become_minutes() {
        let read = |text: &str| match Pace::with_minutes(&Quantity::Text(text.to_owned())) {
            Quantity::Text(text) | Quantity::Bare(text) => text,
        };
        assert_eq!(read("6:30 min/km"), "6.5  min/km");
        assert_eq!(read("10:00min/mi"), "10 min/mi");
        // What is no time is left for the reader of quantities to refuse.
        for text in ["6:5 min/km", "6:75 min/km", ":30 min/km", "6.5 min/km", "6:é0 min/km"] {
            assert_eq!(read(text), text);
        }
    }
}
