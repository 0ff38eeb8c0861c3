//! Power budgets, line by line for people and in one step for rasters.

use serde::{Deserialize, Serialize};

use perchline_plan::{Calibration, Channel, FeedLine, Plan, Radio, Service};
use perchline_profile::Profile;
use perchline_propagation::Model;
use perchline_propagation::streets::Streets;
use perchline_units::{Db, Dbm, Degrees, Megahertz, Position};

use super::antenna::gain_towards;
use super::body::worn_loss;
use super::chances::Chances;
use super::houses::{self, Quarters};
use super::indoors::entry;
use super::noise::{DesenseAtTimes, NoiseFloor, noise_floor};
use super::path::{Loss, PathLosses, Propagator, with_streets};
use super::probability::Spread;
use super::quality::{QualityTarget, required_over_noise};
use super::spread::{location_spread, model_error, spread};
use super::terminal::Terminal;

/// Which way a message goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Direction {
    /// Carried radio to station.
    TalkIn,
    /// Station to carried radio.
    TalkOut,
}

/// What a link comes to, in words that a map can carry: a class of the
/// probability that it works both ways in the same spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Terrain is missing on the way, so nothing is known.
    Unknown,
    /// Fewer than half of the spots work in either direction.
    NoContact,
    /// Fewer than half of the spots work both ways, at least half in one direction.
    OneWay,
    /// At least half of the spots work both ways, fewer than wanted.
    Patchy,
    /// The wanted share of spots works both ways.
    Clear,
    /// The same, and [`Outcome::STRONG_FROM`] at the least.
    Strong,
}

impl Outcome {
    /// Probability of both ways from which a link counts as strong.
    pub const STRONG_FROM: f64 = 0.99;

    /// Probability of both ways from which it is worth trying.
    pub const PATCHY_FROM: f64 = 0.5;

    /// Every outcome, best first.
    pub const ALL: [Self; 6] =
        [Self::Strong, Self::Clear, Self::Patchy, Self::OneWay, Self::NoContact, Self::Unknown];

    /// What a link comes to that works both ways with a `probability` of 0 to
    /// 1, the median of whose better direction is `better` over what it needs,
    /// where the share `reliability` is wanted. Where that is more than
    /// [`Outcome::STRONG_FROM`] whatever is clear is strong.
    #[must_use]
    pub fn of(probability: f64, better: Db, reliability: f64) -> Self {
        if probability >= reliability.max(Self::STRONG_FROM) {
            Self::Strong
        } else if probability >= reliability {
            Self::Clear
        } else if probability >= Self::PATCHY_FROM {
            Self::Patchy
        } else if better >= Db::new(0.0) {
            Self::OneWay
        } else {
            Self::NoContact
        }
    }

    /// The least probability of both ways, 0 to 1, in this class, where the
    /// share `reliability` is wanted; nothing for classes that one direction
    /// decides, and for what is not known.
    #[must_use]
    pub const fn from_probability(self, reliability: f64) -> Option<f64> {
        match self {
            Self::Strong => Some(reliability.max(Self::STRONG_FROM)),
            Self::Clear => Some(reliability),
            Self::Patchy => Some(Self::PATCHY_FROM),
            Self::OneWay | Self::NoContact | Self::Unknown => None,
        }
    }

    /// Whether the wanted share of spots works both ways.
    #[must_use]
    pub const fn works(self) -> bool {
        matches!(self, Self::Clear | Self::Strong)
    }
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
    /// Which model gave its loss: the method asked for, or what stands in for
    /// it on a short path.
    pub model: Model,
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
    /// Allowance for the spread over locations and the model's error at the
    /// wanted reliability.
    pub reliability_allowance_db: Db,
    /// Signal less required level less allowance.
    pub margin_db: Db,
    /// Share of locations in which this direction works, 0 to 1, over all the time.
    pub share_of_locations: f64,
}

