//! Whether to go: what the evening before asks of a plan, gathered from the
//! results that the other verbs tell of. Nothing is computed here that they do
//! not state; what each line rests on is named by its verb.
//!
//! A verdict is that of the poor case: a post counts as served only where the
//! wanted share of spots works with the method's error allowed for, a pack only
//! where it lasts with a tenth less capacity, on a colder evening and with more
//! traffic.

mod findings;
mod packs;
mod places;
mod steps;
mod timeline;
mod unknowns;

pub use packs::pack_fix;
pub use steps::Step;
pub use timeline::{Bar, BarKind, Timeline};
pub use unknowns::{Unknown, UnknownMatter};

use std::sync::Arc;

use jiff::ZonedDateTime;
use perchline_coverage::Coverage;
use perchline_link::{Direction, Outcome};
use perchline_plan::{Carry, Channel, Service, Site};
use perchline_power::place::{SiteFact, SitePlace};
use perchline_siting::choose::ChooseError;
use perchline_siting::direct::{Fallback, Held, Way};
use perchline_siting::trackers::TrackerStudy;
use perchline_siting::{Aid, AidError, RankError, RankInputs, Ranking, SiteScore, Stretch, aid};
use perchline_terrain::TerrainError;
use perchline_units::{AmpereHours, Db, Degrees, Hours, Kilograms, Megahertz, Metres, WattHours};
use rayon::prelude::*;
use serde::Serialize;

use super::studies::Ranked;
use super::{Assessment, SiteMap, WhyThere, foremost};

/// Whether to go.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Verdict {
    /// Nothing stands against it in the poor case.
    Go,
    /// Only if every condition is met; each has a fix.
    GoIf,
    /// Something stands against it that the program knows no fix for.
    No,
}

/// What the evening before asks of a plan.
#[derive(Debug, Clone, Serialize)]
pub struct Readiness {
    /// Whether to go.
    pub verdict: Verdict,
    /// What stands against it and what is to be told, the gravest first.
    pub findings: Vec<Finding>,
    /// Where the relay and the digipeaters stand.
    pub places: Vec<Standing>,
    /// Must-have posts that work on the relay.
    pub must_posts_met: usize,
    /// Must-have posts of the plan.
    pub must_posts: usize,
    /// The must-have post that works with the least to spare.
    pub thinnest: Option<Thinnest>,
    /// Who still hears whom without the relay; nothing where no channel runs from
    /// radio to radio.
    pub fallback: Option<FallbackReach>,
    /// From the first station on to the last radio down.
    pub timeline: Timeline,
    /// What is not known.
    pub unknowns: Vec<Unknown>,
    /// What to do next, what gains most first.
    pub next: Vec<Step>,
}

impl Readiness {
    /// The findings of one gravity, in order.
    pub fn of(&self, gravity: Gravity) -> impl Iterator<Item = &Finding> {
        self.findings.iter().filter(move |finding| finding.gravity == gravity)
    }
}

/// How much a finding weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Gravity {
    /// Stands against going, and no fix is known.
    Stops,
    /// Stands against going until its fix is done.
    Condition,
    /// Does not decide, but has to be known.
    Told,
}

/// Something that was found.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Finding {
    /// How much it weighs.
    pub gravity: Gravity,
    /// What was found.
    pub matter: Matter,
    /// The cheapest fix that could be computed.
    pub fix: Option<Fix>,
    /// The verb that tells more of it.
    pub verb: &'static str,
}

