//! Tables on power, shared roofs and people, as a person types them.

use super::Quantity;
use super::measures::{
    CURRENT, HOURLY, NOISE, TEMPERATURE, WEIGHT, bare, decibels, length, seconds, share, voltage,
    weight,
};
use crate::field::{
    AnyText, Choice, Flag, Label, Left, LeftOptional, List, LocalTime, Measure, Name, Of, Optional,
    Required, Units, Usual, Whole, inner, inner_as_elsewhere, inner_list, left, left_optional,
    list, measure, optional, required, table, usual, whole,
};
use crate::{Chemistry, ExposureStandard, Stands, Traffic};
use jiff::ZonedDateTime;
use perchline_units::{
    AmpereHours, Amperes, Celsius, Db, Dbm, Hours, Kilograms, METRES_PER_MILE, Metres,
    MetresPerSecond, Ohms, Seconds, Volts, WattHours, Watts,
};

/// Hours that a forecast has at most.
pub(crate) const MOST_HOURS: usize = 400;

table! {
    /// Weather over the event.
    #[derive(Debug, Clone, PartialEq)]
    forecast as Forecast {
        /// When the first of the hourly values holds: local date and time.
        from: Left<LocalTime> => ZonedDateTime = left(LocalTime).such_as(&["2026-12-05T14:00:00"]),
        /// Air temperature at that time and every hour after it; "?" for an hour
        /// that is not known.
        hourly: Left<List<Quantity>> => Vec<Option<Celsius>>,
            "Full hours of elapsed time; nothing where the forecast has a gap." =
            left(list(Some(MOST_HOURS)))
            .note("hours of elapsed time")
            .such_as(&["6 °C", "5 °C", "?", "39 °F"]),
        /// Strongest gust.
        gust: Optional<Measure<MetresPerSecond>> as Option<MetresPerSecond> =
            optional(measure(WINDS, 0.0, 100.0, MetresPerSecond::new), "20 m/s is taken")
                .such_as(&["50 km/h"]),
        /// Share of a clear sky's sunshine.
        sky: Usual<Measure<f64>> as f64, "0 to 1." = usual(share(0.0, 100.0), 20.0)
            .source("overcast: common practice, no source")
            .such_as(&["40 %"]),
    }
}

/// A kilometre, a statute mile (1609.344 m) and a nautical mile (1852 m) an hour.
const WINDS: Units = &[
    ("m/s", |v| v),
    ("km/h", |v| v * (1.0 / 3.6)),
    ("mph", |v| v * (METRES_PER_MILE / 3600.0)),
    ("kn", |v| v * (1852.0 / 3600.0)),
];

table! {
    /// How exposure to radio-frequency fields is worked out.
    #[derive(Debug, Clone, Copy, PartialEq)]
    exposure as Exposure: Default {
        /// Whose limits.
        standard: Usual<Choice<ExposureStandard>> as ExposureStandard =
            usual(STANDARDS, ExposureStandard::Oet65),
        /// Whether the roof's reflection is counted.
        reflection: Usual<Flag> as bool = usual(Flag, true),
    }
}

const STANDARDS: Choice<ExposureStandard> =
    Choice(&[("oet-65", ExposureStandard::Oet65), ("icnirp-2020", ExposureStandard::Icnirp2020)]);

table! {
    /// A kind of battery pack.
    #[derive(Debug, Clone, PartialEq)]
    pack as Pack {
        /// Name by which stations and crews refer to it.
        name: Required<Name> as String = required(Name),
        /// What it is made of.
        chemistry: Required<Choice<Chemistry>> as Chemistry = required(CHEMISTRIES),
        /// Cells in series.
        cells: Required<Whole<u32>> as u32 = required(whole(1, 40)),
        /// Such strings in parallel.
        strings: Usual<Whole<u32>> as u32 = usual(whole(1, 40), 1),
        /// Rated capacity of one string when new.
        capacity: Required<Measure<AmpereHours>> as AmpereHours =
            required(measure(CAPACITIES, 0.05, 1000.0, AmpereHours::new))
                .such_as(&["1800 mAh", "7 Ah"]),
        /// Time since it was made.
        age_years = "age": Usual<Measure<f64>> as f64 = usual(bare(AGES, 0.0, 20.0), 0.0)
            .shown("new")
            .such_as(&["2 years"]),
        /// Weight of the whole pack.
        weight: Optional<Measure<Kilograms>> as Option<Kilograms> =
            optional(WEIGHT, "worked out from its energy")
            .such_as(&["120 g"]),
    }
}