impl Budget {
    /// Median level over what the wanted quality needs: the margin before
    /// the location allowance.
    #[must_use]
    pub fn over_needed(&self) -> Db {
        self.margin_db + self.reliability_allowance_db
    }
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
    /// Probability that both directions work in the same spot, 0 to 1, over all
    /// the time.
    #[serde(rename = "probability_both_ways")]
    pub probability: f64,
    /// What both directions lack for the wanted share of spots to work both
    /// ways; below zero what they have to spare. Where one direction is much
    /// the weaker this is its margin turned round.
    pub missing_db: Db,
    /// What it comes to.
    pub outcome: Outcome,
    /// The share of spots that is wanted, 0 to 1.
    pub wanted: f64,
    /// Probability, 0 to 1, that the wanted share of spots works both ways here: the
    /// method's error is the same for all of them.
    pub sure: f64,
    /// How levels scatter around their medians.
    #[serde(skip)]
    pub spread: Spread,
}

impl LinkBudgets {
    /// The budget of the weaker direction.
    #[must_use]
    pub const fn governing_budget(&self) -> &Budget {
        self.budget(self.governing)
    }

    /// What people are told that it lacks: the margin of the weaker direction turned
    /// round, as tables have it; where each direction alone would do, what both lack.
    #[must_use]
    pub fn shortfall_db(&self) -> Db {
        let margin = self.governing_budget().margin_db;
        if margin < Db::new(0.0) { -margin } else { self.missing_db }
    }

    /// The budget of a direction.
    #[must_use]
    pub const fn budget(&self, direction: Direction) -> &Budget {
        match direction {
            Direction::TalkIn => &self.talk_in,
            Direction::TalkOut => &self.talk_out,
        }
    }
}

/// The figures of a link that a raster holds for each cell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Margins {
    /// Margin of the carried radio at the station.
    pub talk_in_margin: Db,
    /// Margin of the station at the carried radio.
    pub talk_out_margin: Db,
    /// Median level of the station at the carried radio's receiver.
    pub talk_out_signal: Dbm,
    /// How levels scatter around their medians: wider where what comes along
    /// streets counts.
    pub spread: Spread,
}

impl Margins {
    /// The lower of the two margins.
    #[must_use]
    pub const fn governing_margin(&self) -> Db {
        self.talk_in_margin.min(self.talk_out_margin)
    }
}

/// What stays the same in one direction wherever the carried radio stands.
#[derive(Debug, Clone)]
struct Way {
    direction: Direction,
    frequency: Megahertz,
    power: Dbm,
    before_path: Vec<(String, Db)>,
    after_path: Vec<(String, Db)>,
    circuits: Db,
    /// What houses take around (station, carried).
    clutter: [Db; 2],
    noise: NoiseFloor,
    required_over_noise: Db,
}

/// The part of a link that does not depend on the path: radios, noise, quality.
#[derive(Debug, Clone)]
pub struct LinkModel {
    pub(super) station: Terminal,
    pub(super) carried: Terminal,
    /// Areas with houses of their own, where the carried radio may be in them.
    pub(super) quarters: Quarters,
    talk_in: Way,
    talk_out: Way,
    spread: Spread,
    /// The spread in the open.
    open_spread: Spread,
    /// The part of that which is over locations.
    locations: Db,
    /// The part of it that is the method's error.
    model_error: Db,
    reliability: f64,
    allowance: Db,
}

/// Frequencies of (talk-in, talk-out) on a channel.
#[must_use]
pub const fn frequencies(service: &Service) -> (Megahertz, Megahertz) {
    match *service {
        Service::Relay { input, output, .. } => (input, output),
        Service::Simplex { frequency } | Service::Packet { frequency, .. } => {
            (frequency, frequency)
        }
    }
}

impl LinkModel {
    /// The link of `station` and `carried` on `channel`, under the plan's demands.
    #[must_use]
    pub fn new(plan: &Plan, channel: &Channel, station: &Terminal, carried: &Terminal) -> Self {
        let prediction = &plan.prediction;
        let (input, output) = frequencies(&channel.service);
        let target = match channel.service {
            Service::Packet { .. } => QualityTarget::Packet(prediction.packet_over_sinad),
            _ => QualityTarget::Voice(prediction.audio_quality),
        };
        let learned = prediction
            .calibration
            .as_ref()
            .map(|calibration| (calibration, calibration.offset(carried.carried_in())));
        let spread =
            spread(prediction, (input, output), station.cell, [station.indoors, carried.indoors]);
        Self {
            talk_in: Way::new(Direction::TalkIn, input, [carried, station], target, learned),
            talk_out: Way::new(Direction::TalkOut, output, [station, carried], target, learned),
            station: station.clone(),
            carried: carried.clone(),
            quarters: houses::quarters(plan, carried),
            spread,
            open_spread: spread,
            locations: location_spread(prediction, (input, output), station.cell),
            model_error: model_error(prediction, (input, output), station.cell),
            reliability: prediction.reliability,
            allowance: spread.allowance(prediction.reliability),
        }
        .among_houses()
    }

