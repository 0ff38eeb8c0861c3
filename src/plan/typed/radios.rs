//! Radios, antennas, feed lines and channels as typed.

use super::measures::{
    CARRY, FREQUENCY, GAIN, HOURLY, OUTPUT, SENSITIVITY, bare, decibels, length,
};
use crate::field::{
    Allowed, AnyText, Choice, FieldCheck, Flag, Kind, Label, Left, LeftOptional, Measure, Name, Of,
    Optional, Plain, Required, Sizes, Tied, Usual, Whole, inner, inner_list, left, left_optional,
    measure, optional, required, table, usual, whole,
};
use crate::{Bandwidth, CABLES, Cable, Carry, FeedLine, Pattern, Service};
use perchline_units::{Db, Dbi, Dbm, Kilohertz, Megahertz, Metres};
use schemars::{Schema, SchemaGenerator, json_schema};

table! {
    /// A kind of radio: transmitter, receiver, antenna and what lies between.
    #[derive(Debug, Clone)]
    radio as Radio {
        /// Name by which channels and posts refer to it.
        name: Required<Name> as String = required(Name),
        /// Transmitter output in W or dBm.
        power: Required<Measure<Dbm>> as Dbm = required(OUTPUT)
            .such_as(&["5 W", "37 dBm"])
            .allowed("above 200 W is remarked"),
        /// The antenna.
        antenna: Required<Of<antenna::Text>> as Antenna = required(inner::<antenna::Text>())
            .allowed("such as `{ gain = \"-5 dBd\", pattern = \"dipole\" }`"),
        /// Line between radio and antenna.
        feed_line: LeftOptional<Of<feed_line::Text>> => FeedLine =
            left_optional(inner::<feed_line::Text>(), "none").allowed(
                "such as `{ loss = \"1 dB\" }` or `{ type = \"RG-58\", length = \"3 m\" }`",
            ),
        /// Duplexer or filter loss, once in each direction.
        filter_loss: Usual<Measure<Db>> as Db =
            usual(decibels(0.0, 20.0), 0.0).such_as(&["1.5 dB"]),
        /// Level at the receiver for 12 dB SINAD: uV across 50 ohm, or dBm.
        sensitivity: Required<Measure<Dbm>> as Dbm = required(SENSITIVITY)
            .such_as(&["0.25 uV", "-119 dBm"])
            .allowed("`µV`"),
        /// Channel bandwidth.
        bandwidth: Required<Sizes<Bandwidth>> as Bandwidth =
            required(BANDWIDTHS).such_as(&["12.5 kHz", "25 kHz"]),
        /// Where a person wears it.
        carry: Optional<Choice<Carry>> as Option<Carry> = optional(CARRY, "a fixed station"),
        /// Body loss in place of the table's.
        body_loss: Optional<Measure<Db>> as Option<Db> =
            optional(decibels(0.0, 40.0), "by band and carry")
            .note("of a carried radio")
            .such_as(&["6 dB"]),
        /// Height above ground of an antenna that is not on a site's mast.
        antenna_height: Optional<Tied<Metres>> => Option<Metres>,
            "0.3 to 4 m carried, to 60 m fixed." =
            optional(Tied(length(0.3, 60.0)), "by carry")
                .such_as(&["1.5 m"])
                .allowed("0.3 to 4 m carried, to 60 m fixed; `m`, `ft`"),
        /// What is otherwise on some bands: the same antenna gains less on one than
        /// on another.
        bands = "band": LeftOptional<Of<Vec<band::Text>>> => Vec<Band>,
            "None where all bands are alike." =
            left_optional(inner_list::<band::Text>(), "none").allowed("`[[radio.band]]`"),
    }
}

table! {
    /// A band on which a radio's antenna or body loss is another.
    #[derive(Debug, Clone, Copy, PartialEq)]
    band as Band {
        /// Lowest frequency.
        from: Required<Measure<Megahertz>> as Megahertz =
            required(FREQUENCY).such_as(&["430 MHz"]),
        /// Highest frequency.
        to: Required<Measure<Megahertz>> as Megahertz =
            required(FREQUENCY).such_as(&["470 MHz"]),
        /// The antenna's peak gain there, in dBi or dBd.
        gain: Optional<Measure<Dbi>> as Option<Dbi> =
            optional(GAIN, "the antenna's").such_as(&["-3 dBd"]),
        /// Body loss there.
        body_loss: Optional<Measure<Db>> as Option<Db> =
            optional(decibels(0.0, 40.0), "the radio's")
            .note("of a carried radio")
            .such_as(&["10 dB"]),
    }
}

const BANDWIDTHS: Sizes<Bandwidth> = Sizes {
    what: "bandwidth",
    unit: "kHz",
    sizes: &[
        (Bandwidth::Narrow.channel().value(), Bandwidth::Narrow),
        (Bandwidth::Wide.channel().value(), Bandwidth::Wide),
    ],
};

table! {
    /// An antenna.
    #[derive(Debug, Clone, Copy, PartialEq)]
    antenna as Antenna {
        /// Peak gain in dBi or dBd.
        gain: Required<Measure<Dbi>> as Dbi = required(GAIN)
            .note("0 dBd is 2.15 dBi")
            .such_as(&["-5 dBd", "6 dBi"]),
        /// Pattern in the vertical plane.
        pattern: Required<Choice<Pattern>> as Pattern = required(PATTERNS),
    }
}

const PATTERNS: Choice<Pattern> = Choice(&[
    ("isotropic", Pattern::Isotropic),
    ("dipole", Pattern::Dipole),
    ("collinear", Pattern::Collinear),
]);

