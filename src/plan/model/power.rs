//! What a plan says of power, of shared roofs and of people, once checked.

use jiff::ZonedDateTime;

use crate::typed::{exposure, roof};
use perchline_units::{
    AmpereHours, Amperes, Celsius, Db, Hours, Kilograms, Kilohertz, Megahertz, Metres,
    MetresPerSecond, Ohms, Volts, WattHours, Watts,
};

/// Everything that `power` and `cosite` work on; all of it may be absent.
#[derive(Debug, Clone, Default)]
pub struct PowerInputs {
    /// Weather over the event.
    pub forecast: Option<Forecast>,
    /// Which limits of radio-frequency exposure are asked for, and how.
    pub exposure: Exposure,
    /// Kinds of battery pack, in the plan's order.
    pub packs: Vec<Pack>,
    /// Powered stations, in the plan's order.
    pub stations: Vec<Station>,
    /// Groups of people with hand-helds, in the plan's order.
    pub crews: Vec<Crew>,
    /// Channels of others that must stay clear, in the plan's order.
    pub other_channels: Vec<OtherChannel>,
}

/// Weather over the event.
#[derive(Debug, Clone, PartialEq)]
pub struct Forecast {
    /// When the first of the hourly values holds.
    pub from: ZonedDateTime,
    /// Air temperature at `from` and each full hour of elapsed time after it;
    /// nothing where the forecast has a gap.
    pub hourly: Vec<Option<Celsius>>,
    /// Strongest gust.
    pub gust: Option<MetresPerSecond>,
    /// Share of a clear sky's sunshine, 0 to 1.
    pub sky: f64,
}

/// What a battery is made of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Chemistry {
    /// Lithium-ion: cobalt, manganese or nickel oxides against graphite, 3.7 V a cell.
    LithiumIon,
    /// Lithium iron phosphate, 3.2 V a cell.
    LithiumIronPhosphate,
    /// Lead-acid with absorbent glass mat, 2 V a cell.
    LeadAcid,
    /// Nickel metal hydride, 1.2 V a cell.
    NickelMetalHydride,
}

/// A kind of battery pack.
#[derive(Debug, Clone, PartialEq)]
pub struct Pack {
    /// Name in the plan.
    pub name: String,
    /// What it is made of.
    pub chemistry: Chemistry,
    /// Cells in series, 1 to 40.
    pub cells: u32,
    /// Such strings in parallel inside the pack, 1 to 40.
    pub strings: u32,
    /// Rated capacity of one string when new.
    pub capacity: AmpereHours,
    /// Years since it was made, 0 to 20.
    pub age_years: f64,
    /// Weight of one pack; worked out from its energy where nothing is said.
    pub weight: Option<Kilograms>,
}

/// Currents of a radio at its own terminals.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Currents {
    /// While it transmits.
    pub transmit: Amperes,
    /// While it receives with audio in the speaker or at the modem.
    pub receive: Amperes,
    /// While the squelch is closed.
    pub standby: Amperes,
}

/// Something beside the radio that draws current from the same pack.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// What it is: controller, fan, modem, satellite receiver.
    pub name: String,
    /// Its current.
    pub current: Amperes,
    /// Share of time for which it draws it, 0 to 1.
    pub share: f64,
}

/// How busy a station is: shares of time, 0 to 1, together 1 at most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Traffic {
    /// Share of time for which its transmitter is keyed.
    pub keyed: f64,
    /// Share of time for which it receives and does not transmit.
    pub listening: f64,
    /// Packet: beacons heard in an hour.
    pub beacons_an_hour: Option<f64>,
}

/// A converter between pack and radio.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Converter {
    /// Its output.
    pub output: Volts,
    /// Power out over power in, above 0, up to 1.
    pub efficiency: f64,
}

/// A solar panel on the pack.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Solar {
    /// Rated power in full sun.
    pub rating: Watts,
    /// Share of it that reaches the pack with the sun overhead, 0 to 1.
    pub efficiency: f64,
}

/// The packs behind a station.
#[derive(Debug, Clone, PartialEq)]
pub struct Supply {
    /// Index into [`PowerInputs::packs`].
    pub pack: usize,
    /// Such packs in parallel, 1 to 40.
    pub count: u32,
    /// Full sets of them that lie ready to be changed in.
    pub spares: u32,
    /// Tension at the load's terminals under which it drops out.
    pub cut_out: Volts,
    /// Resistance of the lead, both ways.
    pub lead: Ohms,
    /// Converter, where there is one.
    pub converter: Option<Converter>,
    /// Solar panel, where there is one.
    pub solar: Option<Solar>,
    /// Temperature at which the pack is kept in place of the forecast's.
    pub kept_at: Option<Celsius>,
}

/// A powered station: a relay or digipeater with its supply.
#[derive(Debug, Clone, PartialEq)]
pub struct Station {
    /// Name in the plan.
    pub name: String,
    /// Index into [`super::Plan::channels`] of the channel that it serves.
    pub channel: usize,
    /// Where it stands.
    pub stands: Stands,
    /// When it is switched on.
    pub on: ZonedDateTime,
    /// When it may be switched off.
    pub off: ZonedDateTime,
    /// Currents of its radio.
    pub currents: Currents,
    /// What else draws current.
    pub extras: Vec<Extra>,
    /// How busy it is.
    pub traffic: Traffic,
    /// Its packs.
    pub supply: Supply,
    /// Where on the roof, and what protects receivers from transmitters.
    pub roof: OnRoof,
}