/// What was found, with its numbers, those of the poor case where there is one.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Matter {
    /// No site of the plan may be used.
    NoSite,
    /// The plan names no must-have post.
    NoMustPosts,
    /// The relay's site may not be used.
    SiteUnavailable {
        /// The site.
        site: String,
    },
    /// A post that does not work on the relay.
    Post {
        /// The post.
        post: String,
        /// Whether the event leans on it.
        must: bool,
        /// What it comes to.
        outcome: Outcome,
        /// Probability of both directions in one spot, 0 to 1; nothing where terrain
        /// is missing on the way.
        probability: Option<f64>,
        /// What both directions lack; nothing where terrain is missing.
        missing_db: Option<Db>,
        /// What the limiting direction lacks, as tables have it; nothing where terrain
        /// is missing.
        short_db: Option<Db>,
        /// The limiting direction; nothing where terrain is missing.
        limiting: Option<Direction>,
    },
    /// An area that does not work all over.
    Area {
        /// The area.
        area: String,
        /// Share of it that works, 0 to 1.
        share: f64,
    },
    /// A route that does not work all along.
    Route {
        /// The route.
        route: String,
        /// Share of it that works, 0 to 1.
        share: f64,
        /// The longest stretch without.
        gap: Option<Stretch>,
    },
    /// A station whose pack dies before it may be switched off, in the poor case.
    Pack {
        /// The station.
        station: String,
        /// When it dies in the poor case.
        dies_at: ZonedDateTime,
        /// How long before it may be switched off that is.
        early_h: Hours,
        /// When it may be switched off.
        off: ZonedDateTime,
        /// When it dies as expected; nothing if it then runs to the end.
        expected_dies_at: Option<ZonedDateTime>,
    },
    /// A station whose pack only just lasts in the poor case.
    OnlyJust {
        /// The station.
        station: String,
        /// Share of the charge left at the end of the poor case.
        left: f64,
    },
    /// A channel of whose station's battery the plan says nothing.
    NoSupply {
        /// The channel.
        channel: String,
    },
    /// A station or crew of whose pack's temperature the plan says nothing, so that
    /// nobody knows how long it runs.
    NoTemperature {
        /// The station or crew.
        name: String,
    },
    /// Channels whose frequencies are placeholders.
    Placeholders {
        /// Their names.
        channels: Vec<String>,
    },
    /// A crew whose hand-helds need more than the pack on the radio.
    Spares {
        /// The crew.
        crew: String,
        /// Its people.
        people: u32,
        /// Packs that each needs, the one on the radio included; nothing if no
        /// number lasts the shift.
        packs_each: Option<u32>,
    },
    /// Something that people carry whose own battery ends before their shift.
    OwnBattery {
        /// The crew.
        crew: String,
        /// What it is.
        what: String,
        /// How long it lasts in the poor case.
        lasts_h: Hours,
        /// Energy that is missing in the poor case.
        short_wh: WattHours,
    },
    /// Stations that the plan keeps on one roof and that disturb each other there.
    Desense {
        /// The station that transmits.
        from: String,
        /// The station that it desenses.
        to: String,
        /// By how much.
        desense_db: Db,
        /// Whether the front end is overloaded, so that no figure here holds.
        overloaded: bool,
    },
    /// Two channels whose best site is the same, where their stations disturb each
    /// other: one goes elsewhere.
    SharedRoof {
        /// The site.
        site: String,
        /// The channel whose station goes elsewhere.
        channel: String,
        /// By how much it would be desensed, or would desense.
        desense_db: Db,
        /// Where it goes; nothing where there is no other site, or the plan keeps
        /// both together.
        instead: Option<String>,
    },
    /// A duplexer that the plan does not state, and with which must-have posts
    /// fail if it isolates no better than this.
    Duplexer {
        /// The channel.
        channel: String,
        /// The isolation that was tried.
        isolation_db: Db,
        /// Posts that work with it.
        posts_covered: usize,
        /// Posts that work with a perfect one.
        perfect_posts: usize,
    },
    /// No channel runs from radio to radio, or none brings any post to net control.
    NoFallback {
        /// The simplex channels that the plan has.
        channels: Vec<String>,
    },
    /// Somebody of a group who is to listen to a second channel, and whom nobody
    /// hears on one of them.
    DeafBridge {
        /// The group.
        group: String,
        /// Who.
        who: String,
        /// The channels on which nobody does.
        on: Vec<String>,
    },
    /// Two radios at one post, one of which desenses the other while it sends.
    TwoRadios {
        /// The group.
        group: String,
        /// Who has them.
        who: String,
        /// By how much.
        desense_db: Db,
        /// Whether the front end is overloaded, so that it is worse than stated.
        overloaded: bool,
    },
    /// Posts that have no radio path to net control without the relay.
    CutOff {
        /// The first channel to change to.
        channel: String,
        /// Where words go.
        net_control: String,
        /// Must-have posts among them.
        must: Vec<String>,
        /// The others.
        others: Vec<String>,
    },
    /// What is in the way on a site where a station stands: its hours, its edge, a
    /// line near by, its roof.
    Place {
        /// The site with the station.
        place: Box<SitePlace>,
    },
    /// A station's kit that its people do not get up.
    Kit {
        /// The station.
        station: String,
        /// Weight of all of it.
        weight_kg: Kilograms,
        /// People who carry.
        carriers: u32,
        /// Trips up that each makes at most.
        trips: u32,
        /// Pieces that they do not carry at all.
        too_heavy: Vec<String>,
    },
    /// What a digipeater hears of the trackers.
    Trackers {
        /// The digipeater's site.
        site: String,
        /// Each kind of tracker.
        trackers: Vec<TrackerHeard>,
    },
}