    /// The same with the losses of the houses around both ends, and their spread.
    pub(super) fn among_houses(mut self) -> Self {
        let ends = [&self.station, &self.carried];
        for way in [&mut self.talk_in, &mut self.talk_out] {
            way.clutter = ends.map(|end| houses::loss_around(end, way.frequency));
        }
        let wider = houses::variance(ends);
        self.spread = if wider > 0.0 {
            let deviation = self.open_spread.deviation().value().hypot(wider.sqrt());
            Spread::new(Db::new(deviation), self.open_spread.correlation())
        } else {
            self.open_spread
        };
        self.allowance = self.spread.allowance(self.reliability);
        self
    }

    /// Frequencies of (talk-in, talk-out).
    #[must_use]
    pub const fn frequencies(&self) -> (Megahertz, Megahertz) {
        (self.talk_in.frequency, self.talk_out.frequency)
    }

    /// How levels scatter around their medians, but for what comes along streets.
    #[must_use]
    pub const fn spread(&self) -> Spread {
        self.spread
    }

    /// The part of the spread that is the method's error: common to all spots of a
    /// place.
    #[must_use]
    pub const fn model_error(&self) -> Db {
        self.model_error
    }

    /// Share of spots that is wanted, 0 to 1.
    #[must_use]
    pub const fn reliability(&self) -> f64 {
        self.reliability
    }

    /// What transmitters on the station's roof take from talk-in for a share of
    /// the time so small that margins and outcomes leave it out.
    #[must_use]
    pub const fn desense_at_times(&self) -> Option<DesenseAtTimes> {
        self.talk_in.noise.desense_at_times
    }

    /// Noise at the station's receiver.
    #[must_use]
    pub const fn station_noise(&self) -> NoiseFloor {
        self.talk_in.noise
    }

    /// What `share` makes of talk-in's level over what it needs, over all the time.
    fn over_time(&self, talk_in: Db, share: impl Fn(Db) -> f64) -> f64 {
        let usual = share(talk_in);
        match self.desense_at_times() {
            None => usual,
            Some(d) => usual + d.share * (share(talk_in - d.cost_db) - usual),
        }
    }

    /// Share of spots, 0 to 1, in which talk-in alone works, over all the time.
    #[must_use]
    pub fn talk_in_share(&self, assessment: &Margins) -> f64 {
        let (talk_in, _) = self.over_needed(assessment);
        self.over_time(talk_in, |level| assessment.spread.one_way(level))
    }

    /// What margins of this link come to, for rasters.
    #[must_use]
    pub fn chances(&self) -> Chances {
        Chances::new(self.spread, self.reliability).with_desense(self.desense_at_times())
    }

    /// The level at the carried radio's receiver at which talk-out's margin is zero.
    #[must_use]
    pub fn talk_out_wanted(&self) -> Dbm {
        self.talk_out.required() + self.allowance
    }

    /// Allowance for the spread at the wanted reliability.
    #[must_use]
    pub const fn allowance(&self) -> Db {
        self.allowance
    }

    /// The carried end.
    #[must_use]
    pub const fn carried(&self) -> &Terminal {
        &self.carried
    }

    /// The station's end.
    #[must_use]
    pub const fn station(&self) -> &Terminal {
        &self.station
    }

    /// What houses around both ends take on (talk-in, talk-out).
    pub(super) fn houses(&self) -> [Db; 2] {
        [self.talk_in.houses(), self.talk_out.houses()]
    }