/// Where a station stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stands {
    /// Not decided: alone on whichever site is ranked.
    Anywhere,
    /// On this site: index into [`super::Plan::sites`].
    On(usize),
    /// On whichever roof this other station stands: index into [`PowerInputs::stations`].
    Beside(usize),
}

/// A station's place on its roof and its filters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OnRoof {
    /// Metres east of the roof's reference spot.
    pub east: Metres,
    /// Metres north of the roof's reference spot.
    pub north: Metres,
    /// Height of the antenna's middle above the roof; the site's mast if nothing is said.
    pub antenna: Option<Metres>,
    /// Isolation of a relay's duplexer between transmitter and receiver.
    pub duplexer: Option<Db>,
    /// What its receiver's filters take off signals on other stations' frequencies.
    pub receive_filter: Option<Db>,
    /// What its transmitter's filters take off its noise on other stations' frequencies.
    pub transmit_filter: Option<Db>,
    /// Transmitter noise in a receiver's bandwidth below the carrier, where the plan states it.
    pub noise_below_carrier: Option<Db>,
    /// How far a strong signal off the channel may be above the noise that it
    /// makes in the receiver, where the plan states it.
    pub rejection: Option<Db>,
    /// Area that mast and antenna turn to the wind, m².
    pub wind_area_m2: Option<f64>,
}

/// What a station without `roof` is taken to have.
impl Default for OnRoof {
    fn default() -> Self {
        let declared = roof::FIELDS;
        Self {
            east: declared.east.usual(),
            north: declared.north.usual(),
            antenna: None,
            duplexer: None,
            receive_filter: None,
            transmit_filter: None,
            noise_below_carrier: None,
            rejection: None,
            wind_area_m2: None,
        }
    }
}

/// People who carry the same kit for the same shift.
#[derive(Debug, Clone, PartialEq)]
pub struct Crew {
    /// Name in the plan.
    pub name: String,
    /// How many they are, 1 to 10 000.
    pub people: u32,
    /// Length of the shift.
    pub shift: Hours,
    /// Currents of the hand-held.
    pub currents: Currents,
    /// How busy it is.
    pub traffic: Traffic,
    /// Tension under which the hand-held drops out.
    pub cut_out: Volts,
    /// Index into [`PowerInputs::packs`].
    pub pack: usize,
    /// Weight of the hand-held with its antenna and without its pack.
    pub radio_weight: Option<Kilograms>,
    /// Temperature of the pack: under a coat it is not the air's.
    pub kept_at: Option<Celsius>,
    /// What else each of them carries.
    pub items: Vec<Item>,
}

/// Something that a person carries: earpiece, phone, lamp.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// What it is.
    pub name: String,
    /// Weight of one.
    pub weight: Kilograms,
    /// How many each person carries, 1 to 100.
    pub count: u32,
    /// Power that it uses while the shift lasts, where it has a battery of its own.
    pub uses: Option<Watts>,
    /// What its own battery holds.
    pub holds: Option<WattHours>,
}

/// A channel of somebody else that must stay clear.
#[derive(Debug, Clone, PartialEq)]
pub struct OtherChannel {
    /// Name in the plan.
    pub name: String,
    /// Whose it is.
    pub owner: Option<String>,
    /// Where they listen.
    pub receive: Megahertz,
    /// Where they transmit near the event's receivers.
    pub transmit: Option<Megahertz>,
    /// Width of the channel.
    pub bandwidth: Kilohertz,
}

/// Whose exposure limits are asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum ExposureStandard {
    /// FCC OET Bulletin 65, edition 97-01.
    #[default]
    Oet65,
    /// ICNIRP 2020.
    Icnirp2020,
}

/// How exposure is worked out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// Whose limits.
    pub standard: ExposureStandard,
    /// Whether the roof's reflection is counted.
    pub reflection: bool,
}

/// What a plan without `[exposure]` is taken to ask for.
impl Default for Exposure {
    fn default() -> Self {
        let declared = exposure::FIELDS;
        Self { standard: declared.standard.usual(), reflection: declared.reflection.usual() }
    }
}

impl Chemistry {
    /// Tension of one cell as the trade names it.
    #[must_use]
    pub const fn nominal_cell(self) -> Volts {
        match self {
            Self::LithiumIon => Volts::new(3.7),
            Self::LithiumIronPhosphate => Volts::new(3.2),
            Self::LeadAcid => Volts::new(2.0),
            Self::NickelMetalHydride => Volts::new(1.2),
        }
    }

    /// Its name for people.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::LithiumIon => "lithium-ion",
            Self::LithiumIronPhosphate => "LiFePO4",
            Self::LeadAcid => "AGM lead-acid",
            Self::NickelMetalHydride => "NiMH",
        }
    }
}

impl Pack {
    /// Tension as the trade names it: cells in series times the cell's.
    #[must_use]
    pub const fn nominal(&self) -> Volts {
        Volts::new(self.chemistry.nominal_cell().value() * self.cells as f64)
    }

    /// Rated capacity of the whole pack when new.
    #[must_use]
    pub const fn rated(&self) -> AmpereHours {
        AmpereHours::new(self.capacity.value() * self.strings as f64)
    }
}