/// What is heard of one kind of tracker.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TrackerHeard {
    /// The tracker.
    pub tracker: String,
    /// Share of beacons that get through, 0 to 1.
    pub through: f64,
    /// The longest silent stretch of its route; nothing where there is none.
    pub silence: Option<Stretch>,
}

/// What would put something right; ordered by what it costs, the cheapest first
/// (our order).
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Fix {
    /// The radio is held at the head in place of where it is worn.
    HoldAtHead {
        /// The posts.
        posts: Vec<String>,
    },
    /// The post's person stands elsewhere.
    MovePost {
        /// The post.
        post: String,
        /// How far away.
        distance_m: Metres,
        /// In which direction from the post.
        bearing_degrees: Degrees,
    },
    /// The telephone in place of the radio.
    Telephone {
        /// Whose number the plan has.
        contact: String,
        /// The number.
        phone: String,
    },
    /// Somebody goes.
    Runner,
    /// Spare packs for hand-helds.
    SparePacks {
        /// The crew.
        crew: String,
        /// How many for all of them together.
        spares: u32,
    },
    /// A power bank, or a device with a larger battery.
    PowerBank {
        /// The crew.
        crew: String,
        /// What is charged from it.
        what: String,
        /// Energy that is missing for each person.
        short_wh: WattHours,
    },
    /// The packs that lie ready are changed in.
    ChangePacks {
        /// The station.
        station: String,
        /// By when.
        at: Vec<ZonedDateTime>,
        /// Sets that have to be brought beside those of the plan.
        sets_short: u32,
    },
    /// Whoever opens a site does so for as long as it takes.
    Opened {
        /// The site.
        site: String,
        /// Who; nothing where the plan does not say.
        key_holder: Option<String>,
        /// The number; nothing where the plan does not say.
        phone: Option<String>,
        /// From when.
        from: ZonedDateTime,
        /// Until when.
        until: ZonedDateTime,
    },
    /// More people carry, or in smaller pieces.
    MoreCarriers {
        /// The station.
        station: String,
    },
    /// A larger pack of the same cells.
    LargerPack {
        /// The station.
        station: String,
        /// Its rated capacity.
        capacity_ah: AmpereHours,
        /// What such a pack typically weighs.
        weight_kg: Kilograms,
        /// Share of its charge left at the end of the poor case.
        left_in_poor_case: f64,
        /// By when packs of the plan's kind would have to be changed instead; none
        /// where that is not needed or does not help.
        or_change_by: Vec<ZonedDateTime>,
        /// Sets that would have to be brought for that.
        sets_short: u32,
    },
    /// More mast.
    MoreMast {
        /// The site.
        site: String,
        /// How much more.
        extra_m: Metres,
    },
    /// The antennas stand farther apart on the roof, or a filter.
    Separate {
        /// The station that transmits.
        from: String,
        /// The station that it desenses.
        to: String,
        /// How much farther along the roof, if that is enough.
        along_m: Option<Metres>,
        /// How much more in height, if that is enough.
        up_m: Option<Metres>,
    },
    /// The station of this channel stands on another site.
    OtherSite {
        /// The channel.
        channel: String,
        /// The site.
        site: String,
    },
    /// A second relay.
    MoreRelays {
        /// The sites of all of them.
        sites: Vec<String>,
    },
    /// The duplexer's isolation is measured and stated in the plan.
    MeasureDuplexer {
        /// The channel.
        channel: String,
        /// What it has to isolate at least, of the values that were tried; nothing
        /// where none of them is enough.
        least_db: Option<Db>,
    },
    /// The plan states the station's battery.
    StateSupply {
        /// The channel.
        channel: String,
    },
    /// The plan says how cold it gets, or where packs are kept warm.
    StateTemperature,
    /// The frequencies are set that the coordinator gave.
    SetFrequencies {
        /// Their channels.
        channels: Vec<String>,
    },
    /// The plan says what each person carries.
    StateCrews,
    /// The plan says which posts the event leans on.
    NameMustPosts,
    /// The plan names buildings or a class of surroundings.
    StateHouses,
    /// The plan names buildings in place of a class of surroundings.
    NameBuildings,
    /// Somebody who knows a site is asked what the plan does not say of it.
    AskAbout {
        /// The site.
        site: String,
        /// What is not known of it.
        what: Vec<SiteFact>,
    },
    /// Test calls are made from these posts before the event.
    Rehearse {
        /// The posts, those with the least to spare first.
        posts: Vec<String>,
    },
}