    /// How levels over a path with these losses scatter: the part of the power
    /// that comes along streets has a spread of its own over locations.
    #[must_use]
    pub fn spread_over(&self, path: &PathLosses) -> Spread {
        let Some(streets) = path.streets else { return self.spread };
        let own = self.locations.value().powi(2) + houses::variance([&self.station, &self.carried]);
        let wider = streets
            .share
            .into_iter()
            .zip(streets.deviation)
            .map(|(share, deviation)| share * (deviation.value().powi(2) - own).max(0.0))
            .fold(0.0, f64::max);
        let whole = self.spread.deviation().value();
        // More power never works in fewer spots: the location allowance grows by no
        // more than the way along streets gains.
        let gain = -path.talk_in.streets.max(path.talk_out.streets).value();
        let quantile = self.allowance.value() / whole;
        let most = if quantile > 0.0 { whole + gain / quantile } else { f64::INFINITY };
        let deviation = whole.hypot(wider.sqrt()).min(most);
        Spread::new(Db::new(deviation), self.spread.correlation())
    }

    /// The location allowance for this spread.
    fn allowance_of(&self, spread: Spread) -> Db {
        if spread == self.spread { self.allowance } else { spread.allowance(self.reliability) }
    }

    /// Margins and signal over a path with these losses, the station at its
    /// transmitting end.
    #[must_use]
    pub fn assess(&self, path: &PathLosses) -> Margins {
        let spread = self.spread_over(path);
        let allowance = self.allowance_of(spread);
        let signal = |way: &Way, loss: &Loss| way.signal(loss.total(), self.gains(way, path));
        let talk_in = signal(&self.talk_in, &path.talk_in);
        let talk_out = signal(&self.talk_out, &path.talk_out);
        Margins {
            talk_in_margin: talk_in - self.talk_in.required() - allowance,
            talk_out_margin: talk_out - self.talk_out.required() - allowance,
            talk_out_signal: talk_out,
            spread,
        }
    }

    /// The same over `profile`, which runs from the station to a carried radio
    /// like the model's at `carried`.
    #[must_use]
    pub fn assess_over(
        &self,
        propagator: &Propagator,
        profile: &Profile,
        carried: Position,
    ) -> Margins {
        let here = propagator.between(self.station.at, carried);
        let model = self.at(carried);
        model.assess(&model.losses(&here, profile))
    }

    /// The losses that this rests on.
    #[must_use]
    pub fn losses_over(
        &self,
        propagator: &Propagator,
        profile: &Profile,
        carried: Position,
    ) -> PathLosses {
        let here = propagator.between(self.station.at, carried);
        self.at(carried).losses(&here, profile)
    }

    /// Losses over `profile`, which runs from the station to the carried radio, by a
    /// propagator with the climate there. Where both ends are below the roofs that the
    /// plan states around them, the way along streets counts as among known houses.
    #[must_use]
    pub fn losses(&self, propagator: &Propagator, profile: &Profile) -> PathLosses {
        let (station, carried) = (self.station.antenna, self.carried.antenna);
        let bare = propagator.losses(profile, station, carried, self.frequencies());
        let (input, output) = self.frequencies();
        let path = propagator.path(profile, station, carried, output);
        let paths = [path.with_frequency(input), path];
        let mut losses = bare;
        [losses.talk_in.rows, losses.talk_out.rows] = self.rows_under(&paths);
        let Some(roofs) = self.stated_roofs().filter(|_| losses.streets.is_none()) else {
            return losses;
        };
        match Streets::through(&path, roofs) {
            None => losses,
            Some(way) => with_streets(losses, self.houses(), &bare, way, paths),
        }
    }

    /// Probability, 0 to 1, that both directions of an assessment work in the
    /// same spot: the mean over the time where a desense comes and goes.
    #[must_use]
    pub fn probability(&self, assessment: &Margins) -> f64 {
        let (talk_in, talk_out) = self.over_needed(assessment);
        self.over_time(talk_in, |level| assessment.spread.both_ways(level, talk_out))
    }

    /// The outcome of an assessment, for nearly all the time where a desense
    /// comes and goes.
    #[must_use]
    pub fn outcome(&self, assessment: &Margins) -> Outcome {
        let (talk_in, talk_out) = self.over_needed(assessment);
        let usual = assessment.spread.both_ways(talk_in, talk_out);
        Outcome::of(usual, talk_in.max(talk_out), self.reliability)
    }

