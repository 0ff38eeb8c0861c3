//! What was reported, set against what was predicted for the same place, way
//! and wearing.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::ops::Deref;
use std::sync::Arc;

use jiff::Timestamp;
use rayon::prelude::*;
use serde::ser::SerializeStruct;
use serde::{Serialize, Serializer};

use super::log::{Log, Origin, Place, Rejected, Report, Said};
use perchline_link::{
    Direction, LinkModel, Propagator, QualityTarget, Spread, Terminal, required_over_noise,
    study_over,
};
use perchline_plan::{AudioQuality, Bandwidth, Carry, Channel, Plan, Service, Surroundings};
use perchline_power::StationBudget;
use perchline_profile::Profile;
use perchline_siting::{reason, station_on};
use perchline_terrain::{Terrain, Tracer};
use perchline_units::{Db, Dbm, Position};

/// Voice counts as heard from this quality on: understandable with slight
/// effort (common practice, no source).
const HEARD_FROM: AudioQuality = AudioQuality::Daq30;

/// Links of one station that one thread studies in a row.
const STUDIED_IN_A_ROW: usize = 256;

/// Where a report is from that is from no post.
const AWAY: &str = "away from posts";

/// What is predicted for every report of one place, channel, station, way and
/// wearing, which share it.
#[derive(Debug, Clone, PartialEq)]
pub struct Predicted {
    /// The post's name, or "away from posts".
    pub place: Arc<str>,
    /// Where.
    pub at: Position,
    /// The channel's name.
    pub channel: Arc<str>,
    /// The station's site.
    pub site: Arc<str>,
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
}

/// A report beside its prediction, whose fields it has too.
#[derive(Debug, Clone, PartialEq)]
pub struct Compared {
    /// The row that it is from.
    pub origin: Origin,
    /// When.
    pub time: Option<Timestamp>,
    /// What was predicted.
    pub predicted: Arc<Predicted>,
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
    pub because: Arc<[String]>,
    /// For the statistics.
    pub evidence: Evidence,
}

impl Deref for Compared {
    type Target = Predicted;

    fn deref(&self) -> &Predicted {
        &self.predicted
    }
}

/// The report and its prediction in one table, the names in the order of the
/// alphabet; what is for the statistics is left out.
impl Serialize for Compared {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut table = serializer.serialize_struct("Compared", 17)?;
        table.serialize_field("agreement", &self.agreement)?;
        table.serialize_field("at", &self.at)?;
        table.serialize_field("because", &*self.because)?;
        table.serialize_field("carry", &self.carry)?;
        table.serialize_field("channel", &*self.channel)?;
        table.serialize_field("direction", &self.direction)?;
        table.serialize_field("excess_db", &self.excess_db)?;
        table.serialize_field("heard", &self.heard)?;
        table.serialize_field("origin", &self.origin)?;
        table.serialize_field("place", &*self.place)?;
        table.serialize_field("predicted_dbm", &self.predicted_dbm)?;
        table.serialize_field("predicted_heard", &self.predicted_heard)?;
        table.serialize_field("predicted_margin_db", &self.predicted_margin_db)?;
        table.serialize_field("predicted_share", &self.predicted_share)?;
        table.serialize_field("site", &*self.site)?;
        table.serialize_field("surroundings", &self.surroundings)?;
        table.serialize_field("time", &self.time)?;
        table.end()
    }
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
/// or behind a gap of it, come back as rejected. `budgets` say when stations were
/// expected to die.
#[must_use]
pub fn compare(
    log: &Log,
    plan: &Plan,
    terrain: &Terrain,
    propagator: &Propagator,
    budgets: &[StationBudget],
) -> (Vec<Compared>, Vec<Rejected>) {
    let mut studies = Studies { plan, terrain, propagator, names: Names::of(plan) }.of(log);
    let deaths = deaths(plan, budgets);
    let mut compared = Vec::new();
    let mut rejected: Vec<Rejected> = Vec::new();
    for report in &log.reports {
        let found = match Key::of(report, plan) {
            Some(key) => studies.get_mut(&key),
            None => None,
        };
        let failed = match found {
            Some(Ok(found)) => {
                let dead = report.time.zip(deaths.get(&report.channel).copied());
                let dead = dead.is_some_and(|(at, death)| at >= death);
                compared.push(found.compare(report, dead));
                continue;
            }
            Some(Err(reason)) => reason.clone(),
            None => "the plan has no such post or site any more".to_owned(),
        };
        // Two ways of one row fail alike.
        let origin = report.origin.clone();
        if rejected.last().is_none_or(|last| last.origin != origin) {
            rejected.push(Rejected { origin, reason: failed, text: String::new() });
        }
    }
    (compared, rejected)
}