/// Where the station of a channel stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Standing {
    /// The channel.
    pub channel: String,
    /// The site.
    pub site: String,
    /// How that was decided.
    pub decided: Decided,
    /// Height of the antenna above the ground.
    pub antenna_above_ground_m: Metres,
    /// Posts that work, of how many; nothing for a digipeater.
    pub posts: Option<(usize, usize)>,
    /// How the channel's radio is worn, in words; nothing where nobody wears it.
    pub worn: Option<&'static str>,
    /// The next best site that may be used and is open until tear-down.
    pub next_best: Option<String>,
}

/// How a site was decided on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Decided {
    /// It was asked about.
    Asked,
    /// The plan puts the station there.
    Plan,
    /// It ranks best.
    Best,
    /// It ranks best of those that keep the station off another's roof.
    Apart,
}

/// The must-have post with the least to spare.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Thinnest {
    /// The post.
    pub post: String,
    /// Probability of both directions in one spot, 0 to 1.
    pub probability: f64,
    /// How sure it is that the wanted share of spots works, 0 to 1.
    pub sure: Option<f64>,
    /// The lower of the two margins.
    pub margin_db: Option<Db>,
}

/// Who still hears whom without the relay.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FallbackReach {
    /// The first channel to change to.
    pub channel: String,
    /// Its frequency.
    pub frequency_mhz: Megahertz,
    /// How every worn radio is held, in words; nothing where each is as with the
    /// relay.
    pub held: Option<&'static str>,
    /// The audio quality (DAQ) that is wanted.
    pub audio_quality: &'static str,
    /// Where words go.
    pub net_control: String,
    /// Posts that reach it.
    pub reaching: usize,
    /// Those of them that reach it only through another post.
    pub through_others: Vec<String>,
    /// Posts that reach it from some spots only.
    pub patchy: Vec<String>,
    /// Posts that have no radio path to it.
    pub cut_off: Vec<String>,
    /// Posts of the channel, net control left out.
    pub posts: usize,
}

