//! What each verb says as JSON: the result documents, one type a verb.
//!
//! Every document has the same frame, [`Document`]: what made it, what to know
//! about it, and the result.

use serde::Serialize;
use serde_json::Value;

use perchline_assessment::{Assessment, Need, Readiness, RoofConflict};
use perchline_heard::compare::{Agreement, Compared};
use perchline_heard::learn::Outlier;
use perchline_heard::log::Rejected;
use perchline_heard::routes::RouteMiss;
use perchline_heard::summary::FallbackUse;
use perchline_link::{LinkBudgets, Outcome, PathStudy};
use perchline_plan::{Channel, Plan, Remark, Site, UnitSystem};
use perchline_power::kit::StationKit;
use perchline_power::place::SitePlace;
use perchline_power::{CrewNeeds, StationBudget};
use perchline_propagation::Edge;
use perchline_siting::choose::{Choice, LinkedSites};
use perchline_siting::direct::{DirectNet, FirstChannel, GroupNet, WordsWay};
use perchline_siting::masts::MastStudy;
use perchline_siting::spots::SpotSearch;
use perchline_siting::trackers::TrackerStudy;
use perchline_siting::{RankError, Ranking, SiteScore};
use perchline_start::Told;
use perchline_terrain::Grid;
use perchline_units::{Db, Degrees, Metres};

use super::Provenance;
use super::answers::Against;
use super::cautions::Said;
use super::debrief::Change;
use super::place_words::mind;
use super::ready::Ready;

/// A result with what made it and what to know about it.
#[derive(Debug, Serialize)]
pub struct Document<'a, T> {
    /// What made it.
    pub provenance: &'a Provenance,
    /// What a person should know before trusting it.
    pub remarks: &'a [Remark],
    /// What can hurt whoever does what it says.
    pub cautions: Vec<Said>,
    /// The result of a verb.
    pub result: T,
}

/// Of `ready`: whether to go.
#[derive(Debug, Serialize)]
pub struct Readied<'a> {
    /// The event.
    pub event: &'a str,
    /// What people read.
    pub said: &'a Ready,
    /// What it rests on.
    pub readiness: &'a Readiness,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
}

/// Of `start`: the plan that was begun. No plan was there before, so nothing is said
/// of what made it but the program's version.
#[derive(Debug, Serialize)]
pub struct Started<'a> {
    version: &'static str,
    result: &'a Told,
}

impl<'a> Started<'a> {
    /// Of what is told of the plan.
    #[must_use]
    pub fn of(told: &'a Told) -> Self {
        Self { version: env!("CARGO_PKG_VERSION"), result: told }
    }
}

/// Of `check`: what the plan names and what it takes.
#[derive(Debug, Serialize)]
pub struct Checked<'a> {
    areas: Vec<&'a str>,
    event: &'a str,
    memory_bytes: f64,
    posts: Vec<&'a str>,
    routes: Vec<&'a str>,
    sites: Vec<&'a str>,
    terrain_cells: [usize; 2],
}

impl<'a> Checked<'a> {
    /// Of a plan on terrain of these cells that takes so much memory.
    #[must_use]
    pub fn of(plan: &'a Plan, grid: &Grid, need: &Need) -> Self {
        Self {
            areas: plan.areas.iter().map(|area| area.name.as_str()).collect(),
            event: &plan.event.name,
            memory_bytes: need.total().round(),
            posts: plan.posts.iter().map(|post| post.name.as_str()).collect(),
            routes: plan.routes.iter().map(|route| route.name.as_str()).collect(),
            sites: plan.sites.iter().map(|site| site.name.as_str()).collect(),
            terrain_cells: [grid.columns(), grid.rows()],
        }
    }
}

/// Of `rank`: every site for each channel, best first.
#[derive(Debug, Serialize)]
pub struct Rankings<'a> {
    /// The event.
    pub event: &'a str,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
    /// A ranking a channel.
    pub rankings: &'a [&'a Ranking],
    /// The site that is proposed for each channel's station.
    pub proposed: Vec<Proposed<'a>>,
    /// Where channels lead on one roof and disturb each other there.
    pub roof_conflicts: &'a [RoofConflict],
    /// From where linked relays reach the best site of a channel, where the plan links
    /// relays.
    pub linked: &'a [LinkedSites],
    /// Energy budgets of the plan's stations.
    pub power: &'a [StationBudget],
    /// Each site as a place where people work, a channel after the other.
    pub places: Vec<Place<'a>>,
}