    /// Median levels of talk-in and talk-out over what they need.
    #[must_use]
    pub fn over_needed(&self, assessment: &Margins) -> (Db, Db) {
        let allowance = self.allowance_of(assessment.spread);
        (assessment.talk_in_margin + allowance, assessment.talk_out_margin + allowance)
    }

    /// Both budgets line by line over the same path.
    #[must_use]
    pub fn budgets(&self, path: &PathLosses) -> LinkBudgets {
        let assessment = self.assess(path);
        let talk_in = self.budget(&self.talk_in, path);
        let talk_out = self.budget(&self.talk_out, path);
        let governing = if talk_in.margin_db <= talk_out.margin_db {
            Direction::TalkIn
        } else {
            Direction::TalkOut
        };
        let (in_over, out_over) = self.over_needed(&assessment);
        LinkBudgets {
            talk_in,
            talk_out,
            governing,
            probability: self.probability(&assessment),
            missing_db: assessment.spread.missing(in_over, out_over, self.reliability),
            outcome: self.outcome(&assessment),
            wanted: self.reliability,
            sure: assessment.spread.sure(self.model_error, in_over, out_over, self.reliability),
            spread: assessment.spread,
        }
    }

    /// Gains of (station, carried) along the path in one direction.
    fn gains(&self, way: &Way, path: &PathLosses) -> (Db, Db) {
        let gain = |terminal: &Terminal, elevation: Degrees| {
            gain_towards(&terminal.radio.antenna_at(way.frequency), elevation).over_isotropic()
        };
        (
            gain(&self.station, path.take_off.at_transmitter),
            gain(&self.carried, path.take_off.at_receiver),
        )
    }

    fn budget(&self, way: &Way, path: &PathLosses) -> Budget {
        let (station_gain, carried_gain) = self.gains(way, path);
        let (loss, first, last) = match way.direction {
            Direction::TalkIn => {
                (path.talk_in, (&self.carried, carried_gain), (&self.station, station_gain))
            }
            Direction::TalkOut => {
                (path.talk_out, (&self.station, station_gain), (&self.carried, carried_gain))
            }
        };
        let antenna =
            |(terminal, gain): (&Terminal, Db)| (format!("antenna, {}", terminal.name), gain);
        let leaves = (loss.leaves > Db::new(0.0)).then(|| {
            let depth = path.woods.map(|depth| format!("{depth:.0} of "));
            (format!("{}leaves (P.833)", depth.unwrap_or_default()), -loss.leaves)
        });
        let streets = path.streets.filter(|_| loss.streets < Db::new(0.0)).map(|_| {
            let range =
                if Streets::is_prolonged(way.frequency) { ", outside its range" } else { "" };
            (format!("along streets (P.1411{range})"), -loss.streets)
        });
        let (near, far) = match way.direction {
            Direction::TalkIn => (1, 0),
            Direction::TalkOut => (0, 1),
        };
        let around = [near, far].into_iter().filter_map(|end| {
            let terminal = *[&self.station, &self.carried].get(end)?;
            houses::line_around(terminal, *way.clutter.get(end)?)
        });
        let rows = (loss.rows > Db::new(0.0))
            .then(|| ("over rows of houses (P.1411)".to_owned(), -loss.rows));
        let path_lines = [
            ("free space".to_owned(), -loss.free_space),
            (format!("terrain ({})", loss.model), -loss.diffraction),
        ]
        .into_iter()
        .chain(leaves)
        .chain(rows)
        .chain(around)
        .chain(streets);
        let mut level = way.power;
        let lines = way
            .before_path
            .iter()
            .cloned()
            .chain([antenna(first)])
            .chain(path_lines)
            .chain([antenna(last)])
            .chain(way.after_path.iter().cloned())
            .map(|(label, change)| {
                level = level + change;
                BudgetLine { label, change_db: change, level_dbm: level }
            })
            .collect();
        let spread = self.spread_over(path);
        let allowance = self.allowance_of(spread);
        let margin = level - way.required() - allowance;
        Budget {
            direction: way.direction,
            frequency_mhz: way.frequency,
            model: loss.model,
            power_dbm: way.power,
            lines,
            signal_dbm: level,
            noise: way.noise,
            required_over_noise_db: way.required_over_noise,
            required_dbm: way.required(),
            reliability_allowance_db: allowance,
            margin_db: margin,
            share_of_locations: match way.direction {
                Direction::TalkIn => {
                    self.over_time(margin + allowance, |level| spread.one_way(level))
                }
                Direction::TalkOut => spread.one_way(margin + allowance),
            },
        }
    }
}