pub(crate) const CHEMISTRIES: Choice<Chemistry> = Choice(&[
    ("li-ion", Chemistry::LithiumIon),
    ("lifepo4", Chemistry::LithiumIronPhosphate),
    ("agm", Chemistry::LeadAcid),
    ("nimh", Chemistry::NickelMetalHydride),
]);

const CAPACITIES: Units = &[("Ah", |v| v), ("mAh", |v| v * 1e-3)];
const AGES: Units = &[("years", |v| v), ("year", |v| v), ("months", |v| v * (1.0 / 12.0))];

const TRAFFIC: &str = "of a digipeater: every beacon of the channel's trackers, heard and repeated";

table! {
    /// A relay or digipeater with its supply.
    #[derive(Debug, Clone, PartialEq)]
    station as Station {
        /// Name in the reports.
        name: Required<Name> as String = required(Name),
        /// Name of the relay or packet channel that it serves.
        channel: Left<AnyText> => usize, "Its index in `Plan::channels`." =
            left(AnyText).names(&["channel"]),
        /// Name of the site on which it stands, where that is settled.
        stands = "site": LeftOptional<AnyText> => Stands =
            left_optional(AnyText, "open").names(&["site"]),
        /// Name of the station with which it shares a roof, whichever that is.
        beside: LeftOptional<AnyText> = left_optional(AnyText, "alone")
            .names(&["station"])
            .note("in place of `site`"),
        /// When it is switched on: local date and time.
        on: LeftOptional<LocalTime> => ZonedDateTime = left_optional(LocalTime, "the event's start")
            .allowed("31 days on at most"),
        /// When it may be switched off.
        off: LeftOptional<LocalTime> => ZonedDateTime = left_optional(LocalTime, "tear-down"),
        /// Currents of its radio, at the radio's own terminals.
        currents: Required<Of<currents::Text>> as Currents = required(inner::<currents::Text>()),
        /// What else draws current from the pack.
        extras = "extra": LeftOptional<Of<Vec<extra::Text>>> => Vec<Extra> =
            left_optional(inner_list::<extra::Text>(), "none").allowed("`[[station.extra]]`"),
        /// How busy its radio is.
        traffic: LeftOptional<Of<traffic::Text>> => Traffic =
            left_optional(inner::<traffic::Text>(), TRAFFIC),
        /// Its packs.
        supply: Left<Of<supply::Text>> => Supply = left(inner::<supply::Text>()),
        /// Noise floor that was measured at its receiver's input, on its site.
        noise_floor: Optional<Measure<Dbm>> as Option<Dbm> =
            optional(NOISE, "predicted for the environment")
            .such_as(&["-115 dBm"])
            .note("together with `site`"),
        /// Its place on the roof, and its filters.
        roof: Optional<Of<roof::Text>> => OnRoof =
            optional(inner::<roof::Text>(), "as if nothing of it were stated"),
        /// Its mast, with what holds it.
        mast: Optional<Of<mast::Text>> as Option<StationMast> =
            optional(inner::<mast::Text>(), "not carried, or not known"),
        /// What else goes up with it beside packs: radio, duplexer, feed line, tools.
        items = "item": LeftOptional<Of<Vec<item::Text>>> => Vec<Item> =
            left_optional(inner_list::<item::Text>(), "none").allowed("`[[station.item]]`"),
        /// People who carry it up.
        carriers: Usual<Whole<u32>> as u32 = usual(whole(1, 100), 2),
        /// What one of them carries in one trip.
        trip_load: Usual<Measure<Kilograms>> as Kilograms = usual(weight(1.0, 60.0), 20.0)
            .source("common practice, no source")
            .such_as(&["20 kg"]),
    }
}

