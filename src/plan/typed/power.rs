//! Tables on power, shared roofs and people, as a person types them.

use schemars::JsonSchema;
use toml::value::Datetime;

use super::{LOCAL_TIME, Quantity, pattern};

/// Weather over the event.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ForecastText {
    /// When the first of the hourly values holds: local date and time.
    #[schemars(with = "String", extend("pattern" = LOCAL_TIME, "examples" = ["2026-12-05T14:00:00"]))]
    pub from: Datetime,
    /// Air temperature at that time and every hour after it; "?" for an hour that is not known.
    #[schemars(length(min = 1, max = 400), extend("examples" = [["6 °C", "5 °C", "?", "4 °C"]]))]
    pub hourly: Vec<Quantity>,
    /// Strongest gust.
    #[schemars(extend("pattern" = pattern("m/s|km/h|mph|kn"), "examples" = ["50 km/h"]))]
    pub gust: Option<Quantity>,
    /// Share of a clear sky's sunshine; 20 % if absent.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["40 %"]))]
    pub sky: Option<Quantity>,
}

/// How exposure to radio-frequency fields is worked out.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ExposureText {
    /// Whose limits; oet-65 if absent.
    #[schemars(extend("enum" = ["oet-65", "icnirp-2020"]))]
    pub standard: Option<String>,
    /// Whether the roof's reflection is counted; true if absent.
    pub reflection: Option<bool>,
}

/// A kind of battery pack.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PackText {
    /// Name by which stations and crews refer to it.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// What it is made of.
    #[schemars(extend("enum" = ["li-ion", "lifepo4", "agm", "nimh"]))]
    pub chemistry: String,
    /// Cells in series.
    #[schemars(range(min = 1, max = 40))]
    pub cells: i64,
    /// Such strings in parallel; 1 if absent.
    #[schemars(range(min = 1, max = 40))]
    pub strings: Option<i64>,
    /// Rated capacity of one string when new.
    #[schemars(extend("pattern" = pattern("Ah|mAh"), "examples" = ["1800 mAh", "7 Ah"]))]
    pub capacity: Quantity,
    /// Time since it was made; new if absent.
    #[schemars(extend("pattern" = pattern("years|year|months"), "examples" = ["2 years"]))]
    pub age: Option<Quantity>,
    /// Weight of the whole pack; worked out from its energy if absent.
    #[schemars(extend("pattern" = pattern("kg|g|lb|oz"), "examples" = ["120 g"]))]
    pub weight: Option<Quantity>,
}

/// A relay or digipeater with its supply.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct StationText {
    /// Name of the station.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// Name of the relay or packet channel that it serves.
    pub channel: String,
    /// Name of the site on which it stands, where that is settled.
    pub site: Option<String>,
    /// Name of the station with which it shares a roof, whichever that is.
    pub beside: Option<String>,
    /// When it is switched on: local date and time; the event's start if absent.
    #[schemars(with = "Option<String>", extend("pattern" = LOCAL_TIME))]
    pub on: Option<Datetime>,
    /// When it may be switched off; tear-down if absent.
    #[schemars(with = "Option<String>", extend("pattern" = LOCAL_TIME))]
    pub off: Option<Datetime>,
    pub currents: CurrentsText,
    /// What else draws current from the pack.
    pub extra: Option<Vec<ExtraText>>,
    pub traffic: TrafficText,
    pub supply: SupplyText,
    pub roof: Option<OnRoofText>,
}

/// Currents of a radio at its own terminals.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CurrentsText {
    /// While it transmits.
    #[schemars(extend("pattern" = pattern("A|mA"), "examples" = ["5.5 A", "1400 mA"]))]
    pub transmit: Quantity,
    /// While it receives with audio.
    #[schemars(extend("pattern" = pattern("A|mA"), "examples" = ["250 mA"]))]
    pub receive: Quantity,
    /// While the squelch is closed.
    #[schemars(extend("pattern" = pattern("A|mA"), "examples" = ["60 mA"]))]
    pub standby: Quantity,
}