/// Why a plan could not be judged.
#[derive(Debug, thiserror::Error)]
pub enum ReadinessError {
    /// A site or post does not fit the terrain, or the run was stopped.
    #[error(transparent)]
    Rank(#[from] RankError),
    /// Help at a post could not be looked for.
    #[error(transparent)]
    Aid(#[from] AidError),
    /// Several relays could not be placed.
    #[error(transparent)]
    Choose(#[from] ChooseError),
    /// The map has no cells.
    #[error(transparent)]
    Grid(#[from] TerrainError),
}

/// A site with its map: the best of a ranking, or another one.
#[derive(Debug, Clone)]
pub enum Stood {
    /// One that was named.
    Named(Arc<SiteMap>),
    /// The best.
    Best(Arc<Ranked>),
}

impl Stood {
    /// How the site does, and its map; nothing where the plan has no site.
    #[must_use]
    pub fn parts(&self) -> Option<(&SiteScore, &Coverage)> {
        match self {
            Self::Named(map) => Some((&map.score, &map.coverage)),
            Self::Best(ranked) => ranked.ranking.sites.first().zip(ranked.coverages.first()),
        }
    }
}

impl Assessment {
    /// The site of this name with its map on `channel`, or the best one.
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`].
    pub fn stood(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        site: Option<&Site>,
    ) -> Result<Stood, RankError> {
        match site {
            Some(site) => Ok(Stood::Named(self.site_map(inputs, channel, site)?)),
            None => Ok(Stood::Best(self.best(inputs, channel)?)),
        }
    }

    /// What helps at each post that fails on `channel` with its station on `site`,
    /// in the plan's order; nothing at those that work.
    ///
    /// # Errors
    /// [`AidError`] when the site or a post does not fit the terrain.
    pub fn aids(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        score: &SiteScore,
        coverage: &Coverage,
    ) -> Result<Vec<Option<Aid>>, AidError> {
        let Some(site) = self.plan.sites.iter().find(|site| site.name == score.site) else {
            return Ok(vec![None; score.posts.len()]);
        };
        let posts = self.plan.posts.par_iter().zip(&score.posts);
        let helped = posts.map(|(post, scored)| {
            if scored.outcome.works() {
                return Ok(None);
            }
            aid(inputs, channel, site, coverage, post).map(Some)
        });
        // Of several that fail the first is told.
        helped.collect::<Vec<_>>().into_iter().collect()
    }

    /// The site on which the relay of `channel` is judged, with its map, and who decided
    /// on it: the one that was asked about, that of the plan or the best.
    ///
    /// # Errors
    /// [`RankError`] as for [`Assessment::ranking`].
    pub fn judged_on(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        asked: Option<&Site>,
    ) -> Result<(Decided, Stood), RankError> {
        let settled = self.settled(channel);
        let decided = match (asked, settled) {
            (Some(_), _) => Decided::Asked,
            (None, Some(_)) => Decided::Plan,
            (None, None) => Decided::Best,
        };
        let order = self.order(inputs, channel)?;
        let best = order.sites.first().map(|site| site.site.clone());
        let named = asked.or(settled).filter(|site| Some(&site.name) != best.as_ref());
        Ok((decided, self.stood(inputs, channel, named)?))
    }

    /// Whether to go with the relay of `channel`, on the site that was asked about,
    /// that of the plan or the best.
    ///
    /// # Errors
    /// [`ReadinessError`] when a site or post does not fit the terrain, or the run
    /// was stopped.
    pub fn readiness(
        &self,
        inputs: &RankInputs<'_>,
        channel: &Channel,
        asked: Option<&Site>,
    ) -> Result<Readiness, ReadinessError> {
        let order = self.order(inputs, channel)?;
        let (decided, stood) = self.judged_on(inputs, channel, asked)?;
        let mut judged = Judged {
            assessment: self,
            inputs,
            channel,
            order: &order,
            findings: Vec::new(),
            places: Vec::new(),
        };
        let Some((score, coverage)) = stood.parts() else {
            return Ok(judged.without_a_site());
        };
        judged.places.push(Standing {
            channel: channel.name.clone(),
            site: score.site.clone(),
            decided,
            antenna_above_ground_m: score.antenna_above_ground_m,
            posts: Some((score.posts_covered, score.posts.len())),
            worn: self.plan.radio(channel.carried).carry.map(Carry::words),
            next_best: self.reserve(&order, channel, &score.site).next,
        });
        judged.placeholders();
        judged.site(score);
        judged.posts(score, coverage)?;
        judged.parts(score);
        judged.packet()?;
        judged.places();
        judged.packs();
        judged.roofs();
        judged.duplexer(score);
        let fallback = judged.fallback()?;
        let unknowns = judged.unknowns(score)?;
        Ok(judged.readiness(Some(score), fallback, unknowns))
    }
}

/// A plan while it is judged.
struct Judged<'a> {
    assessment: &'a Assessment,
    inputs: &'a RankInputs<'a>,
    channel: &'a Channel,
    /// The relay's sites, best first.
    order: &'a Ranking,
    findings: Vec<Finding>,
    places: Vec<Standing>,
}

impl Judged<'_> {
    fn find(&mut self, gravity: Gravity, matter: Matter, fix: Option<Fix>, verb: &'static str) {
        self.findings.push(Finding { gravity, matter, fix, verb });
    }

    /// One that stands against going unless it has a fix.
    fn require(&mut self, matter: Matter, fix: Option<Fix>, verb: &'static str) {
        let gravity = if fix.is_some() { Gravity::Condition } else { Gravity::Stops };
        self.find(gravity, matter, fix, verb);
    }

    /// Frequencies that are nobody's: what is printed with them may not be handed out.
    fn placeholders(&mut self) {
        let channels = foremost::placeholders(&self.assessment.plan);
        if !channels.is_empty() {
            let fix = Fix::SetFrequencies { channels: channels.clone() };
            self.require(Matter::Placeholders { channels }, Some(fix), "check");
        }
    }

    fn without_a_site(mut self) -> Readiness {
        self.find(Gravity::Stops, Matter::NoSite, None, "check");
        self.readiness(None, None, Vec::new())
    }

    fn readiness(
        mut self,
        score: Option<&SiteScore>,
        fallback: Option<FallbackReach>,
        unknowns: Vec<Unknown>,
    ) -> Readiness {
        let met = || {
            let posts = score.into_iter().flat_map(|score| &score.posts);
            posts.filter(|post| post.must && post.outcome.works())
        };
        let thinnest = met()
            .filter_map(|post| Some((post, post.probability?)))
            .min_by(|a, b| a.1.total_cmp(&b.1))
            .map(|(post, probability)| Thinnest {
                post: post.post.clone(),
                probability,
                sure: post.sure,
                margin_db: post.governing_margin_db,
            });
        // Stable: what is alike keeps the order in which it was looked at.
        self.findings.sort_by_key(|finding| finding.gravity);
        let verdict = match self.findings.first().map(|finding| finding.gravity) {
            Some(Gravity::Stops) => Verdict::No,
            Some(Gravity::Condition) => Verdict::GoIf,
            Some(Gravity::Told) | None => Verdict::Go,
        };
        let next = steps::steps(&self.findings, &unknowns, thinnest.as_ref());
        Readiness {
            verdict,
            must_posts_met: met().count(),
            must_posts: self.assessment.plan.posts.iter().filter(|post| post.must).count(),
            thinnest,
            fallback,
            timeline: Timeline::of(self.assessment, &self.places),
            findings: self.findings,
            places: self.places,
            unknowns,
            next,
        }
    }

    /// Who still hears whom, and who does not.
    fn fallback(&mut self) -> Result<Option<FallbackReach>, ReadinessError> {
        let plan = &self.assessment.plan;
        let fallback = self.assessment.fallback(Held::Fallback)?;
        let Some(first) = &fallback.first else {
            let fix = self.by_other_means();
            let channels = plan.channels.iter().filter(|channel| !channel.has_station());
            let channels = channels.map(|channel| channel.name.clone()).collect();
            self.require(Matter::NoFallback { channels }, Some(fix), "direct");
            return Ok(None);
        };
        let patchy = fallback.ways.iter().filter(|way| way.way == Way::Patchy);
        let works = fallback.ways.iter().filter(|way| way.way == Way::Works);
        let relayed = works.filter(|way| way.through().next().is_some());
        let terms = fallback.first_net().map(|net| &net.terms);
        let reach = FallbackReach {
            channel: first.channel.clone(),
            frequency_mhz: first.frequency_mhz,
            held: terms.and_then(|terms| terms.held),
            audio_quality: terms.map_or("", |terms| terms.audio_quality),
            net_control: first.net_control.clone(),
            reaching: fallback.reaching(),
            through_others: relayed.map(|way| way.post.clone()).collect(),
            patchy: patchy.map(|way| way.post.clone()).collect(),
            cut_off: fallback.cut_off().map(str::to_owned).collect(),
            posts: fallback.ways.len(),
        };
        self.groups(&fallback);
        let is_must = |name: &String| plan.posts.iter().any(|p| p.must && p.name == *name);
        let (must, others): (Vec<_>, Vec<_>) = reach.cut_off.iter().cloned().partition(is_must);
        if !reach.cut_off.is_empty() {
            let gravity = if must.is_empty() { Gravity::Told } else { Gravity::Condition };
            let matter = Matter::CutOff {
                channel: reach.channel.clone(),
                net_control: reach.net_control.clone(),
                must,
                others,
            };
            let fix = self.by_other_means();
            self.find(gravity, matter, Some(fix), "direct");
        }
        Ok(Some(reach))
    }

    /// Bridges that nobody hears, and two radios at one post that disturb each other.
    fn groups(&mut self, fallback: &Fallback) {
        for group in &fallback.groups {
            for bridge in &group.bridges {
                let name = || (group.group.clone(), bridge.who.clone());
                if bridge.is_deaf() {
                    let (group, who) = name();
                    let sides = [&bridge.own, &bridge.other].into_iter().flatten();
                    let deaf = sides.filter(|side| side.reaches_nobody());
                    let on = deaf.map(|side| side.channel.clone()).collect();
                    let matter = Matter::DeafBridge { group, who, on };
                    self.find(Gravity::Told, matter, None, "direct");
                }
                if let Some(two) = &bridge.two_radios {
                    let (group, who) = name();
                    let (desense_db, overloaded) = (two.desense_db, two.overloaded);
                    let matter = Matter::TwoRadios { group, who, desense_db, overloaded };
                    self.find(Gravity::Told, matter, None, "direct");
                }
            }
        }
    }

    /// What takes the place of the radio: a telephone of which the plan has the
    /// number, else somebody's legs.
    fn by_other_means(&self) -> Fix {
        let contacts = &self.assessment.plan.contacts;
        let known = contacts.iter().find_map(|c| Some((c.name.clone(), c.phone.clone()?)));
        known.map_or(Fix::Runner, |(contact, phone)| Fix::Telephone { contact, phone })
    }

    /// Digipeaters: where they stand and what they hear.
    fn packet(&mut self) -> Result<(), ReadinessError> {
        let plan = &self.assessment.plan;
        let packet = plan.channels.iter().filter(|c| matches!(c.service, Service::Packet { .. }));
        let Some(relay) = self.places.first().map(|place| place.site.clone()) else {
            return Ok(());
        };
        for channel in packet {
            let order = self.assessment.order(self.inputs, channel)?;
            let found =
                self.assessment.digipeater_site(self.inputs, channel, self.channel, &relay)?;
            let Some(found) = found else {
                self.nowhere(channel, &relay, &order);
                continue;
            };
            let decided = match found.why {
                WhyThere::Plan | WhyThere::BesideTheRelay => Decided::Plan,
                WhyThere::Best { .. } => Decided::Best,
                WhyThere::ApartFromTheRelay { .. } => Decided::Apart,
            };
            let score = order.sites.iter().find(|score| score.site == found.site);
            let Some(score) = score else { continue };
            self.places.push(Standing {
                channel: channel.name.clone(),
                site: score.site.clone(),
                decided,
                antenna_above_ground_m: score.antenna_above_ground_m,
                posts: None,
                worn: None,
                next_best: self.assessment.reserve(&order, channel, &score.site).next,
            });
            if decided == Decided::Apart {
                self.apart(channel, &relay, &score.site);
            }
            let Some(site) = plan.sites.iter().find(|site| site.name == score.site) else {
                continue;
            };
            if plan.trackers_on(channel).next().is_some() {
                let study = self.assessment.trackers(channel, &[site], self.inputs.stop)?;
                self.trackers(&study, &site.name);
            }
        }
        Ok(())
    }

    fn trackers(&mut self, study: &TrackerStudy, site: &str) {
        let heard = study.trackers.iter().map(|tracker| TrackerHeard {
            tracker: tracker.tracker.clone(),
            through: tracker.through,
            silence: tracker
                .along
                .longest_silence()
                .map(|silence| Stretch { from_m: silence.from_m, to_m: silence.to_m }),
        });
        let matter = Matter::Trackers { site: site.to_owned(), trackers: heard.collect() };
        self.find(Gravity::Told, matter, None, "trackers");
    }
}
