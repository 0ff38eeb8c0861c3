//! What was reported, set against what was predicted for the same place, direction
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
    Direction, LinkModel, Propagator, QualityTarget, Spread, Terminal, body_loss, frequencies,
    required_over_noise, study_over,
};
use perchline_plan::{AudioQuality, Bandwidth, CarriedIn, Carry, Channel, Plan, Service};
use perchline_power::StationBudget;
use perchline_profile::Profile;
use perchline_siting::direct::{Held, worn};
use perchline_siting::{reason, station_on};
use perchline_terrain::{Terrain, Tracer};
use perchline_units::{Db, Dbm, Position};

/// Voice counts as heard from this quality on: understandable with slight
/// effort (common practice, no source).
const HEARD_FROM: AudioQuality = AudioQuality::Daq30;

/// Links of one station that one thread studies in a row.
const STUDIED_IN_A_ROW: usize = 256;

/// What is said of a name that the plan had when the log was read.
const GONE: &str = "the plan has no such post, channel or site any more";

/// Misses by more than so many standard deviations of the link, and what the hip
/// costs, are explained by nothing that the plan knows (common practice, no source).
const BEYOND: f64 = 2.0;

/// Where a report is from that is from no post.
const AWAY: &str = "away from posts";

/// What is predicted for every report of one place, channel, station, direction and
/// wearing, which share it.
#[derive(Debug, Clone, PartialEq)]
pub struct Predicted {
    /// The post's name, or "away from posts".
    pub place: Arc<str>,
    /// Where.
    pub at: Position,
    /// The channel's name.
    pub channel: Arc<str>,
    /// The station's site; nothing from radio to radio.
    pub site: Option<Arc<str>>,
    /// The other end from radio to radio; nothing where there is a station.
    pub to: Option<Arc<str>>,
    /// Which direction; from radio to radio talk-in is from `place` to `to`.
    pub direction: Direction,
    /// How the radio was worn, if a person carried it.
    pub carry: Option<&'static str>,
    /// What stands around it.
    pub environment: &'static str,
    /// Predicted median level at the receiver.
    pub predicted_dbm: Dbm,
    /// Predicted median level over what the plan's quality needs; from radio to radio
    /// that of the fallback.
    pub predicted_margin_db: Db,
    /// The same less the location allowance: the margin of the other verbs.
    pub predicted_margin_with_allowance_db: Db,
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
    /// Whether nothing explains it, the corrections included: set by
    /// [`learn`](super::learn::learn()).
    pub outlier: bool,
    /// For the statistics.
    pub evidence: Evidence,
}

impl Compared {
    /// Predicted median level over what was asked for.
    #[must_use]
    pub fn over_asked(&self) -> Db {
        self.predicted_margin_db - self.evidence.asked
    }

    /// The place, and from radio to radio the other end too: "Start to Aid 1".
    #[must_use]
    pub fn link(&self) -> String {
        match (&self.to, self.direction) {
            (None, _) => self.place.to_string(),
            (Some(to), Direction::TalkIn) => format!("{} to {to}", self.place),
            (Some(to), Direction::TalkOut) => format!("{to} to {}", self.place),
        }
    }
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
        let mut table = serializer.serialize_struct("Compared", 20)?;
        table.serialize_field("agreement", &self.agreement)?;
        table.serialize_field("at", &self.at)?;
        table.serialize_field("because", &*self.because)?;
        table.serialize_field("carry", &self.carry)?;
        table.serialize_field("channel", &*self.channel)?;
        table.serialize_field("direction", &self.direction)?;
        table.serialize_field("excess_db", &self.excess_db)?;
        table.serialize_field("heard", &self.heard)?;
        table.serialize_field("origin", &self.origin)?;
        table.serialize_field("outlier", &self.outlier)?;
        table.serialize_field("place", &*self.place)?;
        table.serialize_field("predicted_dbm", &self.predicted_dbm)?;
        table.serialize_field("predicted_heard", &self.predicted_heard)?;
        table.serialize_field("predicted_margin_db", &self.predicted_margin_db)?;
        table.serialize_field(
            "predicted_margin_with_allowance_db",
            &self.predicted_margin_with_allowance_db,
        )?;
        table.serialize_field("predicted_share", &self.predicted_share)?;
        table.serialize_field("site", &self.site.as_deref())?;
        table.serialize_field("environment", &self.environment)?;
        table.serialize_field("time", &self.time)?;
        table.serialize_field("to", &self.to.as_deref())?;
        table.end()
    }
}