/// Something beside the radio that draws current from the same pack.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ExtraText {
    /// What it is.
    #[schemars(length(min = 1, max = 80), extend("examples" = ["controller", "fan", "modem"]))]
    pub name: String,
    /// Its current.
    #[schemars(extend("pattern" = pattern("A|mA"), "examples" = ["40 mA"]))]
    pub current: Quantity,
    /// Share of time for which it draws it; 100 % if absent.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["30 %"]))]
    pub share: Option<Quantity>,
}

/// How busy a radio is: shares of time for voice, or packets an hour.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
#[schemars(extend("oneOf" = [
    {"required": ["keyed", "listening"]},
    {"required": ["heard", "repeated", "packet"]}
]))]
pub(crate) struct TrafficText {
    /// Voice: share of time for which the transmitter is keyed.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["25 %"]))]
    pub keyed: Option<Quantity>,
    /// Voice: share of time for which it receives and does not transmit.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["10 %"]))]
    pub listening: Option<Quantity>,
    /// Packet: beacons heard in an hour.
    #[schemars(extend("pattern" = pattern("/h"), "examples" = ["240 /h"]))]
    pub heard: Option<Quantity>,
    /// Packet: of these, beacons repeated in an hour.
    #[schemars(extend("pattern" = pattern("/h"), "examples" = ["160 /h"]))]
    pub repeated: Option<Quantity>,
    /// Packet: time on the air of one, with the delay at its head.
    #[schemars(extend("pattern" = pattern("s|ms"), "examples" = ["0.9 s"]))]
    pub packet: Option<Quantity>,
}

/// The packs behind a station.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SupplyText {
    /// Name of the kind of pack.
    pub pack: String,
    /// Such packs in parallel; 1 if absent.
    #[schemars(range(min = 1, max = 40))]
    pub count: Option<i64>,
    /// Full sets that lie ready to be changed in; none if absent.
    #[schemars(range(min = 0, max = 40))]
    pub spares: Option<i64>,
    /// Tension at the load's terminals under which it drops out.
    #[schemars(extend("pattern" = pattern("V"), "examples" = ["10.8 V"]))]
    pub cut_out: Quantity,
    /// Resistance of the lead, both ways; none if absent.
    #[schemars(extend("pattern" = pattern("ohm|mohm"), "examples" = ["50 mohm"]))]
    pub lead: Option<Quantity>,
    pub converter: Option<ConverterText>,
    pub solar: Option<SolarText>,
    /// Temperature at which the pack is kept, in place of the forecast's.
    #[schemars(extend("pattern" = pattern("°C|C|°F|F"), "examples" = ["20 °C"]))]
    pub kept_at: Option<Quantity>,
}

/// A converter between pack and radio.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ConverterText {
    /// Its output.
    #[schemars(extend("pattern" = pattern("V"), "examples" = ["7.4 V"]))]
    pub output: Quantity,
    /// Power out over power in.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["88 %"]))]
    pub efficiency: Quantity,
}

/// A solar panel on the pack.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct SolarText {
    /// Rated power in full sun.
    #[schemars(extend("pattern" = pattern("W"), "examples" = ["20 W"]))]
    pub rating: Quantity,
    /// Share of it that reaches the pack with the sun overhead; 70 % if absent.
    #[schemars(extend("pattern" = pattern("%"), "examples" = ["70 %"]))]
    pub efficiency: Option<Quantity>,
}

