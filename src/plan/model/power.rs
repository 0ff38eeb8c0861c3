//! What a plan says of power, of shared roofs and of people, once checked.

use jiff::ZonedDateTime;

use super::{Crew, Exposure, Forecast, OtherChannel, Pack, Plan, Station};
use crate::typed::CHEMISTRIES;
use perchline_units::{AmpereHours, Volts};

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

/// How busy a station is: shares of time, 0 to 1, together 1 at most.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Traffic {
    /// Share of time for which its transmitter is keyed.
    pub keyed: f64,
    /// Share of time for which it receives and does not transmit.
    pub listening: f64,
    /// Packet: beacons heard in an hour.
    pub beacons_an_hour: Option<f64>,
    /// Whether the plan states none and it is what the plan's trackers and others
    /// send, all of it heard.
    pub is_counted: bool,
}

impl Traffic {
    /// Share of time that packets sent, or heard, fill at the most: all overlap before
    /// they fill more than half of it.
    pub const MOST: f64 = 0.5;
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

impl Chemistry {
    /// All of them, in the order of the manual.
    pub fn all() -> impl Iterator<Item = Self> {
        CHEMISTRIES.0.iter().map(|(_, chemistry)| *chemistry)
    }

    /// Voltage of one cell as the trade names it.
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

impl Plan {
    /// From set-up to tear-down: from when the first station is switched on, or the event
    /// starts if that is earlier, until the last radio is down.
    #[must_use]
    pub fn day(&self) -> (ZonedDateTime, ZonedDateTime) {
        let (stations, event) = (&self.power.stations, &self.event);
        let from = stations.iter().map(|station| &station.on).chain([&event.starts]).min();
        let to = stations.iter().map(|station| &station.off).chain([&event.tear_down]).max();
        (from.unwrap_or(&event.starts).clone(), to.unwrap_or(&event.tear_down).clone())
    }
}

impl Pack {
    /// Voltage as the trade names it: cells in series times the cell's.
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