/// Where the station of a channel goes: to the first site of its ranking, or to the next
/// best where another station keeps it off that one.
#[derive(Debug, Serialize)]
pub struct Proposed<'a> {
    channel: &'a str,
    site: &'a str,
}

impl<'a> Proposed<'a> {
    /// Of each ranking that has a site.
    #[must_use]
    pub fn all(rankings: &[&'a Ranking], conflicts: &[RoofConflict]) -> Vec<Self> {
        let of = |ranking: &&'a Ranking| {
            let site = RoofConflict::proposed(conflicts, ranking)?;
            Some(Self { channel: &ranking.channel, site: &site.site })
        };
        rankings.iter().filter_map(of).collect()
    }
}

/// A site as a place where people work, with what to mind there.
#[derive(Debug, Serialize)]
pub struct Place<'a> {
    #[serde(flatten)]
    place: &'a SitePlace,
    mind: Vec<String>,
}

impl<'a> Place<'a> {
    /// Of some sites, in the units of the report.
    #[must_use]
    pub fn all(places: &'a [SitePlace], units: UnitSystem) -> Vec<Self> {
        places.iter().map(|place| Self { place, mind: mind(place, units) }).collect()
    }
}

/// Of `coverage`: one site.
#[derive(Debug, Serialize)]
pub struct SiteCoverage<'a> {
    /// What keeps the station off the site, whatever it would serve from there.
    pub against: &'a Against,
    /// The channel.
    pub channel: &'a str,
    /// How the site does.
    pub site: &'a SiteScore,
    /// Share of the map's cells that come to each outcome, 0 to 1.
    pub shares: Vec<(Outcome, f64)>,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
}

/// Of `path`: one link.
#[derive(Debug, Serialize)]
pub struct PathLink<'a> {
    against: &'a Against,
    bearing_deg: Degrees,
    budgets: &'a LinkBudgets,
    channel: &'a str,
    clearance_over_fresnel_radius: Option<f64>,
    comparison: Option<Value>,
    diffraction_db: Db,
    distance_m: Metres,
    edges: Vec<PathEdge>,
    free_space_db: Db,
    from: &'a str,
    leaves_db: Db,
    line_of_sight: Option<bool>,
    to: &'a str,
    woods_m: Option<Metres>,
}

/// An edge in the way of a link.
#[derive(Debug, Serialize)]
pub struct PathEdge {
    distance_m: Metres,
    height_m: Metres,
    loss_db: Db,
    nu: f64,
}

impl<'a> PathLink<'a> {
    /// Of a link, what keeps its station off the site, and what other methods make of it,
    /// if they were asked.
    #[must_use]
    pub fn of(study: &'a PathStudy, against: &'a Against, comparison: Option<Value>) -> Self {
        let edge = |edge: &Edge| PathEdge {
            distance_m: edge.distance,
            height_m: edge.height,
            loss_db: edge.loss,
            nu: edge.nu,
        };
        Self {
            against,
            bearing_deg: study.bearing,
            budgets: &study.budgets,
            channel: &study.channel,
            clearance_over_fresnel_radius: study.clearance.map(|c| c.worst_ratio),
            comparison,
            diffraction_db: study.diffraction,
            distance_m: study.distance,
            edges: study.edges.iter().map(edge).collect(),
            free_space_db: study.free_space,
            from: &study.from.name,
            leaves_db: study.leaves,
            line_of_sight: study.clearance.map(|c| c.line_of_sight),
            to: &study.to.name,
            woods_m: study.woods,
        }
    }
}

/// Of `masts`: heights on each site.
#[derive(Debug, Serialize)]
pub struct Masts<'a> {
    /// The event.
    pub event: &'a str,
    /// The channel.
    pub channel: &'a str,
    /// Where the height that is enough lies, in words.
    pub knee_rule: String,
    /// How the feed line is counted, in words.
    pub feed_line: &'a str,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
    /// The sites.
    pub sites: &'a [&'a MastStudy],
}

/// Of `search`: spots that nobody listed.
#[derive(Debug, Serialize)]
pub struct FoundSpots<'a> {
    /// The event.
    pub event: &'a str,
    /// What the numbers do not know.
    pub caveats: Vec<&'a str>,
    /// What was found.
    pub search: &'a SpotSearch,
    /// Each spot as lines for the plan, in the order of the list.
    pub site_lines: Vec<String>,
}

