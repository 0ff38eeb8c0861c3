//! What was reported, set against what was predicted for the same place, way
//! and wearing.

use std::collections::HashMap;

use jiff::Timestamp;
use serde::Serialize;

use super::log::{Log, Origin, Place, Rejected, Report, Said};
use crate::link::{
    Budget, Direction, LinkModel, PathStudy, Propagator, QualityTarget, Spread, Terminal,
    required_over_noise, study,
};
use crate::plan::{AudioQuality, Carry, Channel, Plan, Service, Surroundings};
use crate::power::station_budgets;
use crate::siting::{reason, station_on};
use crate::terrain::Terrain;
use crate::units::{Db, Dbm, Position};

/// Voice counts as heard from this quality on: understandable with slight
/// effort (common practice, no source).
const HEARD_FROM: AudioQuality = AudioQuality::Daq30;

/// A report beside its prediction.
#[derive(Debug, Clone, Serialize)]
pub struct Compared {
    /// The row that it is from.
    pub origin: Origin,
    /// When.
    pub time: Option<Timestamp>,
    /// The post's name, or "away from posts".
    pub place: String,
    /// Where.
    pub at: Position,
    /// The channel's name.
    pub channel: String,
    /// The station's site.
    pub site: String,
    /// Which way.
    pub direction: Direction,
    /// How the radio was worn, if a person carried it.
    pub carry: Option<&'static str>,
    /// What stands around it.
    pub surroundings: &'static str,
    /// Predicted median level at the receiver.
    pub predicted_dbm: Dbm,
    /// Predicted median level over what the plan's quality needs.
    pub predicted_margin_db: Db,
    /// Probability, 0 to 1, that the plan's quality is reached.
    pub predicted_share: f64,
    /// Probability, 0 to 1, of yes to the question that the report answers: was
    /// the plan's quality reached, where a quality is reported; was it heard,
    /// elsewhere.
    pub predicted_heard: f64,
    /// Whether it was so: heard, or of the quality that the plan wants; nothing
    /// where the report leaves that open.
    pub heard: Option<bool>,
    /// Measured less predicted level, where a level was reported.
    pub excess_db: Option<Db>,
    /// How both agree.
    pub agreement: Agreement,
    /// What may explain a miss; empty where nothing was missed.
    pub because: Vec<String>,
    /// For the statistics.
    #[serde(skip)]
    pub evidence: Evidence,
}

/// What the statistics need of a report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// What stands around the carried radio.
    pub surroundings: Surroundings,
    /// How it is worn, where the table's body loss counts.
    pub carry: Option<Carry>,
    /// Spread over places alone.
    pub local: Db,
    /// Level over what the plan's quality needs that was reached at the least.
    pub low: Option<Db>,
    /// The same that was not reached.
    pub high: Option<Db>,
    /// Level over what the plan's quality needs that predicted_heard is of.
    pub asked: Db,
    /// Spread of what a level was read off; nothing for an S meter, whose scale
    /// is its own.
    pub level_spread: Option<Db>,
    /// Whether the station's battery was dead by then: no evidence of the path.
    pub dead: bool,
}

/// How a report and its prediction agree.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Agreement {
    /// What was likely came about.
    AsPredicted,
    /// It was heard where that was unlikely.
    Better,
    /// It was not heard where that was likely.
    Worse,
    /// Either was possible.
    Open,
}

impl Agreement {
    fn of(probability: f64, heard: Option<bool>) -> Self {
        let Some(heard) = heard else { return Self::Open };
        match (probability, heard) {
            (p, true) if p >= LIKELY => Self::AsPredicted,
            (p, false) if p <= 1.0 - LIKELY => Self::AsPredicted,
            (p, false) if p >= LIKELY => Self::Worse,
            (p, true) if p <= 1.0 - LIKELY => Self::Better,
            _ => Self::Open,
        }
    }

    /// In words.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::AsPredicted => "as predicted",
            Self::Better => "better than predicted",
            Self::Worse => "worse than predicted",
            Self::Open => "could have gone either way",
        }
    }
}

/// A share of spots from which a contact is likely (common practice, no source).
const LIKELY: f64 = 0.8;

/// Sets every report beside its prediction. Reports that lie off the terrain,
/// or behind a gap of it, come back as rejected.
#[must_use]
pub fn compare(
    log: &Log,
    plan: &Plan,
    terrain: &Terrain,
    propagator: &Propagator,
) -> (Vec<Compared>, Vec<Rejected>) {
    let mut studies = Studies { plan, terrain, propagator, known: HashMap::new() };
    let deaths = deaths(plan);
    let mut compared = Vec::new();
    let mut rejected: Vec<Rejected> = Vec::new();
    for report in &log.reports {
        match studies.of(report) {
            Ok(found) => {
                let dead = report.time.zip(deaths.get(&report.channel).copied());
                let dead = dead.is_some_and(|(at, death)| at >= death);
                compared.push(found.compare(report, plan, dead));
            }
            Err(reason) => {
                // Two ways of one row fail alike.
                let origin = report.origin.clone();
                if rejected.last().is_none_or(|last| last.origin != origin) {
                    rejected.push(Rejected { origin, text: String::new(), reason });
                }
            }
        }
    }
    (compared, rejected)
}