/// What the statistics need of a report.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Evidence {
    /// What stands around the carried radio.
    pub environment: CarriedIn,
    /// How it is worn, where the table's body loss counts.
    pub carry: Option<Carry>,
    /// The same of the radio at the other end, where that is worn too.
    pub far_carry: Option<Carry>,
    /// Spread over places alone.
    pub local: Db,
    /// Level over what the plan's quality needs that was reached at the least.
    pub low: Option<Db>,
    /// The same that was not reached.
    pub high: Option<Db>,
    /// Level over what the plan's quality needs that predicted_heard is of.
    pub asked: Db,
    /// Whether a quality was reported.
    pub of_quality: bool,
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
    let mut studies = Studies {
        plan,
        without_relay: without_relay(plan),
        terrain,
        propagator,
        names: Names::of(plan),
    }
    .of(log);
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
            None => GONE.to_owned(),
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
    far: Far,
    place: (u64, u64),
    post: Option<usize>,
    tracker: Option<usize>,
    carry: Option<&'static str>,
}

impl Key {
    /// What the prediction for a report depends on; nothing where the plan has
    /// no such post or the report no station.
    fn of(report: &Report, plan: &Plan) -> Option<Self> {
        let at = position(&report.place, plan)?;
        Some(Self {
            channel: report.channel,
            far: Far::of(report, plan)?,
            place: bits(at),
            post: post(&report.place),
            tracker: report.tracker,
            carry: report.carry.map(Carry::word),
        })
    }
}

/// The other end of a link.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Far {
    /// A station on this site.
    Site(usize),
    /// A radio at this place, which is that of this post, if of any.
    Radio { place: (u64, u64), post: Option<usize> },
}

impl Far {
    fn of(report: &Report, plan: &Plan) -> Option<Self> {
        match (&report.to, report.site) {
            (Some(to), _) => Some(Self::Radio { place: bits(position(to, plan)?), post: post(to) }),
            (None, site) => site.map(Self::Site),
        }
    }
}

fn position(place: &Place, plan: &Plan) -> Option<Position> {
    match *place {
        Place::At(at) => Some(at),
        Place::Post(post) => plan.posts.get(post).map(|p| p.at),
    }
}

fn post(place: &Place) -> Option<usize> {
    match *place {
        Place::Post(post) => Some(post),
        Place::At(_) => None,
    }
}

fn bits(at: Position) -> (u64, u64) {
    (at.latitude().value().to_bits(), at.longitude().value().to_bits())
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

/// The other end of links: a station, or a radio; and the names of its channel, and
/// of its site or of itself.
struct Station<'a> {
    channel: &'a Channel,
    end: Terminal,
    channel_name: Arc<str>,
    site_name: Option<Arc<str>>,
    to: Option<Arc<str>>,
    /// Its post, if it is a radio at one.
    post: Option<usize>,
}

struct Studies<'a> {
    plan: &'a Plan,
    /// The plan with the audio quality that counts without a relay.
    without_relay: Plan,
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
    environment: CarriedIn,
    indoors: bool,
    table_carry: Option<Carry>,
    far_carry: Option<Carry>,
    /// What a radio on the hip would gain at the head; nothing where none is there.
    hip_costs: Option<Db>,
    nothing: Arc<[String]>,
}

/// One direction of a link as predicted.
struct Way {
    predicted: Arc<Predicted>,
    required_over_noise: Db,
    /// What may explain a miss, with a live battery and with a dead one, and each of a
    /// usual size and beyond it, once it was asked for.
    because: [[Option<Arc<[String]>>; 2]; 2],
}

impl Way {
    fn known(&mut self, dead: bool, beyond: bool) -> &mut Option<Arc<[String]>> {
        let [[alive, alive_beyond], [gone, gone_beyond]] = &mut self.because;
        match (dead, beyond) {
            (false, false) => alive,
            (false, true) => alive_beyond,
            (true, false) => gone,
            (true, true) => gone_beyond,
        }
    }
}