/// Of `choose`: the best set of sites.
#[derive(Debug, Serialize)]
pub struct Chosen<'a> {
    /// The event.
    pub event: &'a str,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
    /// The choice.
    pub choice: &'a Choice,
    /// What the map of it shows, for whoever does not see it.
    pub picture: String,
    /// Its sites as places where people work, then the digipeater's, then those of the
    /// sets that it falls back on.
    pub places: Vec<Place<'a>>,
}

/// Of `direct`: the posts among themselves.
#[derive(Debug, Serialize)]
pub struct Direct<'a> {
    /// The event.
    pub event: &'a str,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
    /// The channel that everybody changes to first.
    pub first_channel: Option<&'a FirstChannel>,
    /// A net for each simplex channel that is no group's own, and for the first one.
    pub nets: &'a [&'a DirectNet],
    /// Posts of each net that reach net control with radios worn as with the relay.
    pub reaching_as_with_relay: Vec<Option<usize>>,
    /// Each group on its channel.
    pub groups: &'a [&'a GroupNet],
    /// How each post's words get to the event's net control.
    pub ways: &'a [WordsWay],
}

/// Of `trackers`: what digipeaters hear along routes.
#[derive(Debug, Serialize)]
pub struct Trackers<'a> {
    /// The event.
    pub event: &'a str,
    /// What the numbers do not know.
    pub caveats: &'a [&'a str],
    /// What keeps digipeaters off their sites, whatever they would hear there.
    pub kept_off: &'a [KeptOff<'a>],
    /// A study a packet channel.
    pub channels: &'a [&'a TrackerStudy],
    /// What the map of each shows, for whoever does not see it.
    pub pictures: Vec<String>,
}

/// What keeps the station of a channel off a site.
#[derive(Debug, Clone, Serialize)]
pub struct KeptOff<'a> {
    /// The channel.
    pub channel: &'a str,
    /// The site.
    pub site: &'a str,
    /// Why.
    #[serde(flatten)]
    pub against: Against,
}

impl<'a> KeptOff<'a> {
    /// The station of `channel` from `site`; nothing where nothing is in the way.
    ///
    /// # Errors
    /// [`RankError`] when a site or post does not fit the terrain.
    pub fn of(
        assessment: &Assessment,
        channel: &'a Channel,
        site: &'a Site,
    ) -> Result<Option<Self>, RankError> {
        let against = Against::of(assessment, channel, site)?;
        let in_the_way = against != Against::default();
        Ok(in_the_way.then(|| Self { channel: &channel.name, site: &site.name, against }))
    }
}

/// Of `power`: what lasts, and what each person carries.
#[derive(Debug, Serialize)]
pub struct Power<'a> {
    /// The event.
    pub event: &'a str,
    /// The stations' budgets.
    pub stations: &'a [StationBudget],
    /// The crews' needs.
    pub crews: &'a [CrewNeeds],
    /// What the drawing of it shows, for whoever does not see it.
    pub picture: String,
    /// What goes up to each station.
    pub kits: &'a [StationKit],
    /// The sites on which the plan puts stations, as places where people work.
    pub places: Vec<Place<'a>>,
}

/// Of `debrief`: what was heard against what was predicted. Its names stand in the
/// order of the alphabet; what is there for each row is written as it comes.
#[derive(Debug, Serialize)]
pub struct Findings<'a> {
    /// How predictions and reports agree, each with a count.
    pub agreement: [(Agreement, usize); 4],
    /// Changes for the next plan.
    pub changes: &'a [Change],
    /// What was learnt.
    pub corrections: Value,
    /// How well what was learnt tells reports that it did not see.
    pub cross_validation: Value,
    /// Predicted against heard, in bins.
    pub curve: Value,
    /// The same after corrections.
    pub curve_corrected: Value,
    /// How channels without a relay were used.
    pub fallback: &'a [FallbackUse],
    /// Share of reports that are gross errors, as estimated.
    pub gross_share: f64,
    /// The same by group.
    pub groups: Value,
    /// Levels against predicted ones.
    pub levels: Option<Value>,
    /// Beacons that did not come.
    pub missing_beacons: usize,
    /// How many reports nothing explains.
    pub outlier_count: usize,
    /// The first thousand of them.
    pub outliers: &'a [Outlier],
    /// What packs turned out to hold.
    pub packs: Value,
    /// Rejected rows.
    pub rejected: &'a [Rejected],
    /// Rows with what was predicted for them.
    pub reports: &'a [Compared],
    /// Stretches of routes with misses.
    pub routes: &'a [RouteMiss],
    /// Rows of all logs.
    pub rows: usize,
}