/// When the station of each channel is expected to die, where it does.
fn deaths(plan: &Plan) -> HashMap<usize, Timestamp> {
    let budgets = station_budgets(plan).unwrap_or_default();
    budgets
        .iter()
        .filter_map(|budget| {
            let channel = plan.channels.iter().position(|c| c.name == budget.channel)?;
            let death = budget.expected.dies_at.as_ref()?;
            let change = budget.changes.first().filter(|_| budget.sets_short() == 0);
            // Packs that are changed in time keep it going.
            change.is_none().then(|| (channel, death.timestamp()))
        })
        .collect()
}

/// A link as predicted.
struct Found<'a> {
    channel: &'a Channel,
    study: PathStudy,
    spread: Spread,
    model_error: Db,
    carried: Terminal,
    reason: String,
}

/// What a prediction depends on.
#[derive(Clone, PartialEq, Eq, Hash)]
struct Key {
    channel: usize,
    site: usize,
    place: (u64, u64),
    post: Option<usize>,
    tracker: Option<usize>,
    carry: Option<&'static str>,
}

struct Studies<'a> {
    plan: &'a Plan,
    terrain: &'a Terrain,
    propagator: &'a Propagator,
    known: HashMap<Key, Result<Found<'a>, String>>,
}

impl<'a> Studies<'a> {
    fn of(&mut self, report: &Report) -> Result<&Found<'a>, String> {
        let at = match report.place {
            Place::At(at) => Some(at),
            Place::Post(post) => self.plan.posts.get(post).map(|p| p.at),
        };
        let (Some(at), Some(site)) = (at, report.site) else {
            return Err("the plan has no such post or site any more".to_owned());
        };
        let key = Key {
            channel: report.channel,
            site,
            place: (at.latitude().value().to_bits(), at.longitude().value().to_bits()),
            post: match report.place {
                Place::Post(post) => Some(post),
                Place::At(_) => None,
            },
            tracker: report.tracker,
            carry: report.carry.map(Carry::word),
        };
        if !self.known.contains_key(&key) {
            let found = self.study(report, site, at);
            self.known.insert(key.clone(), found);
        }
        match self.known.get(&key) {
            Some(Ok(found)) => Ok(found),
            Some(Err(reason)) => Err(reason.clone()),
            None => Err("nothing is known of it".to_owned()),
        }
    }

    fn study(&self, report: &Report, site: usize, at: Position) -> Result<Found<'a>, String> {
        let (plan, terrain) = (self.plan, self.terrain);
        let gone = || "the plan has no such channel or site any more".to_owned();
        let channel = plan.channels.get(report.channel).ok_or_else(gone)?;
        let site = plan.sites.get(site).ok_or_else(gone)?;
        let station = station_on(plan, channel, site, terrain).map_err(|e| e.to_string())?;
        let carried = self.carried(report, channel, at)?;
        let model = LinkModel::new(plan, channel, &station, &carried);
        let study = study(terrain, self.propagator, &model, channel).map_err(|e| e.to_string())?;
        Ok(Found {
            channel,
            reason: reason(&study, plan.units),
            study,
            spread: model.spread(),
            model_error: plan.prediction.model_error,
            carried,
        })
    }

    /// The carried end as it was, worn as the report says.
    fn carried(
        &self,
        report: &Report,
        channel: &Channel,
        at: Position,
    ) -> Result<Terminal, String> {
        let (plan, terrain) = (self.plan, self.terrain);
        let tracker = report.tracker.and_then(|t| plan.trackers.get(t));
        let end = match (&report.place, tracker) {
            (_, Some(tracker)) => {
                let end = Terminal::on_tracker(plan, tracker, at)
                    .ok_or_else(|| "the plan has no such tracker any more".to_owned())?;
                let ground = terrain.ground(at).map_err(|e| e.to_string())?;
                Terminal { ground, cell: terrain.spacing(), ..end }
            }
            (Place::Post(post), None) => {
                let post = plan.posts.get(*post);
                let post = post.ok_or_else(|| "the plan has no such post any more".to_owned())?;
                Terminal::at_post(plan, channel, post, terrain).map_err(|e| e.to_string())?
            }
            (Place::At(at), None) => {
                Terminal::standing(plan, channel, "away from posts", *at, terrain)
                    .map_err(|e| e.to_string())?
            }
        };
        Ok(match report.carry {
            Some(carry) => end.worn(carry),
            None => end,
        })
    }
}