/// When the station of each channel is expected to die, where it does.
fn deaths(plan: &Plan, budgets: &[StationBudget]) -> HashMap<usize, Timestamp> {
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

impl Key {
    /// What the prediction for a report depends on; nothing where the plan has
    /// no such post or the report no station.
    fn of(report: &Report, plan: &Plan) -> Option<Self> {
        let at = position(report, plan)?;
        Some(Self {
            channel: report.channel,
            site: report.site?,
            place: (at.latitude().value().to_bits(), at.longitude().value().to_bits()),
            post: match report.place {
                Place::Post(post) => Some(post),
                Place::At(_) => None,
            },
            tracker: report.tracker,
            carry: report.carry.map(Carry::word),
        })
    }
}

fn position(report: &Report, plan: &Plan) -> Option<Position> {
    match report.place {
        Place::At(at) => Some(at),
        Place::Post(post) => plan.posts.get(post).map(|p| p.at),
    }
}

/// Names that many predictions share.
struct Names {
    posts: Vec<Arc<str>>,
    trackers: Vec<Arc<str>>,
    away: Arc<str>,
    nothing: Arc<[String]>,
}

impl Names {
    fn of(plan: &Plan) -> Self {
        Self {
            posts: plan.posts.iter().map(|post| post.name.as_str().into()).collect(),
            trackers: plan.trackers.iter().map(|tracker| tracker.name.as_str().into()).collect(),
            away: AWAY.into(),
            nothing: Arc::default(),
        }
    }

    /// Where a report is from.
    fn place(&self, report: &Report) -> &Arc<str> {
        let name = match (&report.place, report.tracker) {
            (Place::Post(post), _) => self.posts.get(*post),
            (Place::At(_), Some(tracker)) => self.trackers.get(tracker),
            (Place::At(_), None) => None,
        };
        name.unwrap_or(&self.away)
    }
}

/// A station, and the names of its channel and its site.
struct Station<'a> {
    channel: &'a Channel,
    end: Terminal,
    channel_name: Arc<str>,
    site_name: Arc<str>,
}

struct Studies<'a> {
    plan: &'a Plan,
    terrain: &'a Terrain,
    propagator: &'a Propagator,
    names: Names,
}

/// A link as predicted, of which no more is kept than reports ask for.
struct Found {
    /// Talk-in and talk-out.
    ways: [Way; 2],
    /// What stands in the way, in words.
    blocked: Option<String>,
    service: Service,
    spread: Spread,
    /// Spread over places alone.
    local: Db,
    bandwidth: Bandwidth,
    surroundings: Surroundings,
    indoors: bool,
    carry: Option<Carry>,
    table_carry: Option<Carry>,
    nothing: Arc<[String]>,
}

/// One direction of a link as predicted.
struct Way {
    predicted: Arc<Predicted>,
    required_over_noise: Db,
    /// What may explain a miss, with a live battery and with a dead one, once it
    /// was asked for.
    because: [Option<Arc<[String]>>; 2],
}

