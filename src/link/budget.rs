//! Power budgets, line by line for people and in one step for rasters.

use serde::Serialize;

use crate::units::{Db, Dbm, Megahertz};

use super::noise::NoiseFloor;

/// Which way a message goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Carried radio to station.
    TalkIn,
    /// Station to carried radio.
    TalkOut,
}

/// What a link comes to, in words that a map can carry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Terrain is missing on the way, so nothing is known.
    Unknown,
    /// Fewer than half of the spots work in either direction.
    NoContact,
    /// The relay is heard at the wanted reliability, but does not hear: fewer
    /// than half of the spots get through to it.
    HearsOnly,
    /// At least half of the spots work both ways, fewer than wanted.
    Patchy,
    /// The wanted share of spots works both ways.
    Clear,
    /// The same with 10 dB or more in hand.
    Strong,
}

/// One line of a budget.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct BudgetLine {
    /// What it is, in the trade's words.
    pub label: String,
    /// What it adds (positive) or takes (negative).
    pub change_db: Db,
    /// The level after it.
    pub level_dbm: Dbm,
}

/// One direction's budget.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Budget {
    /// Which way.
    pub direction: Direction,
    /// The frequency it runs on.
    pub frequency_mhz: Megahertz,
    /// Transmitter output.
    pub power_dbm: Dbm,
    /// From transmitter output to receiver input, in order.
    pub lines: Vec<BudgetLine>,
    /// Median level at the receiver's input.
    pub signal_dbm: Dbm,
    /// Noise at the receiver's input.
    pub noise: NoiseFloor,
    /// Carrier over noise wanted at the receiver.
    pub required_over_noise_db: Db,
    /// The level that gives it.
    pub required_dbm: Dbm,
    /// Allowance for the spread over locations at the wanted reliability.
    pub reliability_allowance_db: Db,
    /// Signal less required level less allowance.
    pub margin_db: Db,
    /// Share of locations in which this direction works, 0 to 1.
    pub share_of_locations: f64,
}

/// Both budgets of one link.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct LinkBudgets {
    /// Carried radio to station.
    pub talk_in: Budget,
    /// Station to carried radio.
    pub talk_out: Budget,
    /// The weaker direction.
    pub governing: Direction,
    /// What it comes to.
    pub outcome: Outcome,
}

/// The figures of a link that a raster holds for each cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Assessment {
    /// Margin of the carried radio at the station.
    pub talk_in_margin: Db,
    /// Margin of the station at the carried radio.
    pub talk_out_margin: Db,
    /// Median level of the station at the carried radio's receiver.
    pub talk_out_signal: Dbm,
}