impl Found<'_> {
    fn compare(&self, report: &Report, plan: &Plan, dead: bool) -> Compared {
        let budget = self.study.budgets.budget(report.direction);
        let margin = budget.over_needed();
        let bounds = self.bounds(&report.said, budget);
        let least = bounds.asked;
        let probability = self.spread.one_way(margin - least);
        let agreement = Agreement::of(probability, bounds.reached);
        let level = report.said.level;
        let because = match agreement {
            Agreement::Worse => self.explain(report, margin, dead),
            _ => Vec::new(),
        };
        Compared {
            origin: report.origin.clone(),
            time: report.time,
            place: match report.place {
                Place::Post(post) => {
                    plan.posts.get(post).map_or_else(String::new, |p| p.name.clone())
                }
                Place::At(_) => self.carried.name.clone(),
            },
            at: self.study.to.at,
            channel: self.channel.name.clone(),
            site: self.study.from.name.clone(),
            direction: report.direction,
            carry: self.carried.carry.map(Carry::word),
            surroundings: self.carried.surroundings().word(),
            predicted_dbm: budget.signal_dbm,
            predicted_margin_db: margin,
            predicted_share: self.spread.one_way(margin),
            predicted_heard: probability,
            heard: bounds.reached,
            excess_db: level.map(|l| l.level - budget.signal_dbm),
            agreement,
            because,
            evidence: Evidence {
                surroundings: self.carried.surroundings(),
                carry: self.carried.table_carry(),
                local: self.spread.without(self.model_error),
                low: bounds.low,
                high: bounds.high,
                asked: bounds.asked,
                level_spread: level.and_then(|l| l.spread),
                dead,
            },
        }
    }

    /// Where on the scale of levels over the plan's need a report lies.
    fn bounds(&self, said: &Said, budget: &Budget) -> Bounds {
        let bandwidth = self.carried.radio.bandwidth;
        let over = |quality| {
            required_over_noise(QualityTarget::Voice(quality), bandwidth)
                - budget.required_over_noise_db
        };
        // A packet is whole or lost.
        let heard_from = match self.channel.service {
            Service::Packet { .. } => Db::new(0.0),
            _ => over(HEARD_FROM),
        };
        match (said.quality, said.heard) {
            (Some(quality), _) => {
                let (low, high) = (quality.at_least.map(over), quality.below.map(over));
                // The plan's quality is what is asked for, whatever the answer.
                let asked = Db::new(0.0);
                let reached = match (low, high) {
                    (Some(low), _) if low >= asked => Some(true),
                    (_, Some(high)) if high <= asked => Some(false),
                    _ => None,
                };
                Bounds { low, high, asked, reached }
            }
            (None, Some(false)) => Bounds {
                low: None,
                high: Some(heard_from),
                asked: heard_from,
                reached: Some(false),
            },
            // A level that was read was heard.
            (None, _) => {
                Bounds { low: Some(heard_from), high: None, asked: heard_from, reached: Some(true) }
            }
        }
    }

    /// What may explain that less was heard than predicted.
    fn explain(&self, report: &Report, margin: Db, dead: bool) -> Vec<String> {
        let mut because = Vec::new();
        if dead {
            because.push("the station's battery should have been dead by then".to_owned());
        }
        if self.study.clearance.is_some_and(|c| !c.line_of_sight) {
            // What stands in the way; the margins are in the tables.
            because.extend(self.reason.split(';').next().map(str::to_owned));
        }
        if let Some(building) = self.carried.indoors.map(|_| "it is inside a building") {
            because.push(building.to_owned());
        }
        if self.carried.carry == Some(Carry::Hip) {
            because
                .push("the radio was worn on the hip: held at the head it loses less".to_owned());
        }
        let other = match report.direction {
            Direction::TalkIn => Direction::TalkOut,
            Direction::TalkOut => Direction::TalkIn,
        };
        let ahead = self.study.budgets.budget(other).over_needed() - margin;
        if ahead >= Db::new(3.0) {
            because.push(format!("this is the weaker way, {ahead:.0} behind the other"));
        }
        if because.is_empty() {
            because.push("nothing in the plan explains it: ask the operator".to_owned());
        }
        because
    }
}

/// A report on the scale of levels over the plan's need.
struct Bounds {
    low: Option<Db>,
    high: Option<Db>,
    /// The level that is asked for.
    asked: Db,
    /// Whether it was reached; nothing where the report leaves that open.
    reached: Option<bool>,
}