table! {
    /// A feed line: its loss, or a cable's type and length.
    feed_line either [["loss"], ["type", "length"]] {
        /// Loss of the line from end to end.
        loss: Optional<Measure<Db>> = optional(decibels(0.0, 30.0), "").shown("none with a cable")
            .such_as(&["1 dB"]),
        /// A cable by name.
        r#type: Optional<CableName> = optional(CableName, "").shown("none with `loss`")
            .such_as(&["RG-58", "RG-213"]),
        /// The cable's length.
        length: Optional<Measure<Metres>> = optional(length(0.0, 500.0), "")
            .shown("none with `loss`")
            .such_as(&["3 m"])
            .allowed("above 100 m is remarked"),
    }
}

/// The name of a known cable.
#[derive(Debug, Clone, Copy)]
pub(crate) struct CableName;

impl CableName {
    fn words() -> Vec<(&'static str, &'static Cable)> {
        CABLES.iter().map(|cable| (cable.name, cable)).collect()
    }
}

impl Kind for CableName {
    type Typed = String;

    fn schema(&self, _: &mut SchemaGenerator) -> Schema {
        let names: Vec<&str> = CABLES.iter().map(|cable| cable.name).collect();
        json_schema!({ "type": "string", "enum": names })
    }

    fn allowed(&self) -> Allowed {
        Allowed::Words(CABLES.iter().map(|cable| cable.name.to_owned()).collect())
    }
}

impl Plain for CableName {
    type Value = &'static Cable;

    fn read(&self, check: &mut FieldCheck<'_, '_>, typed: String) -> Option<&'static Cable> {
        check.word(&typed, &Self::words())
    }
}

table! {
    /// A channel and the radios at its ends.
    #[derive(Debug, Clone)]
    channel as Channel {
        /// Name by which people call it.
        name: Required<Name> as String = required(Name),
        /// What runs on it.
        service = "kind": Required<Choice<ChannelKind>> => Service = required(KINDS),
        /// Relay: where it listens.
        input: Optional<Measure<Megahertz>> = optional(FREQUENCY, "").shown(ONLY_RELAY)
            .such_as(&["147.6075 MHz"]),
        /// Relay: where it transmits, on another frequency.
        output: Optional<Measure<Megahertz>> = optional(FREQUENCY, "").shown(ONLY_RELAY)
            .such_as(&["147.0075 MHz"]),
        /// Simplex and packet: the one frequency.
        frequency: Optional<Measure<Megahertz>> =
            optional(FREQUENCY, "").shown(NO_RELAY).such_as(&["144.8225 MHz"]),
        /// Relay and packet: name of the radio at the site, one without `carry`.
        station: LeftOptional<AnyText> =
            left_optional(AnyText, "")
            .names(&["radio"])
            .shown("must be given for relay and packet alone"),
        /// Name of the radio that posts carry, one with `carry`.
        carried: Left<AnyText> => usize, "Its index in `Plan::radios`." =
            left(AnyText).names(&["radio"]),
        /// Access tone.
        tone: Optional<Measure<f64>> as Option<f64>, "In hertz." =
            optional(bare(&[("Hz", |v| v)], 60.0, 260.0), "none")
            .note(
                "those of land-mobile FM lie between 67.0 and 254.1 Hz (common practice, no \
                 source)",
            )
            .such_as(&["100.0 Hz"]),
        /// Packet: beacons that others than the plan's trackers send in an hour.
        background_an_hour = "background": Optional<Measure<f64>> as Option<f64> =
            optional(bare(HOURLY, 0.0, 36_000.0), "none")
            .note("each taken to be 0.9 s on the air")
            .such_as(&["60 /h"]),
        /// Packet: digipeaters through which a beacon may go, one after the other.
        hops: Usual<Whole<u32>> as u32 = usual(whole(1, 7), 1)
            .note("more multiply the traffic where digipeaters hear each other"),
        /// Whether its frequencies are placeholders: until they are set every result says so.
        placeholder: Usual<Flag> as bool = usual(Flag, false),
        /// What it is for, on the channel sheet.
        function: Optional<Label> as Option<String> = optional(Label, "none"),
        /// Who uses it, on the channel sheet.
        users: Optional<Label> as Option<String> = optional(Label, "none")
            .note(
                "on a simplex channel names of posts and groups alone say that only these are on \
                 it, see `[[group]]`",
            )
            .such_as(&["Medical tent, First-aid post"]),
    }
}

const NO_RELAY: &str = "must be given for simplex and packet alone";
const ONLY_RELAY: &str = "must be given for relay alone";

/// What runs on a channel, by its word.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) enum ChannelKind {
    Relay,
    Simplex,
    Packet,
}

const KINDS: Choice<ChannelKind> = Choice(&[
    ("relay", ChannelKind::Relay),
    ("simplex", ChannelKind::Simplex),
    ("packet", ChannelKind::Packet),
]);

table! {
    /// A channel of somebody else that must stay clear.
    #[derive(Debug, Clone, PartialEq)]
    other_channel as OtherChannel {
        /// What it is called.
        name: Required<Name> as String = required(Name),
        /// Whose it is.
        owner: Optional<Label> as Option<String> = optional(Label, "no owner"),
        /// Where they listen.
        receive: Required<Measure<Megahertz>> as Megahertz =
            required(FREQUENCY).such_as(&["154.2 MHz"]),
        /// Where they transmit near the event's receivers.
        transmit: Optional<Measure<Megahertz>> as Option<Megahertz> =
            optional(FREQUENCY, "nowhere"),
        /// Width of the channel.
        bandwidth: Required<Measure<Kilohertz>> as Kilohertz =
            required(measure(&[("kHz", |v| v)], 1.0, 20_000.0, Kilohertz::new))
                .such_as(&["12.5 kHz"]),
    }
}