/// A station's place on its roof, and its filters.
#[derive(Debug, Default, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OnRoofText {
    /// How far east of the roof's reference spot; 0 if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["4 m"]))]
    pub east: Option<Quantity>,
    /// How far north of the roof's reference spot; 0 if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["-2 m"]))]
    pub north: Option<Quantity>,
    /// Height of the antenna's middle above the roof; the site's mast if absent.
    #[schemars(extend("pattern" = pattern("m|ft"), "examples" = ["3 m"]))]
    pub antenna: Option<Quantity>,
    /// Isolation of a relay's duplexer between transmitter and receiver.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["80 dB"]))]
    pub duplexer: Option<Quantity>,
    /// What its receiver's filters take off signals on other stations' frequencies; none if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["25 dB"]))]
    pub receive_filter: Option<Quantity>,
    /// What its transmitter's filters take off its noise on other stations' frequencies; none if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["25 dB"]))]
    pub transmit_filter: Option<Quantity>,
    /// Transmitter noise in a receiver's bandwidth below the carrier; by frequency offset if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["95 dB"]))]
    pub noise_below_carrier: Option<Quantity>,
    /// How far a strong signal off the channel may be above the noise that it
    /// makes in the receiver; by frequency offset if absent.
    #[schemars(extend("pattern" = pattern("dB"), "examples" = ["90 dB"]))]
    pub rejection: Option<Quantity>,
    /// Area that mast and antenna turn to the wind.
    #[schemars(extend("pattern" = pattern("m2"), "examples" = ["0.25 m2"]))]
    pub wind_area: Option<Quantity>,
}

/// People who carry the same kit for the same shift.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct CrewText {
    /// What they are called.
    #[schemars(length(min = 1, max = 80), extend("examples" = ["Aid posts", "Shadows"]))]
    pub name: String,
    /// How many they are.
    #[schemars(range(min = 1, max = 10_000))]
    pub people: i64,
    /// Length of the shift; from the event's start to tear-down if absent.
    #[schemars(extend("pattern" = pattern("h|min"), "examples" = ["5.5 h"]))]
    pub shift: Option<Quantity>,
    pub currents: CurrentsText,
    pub traffic: TrafficText,
    /// Tension under which the hand-held drops out.
    #[schemars(extend("pattern" = pattern("V"), "examples" = ["6.4 V"]))]
    pub cut_out: Quantity,
    /// Name of the kind of pack.
    pub pack: String,
    /// Weight of the hand-held with antenna, without pack.
    #[schemars(extend("pattern" = pattern("kg|g|lb|oz"), "examples" = ["180 g"]))]
    pub radio_weight: Option<Quantity>,
    /// Temperature of the pack: under a coat it is not the air's.
    #[schemars(extend("pattern" = pattern("°C|C|°F|F"), "examples" = ["15 °C"]))]
    pub kept_at: Option<Quantity>,
    /// What else each of them carries.
    pub item: Option<Vec<ItemText>>,
}

/// Something that a person carries.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ItemText {
    /// What it is.
    #[schemars(length(min = 1, max = 80), extend("examples" = ["earpiece", "phone"]))]
    pub name: String,
    /// Weight of one.
    #[schemars(extend("pattern" = pattern("kg|g|lb|oz"), "examples" = ["30 g"]))]
    pub weight: Quantity,
    /// How many each person carries; 1 if absent.
    #[schemars(range(min = 1, max = 100))]
    pub count: Option<i64>,
    /// Power that it uses, where it has a battery of its own.
    #[schemars(extend("pattern" = pattern("W"), "examples" = ["1.2 W"]))]
    pub uses: Option<Quantity>,
    /// What its own battery holds.
    #[schemars(extend("pattern" = pattern("Wh"), "examples" = ["15 Wh"]))]
    pub holds: Option<Quantity>,
}

/// A channel of somebody else that must stay clear.
#[derive(Debug, serde::Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct OtherChannelText {
    /// What it is called.
    #[schemars(length(min = 1, max = 80))]
    pub name: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// Where they listen.
    #[schemars(extend("pattern" = pattern("[KkMmGg][Hh][Zz]"), "examples" = ["154.2 MHz"]))]
    pub receive: Quantity,
    /// Where they transmit near the event's receivers.
    #[schemars(extend("pattern" = pattern("[KkMmGg][Hh][Zz]")))]
    pub transmit: Option<Quantity>,
    /// Width of the channel.
    #[schemars(extend("pattern" = pattern("kHz"), "examples" = ["12.5 kHz"]))]
    pub bandwidth: Quantity,
}