impl Way {
    fn new(
        direction: Direction,
        frequency: Megahertz,
        [from, to]: [&Terminal; 2],
        target: QualityTarget,
        learned: Option<(&Calibration, Db)>,
    ) -> Self {
        let mut before_path = circuit_lines(from, frequency);
        let mut after_path = circuit_lines(to, frequency);
        if let Some((calibration, offset)) = learned {
            before_path.extend(learned_of_body(calibration, from, frequency));
            after_path.extend(learned_of_body(calibration, to, frequency));
            let line = ("learned: this environment".to_owned(), offset);
            after_path.extend(Some(line).filter(|(_, change)| change.value() != 0.0));
        }
        let wasted = (-to.radio.antenna_at(frequency).gain.over_dipole()).max(Db::new(0.0));
        let circuit = feed_loss(&to.radio, frequency) + to.radio.filter_loss + wasted;
        Self {
            direction,
            frequency,
            power: from.radio.power,
            circuits: before_path
                .iter()
                .chain(&after_path)
                .fold(Db::new(0.0), |sum, (_, change)| sum + *change),
            before_path,
            after_path,
            clutter: [Db::new(0.0); 2],
            noise: noise_floor(
                to.radio.sensitivity,
                to.radio.bandwidth,
                to.environment,
                frequency,
                circuit,
            )
            .measured(to.measured_noise)
            .with_roof(to.roof_noise),
            required_over_noise: required_over_noise(target, to.radio.bandwidth),
        }
    }

    /// The median level that gives the wanted quality.
    fn required(&self) -> Dbm {
        self.noise.total_dbm + self.required_over_noise
    }

    fn signal(&self, path_loss: Db, (station, carried): (Db, Db)) -> Dbm {
        self.power + self.circuits + station + carried - path_loss - self.houses()
    }

    /// What houses around both ends take.
    fn houses(&self) -> Db {
        let [station, carried] = self.clutter;
        station + carried
    }
}

/// What lies between a radio and its antenna, as budget lines that are not zero.
fn circuit_lines(terminal: &Terminal, frequency: Megahertz) -> Vec<(String, Db)> {
    let feed = match &terminal.radio.feed_line {
        FeedLine::Cable { cable, length } => format!("feed line, {length:.1} of {}", cable.name),
        _ => "feed line".to_owned(),
    };
    let worn = match terminal.carry {
        Some(carry) => format!("body, {}", carry.words()),
        None => "body".to_owned(),
    };
    [
        (feed, feed_loss(&terminal.radio, frequency)),
        ("duplexer and filters".to_owned(), terminal.radio.filter_loss),
        (worn, worn_loss(&terminal.radio, terminal.carry, frequency)),
    ]
    .into_iter()
    .chain(terminal.indoors.map(|building| entry(building, frequency)))
    .chain(terminal.extra_loss.clone())
    .filter(|(_, loss)| loss.value() != 0.0)
    .map(|(label, loss)| (label, -loss))
    .collect()
}

/// What reports have taught of a body, where the plan does not state its loss.
fn learned_of_body(
    calibration: &Calibration,
    terminal: &Terminal,
    frequency: Megahertz,
) -> Option<(String, Db)> {
    let carry = terminal.table_carry(frequency)?;
    let change = -calibration.body(carry);
    (change.value() != 0.0).then(|| (format!("learned: radios {}", carry.words()), change))
}

/// Loss of the line between a radio and its antenna.
#[must_use]
pub fn feed_loss(radio: &Radio, frequency: Megahertz) -> Db {
    match &radio.feed_line {
        FeedLine::None => Db::new(0.0),
        FeedLine::Loss(loss) => *loss,
        FeedLine::Cable { cable, length } => cable.loss(*length, frequency),
    }
}