impl<'a> Studies<'a> {
    /// Every link that the reports are of, studied once.
    fn of(&self, log: &Log) -> HashMap<Key, Result<Found, String>> {
        let mut keys = HashSet::new();
        // By station: what opens the way to one is opened once for many paths.
        let mut asked: BTreeMap<(usize, Far), Vec<(Key, &Report)>> = BTreeMap::new();
        for report in &log.reports {
            if let Some(key) = Key::of(report, self.plan)
                && keys.insert(key.clone())
            {
                asked.entry((key.channel, key.far)).or_default().push((key, report));
            }
        }
        let mut found = HashMap::with_capacity(keys.len());
        drop(keys);
        for ((channel, far), asked) in asked {
            let to = asked.first().and_then(|(_, report)| report.to.as_ref());
            let station = match (far, to) {
                (Far::Site(site), _) => self.station(channel, site),
                (Far::Radio { .. }, Some(to)) => self.radio(channel, to),
                (Far::Radio { .. }, None) => Err(GONE.to_owned()),
            };
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
        let (channel, site) = found.ok_or_else(|| GONE.to_owned())?;
        let end = station_on(plan, channel, site, self.terrain).map_err(|e| e.to_string())?;
        Ok(Station {
            channel,
            end,
            channel_name: channel.name.as_str().into(),
            site_name: Some(site.name.as_str().into()),
            to: None,
            post: None,
        })
    }

    /// The radio at the other end of links on a channel from radio to radio, held as
    /// the plan says for the fallback.
    fn radio(&self, channel: usize, to: &Place) -> Result<Station<'a>, String> {
        let plan = self.plan;
        let channel = plan.channels.get(channel).ok_or_else(|| GONE.to_owned())?;
        let end = match *to {
            Place::Post(post) => {
                let post = plan.posts.get(post).ok_or_else(|| GONE.to_owned())?;
                let post = worn(plan, channel, post, Held::Fallback);
                Terminal::at_post(plan, channel, &post, self.terrain).map_err(|e| e.to_string())?
            }
            Place::At(at) => {
                let end = Terminal::standing(plan, channel, AWAY, at, self.terrain)
                    .map_err(|e| e.to_string())?;
                let end = self.held(end);
                Terminal { cell: self.terrain.spacing(), ..end }
            }
        };
        Ok(Station {
            channel,
            channel_name: channel.name.as_str().into(),
            site_name: None,
            to: Some(end.name.as_str().into()),
            post: post(to),
            end,
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
        // From radio to radio the ends are taken in the order in which the net of the
        // posts takes them, so that both say the same.
        let turned = post(&report.place).zip(station.post).is_some_and(|(from, to)| from < to);
        let (first, second) =
            if turned { (&carried, &station.end) } else { (&station.end, &carried) };
        if turned {
            profile = terrain.profile(first.at, second.at).map_err(|e| e.to_string())?;
        }
        let counts = if station.to.is_some() { &self.without_relay } else { plan };
        let model = LinkModel::new(counts, channel, first, second);
        let study = study_over(profile, self.propagator, &model, channel);
        let spread = study.budgets.spread;
        let way = |direction| {
            let budget = study.budgets.budget(if turned { other(direction) } else { direction });
            let margin = budget.over_needed();
            Way {
                predicted: Arc::new(Predicted {
                    place: Arc::clone(self.names.place(report)),
                    at: carried.at,
                    channel: Arc::clone(&station.channel_name),
                    site: station.site_name.clone(),
                    to: station.to.clone(),
                    direction,
                    carry: carried.carry.map(Carry::word),
                    environment: carried.carried_in().word(),
                    predicted_dbm: budget.signal_dbm,
                    predicted_margin_db: margin,
                    predicted_margin_with_allowance_db: budget.margin_db,
                    predicted_share: spread.one_way(margin),
                }),
                required_over_noise: budget.required_over_noise_db,
                because: Default::default(),
            }
        };
        let hidden = study.clearance.is_some_and(|c| !c.line_of_sight);
        // What stands in the way; the margins are in the tables.
        let blocked = hidden
            .then(|| reason(&study, plan.units))
            .and_then(|reason| reason.split(';').next().map(str::to_owned));
        let (frequency, _) = frequencies(&channel.service);
        let hip_costs = [&carried, &station.end]
            .into_iter()
            .filter(|end| end.table_carry(frequency) == Some(Carry::Hip))
            .map(|_| body_loss(Carry::Hip, frequency) - body_loss(Carry::Head, frequency))
            .reduce(|sum, more| sum + more);
        Ok(Found {
            ways: [way(Direction::TalkIn), way(Direction::TalkOut)],
            blocked,
            service: channel.service,
            spread,
            local: spread.without(model.model_error()),
            bandwidth: carried.radio.bandwidth,
            environment: second.carried_in(),
            indoors: carried.indoors.is_some() || station.end.indoors.is_some(),
            table_carry: second.table_carry(frequency),
            far_carry: first.table_carry(frequency),
            hip_costs,
            nothing: Arc::clone(&self.names.nothing),
        })
    }

    /// A carried radio as the plan has it held without a relay.
    fn held(&self, end: Terminal) -> Terminal {
        if end.carry.is_some() { end.worn(self.plan.fallback.carry) } else { end }
    }

    /// The carried end as it was, worn as the report says; its ground height is
    /// left at zero but at a post.
    fn carried(&self, report: &Report, channel: &Channel) -> Result<Terminal, String> {
        let (plan, terrain) = (self.plan, self.terrain);
        let gone = |what: &str| format!("the plan has no such {what} any more");
        let at = position(&report.place, plan).ok_or_else(|| gone("post"))?;
        let tracker = report.tracker.and_then(|t| plan.trackers.get(t));
        let end = match (&report.place, tracker) {
            (_, Some(tracker)) => {
                let end = Terminal::on_tracker(plan, tracker, at).ok_or_else(|| gone("tracker"))?;
                Terminal { cell: terrain.spacing(), ..end }
            }
            (Place::Post(post), None) => {
                let post = plan.posts.get(*post).ok_or_else(|| gone("post"))?;
                let own = match report.to {
                    Some(_) => &worn(plan, channel, post, Held::Fallback),
                    None => post,
                };
                Terminal::at_post(plan, channel, own, terrain).map_err(|e| e.to_string())?
            }
            (Place::At(at), None) => {
                let end = Terminal::anywhere(plan, channel, None, *at);
                let end = if report.to.is_some() { self.held(end) } else { end };
                Terminal { name: AWAY.to_owned(), ..end }
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
                Agreement::Worse => {
                    let over = predicted.predicted_margin_db - bounds.asked;
                    self.because(report.direction, dead, over)
                }
                _ => Arc::clone(&self.nothing),
            },
            predicted,
            outlier: false,
            evidence: Evidence {
                environment: self.environment,
                carry: self.table_carry,
                far_carry: self.far_carry,
                local: self.local,
                low: bounds.low,
                high: bounds.high,
                asked: bounds.asked,
                of_quality: report.said.quality.is_some(),
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

    /// What may explain that less was heard than predicted, where the median was `over`
    /// what was asked for; the same for every such report.
    fn because(&mut self, direction: Direction, dead: bool, over: Db) -> Arc<[String]> {
        let reach = self.spread.deviation() * BEYOND + self.hip_costs.unwrap_or(Db::new(0.0));
        let beyond = over > reach;
        let [talk_in, talk_out] = &mut self.ways;
        let (own, other) = match direction {
            Direction::TalkIn => (talk_in, talk_out),
            Direction::TalkOut => (talk_out, talk_in),
        };
        if let Some(known) = own.known(dead, beyond) {
            return Arc::clone(known);
        }
        let ahead = other.predicted.predicted_margin_db - own.predicted.predicted_margin_db;
        let told: Arc<[String]> = explain(&Miss {
            dead,
            beyond,
            blocked: self.blocked.as_deref(),
            indoors: self.indoors,
            hip_costs: self.hip_costs,
            ahead,
        })
        .into();
        *own.known(dead, beyond) = Some(Arc::clone(&told));
        told
    }
}

/// What is known of a report that came out worse than predicted.
struct Miss<'a> {
    dead: bool,
    /// Too large for anything but a dead battery.
    beyond: bool,
    blocked: Option<&'a str>,
    indoors: bool,
    hip_costs: Option<Db>,
    /// By how much the other direction is ahead.
    ahead: Db,
}

fn explain(miss: &Miss<'_>) -> Vec<String> {
    let mut because = Vec::new();
    if miss.dead {
        because.push("the station's battery should have been dead by then".to_owned());
    }
    if !miss.beyond {
        because.extend(miss.blocked.map(str::to_owned));
        if miss.indoors {
            because.push("it is inside a building".to_owned());
        }
        if let Some(costs) = miss.hip_costs {
            because.push(format!(
                "the radio was worn on the hip: held at the head it loses {costs:.0} less"
            ));
        }
        if miss.ahead >= Db::new(3.0) {
            because.push(format!(
                "this is the limiting direction, {:.0} behind the other",
                miss.ahead
            ));
        }
    }
    if because.is_empty() {
        because.push("nothing in the plan explains it: ask the operator".to_owned());
    }
    because
}

/// The plan with the audio quality that counts without a relay.
fn without_relay(plan: &Plan) -> Plan {
    let mut plan = plan.clone();
    plan.prediction.audio_quality = Held::Fallback.audio_quality(&plan);
    plan
}

/// The other direction.
const fn other(direction: Direction) -> Direction {
    match direction {
        Direction::TalkIn => Direction::TalkOut,
        Direction::TalkOut => Direction::TalkIn,
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