table! {
    /// The mast of a station, with what holds it.
    #[derive(Debug, Clone, Copy, PartialEq)]
    mast as StationMast {
        /// Weight of the mast with its foot and guys, carried in one piece.
        weight: Required<Measure<Kilograms>> as Kilograms =
            required(weight(0.0, 500.0).above_least()).such_as(&["9 kg"]),
        /// Weight of all the ballast that is carried up for it.
        ballast: Optional<Measure<Kilograms>> as Option<Kilograms> =
            optional(weight(0.0, 2000.0), "what the wind asks for")
            .such_as(&["60 kg"]),
        /// Weight of one piece of that: a bag, a slab.
        piece: Usual<Measure<Kilograms>> as Kilograms =
            usual(weight(1.0, 500.0), 15.0)
            .source("common practice, no source: a bag of sand")
            .such_as(&["15 kg"]),
        /// Area of the roof on which foot and ballast stand.
        footprint_m2 = "footprint": Usual<Measure<f64>> as f64 =
            usual(bare(&[("m2", |v| v), ("m²", |v| v)], 0.01, 100.0), 1.44)
            .source("common practice, no source: a foot of 1.2 m square")
            .such_as(&["1.44 m2"]),
    }
}

table! {
    /// Currents of a radio at its own terminals.
    #[derive(Debug, Clone, Copy, PartialEq)]
    currents as Currents {
        /// While it transmits.
        transmit: Required<Measure<Amperes>> as Amperes =
            required(CURRENT).such_as(&["5.5 A", "1400 mA"]),
        /// While it receives with audio.
        receive: Required<Measure<Amperes>> as Amperes = required(CURRENT).such_as(&["250 mA"]),
        /// While the squelch is closed.
        standby: Required<Measure<Amperes>> as Amperes = required(CURRENT).such_as(&["60 mA"]),
    }
}

table! {
    /// Something beside the radio that draws current from the same pack.
    #[derive(Debug, Clone, PartialEq)]
    extra as Extra {
        /// What it is.
        name: Required<Label> as String = required(Label).such_as(&["controller", "fan", "modem"]),
        /// Its current.
        current: Required<Measure<Amperes>> as Amperes = required(CURRENT).such_as(&["40 mA"]),
        /// Share of time for which it draws it.
        share: Usual<Measure<f64>> as f64, "0 to 1." =
            usual(share(0.0, 100.0), 100.0).such_as(&["30 %"]),
    }
}

const NOT_VOICE: &str = "none for voice";
const NOT_PACKET: &str = "none for packet";

table! {
    /// How busy a radio is: shares of time for voice, or packets an hour.
    traffic either [["keyed", "listening"], ["heard", "repeated", "packet"]] {
        /// Voice: share of time for which the transmitter is keyed.
        keyed: Optional<Measure<f64>> = optional(share(0.0, 100.0), "").shown(NOT_PACKET)
            .such_as(&["25 %"]),
        /// Voice: share of time for which it receives and does not transmit.
        listening: Optional<Measure<f64>> = optional(share(0.0, 100.0), "").shown(NOT_PACKET)
            .such_as(&["10 %"]),
        /// Packet: beacons heard in an hour.
        heard: Optional<Measure<f64>> = optional(bare(HOURLY, 0.0, 36_000.0), "").shown(NOT_VOICE)
            .such_as(&["240 /h"]),
        /// Packet: of these, beacons repeated in an hour.
        repeated: Optional<Measure<f64>> = optional(bare(HOURLY, 0.0, 36_000.0), "")
            .shown(NOT_VOICE)
            .such_as(&["160 /h"]),
        /// Packet: time on the air of one, with the delay at its head.
        packet: Optional<Measure<Seconds>> =
            optional(seconds(&[("s", |v| v), ("ms", |v| v * 1e-3)], 0.01, 30.0), "")
                .shown(NOT_VOICE)
                .such_as(&["0.9 s"]),
    }
}