impl<'a> Studies<'a> {
    /// Every link that the reports are of, studied once.
    fn of(&self, log: &Log) -> HashMap<Key, Result<Found, String>> {
        let mut keys = HashSet::new();
        // By station: what opens the way to one is opened once for many paths.
        let mut asked: BTreeMap<(usize, usize), Vec<(Key, &Report)>> = BTreeMap::new();
        for report in &log.reports {
            if let Some(key) = Key::of(report, self.plan)
                && keys.insert(key.clone())
            {
                asked.entry((key.channel, key.site)).or_default().push((key, report));
            }
        }
        let mut found = HashMap::with_capacity(keys.len());
        drop(keys);
        for ((channel, site), asked) in asked {
            let station = self.station(channel, site);
            let studied: Vec<_> = asked
                .par_chunks(STUDIED_IN_A_ROW)
                .flat_map_iter(|row| self.study_all(&station, row))
                .collect();
            found.extend(asked.into_iter().map(|(key, _)| key).zip(studied));
        }
        found
    }

    /// The station of a channel on a site, by their places in the plan.
    fn station(&self, channel: usize, site: usize) -> Result<Station<'a>, String> {
        let plan = self.plan;
        let found = plan.channels.get(channel).zip(plan.sites.get(site));
        let (channel, site) =
            found.ok_or_else(|| "the plan has no such channel or site any more".to_owned())?;
        let end = station_on(plan, channel, site, self.terrain).map_err(|e| e.to_string())?;
        Ok(Station {
            channel,
            end,
            channel_name: channel.name.as_str().into(),
            site_name: site.name.as_str().into(),
        })
    }

    /// Links of reports to one station, in their order.
    fn study_all(
        &self,
        station: &Result<Station<'a>, String>,
        asked: &[(Key, &Report)],
    ) -> Vec<Result<Found, String>> {
        let ready = station.as_ref().map_err(Clone::clone).and_then(|station| {
            let tracer = self.terrain.tracer(station.end.at).map_err(|e| e.to_string())?;
            Ok((station, tracer))
        });
        match ready {
            Ok((station, mut tracer)) => {
                asked.iter().map(|(_, report)| self.study(station, &mut tracer, report)).collect()
            }
            Err(reason) => asked.iter().map(|_| Err(reason.clone())).collect(),
        }
    }

    fn study(
        &self,
        station: &Station<'_>,
        tracer: &mut Tracer<'_>,
        report: &Report,
    ) -> Result<Found, String> {
        let (plan, terrain, channel) = (self.plan, self.terrain, station.channel);
        let carried = self.carried(report, channel)?;
        let mut profile = Profile::default();
        tracer.trace(carried.at, &mut profile).map_err(|error| {
            // What is wrong with the place itself comes first.
            terrain.ground(carried.at).err().unwrap_or(error).to_string()
        })?;
        let model = LinkModel::new(plan, channel, &station.end, &carried);
        let study = study_over(profile, self.propagator, &model, channel);
        let spread = study.budgets.spread;
        let way = |direction| {
            let budget = study.budgets.budget(direction);
            let margin = budget.over_needed();
            Way {
                predicted: Arc::new(Predicted {
                    place: Arc::clone(self.names.place(report)),
                    at: study.to.at,
                    channel: Arc::clone(&station.channel_name),
                    site: Arc::clone(&station.site_name),
                    direction,
                    carry: carried.carry.map(Carry::word),
                    surroundings: carried.surroundings().word(),
                    predicted_dbm: budget.signal_dbm,
                    predicted_margin_db: margin,
                    predicted_share: spread.one_way(margin),
                }),
                required_over_noise: budget.required_over_noise_db,
                because: [None, None],
            }
        };
        let hidden = study.clearance.is_some_and(|c| !c.line_of_sight);
        // What stands in the way; the margins are in the tables.
        let blocked = hidden
            .then(|| reason(&study, plan.units))
            .and_then(|reason| reason.split(';').next().map(str::to_owned));
        Ok(Found {
            ways: [way(Direction::TalkIn), way(Direction::TalkOut)],
            blocked,
            service: channel.service,
            spread,
            local: spread.without(model.model_error()),
            bandwidth: carried.radio.bandwidth,
            surroundings: carried.surroundings(),
            indoors: carried.indoors.is_some(),
            carry: carried.carry,
            table_carry: carried.table_carry(),
            nothing: Arc::clone(&self.names.nothing),
        })
    }

    /// The carried end as it was, worn as the report says; its ground height is
    /// left at zero but at a post.
    fn carried(&self, report: &Report, channel: &Channel) -> Result<Terminal, String> {
        let (plan, terrain) = (self.plan, self.terrain);
        let gone = |what: &str| format!("the plan has no such {what} any more");
        let at = position(report, plan).ok_or_else(|| gone("post"))?;
        let tracker = report.tracker.and_then(|t| plan.trackers.get(t));
        let end = match (&report.place, tracker) {
            (_, Some(tracker)) => {
                let end = Terminal::on_tracker(plan, tracker, at).ok_or_else(|| gone("tracker"))?;
                Terminal { cell: terrain.spacing(), ..end }
            }
            (Place::Post(post), None) => {
                let post = plan.posts.get(*post).ok_or_else(|| gone("post"))?;
                Terminal::at_post(plan, channel, post, terrain).map_err(|e| e.to_string())?
            }
            (Place::At(at), None) => {
                Terminal { name: AWAY.to_owned(), ..Terminal::anywhere(plan, channel, None, *at) }
            }
        };
        Ok(match report.carry {
            Some(carry) => end.worn(carry),
            None => end,
        })
    }
}