table! {
    /// The packs behind a station.
    #[derive(Debug, Clone, PartialEq)]
    supply as Supply {
        /// Name of the kind of pack.
        pack: Left<AnyText> => usize, "Its index in `PowerInputs::packs`." =
            left(AnyText).names(&["pack"]),
        /// Such packs in parallel.
        count: Usual<Whole<u32>> as u32 = usual(whole(1, 40), 1),
        /// Full sets that lie ready to be changed in.
        spares: Usual<Whole<u32>> as u32 = usual(whole(0, 40), 0),
        /// Voltage at the load's terminals (radio or converter) under which it
        /// drops out.
        cutoff: Required<Measure<Volts>> as Volts = required(voltage(0.5, 100.0))
            .such_as(&["10.8 V"])
            .allowed("under the pack's nominal voltage"),
        /// Resistance of the lead, both ways.
        lead: Usual<Measure<Ohms>> as Ohms = usual(
            measure(&[("ohm", |v| v), ("mohm", |v| v * 1e-3)], 0.0, 10.0, Ohms::new),
            0.0,
        )
        .such_as(&["50 mohm"]),
        /// Converter between pack and radio.
        converter: Optional<Of<converter::Text>> as Option<Converter> =
            optional(inner::<converter::Text>(), "none"),
        /// Solar panel on the pack, which lies flat.
        solar: Optional<Of<solar::Text>> as Option<Solar> =
            optional(inner::<solar::Text>(), "none"),
        /// Temperature at which the pack is kept.
        kept_at: Optional<Measure<Celsius>> as Option<Celsius> =
            optional(TEMPERATURE, "the forecast's")
            .such_as(&["20 °C"]),
    }
}

table! {
    /// A converter between pack and radio.
    #[derive(Debug, Clone, Copy, PartialEq)]
    converter as Converter {
        /// Its output.
        output: Required<Measure<Volts>> as Volts =
            required(voltage(1.0, 100.0)).such_as(&["7.4 V"]),
        /// Power out over power in.
        efficiency: Required<Measure<f64>> as f64, "0.1 to 1." =
            required(share(10.0, 100.0)).such_as(&["88 %"]),
    }
}

table! {
    /// A solar panel on the pack.
    #[derive(Debug, Clone, Copy, PartialEq)]
    solar as Solar {
        /// Rated power in full sun.
        rating: Required<Measure<Watts>> as Watts =
            required(measure(&[("W", |v| v)], 0.1, 2000.0, Watts::new)).such_as(&["20 W"]),
        /// Share of it that reaches the pack with the sun overhead: controller,
        /// heat, dirt and a panel that lies as it lies.
        efficiency: Usual<Measure<f64>> as f64, "0 to 1." = usual(share(0.0, 100.0), 70.0)
            .source("common practice, no source")
            .such_as(&["70 %"]),
    }
}

table! {
    /// A station's place on its roof, and its filters.
    #[derive(Debug, Clone, Copy, PartialEq)]
    roof as OnRoof: Default {
        /// How far east of a spot that all stations of the roof share.
        east: Usual<Measure<Metres>> as Metres =
            usual(length(-200.0, 200.0), 0.0).such_as(&["4 m"]),
        /// How far north of that spot.
        north: Usual<Measure<Metres>> as Metres =
            usual(length(-200.0, 200.0), 0.0).such_as(&["-2 m"]),
        /// Height of the antenna's middle above the roof.
        antenna: Optional<Measure<Metres>> as Option<Metres> =
            optional(length(0.0, 60.0), "the site's mast")
            .such_as(&["3 m"]),
        /// Isolation of a relay's duplexer between transmitter and receiver.
        duplexer: Optional<Measure<Db>> as Option<Db> = optional(decibels(0.0, 180.0), "not stated")
            .such_as(&["80 dB"]),
        /// What its receiver's filters take off signals on other stations'
        /// frequencies.
        receive_filter: Optional<Measure<Db>> as Option<Db> = optional(decibels(0.0, 180.0), "none")
            .such_as(&["25 dB"]),
        /// What its transmitter's filters take off its noise on other stations'
        /// frequencies.
        transmit_filter: Optional<Measure<Db>> as Option<Db> =
            optional(decibels(0.0, 180.0), "none")
            .such_as(&["25 dB"]),
        /// Transmitter noise in a receiver's bandwidth below the carrier.
        noise_below_carrier: Optional<Measure<Db>> as Option<Db> =
            optional(decibels(0.0, 180.0), "by frequency offset").such_as(&["95 dB"]),
        /// How far a strong signal off the channel may be above the noise that it
        /// makes in the receiver.
        rejection: Optional<Measure<Db>> as Option<Db> =
            optional(decibels(0.0, 180.0), "by frequency offset").such_as(&["90 dB"]),
        /// Area that mast and antenna turn to the wind.
        wind_area_m2 = "wind_area": Optional<Measure<f64>> as Option<f64> =
            optional(bare(&[("m2", |v| v)], 0.001, 20.0), "by height").such_as(&["0.25 m2"]),
    }
}

table! {
    /// People who carry the same kit for the same shift.
    #[derive(Debug, Clone, PartialEq)]
    crew as Crew {
        /// What they are called.
        name: Required<Name> as String = required(Name).such_as(&["Aid posts", "Shadows"]),
        /// How many they are.
        people: Required<Whole<u32>> as u32 = required(whole(1, 10_000)),
        /// Length of the shift.
        shift: Optional<Measure<Hours>> => Hours = optional(
            measure(&[("h", |v| v), ("min", |v| v * (1.0 / 60.0))], 0.1, 72.0, Hours::new),
            "from the event's start to tear-down",
        )
        .such_as(&["5.5 h"]),
        /// Currents of the hand-held.
        currents: Required<Of<currents::Text>> as Currents =
            required(inner_as_elsewhere::<currents::Text>()).allowed("as of a station"),
        /// How busy it is.
        traffic: Left<Of<traffic::Text>> => Traffic =
            left(inner_as_elsewhere::<traffic::Text>()).allowed("as of a station"),
        /// Voltage under which the hand-held drops out.
        cutoff: Required<Measure<Volts>> as Volts = required(voltage(0.5, 100.0))
            .such_as(&["6.4 V"])
            .allowed("under the pack's nominal voltage"),
        /// Name of the kind of pack.
        pack: Left<AnyText> => usize, "Its index in `PowerInputs::packs`." =
            left(AnyText).names(&["pack"]),
        /// Weight of the hand-held with antenna, without pack.
        radio_weight: Optional<Measure<Kilograms>> as Option<Kilograms> =
            optional(WEIGHT, "180 g is taken")
            .such_as(&["180 g"]),
        /// Temperature of the pack: under a coat it is not the air's.
        kept_at: Optional<Measure<Celsius>> as Option<Celsius> =
            optional(TEMPERATURE, "the forecast's")
            .such_as(&["15 °C"]),
        /// What else each of them carries.
        items = "item": LeftOptional<Of<Vec<item::Text>>> => Vec<Item> =
            left_optional(inner_list::<item::Text>(), "none").allowed("`[[crew.item]]`"),
    }
}

const NO_BATTERY: &str = "no battery of its own";

table! {
    /// Something that a person carries.
    #[derive(Debug, Clone, PartialEq)]
    item as Item {
        /// What it is.
        name: Required<Label> as String = required(Label).such_as(&["earpiece", "phone"]),
        /// Weight of one.
        weight: Required<Measure<Kilograms>> as Kilograms = required(WEIGHT).such_as(&["30 g"]),
        /// How many each person carries, or go up to a station.
        count: Usual<Whole<u32>> as u32 = usual(whole(1, 100), 1),
        /// How many spare ones beside, of the same weight, charged where they have a battery.
        spares: Usual<Whole<u32>> as u32 = usual(whole(0, 100), 0),
        /// Power that it uses, where it has a battery of its own.
        uses: Optional<Measure<Watts>> as Option<Watts> =
            optional(measure(&[("W", |v| v)], 0.001, 500.0, Watts::new), "").shown(NO_BATTERY)
                .note("together with `holds`, none for a power bank")
                .such_as(&["1.2 W"]),
        /// What its own battery holds.
        holds: Optional<Measure<WattHours>> as Option<WattHours> =
            optional(measure(&[("Wh", |v| v)], 0.01, 5000.0, WattHours::new), "").shown(NO_BATTERY)
                .note("together with `uses` or `recharges`; lithium-ion")
                .such_as(&["15 Wh"]),
        /// Age of its own battery.
        age_years = "age": Usual<Measure<f64>> as f64 = usual(bare(AGES, 0.0, 20.0), 0.0)
            .shown("new")
            .such_as(&["3 years"]),
        /// Of a power bank: names of the items of the same list that it recharges.
        recharges: LeftOptional<List<String>> => Vec<String> =
            left_optional(list(None), "nothing")
            .such_as(&["phone", "earpiece"]),
    }
}