impl Found {
    fn compare(&mut self, report: &Report, dead: bool) -> Compared {
        let [talk_in, talk_out] = &self.ways;
        let way = match report.direction {
            Direction::TalkIn => talk_in,
            Direction::TalkOut => talk_out,
        };
        let predicted = Arc::clone(&way.predicted);
        let bounds = self.bounds(&report.said, way.required_over_noise);
        let probability = self.spread.one_way(predicted.predicted_margin_db - bounds.asked);
        let agreement = Agreement::of(probability, bounds.reached);
        let level = report.said.level;
        Compared {
            origin: report.origin.clone(),
            time: report.time,
            predicted_heard: probability,
            heard: bounds.reached,
            excess_db: level.map(|l| l.level - predicted.predicted_dbm),
            agreement,
            because: match agreement {
                Agreement::Worse => self.because(report.direction, dead),
                _ => Arc::clone(&self.nothing),
            },
            predicted,
            evidence: Evidence {
                surroundings: self.surroundings,
                carry: self.table_carry,
                local: self.local,
                low: bounds.low,
                high: bounds.high,
                asked: bounds.asked,
                level_spread: level.and_then(|l| l.spread),
                dead,
            },
        }
    }

    /// Where on the scale of levels over the plan's need a report lies, where
    /// that need is `required` over the noise.
    fn bounds(&self, said: &Said, required: Db) -> Bounds {
        let over =
            |quality| required_over_noise(QualityTarget::Voice(quality), self.bandwidth) - required;
        // A packet is whole or lost.
        let heard_from = match self.service {
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

    /// What may explain that less was heard than predicted; the same for every
    /// such report.
    fn because(&mut self, direction: Direction, dead: bool) -> Arc<[String]> {
        let [talk_in, talk_out] = &self.ways;
        let (own, other) = match direction {
            Direction::TalkIn => (talk_in, talk_out),
            Direction::TalkOut => (talk_out, talk_in),
        };
        let [alive, gone] = &own.because;
        if let Some(known) = if dead { gone } else { alive } {
            return Arc::clone(known);
        }
        let told: Arc<[String]> = self.explain(own, other, dead).into();
        let [talk_in, talk_out] = &mut self.ways;
        let own = match direction {
            Direction::TalkIn => talk_in,
            Direction::TalkOut => talk_out,
        };
        let [alive, gone] = &mut own.because;
        *if dead { gone } else { alive } = Some(Arc::clone(&told));
        told
    }

    fn explain(&self, own: &Way, other: &Way, dead: bool) -> Vec<String> {
        let mut because = Vec::new();
        if dead {
            because.push("the station's battery should have been dead by then".to_owned());
        }
        because.extend(self.blocked.clone());
        if self.indoors {
            because.push("it is inside a building".to_owned());
        }
        if self.carry == Some(Carry::Hip) {
            because
                .push("the radio was worn on the hip: held at the head it loses less".to_owned());
        }
        let ahead = other.predicted.predicted_margin_db - own.predicted.predicted_margin_db;
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
